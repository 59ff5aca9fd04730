"""Does one pair looked at by hand say the truth with its interval, and grow stricter as more pairs are looked at?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

from glucolab.clock import days_between
from glucolab.relating.effects.one_pair import DayRelation, list_covariates, relate_days
from glucolab.relating.observations.wear_tables import WearTables
from tests.hand_made import UTC
from tests.relating.invented import Truth, invent

SLEEP = Truth(day={"asleep_h": -4.0}, day_sd=2.0)
NIL = Truth()
LINKED = Truth(day={"stress": 2.0}, linked=0.8, day_sd=2.0)
WORTH = 3.0


def wears_of(seed: int, truth: Truth, **more):
    return invent(np.random.default_rng([seed, 9]), truth, **more)[0]


def with_daily(wear, **columns):
    return replace(wear, daily=wear.daily.assign(**columns))


def test_what_is_there_is_found_and_stands_among_many():
    relation = relate_days(wears_of(11, SLEEP), "asleep_h", "mean_mg_dl")
    assert relation.low < -4 < relation.high
    assert relation.verdict(WORTH) == "lower"
    assert relation.verdict(WORTH, tried=20) == "lower"
    assert relation.step == 1.0
    assert len(relation.points) == 42


def test_many_days_give_the_line_that_least_squares_gives():
    """Against statsmodels' OLS with a intercept for each wear: the prior of the tool weighs nothing in 600 days."""
    wears = wears_of(2, SLEEP, n_wears=3, n_days=200)
    relation = relate_days(wears, "asleep_h", "mean_mg_dl")
    points = relation.points
    design = pd.get_dummies(points["wear"]).astype(float).assign(x=points["covariate"])
    fitted = sm.OLS(points["outcome"], design).fit()
    assert relation.estimate == pytest.approx(fitted.params["x"], abs=0.05)
    assert relation.high - relation.low == pytest.approx(2 * 1.645 * fitted.bse["x"], rel=0.25)


def test_intervals_hold_and_claims_of_nothing_are_rare():
    """80 studies: 0.90 promised, and a share of 0.10; bounds three standard errors away."""
    held, claimed, band = [], [], []
    for seed in range(80):
        relation = relate_days(wears_of(seed, replace(SLEEP, day_sd=4.0)), "asleep_h", "mean_mg_dl")
        held.append(relation.low < -4 < relation.high)
        middle = relation.line.iloc[12]
        # the true line runs through the expected intercept of the days; wears differ by their own intercept, taken off
        true = relation.points["outcome"].mean() - _day_noise(relation) - 4 * (middle["covariate"] - _mean(relation))
        band.append(middle["low"] < true < middle["high"])
        nothing = relate_days(wears_of(seed, NIL), "stress", "mean_mg_dl")
        claimed.append(nothing.verdict(WORTH) in ("lower", "higher"))
    assert 0.82 <= np.mean(held) <= 0.98
    assert np.sum(claimed) <= 13  # of 80: more in 3 of 100 such runs if one in ten is true (binomial)
    assert np.mean(band) >= 0.82


def _mean(relation) -> float:
    return float(relation.points["covariate"].mean())


def _day_noise(relation) -> float:
    """How far the days of a study lie from what their wears' intercepts and sleep say, on average."""
    points = relation.points
    levels = points.groupby("wear")["outcome"].transform("mean") + 4 * points.groupby("wear")["covariate"].transform(
        "mean"
    )
    return float((points["outcome"] + 4 * points["covariate"] - levels).mean())


def test_ten_pairs_of_nothing_seldom_hold_a_claim():
    """25 sittings of ten pairs each, nothing true: at most 0.10 promised for the whole sitting."""
    pairs = [
        (name, outcome)
        for name in ("asleep_h", "stress", "caffeine_mg", "relaxation_min", "screen_min")
        for outcome in ("mean_mg_dl", "sd_mg_dl")
    ]
    any_claim = []
    for seed in range(25):
        wears = wears_of(seed + 500, NIL)
        verdicts = [relate_days(wears, *pair).verdict(WORTH, tried=len(pairs)) for pair in pairs]
        any_claim.append(any(v in ("lower", "higher") for v in verdicts))
    assert np.sum(any_claim) <= 5  # of 25: more in 4 of 100 such runs if one in ten is true (binomial)


