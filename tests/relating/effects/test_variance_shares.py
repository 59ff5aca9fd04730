"""Does a share of the spread between days hold the truth, and is it kept back where days are few?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.stats import chi2, f, gamma, ncf, norm, pearsonr

from glucolab.record.study_outputs import SPREAD_SHARES
from glucolab.relating.effects.variance_shares import (
    FEWEST_DAYS_TO_SHARE,
    _chance_below,
    _count_needed,
    _shares_of,
    bound_ratio,
    estimate_spread_shares,
    measure_shares,
)

GROUP = np.array([0, 1, 2, 2, 3])


def test_one_regressor_without_others_agrees_with_fishers_z():
    """Fisher, Metron 1921;1:3-32: atanh of r is normal with variance 1/(n - 3); scipy carries it out."""
    rng = np.random.default_rng(1)
    for n, r in ((30, 0.6), (60, 0.4), (200, 0.8)):
        x = rng.standard_normal(n)
        y = r * x + np.sqrt(1 - r**2) * rng.standard_normal(n)
        found = pearsonr(x, y)
        ends = found.confidence_interval(0.9)
        squared = found.statistic**2
        _, low, high = bound_ratio(squared / (1 - squared), 1, n - 1)
        # z is itself a little wide at 30: of samples with r = 0.663, 6 % and not 5 % lie below the 0.474 drawn
        assert low / (1 + low) == pytest.approx(ends.low**2, abs=0.03)
        assert high / (1 + high) == pytest.approx(ends.high**2, abs=0.03)


def test_a_sample_that_explains_no_more_than_chance_has_a_share_of_nought():
    """By chance alone p of n - 1 parts are explained on average (Wishart, QJR Meteorol Soc 1931;57:258)."""
    middle, low, _ = bound_ratio(4 / (29 - 4), 4, 29)
    assert low == 0
    assert middle < 0.05


@pytest.mark.parametrize("shares", [(0, 0, 0, 0), (0.1, 0.1, 0.1, 0), (0.3, 0, 0, 0.1), (0.5, 0.1, 0, 0)])
@pytest.mark.parametrize("n_days", [FEWEST_DAYS_TO_SHARE, 39, 80])
def test_intervals_hold_the_truth(shares, n_days):
    """Truth by construction; of 90 % intervals over 60 studies, under 72 % is found once in ten thousand."""
    truth, found = zip(*(_invent(seed, n_days, shares) for seed in range(60)), strict=True)
    truth, found = np.array(truth), np.array(found)
    held = (truth >= found[..., 1] - 1e-9) & (truth <= found[..., 2])
    assert held.mean() > 0.85
    assert held.mean(axis=0).min() > 0.72


def test_where_nothing_goes_with_it_a_share_above_nought_is_told_in_one_of_twenty():
    found = np.array([_invent(seed, 26, (0, 0, 0, 0))[1] for seed in range(150)])
    told = np.mean(found[..., 1] > 0, axis=0)
    # the upper tail of a binomial with chance 0.05 over 150: above 0.10 once in two hundred
    assert told.max() <= 0.10


def test_a_share_is_that_of_days_and_not_of_what_is_new_each_day():
    """Days alike by 0.6 and a habit that is not: what is new in a day is less than the day; 80 days, share 0.3."""
    found = np.array([_invent(seed, 80, (0.3, 0, 0, 0), rho=0.6)[1][0, 0] for seed in range(60)])
    assert np.median(found) == pytest.approx(0.3, abs=0.05)


def test_a_column_told_by_the_others_gets_no_share():
    rng = np.random.default_rng(0)
    columns = rng.standard_normal((40, 2))
    columns = np.column_stack([columns, columns.sum(axis=1)])
    found = measure_shares(
        columns[:, 0] + rng.standard_normal(40),
        columns,
        np.arange(3),
        np.empty((40, 0)),
        np.zeros(40, int),
        np.arange(40),
    )
    assert not {0, 1, 2} & found.keys()
    assert len(found) == 1


def _invent(seed: int, n_days: int, shares: tuple[float, ...], rho: float = 0.3) -> tuple[np.ndarray, np.ndarray]:
    """True shares and those found; habits independent, a level a wear, days alike from one to the next by `rho`."""
    rng = np.random.default_rng([seed, n_days, int(100 * sum(shares))])
    n_wears = max(1, round(n_days / 13))
    wear = np.sort(np.arange(n_days) % n_wears)
    columns = rng.standard_normal((n_days, len(GROUP)))
    share = np.array(shares)
    coefficient = np.sqrt(share / np.bincount(GROUP))[GROUP] * rng.choice([-1, 1], len(GROUP))
    left = 1 - share.sum()
    error = rng.standard_normal(n_days)
    for i in range(1, n_days):
        if wear[i] == wear[i - 1]:
            error[i] = rho * error[i - 1] + np.sqrt(1 - rho**2) * error[i]
    outcome = columns @ coefficient + np.sqrt(left) * error + 5 * norm.rvs(size=n_wears, random_state=rng)[wear]
    found = measure_shares(outcome, columns, GROUP, np.empty((n_days, 0)), wear, np.arange(n_days) + 100 * wear)
    return np.append(share / (share + left), 1 - left), np.array([found[g] for g in range(5)])


def chance_below(ratio: float, true: float, columns: int, freedom: int) -> float:
    """Helland's approximation by quadrature, from the moments of what is explained.

    Given the regressors, what is explained is a noncentral chi-square of `columns` degrees whose noncentrality is
    `true` times a chi-square of `freedom`. Mean: columns + freedom true. Variance, by its parts: 2 (columns + 2 freedom
    true) on average, and 2 freedom true² between. A gamma of that mean and variance stands over a chi-square of the
    rest.
    """
    mean, variance = columns + freedom * true, 2 * (columns + 2 * freedom * true) + 2 * freedom * true**2
    explained, rest = gamma(mean**2 / variance, scale=variance / mean), chi2(freedom - columns)
    low, high = rest.ppf(1e-12), rest.isf(1e-12)
    nodes, weights = np.polynomial.legendre.leggauss(200)
    left = (low + high) / 2 + (high - low) / 2 * nodes
    return float((high - low) / 2 * weights @ (explained.cdf(ratio * left) * rest.pdf(left)))


@pytest.mark.parametrize(
    ("ratio", "true", "columns", "freedom"),
    [(0.3, 0.2, 1, 20), (1.4, 1.0, 2, 25), (0.5, 0.0, 4, 29), (6.0, 8.0, 5, 40), (0.05, 0.3, 3, 12)],
)
def test_the_chance_of_a_smaller_ratio(ratio, true, columns, freedom):
    """By the moments to 1e-6; by the exact law, a noncentral F averaged over the regressors, to a few hundredths."""
    found = float(_chance_below(ratio, np.array([true]), columns, freedom, freedom - columns)[0])
    assert found == pytest.approx(chance_below(ratio, true, columns, freedom), abs=1e-6)
    rest = freedom - columns
    at = true * chi2(freedom).ppf((np.arange(400) + 0.5) / 400)
    exact = np.mean(ncf.cdf(ratio * rest / columns, columns, rest, at))
    assert found == pytest.approx(exact, abs=0.02 if true else 1e-9)


@pytest.mark.parametrize(("ratio", "columns", "freedom"), [(0.8, 1, 25), (2.0, 3, 30), (0.25, 2, 60)])
def test_bounds_are_where_the_sample_is_the_middle_or_one_in_twenty(ratio, columns, freedom):
    """The ratio of the many under which a sample falls below what was seen in half, and in 95 and 5 of 100 of times."""
    for true, probability in zip(bound_ratio(ratio, columns, freedom), (0.5, 0.95, 0.05), strict=True):
        assert true > 0
        assert chance_below(ratio, true, columns, freedom) == pytest.approx(probability, abs=1e-7)


@pytest.mark.parametrize(("probability", "nought"), [(0.94, [False, True, False]), (0.04, [True, True, True])])
def test_bounds_are_nought_where_chance_alone_would_explain_as_much(probability, nought):
    """F of 3 and 27 degrees at that probability, as nothing is explained in truth."""
    found = bound_ratio(f.ppf(probability, 3, 27) * 3 / 27, 3, 30)
    assert (found == 0).tolist() == nought


def test_a_share_of_0_999_is_the_most_that_is_looked_for():
    assert bound_ratio(1e9, 1, 30) == pytest.approx(1000)


def far_apart(n: int) -> tuple[np.ndarray, np.ndarray]:
    """Two wears whose days are a thousand days apart: none is like the one before, and least squares is exact."""
    return np.repeat([0, 1], [n // 2, n - n // 2]), 1000 * np.arange(n)


class TestSharesByLeastSquares:
    """Sums of squares by statsmodels, an intercept a wear."""

    wear, day = far_apart(40)
    group = np.array([0, 1, 2, 2, 3])

    def invent(self):
        rng = np.random.default_rng(21)
        columns = rng.standard_normal((40, 5)) @ (np.eye(5) + 0.4)
        outcome = columns @ [1.0, -0.6, 0.5, 0.4, 0.0] + 1.5 * rng.standard_normal(40) + 9 * self.wear
        return outcome, columns

    def left(self, outcome, columns) -> float:
        return sm.OLS(outcome, np.column_stack([self.wear == 0, self.wear == 1, columns]).astype(float)).fit().ssr

    def test_each_group_explains_part_of_what_the_others_leave_and_all_a_part_of_the_whole(self):
        outcome, columns = self.invent()
        found = measure_shares(outcome, columns, self.group, np.empty((len(self.wear), 0)), self.wear, self.day)
        rest = self.left(outcome, columns)
        for g in range(5):
            mine = self.group == g if g < 4 else np.full(5, True)
            explained = self.left(outcome, columns[:, ~mine]) - rest
            freedom = 40 - 2 - int((~mine).sum())
            ratios = bound_ratio(explained / rest, int(mine.sum()), freedom)
            assert found[g] == pytest.approx(tuple(ratios / (1 + ratios)), abs=1e-9)

    def test_what_stands_beside_all_is_fitted_first_and_costs_degrees_of_freedom(self):
        """Two columns that outcome and habits go with, and a third that tells no more than they do."""
        outcome, columns = self.invent()
        beside = np.random.default_rng(22).standard_normal((40, 2))
        columns, outcome = columns + beside[:, :1], outcome + beside @ [4.0, -3.0]
        three = np.column_stack([beside, beside.sum(axis=1) + 7])
        found = measure_shares(outcome, columns, self.group, three, self.wear, self.day)
        rest = self.left(outcome, np.column_stack([beside, columns]))
        for g in range(5):
            mine = self.group == g if g < 4 else np.full(5, True)
            explained = self.left(outcome, np.column_stack([beside, columns[:, ~mine]])) - rest
            ratios = bound_ratio(explained / rest, int(mine.sum()), 40 - 2 - 2 - int((~mine).sum()))
            assert found[g] == pytest.approx(tuple(ratios / (1 + ratios)), abs=1e-9)

    def test_units_and_levels_of_columns_change_nothing(self):
        """Where days are alike, what is adjusted for shapes how alike they are thought to be."""
        outcome, columns = self.invent()
        days = np.arange(40)
        plain = measure_shares(outcome, columns, self.group, np.empty((len(self.wear), 0)), self.wear, days)
        other = measure_shares(
            outcome, columns * [60, 0.01, 1000, 1, 7] + 5, self.group, np.empty((len(self.wear), 0)), self.wear, days
        )
        assert {g: pytest.approx(share, abs=1e-9) for g, share in plain.items()} == other


@pytest.mark.parametrize(
    ("n", "width", "needed"),
    [
        (30, 0.8, 90),  # 30 (2² - 1)
        (10, 0.41, 1),  # 10 (1.025² - 1) = 0.506
        (10, 0.5, 6),  # 5.6
        (10, 0.399, np.nan),
        (10, 0.2, np.nan),
    ],
)
def test_days_until_an_interval_is_four_tenths_wide(n, width, needed):
    assert _count_needed(n, (0.3, 0.1, 0.1 + width)) == pytest.approx(needed, nan_ok=True)


@pytest.mark.parametrize(("n", "needed"), [(0, 24), (23, 1), (24, np.nan), (40, np.nan)])
def test_without_a_share_the_first_days_are_counted_and_no_more(n, needed):
    """From 24 days on only the other groups' columns can keep a share from being told: more days do not help."""
    assert _count_needed(n, None) == pytest.approx(needed, nan_ok=True)


