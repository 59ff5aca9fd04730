"""Are the figures that `own_questions` works out by hand those of other software? Its cells run, its frames compared."""

from __future__ import annotations

import nbformat
import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats
from sklearn.metrics import mean_absolute_error
from statsmodels.duration.survfunc import SurvfuncRight

from tests.conftest import REPOSITORY


@pytest.fixture(scope="module")
def seen():
    """What each cell leaves behind, by the number of its question; pictures are not drawn."""
    cells = nbformat.read(REPOSITORY / "notebooks" / "own_questions.ipynb", as_version=4).cells
    space: dict[str, object] = {}
    left, question = {}, 0
    for cell in cells:
        if cell.cell_type == "markdown":
            question += cell.source.startswith(f"## {question + 1}. ")
            continue
        exec(cell.source.replace("../sample_data", str(REPOSITORY / "sample_data")), space)
        left[question] = dict(space)
    assert question == 10
    return left


def test_weekends_differ_by_what_a_t_test_says(seen):
    week, off = seen[2]["week"], seen[2]["off"]
    other = stats.ttest_ind(week["within"][off], week["within"][~off], equal_var=False)
    assert seen[2]["seen"] / (seen[2]["half"] / 1.645) == pytest.approx(other.statistic)


def test_dinners_that_are_not_back_are_counted_as_kaplan_and_meier_do(seen):
    """Against statsmodels' SurvfuncRight, with its standard errors by Greenwood's formula."""
    at = seen[3]["at"].set_index("minute")
    other = SurvfuncRight(seen[3]["followed"].to_numpy(float), seen[3]["back"].to_numpy(int))
    mine = at.loc[other.surv_times]
    assert mine["not_yet"].to_numpy() == pytest.approx(other.surv_prob)
    whole = mine["still"].to_numpy() > mine["back"].to_numpy()
    half = np.clip(other.surv_prob + 1.645 * other.surv_prob_se, 0, 1)
    assert mine["high"].to_numpy()[whole] == pytest.approx(half[whole])


def test_slopes_by_tracker_are_those_of_least_squares_within_wears(seen):
    slept = seen[4]["trackers"].join(seen[4]["days"].set_index(["wear", "date"])["mean_mg_dl"]).dropna()
    wears = pd.get_dummies(slept.index.get_level_values("wear")).to_numpy(float)
    for tracker, slope in zip(slept.columns[:2], seen[4]["slope"], strict=True):
        fitted = sm.OLS(slept["mean_mg_dl"].to_numpy(), np.column_stack([slept[tracker], wears])).fit()
        assert slope == pytest.approx(fitted.params[0])


def test_no_meal_helps_to_predict_its_own_day(seen):
    """Folds hold whole days, and the average misses are those of scikit-learn's own measure."""
    day = seen[5]["day"].to_numpy()
    for learnt, left_out in seen[5]["folds"].split(seen[5]["features"], groups=day):
        assert not set(day[learnt]) & set(day[left_out])
    for name in ("usual", "line", "forest"):
        miss = mean_absolute_error(seen[5]["known"]["rise_mg_dl"], seen[5]["predicted"][name])
        assert seen[5]["average"][name] == pytest.approx(miss)
    usual = seen[5]["predicted"]["usual"]
    assert usual.std() < 0.1 * seen[5]["known"]["rise_mg_dl"].std()


def test_dishes_are_told_apart_by_the_f_of_one_way_analysis(seen):
    groups = [one["rise_mg_dl"] for _, one in seen[8]["known"].groupby("dish")]
    assert seen[8]["between"] / seen[8]["within"] == pytest.approx(stats.f_oneway(*groups).statistic)
    assert 0 <= seen[8]["low"] < seen[8]["share"] < seen[8]["high"] <= 100


def test_days_follow_each_other_with_fishers_interval(seen):
    pairs = seen[9]["pairs"]
    other = stats.pearsonr(pairs["rest"], pairs["rest_before"])
    interval = other.confidence_interval(0.9)
    assert (seen[9]["r"], seen[9]["low"], seen[9]["high"]) == pytest.approx((other.statistic, *interval), abs=1e-3)


def test_the_sensor_moves_by_what_least_squares_says(seen):
    beside = seen[10]["beside"]
    wears = pd.get_dummies(beside["wear"]).to_numpy(float)
    fitted = sm.OLS(beside["off"].to_numpy(), np.column_stack([beside["day"], wears])).fit()
    low, high = fitted.conf_int(0.1)[0]
    assert (10 * seen[10]["slope"], seen[10]["low"], seen[10]["high"]) == pytest.approx(
        (10 * fitted.params[0], 10 * low, 10 * high)
    )