def test_the_day_after_is_the_day_after():
    wears = wears_of(3, NIL)
    moved = []
    for wear in wears:
        before = wear.daily["stress"].shift(1, fill_value=4.0)
        moved.append(with_daily(wear, mean_mg_dl=95 + 3 * before))
    relation = relate_days(moved, "stress", "mean_mg_dl", next_day=True)
    assert relation.low < 3 < relation.high
    assert relation.high - relation.low < 0.1
    assert len(relation.points) == 39  # the last day of each wear has none after it
    assert relation.verdict(WORTH) == "higher"
    assert relate_days(moved, "stress", "mean_mg_dl").estimate < 2


def test_what_travels_along_can_be_adjusted_for():
    alone, held = [], []
    for seed in range(10):
        wears = wears_of(seed, LINKED)
        plain = relate_days(wears, "caffeine_mg", "mean_mg_dl")
        adjusted = relate_days(wears, "caffeine_mg", "mean_mg_dl", adjust=("stress",))
        assert adjusted.plain == pytest.approx(plain.over_range["range_estimate"])
        assert np.isnan(plain.plain)
        alone.append(plain.estimate)
        held.append(adjusted.estimate)
    assert np.mean(alone) > 1.5  # caffeine goes with stress here, and only stress does anything
    assert abs(np.mean(held)) < 0.5


def test_wears_of_other_levels_do_not_make_a_slope():
    wears = [
        with_daily(wear, mean_mg_dl=90.0 + 20 * i + 0.01 * np.arange(14), stress=float(i) + np.arange(14) % 3)
        for i, wear in enumerate(wears_of(4, NIL))
    ]
    relation = relate_days(wears, "stress", "mean_mg_dl")
    assert abs(relation.estimate) < 0.1


def test_ill_badly_recorded_and_twice_seen_days_are_left_out():
    first, second, third = wears_of(5, NIL)
    coverage = np.where(np.arange(14) < 3, 0.75, 1.0)
    some = [replace(with_daily(first, coverage=coverage), ill=np.arange(14) == 13), second, third]
    assert len(relate_days(some, "stress", "mean_mg_dl").points) == 41
    assert len(relate_days(some, "stress", "mean_mg_dl", least_coverage=0.8).points) == 38
    twin = replace(first, name="other arm")
    assert len(relate_days([first, twin], "stress", "mean_mg_dl").points) == 14


@pytest.mark.filterwarnings("error")
def test_too_little_gives_no_slope_and_no_verdict():
    wear = wears_of(6, NIL, n_wears=1)[0]
    few = with_daily(wear, stress=wear.daily["stress"].where(np.arange(14) < 7))
    relation = relate_days([few], "stress", "mean_mg_dl")
    assert np.isnan(relation.estimate)
    assert relation.verdict(WORTH) == "not_enough_data"
    assert len(relation.line) == 0
    same = with_daily(wear, stress=4.0)
    assert relate_days([same], "stress", "mean_mg_dl").verdict(WORTH) == "not_enough_data"
    assert len(relate_days([], "stress", "mean_mg_dl").points) == 0


def test_covariates_are_those_written_down_often_enough():
    wears = wears_of(7, NIL, n_wears=1)
    names = list_covariates(wears)
    assert names[0] == "asleep_h"
    assert "screen_min" in names
    few = with_daily(wears[0], screen_min=wears[0].daily["screen_min"].where(np.arange(14) < 7))
    assert "screen_min" not in list_covariates([few])


def test_the_band_is_narrowest_in_the_middle_and_never_nought():
    line = relate_days(wears_of(8, SLEEP), "asleep_h", "mean_mg_dl").line
    width = (line["high"] - line["low"]).to_numpy()
    assert width.min() > 0.5
    assert width[[0, -1]].min() > width.min()
    assert line["fit"].between(line["low"], line["high"]).all()


@pytest.mark.parametrize("covariate", ["asleep_h", "screen_min"])
def test_points_stand_on_one_level_and_the_band_is_that_of_slope_and_intercept(covariate):
    """Each wear's own mean taken off and that of all put back; half-widths by scipy, days alike by a quarter."""
    relation = relate_days(wears_of(4, SLEEP), covariate, "mean_mg_dl")
    points, line = relation.points, relation.line
    for name in ("outcome", "covariate"):
        own = points[name] - points.groupby("wear")[name].transform("mean") + points[name].mean()
        assert points[f"{name}_within"].to_numpy() == pytest.approx(own.to_numpy())
    away = ((line["covariate"] - points["covariate"].mean()) / relation.step).to_numpy()
    fit = points["outcome"].mean() + away * relation.estimate
    assert line["fit"].to_numpy() == pytest.approx(fit)
    drawn = (points["covariate_within"] - points["covariate"].mean()) / relation.step
    rest = points["outcome_within"] - points["outcome"].mean() - drawn * relation.estimate
    df = len(points) - 3 - 1
    intercept = stats.t.ppf(0.95, df) * np.sqrt(np.sum(rest**2) / df / len(points) * 1.25 / 0.75)
    up = np.where(away > 0, away * (relation.high - relation.estimate), away * (relation.low - relation.estimate))
    down = np.where(away > 0, away * (relation.estimate - relation.low), away * (relation.estimate - relation.high))
    assert (line["high"] - line["fit"]).to_numpy() == pytest.approx(np.hypot(up, intercept))
    assert (line["fit"] - line["low"]).to_numpy() == pytest.approx(np.hypot(down, intercept))