def days_of(n: int, **columns) -> pd.DataFrame:
    """Days of two wears as they are gathered, all habits written down and varying unless given."""
    rng = np.random.default_rng(5)
    names = ("asleep_h", "stress", "carbs_g", "fiber_g", "exercise_min", "mean_mg_dl", "sd_mg_dl")
    wear, day = far_apart(n)
    since = np.concatenate([np.arange(count) for count in np.bincount(wear)])
    of_wear = {"place_in_wear": since / since.max() - 0.5, "settling": np.exp(-since / 2)}
    habits = {name: rng.standard_normal(n) for name in names}
    return pd.DataFrame({"wear": wear, "day": day} | of_wear | habits | columns)


@pytest.mark.parametrize(("n", "needed"), [(20, 4), (23, 1), (24, None)])
def test_24_days_are_asked_for(n, needed):
    rows = _shares_of(days_of(n), "mean_mg_dl")
    assert [row["group"] for row in rows] == ["sleep", "stress", "food", "movement", "together"]
    assert [row["n_days"] for row in rows] == [n] * 5
    for row in rows:
        assert np.isfinite([row["share"], row["low"], row["high"]]).all() == (needed is None)
        if needed:
            assert row["days_needed"] == needed


@pytest.mark.parametrize(("written", "used"), [(28, True), (27, False)])
def test_a_habit_written_down_on_seven_days_of_ten_is_used(written, used):
    """Of forty days; the others are lost to all groups then."""
    stress = np.where(np.arange(40) < written, np.arange(40) % 7.0, np.nan)
    found = {row["group"]: row for row in _shares_of(days_of(40, stress=stress), "mean_mg_dl")}
    assert found["stress"]["made_of"] == "stress" * used
    assert found["sleep"]["n_days"] == (28 if used else 40)
    assert np.isfinite(found["stress"]["share"]) == used


