"""Is a change of habits told from chance, on whole days, and only between wears that follow each other?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.clock import days_between
from glucolab.relating.comparing.habit_changes import HABITS, compare_habits, compare_means
from glucolab.relating.observations.wear_tables import WearTables
from tests.hand_made import UTC

EMPTY = pd.DataFrame()


def test_means_as_in_welchs_example():
    """Differences of means with unequal variances; scipy.stats.ttest_ind carries out Welch 1947, here with the variance
    grown by half, so that its t is sqrt(1.5) larger."""
    from scipy.stats import ttest_ind

    rng = np.random.default_rng(1)
    a, b = rng.normal(160, 40, 13), rng.normal(130, 20, 9)
    found, plain = compare_means(a, b), ttest_ind(b, a, equal_var=False)
    assert found["difference"] == pytest.approx(b.mean() - a.mean())
    ends = plain.confidence_interval(0.9)
    assert (found["high"] - found["low"]) / (ends.high - ends.low) == pytest.approx(np.sqrt(1.5))
    assert found["p_value"] > plain.pvalue


def test_p_and_interval_are_welchs_with_a_variance_grown_by_half():
    """Means 150 and 120 of five and six days, variances 250 and 180: parts 1.5 * 250 / 5 and 1.5 * 180 / 6 make 120."""
    a = np.array([130.0, 140, 150, 160, 170])
    b = np.array([105.0, 105, 120, 120, 135, 135])
    found = compare_means(a, b)
    degrees = 120**2 / (75**2 / 4 + 45**2 / 5)
    assert (found["mean_a"], found["mean_b"], found["difference"]) == (150, 120, -30)
    assert found["p_value"] == pytest.approx(2 * stats.t.sf(30 / np.sqrt(120), degrees), rel=1e-9)
    half = stats.t.ppf(0.95, degrees) * np.sqrt(120)
    assert (found["low"], found["high"]) == pytest.approx((-30 - half, -30 + half), rel=1e-9)


@pytest.mark.parametrize(("n", "told"), [(4, False), (5, True)])
def test_five_days_of_each_wear_are_enough_and_four_are_not(n, told):
    few, many = np.arange(float(n)), np.arange(20.0)
    assert np.isfinite(compare_means(few, many)["difference"]) == told
    assert np.isfinite(compare_means(many, few)["difference"]) == told


def test_where_neither_wear_varies_nothing_is_said_and_where_one_does_it_is():
    flat = np.full(6, 5.0)
    assert np.isnan(list(compare_means(flat, flat + 1).values())).all()
    assert compare_means(flat, np.arange(6.0))["difference"] == -2.5


def test_days_alike_hold_a_nil_difference_and_seldom_claim_one():
    rng = np.random.default_rng(2)
    tables = [compare_habits([_wear(rng, "a", "2026-02-03"), _wear(rng, "b", "2026-06-03")]) for _ in range(200)]
    table = pd.concat(tables, keys=range(200))
    assert ((table["low"] <= 0) & (table["high"] >= 0)).mean() == pytest.approx(0.9, abs=0.04)
    claimed = table["verdict"].isin(["lower", "higher"]).groupby(level=0).any()
    assert claimed.mean() <= 0.10 + 0.04


def test_less_carbohydrate_is_told():
    rng = np.random.default_rng(3)
    table = compare_habits([_wear(rng, "b", "2026-06-03", carbs=100), _wear(rng, "a", "2026-02-03")])
    told = table.set_index("habit")["verdict"]
    assert (table["wear_a"] == "a").all()
    assert told["carbs_g"] == "lower"
    assert (told.drop("carbs_g") == "cannot_tell_yet").sum() >= len(HABITS) - 2


def test_the_q_value_is_that_of_the_habits_of_one_pair():
    """Benjamini & Hochberg over the seven habits of each pair of wears, by scipy; claimed are those of at most 0.10."""
    rng = np.random.default_rng(6)
    wears = [_wear(rng, name, start) for name, start in (("a", "2026-02-03"), ("b", "2026-06-03"), ("c", "2026-10-03"))]
    for habit, shift in (("stress", 18), ("fiber_g", 9), ("asleep_h", -18)):
        wears[1].daily[habit] += shift
    table = compare_habits(wears)
    assert table.groupby("wear_b").size().to_dict() == {"b": len(HABITS), "c": len(HABITS)}
    told, beyond = [], []
    for _, pair in table.groupby("wear_b"):
        q = stats.false_discovery_control(pair["p_value"])
        assert pair["q_value"].to_numpy() == pytest.approx(q)
        away = np.where(pair["high"] < 0, "lower", np.where(pair["low"] > 0, "higher", "cannot_tell_yet"))
        assert pair["verdict"].tolist() == np.where(q <= 0.10, away, "cannot_tell_yet").tolist()
        told += pair["verdict"].tolist()
        beyond += (away != "cannot_tell_yet").tolist()
    assert set(told) == {"lower", "higher", "cannot_tell_yet"}
    assert sum(beyond) > sum(verdict != "cannot_tell_yet" for verdict in told), "one is withheld for its q alone"


def test_a_wear_may_begin_on_the_day_on_which_the_one_before_ends():
    rng = np.random.default_rng(7)
    first, begins_then, begins_sooner = (
        _wear(rng, n, s) for n, s in (("a", "2026-02-03"), ("b", "2026-02-16"), ("c", "2026-02-15"))
    )
    assert compare_habits([first, begins_then])["wear_b"].unique().tolist() == ["b"]
    assert not len(compare_habits([first, begins_sooner]))


def test_first_and_last_date_and_days_of_illness_do_not_count():
    rng = np.random.default_rng(4)
    wears = [_wear(rng, "a", "2026-02-03"), _wear(rng, "b", "2026-06-03", ill=3)]
    for wear in wears:
        wear.daily.loc[[0, 13], "carbs_g"] = 0.0
    row = compare_habits(wears).set_index("habit").loc["carbs_g"]
    assert (row["days_a"], row["days_b"]) == (12, 9)
    assert row["mean_a"] == pytest.approx(wears[0].daily["carbs_g"][1:13].mean())


def test_wears_at_once_few_days_and_nothing_written_say_nothing():
    rng = np.random.default_rng(5)
    one = _wear(rng, "a", "2026-02-03")
    assert not len(compare_habits([one, _wear(rng, "b", "2026-02-05")]))
    assert not len(compare_habits([one]))
    assert not len(compare_habits([]))
    bare = _wear(rng, "b", "2026-06-03")
    bare.daily[list(HABITS)] = np.nan
    assert set(compare_habits([one, bare])["verdict"]) == {"not_enough_data"}


def _wear(rng, name, start, carbs=160.0, n=14, ill=0):
    start = pd.Timestamp(start, tz="UTC")
    days = days_between(start, start + pd.Timedelta(days=n), UTC)
    alike = np.convolve(rng.standard_normal(n + 1), [1, 0.2], "valid") / np.hypot(1, 0.2)
    daily = pd.DataFrame({"date": days.dates, "enough": pd.array(np.ones(n, bool), "boolean"), "mean_mg_dl": 100.0})
    daily = daily.assign(sd_mg_dl=15.0, overnight_mean_mg_dl=95.0)
    for habit in HABITS:
        daily[habit] = 30 + 8 * rng.permutation(alike)
    daily["carbs_g"] = carbs + 30 * alike
    sick = (np.arange(n) >= 5) & (np.arange(n) < 5 + ill)
    none = pd.DataFrame({"time": pd.DatetimeIndex([], tz="UTC"), "energy": [], "reason": pd.Series([], dtype="str")})
    return WearTables(name, days, UTC, daily, none, none, EMPTY, EMPTY, (), sick)