def test_a_yes_or_no_is_with_against_without():
    """Against statsmodels' OLS with an intercept for each wear; 600 days."""
    wears = wears_of(5, NIL, n_days=200)
    rng = np.random.default_rng(5)
    made = []
    for wear in wears:
        late = (rng.random(200) < 0.4).astype(float)
        made.append(with_daily(wear, late=late, mean_mg_dl=wear.daily["mean_mg_dl"] + 6 * late))
    relation = relate_days(made, "late", "mean_mg_dl")
    design = pd.get_dummies(relation.points["wear"]).astype(float).assign(x=relation.points["covariate"])
    fitted = sm.OLS(relation.points["outcome"], design).fit()
    assert relation.step == 0
    assert relation.estimate == pytest.approx(fitted.params["x"], abs=0.1)
    ends = relation.line.iloc[[0, -1]]
    assert np.diff(ends["fit"]) == pytest.approx(np.diff(ends["covariate"]) * relation.estimate)


USUAL = ("asleep_h", "stress", "caffeine_mg", "relaxation_min", "exercise_min", "carbs_g", "fiber_g")
DONE = np.array([3.0, 7, 1, 5, 9, 4, 8, 2, 6, 3, 7, 5, 1, 9])
"""What is done on each of fourteen days."""


def days_by_hand(n: int = 14, **columns) -> WearTables:
    """One wear, every day fully recorded, nothing else written down."""
    start = pd.Timestamp("2026-02-03", tz="UTC")
    days = days_between(start, start + pd.Timedelta(days=n), UTC)
    usual = {"date": days.dates, "coverage": 1.0, "enough": pd.array(np.ones(n, bool), "boolean")}
    daily = pd.DataFrame(usual | dict.fromkeys(USUAL, np.nan) | columns)
    nothing = pd.DataFrame()
    own = tuple(name for name in columns if name not in (*USUAL, "mean_mg_dl"))
    return WearTables("wear", days, UTC, daily, nothing, nothing, nothing, nothing, own)


@pytest.mark.parametrize(
    ("covariate", "step"),
    [
        ("asleep_h", 1), ("stress", 1), ("caffeine_mg", 100), ("relaxation_min", 10), ("exercise_min", 10),
        ("carbs_g", 10), ("fiber_g", 10),
    ],
)  # fmt: skip
def test_a_line_has_the_slope_per_an_hour_a_point_100_mg_10_min_or_10_g(covariate, step):
    wear = days_by_hand(mean_mg_dl=90 + 0.03 * DONE, **{covariate: DONE})
    relation = relate_days([wear], covariate, "mean_mg_dl")
    assert (relation.step, relation.p_value) == (step, 0.001)
    assert (relation.estimate, relation.low, relation.high) == pytest.approx((0.03 * step,) * 3, abs=3e-5 * step)
    line = relation.line
    assert line["fit"].to_numpy() == pytest.approx(90 + 0.03 * line["covariate"].to_numpy(), abs=1e-6)
    assert line["covariate"].to_numpy() == pytest.approx(np.linspace(1, 9, 25))
    assert relate_days([], covariate, "mean_mg_dl").step == step


def test_what_is_the_wearers_own_is_per_spread_of_its_days():
    """4 below and above the mean of each wear; where it never differs, or was never written, per one."""
    own = 60 + 4 * (-1.0) ** np.arange(14)
    wears = [days_by_hand(mean_mg_dl=90 + 0.5 * own, screen_min=own)]
    found = relate_days(wears, "screen_min", "mean_mg_dl")
    assert (found.step, found.estimate) == (4, pytest.approx(2, abs=1e-3))
    assert relate_days([days_by_hand(mean_mg_dl=90 + DONE, screen_min=60.0)], "screen_min", "mean_mg_dl").step == 1
    assert relate_days([days_by_hand(mean_mg_dl=90 + DONE)], "screen_min", "mean_mg_dl").step == 1