def test_what_goes_over_a_wear_and_with_a_new_sensor_is_no_habits_share():
    """More stress from day to day, and a mean that drifts and settles as sensors' do: chance alone is left."""
    plain = days_of(40)
    place, settling = plain["place_in_wear"], plain["settling"]
    moved = {"stress": plain["stress"] + 6 * place, "mean_mg_dl": plain["mean_mg_dl"] + 9 * place + 9 * settling}
    before, after = (_shares_of(days, "mean_mg_dl") for days in (plain, days_of(40, **moved)))
    for one, other in zip(before, after, strict=True):
        for figure in ("share", "low", "high"):
            assert other[figure] == pytest.approx(one[figure], abs=1e-6)


def test_a_habit_that_the_place_in_the_wear_tells_has_no_share():
    """A minute more each day: nothing is left to tell it from a sensor's drift, and rounding is no habit."""
    days = days_of(40)
    days["stress"] = 3 + 7 * days["place_in_wear"]
    found, without = (
        {row["group"]: row for row in _shares_of(table, "mean_mg_dl")} for table in (days, days.assign(stress=np.nan))
    )
    assert np.isnan([found["stress"][figure] for figure in ("share", "low", "high")]).all()
    for name in ("sleep", "food", "together"):
        assert found[name]["share"] == pytest.approx(without[name]["share"], abs=1e-9)


def test_a_habit_that_never_differs_within_a_wear_is_none():
    days = days_of(40, exercise_min=np.repeat([0.0, 30.0], 20), fiber_g=7.0)
    found = {row["group"]: row for row in _shares_of(days, "mean_mg_dl")}
    assert (found["movement"]["made_of"], found["food"]["made_of"]) == ("", "carbs_g")
    assert np.isnan([found["movement"]["share"], found["movement"]["days_needed"]]).all()
    assert found["together"]["made_of"] == "asleep_h stress carbs_g"


def test_without_a_wear_every_row_says_that_nothing_is_known():
    table = estimate_spread_shares([])
    assert list(table) == SPREAD_SHARES.names
    assert (len(table), table["n_days"].sum()) == (10, 0)
    assert table[["share", "low", "high"]].isna().all(axis=None)
