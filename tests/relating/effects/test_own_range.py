"""Is an effect told over the range that the wearer lives in, and judged there?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.relating.effects.effects import estimate_effects
from glucolab.relating.effects.own_range import OwnRange, own_range
from tests.relating.effects.asked import ask
from tests.relating.invented import Truth, invent

DAYS = 40
WANDERING = 3 * np.random.default_rng(20261130).standard_normal(DAYS)
STRESS = np.tile([1.0, 2, 3, 4, 5, 6, 7, 8, 9, 10], 4)[np.random.default_rng(7).permutation(DAYS)]


def test_the_range_is_from_the_tenth_to_the_ninetieth_percentile():
    """Of 0, 1, ..., 100 these are 10 and 90 (Hyndman & Fan 1996, their definition 7)."""
    assert own_range(np.arange(101.0)) == OwnRange(10.0, 90.0)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([0.0] * 19 + [30.0], (0.0, 30.0)),  # one day in twenty
        ([0.0] * 37 + [10.0, 20.0, 60.0], (0.0, 20.0)),  # the middle one of three
        ([7.0] * 19 + [4.0], (4.0, 7.0)),  # what is rare may be less
    ],
)
def test_where_most_days_are_alike_it_is_to_the_middle_of_the_others(values, expected):
    assert own_range(np.array(values)) == expected


def test_an_effect_over_the_range_is_the_slope_times_its_width():
    """Stress runs from 1.9 to 9.1 (percentiles of 1 to 10, four times each: 1.9 and 9.1 lie between neighbours)."""
    found = ask("stress", "mean", stress=STRESS, mean_mg_dl=95 + 2 * STRESS + WANDERING)
    start, end = np.quantile(STRESS, [0.1, 0.9])
    assert (found["range_from"], found["range_to"]) == (start, end)
    for name in ("estimate", "low", "high"):
        assert found[f"range_{name}"] == pytest.approx((end - start) * found[name])


def test_caffeine_is_told_in_milligrams_whatever_its_step_is():
    """0.05 mg/dL a milligram over 0 to 400 mg, where a slope is per 100 mg: 20 mg/dL and not 2000."""
    caffeine = np.where(np.arange(DAYS) % 3, 400.0, 0.0)
    found = ask("caffeine_mg", "mean", caffeine_mg=caffeine, mean_mg_dl=95 + 0.05 * caffeine + WANDERING)
    assert (found["range_from"], found["range_to"]) == (0.0, 400.0)
    assert found["range_estimate"] == pytest.approx(4 * found["estimate"])
    assert found["range_estimate"] == pytest.approx(20.0, abs=4.0)


def test_of_a_yes_or_no_the_range_is_without_and_with():
    trained = (np.arange(DAYS) % 3 == 0).astype(float)
    found = ask("morning_exercise", "mean", morning_exercise=trained, mean_mg_dl=95 - 4 * trained + WANDERING)
    assert (found["range_from"], found["range_to"]) == (0.0, 1.0)
    assert found["range_estimate"] == found["estimate"]


def stressed(per_point: float) -> pd.DataFrame:
    """Effects of three wears in which stress goes with the day's mean by so much a point."""
    wears, _ = invent(np.random.default_rng(3), Truth(day={"stress": per_point}, day_sd=2.0))
    return estimate_effects(wears, 3.0)


def test_what_is_surely_there_is_never_too_small():
    """A point of stress is worth 1.5 mg/dL, half of what is worth noticing: told as higher all the same."""
    found = stressed(1.5)
    row = found[(found["factor"] == "stress") & (found["outcome"] == "mean_mg_dl")].iloc[0]
    assert row["high"] < 3.0
    assert row["verdict"] == "higher"
    clear = (found["range_low"] * found["range_high"] > 0) & (found["q_value"] <= 0.1)
    assert clear.any()
    assert found.loc[clear, "verdict"].isin(["lower", "higher"]).all()


def test_too_small_is_said_only_of_the_whole_range():
    """With two wears and nothing true: whatever is called too small is so from one end of the range to the other."""
    worth = {"mean_mg_dl": 3.0, "overnight_mean_mg_dl": 3.0, "sd_mg_dl": 1.0, "rise_mg_dl": 5.0, "energy": 0.5}
    small = [t[t["verdict"] == "too_small_to_matter"] for t in map(nothing_true, range(12))]
    small = pd.concat(small)[lambda t: t["outcome"].isin(worth)]
    assert len(small) >= 20
    least = small["outcome"].map(worth)
    assert (small["range_low"] >= -least).all()
    assert (small["range_high"] <= least).all()


def nothing_true(seed: int) -> pd.DataFrame:
    wears, _ = invent(np.random.default_rng(seed), Truth(day_sd=1.5), 2)
    return estimate_effects(wears, 3.0)


def test_a_claim_counts_the_wears_in_which_it_has_been_made():
    """Told from the second wear on, because the first has no stress: after the third it has stood for two."""
    wears, _ = invent(np.random.default_rng(3), Truth(day={"stress": 3.0}, day_sd=1.5), 5)
    silent = replace(wears[0], daily=wears[0].daily.assign(stress=np.nan))
    wears = [silent, *wears[1:]]

    def stood(until: int) -> float:
        table = estimate_effects(wears[:until][::-1], 3.0)  # in whichever order they are given
        of_stress = (table["factor"] == "stress") & (table["outcome"] == "mean_mg_dl")
        assert table.loc[table["stood"].notna(), "verdict"].isin(["lower", "higher"]).all()
        assert table.loc[table["verdict"].isin(["lower", "higher"]), "stood"].notna().all()
        return table.loc[of_stress, "stood"].astype(float).item()

    assert np.isnan(stood(1))
    assert [stood(until) for until in (2, 3, 4, 5)] == [1.0, 2.0, 3.0, 3.0]  # three, or more