def test_a_yes_is_worth_its_whole_difference():
    late = (DONE > 5).astype(float)
    relation = relate_days([days_by_hand(mean_mg_dl=90 + 6 * late, late=late)], "late", "mean_mg_dl")
    assert (relation.step, relation.estimate) == (0, pytest.approx(6, abs=1e-3))
    assert relation.line["fit"].iloc[[0, 12, 24]].to_numpy() == pytest.approx([90, 93, 96], abs=1e-3)


@pytest.mark.parametrize(("n", "answered"), [(7, False), (8, True)])
def test_eight_days_are_asked_for(n, answered):
    wear = days_by_hand(n, mean_mg_dl=90 + np.sqrt(DONE[:n]), stress=DONE[:n], screen_min=10 * DONE[:n])
    assert np.isfinite(relate_days([wear], "stress", "mean_mg_dl").estimate) == answered
    assert list_covariates([wear]) == ["stress", "screen_min"] * answered


@pytest.mark.parametrize(("with_it", "answered"), [(4, False), (5, True), (9, True), (10, False)])
def test_five_days_with_and_five_without_are_asked_for(with_it, answered):
    late = np.isin(np.arange(14), [0, 3, 5, 8, 11, 1, 6, 10, 13, 2][:with_it]).astype(float)
    relation = relate_days([days_by_hand(mean_mg_dl=90 + DONE, late=late)], "late", "mean_mg_dl")
    assert np.isfinite(relation.estimate) == answered


@pytest.mark.parametrize(("days", "used"), [(10, False), (11, True)])
def test_what_is_written_on_more_than_half_of_the_days_is_adjusted_for(days, used):
    """Of twenty; the outcome is what was written there, and so all of it is taken off where it is adjusted for."""
    known = np.arange(20) < days
    beside = np.resize([1.0, 4, 2, 6, 3], 20)
    wear = days_by_hand(20, mean_mg_dl=90 + np.where(known, beside, 3.2), stress=np.resize(DONE, 20))
    relation = relate_days(
        [with_daily(wear, asleep_h=np.where(known, beside, np.nan))], "stress", "mean_mg_dl", adjust=("asleep_h",)
    )
    assert relation.adjusted == ("asleep_h",) * used
    assert (np.ptp(relation.points["outcome_within"]) < 0.5) == used


@pytest.mark.parametrize(("of_wear", "grown"), [("place", 5), ("settling", -20)])
def test_what_a_sensor_does_over_its_wear_is_taken_off(of_wear, grown):
    """Two mg/dL a point of stress; sixty days over which stress grew and the sensor drifted, or settled in two days."""
    since = np.arange(60)
    sensor = since / 59 - 0.5 if of_wear == "place" else np.exp(-since / 2)
    stress = np.random.default_rng(1).integers(1, 9, 60) + grown * sensor
    wear = days_by_hand(60, mean_mg_dl=90 + 2 * stress + 4 * grown * sensor, stress=stress)
    relation = relate_days([wear], "stress", "mean_mg_dl")
    points = relation.points
    plain = np.polyfit(points["covariate"], points["outcome"], 1)[0]
    assert plain > 2.3
    assert relation.estimate == pytest.approx(2, abs=0.04)
    assert relation.adjusted == (), "what is always adjusted for is not the wearer's choice"


def test_a_factor_may_vary_little_beside_its_mean():
    """A pressure of a million, by some units: counted from its mean, that is no rounding."""
    relation = relate_days([days_by_hand(mean_mg_dl=90 + DONE, own=1e6 + DONE)], "own", "mean_mg_dl")
    assert relation.estimate == pytest.approx(relation.step, abs=1e-3)


@pytest.mark.parametrize(("tried", "verdict"), [(1, "higher"), (2, "higher"), (3, "cannot_tell_yet")])
def test_a_claim_among_several_needs_a_smaller_p(tried, verdict):
    """0.05 twice is the tenth that is allowed."""
    table, over_range = pd.DataFrame(), {"range_low": 4.0, "range_high": 36.0}
    relation = DayRelation(
        "stress", "mean_mg_dl", False, (), table, 1.0, 5.0, 1.0, 9.0, over_range, np.nan, 0.05, table
    )
    assert relation.verdict(WORTH, tried) == verdict
    small = replace(relation, over_range={"range_low": -1.0, "range_high": 1.0}, p_value=0.9)
    assert small.verdict(WORTH, tried) == "too_small_to_matter"
