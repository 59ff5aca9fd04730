"""Is a change of habits told from chance, on whole days, and only between wears that follow each other?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

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
    none = pd.DataFrame({"time": pd.DatetimeIndex([], tz="UTC"), "energy": []})
    return WearTables(name, days, UTC, daily, none, none, EMPTY, EMPTY, (), sick)
