"""Does effects.csv say what it may, refuse what it must, and not depend on what it should not?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.record import VERDICTS
from glucolab.record.study_outputs import EFFECTS
from glucolab.relating.effects.effects import estimate_effects
from glucolab.relating.effects.questions import PAIRS
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import worth_noticing
from tests.relating.invented import Truth, invent

FACTORS = {"asleep_h", "stress", "caffeine_mg", "relaxation_min", "morning_exercise", "walk_after", "protein_first",
           "fiber_g", "protein_g", "fat_g", "carbs_g", "evening_meal", "eaten_out", "short_night",
           "last_meal_to_sleep_h", "carbs_after_short_night"}  # fmt: skip
OUTCOMES = {"mean_mg_dl", "sd_mg_dl", "overnight_mean_mg_dl", "rise_mg_dl", "iauc_2h_mg_dl_min", "energy", "asleep_h"}
STRONG = Truth(day={"asleep_h": -5.0}, meal={"walk_after": -0.5}, day_sd=2.0)
ESTIMATES = ["estimate", "low", "high", "p_value"]


def row(table: pd.DataFrame, factor: str, outcome: str) -> pd.Series:
    return table[(table["factor"] == factor) & (table["outcome"] == outcome)].squeeze()


def with_daily(wear: WearTables, **columns) -> WearTables:
    return replace(wear, daily=wear.daily.assign(**columns))


@pytest.fixture(scope="module")
def strong():
    wears, truth = invent(np.random.default_rng(1), STRONG)
    return wears, truth, estimate_effects(wears, 3.0)


def test_columns_and_words_of_the_contract(strong):
    table = strong[2]
    assert list(table) == EFFECTS.names
    assert set(table["factor"]) == FACTORS | {"covariate:screen_min"}
    assert set(table["outcome"]) == OUTCOMES
    assert set(table["verdict"]) <= set(VERDICTS)
    assert not table.duplicated(["factor", "outcome"]).any()
    assert all(pair.reason for pair in PAIRS)


def test_what_is_there_is_found_with_its_size(strong):
    _, truth, table = strong
    sleep, walk = row(table, "asleep_h", "mean_mg_dl"), row(table, "walk_after", "rise_mg_dl")
    assert (sleep["verdict"], walk["verdict"]) == ("lower", "lower")
    assert sleep["low"] < -5 < sleep["high"]
    assert walk["low"] < truth["walk_after"] < walk["high"]
    assert sleep["unit"] == "mg/dL per h"
    assert "causes" not in " ".join(table["contrast"])


def test_verdicts_follow_from_interval_and_q(strong):
    for _, r in strong[2].iterrows():
        worth = worth_noticing(r["outcome"], 3.0)
        if r["verdict"] in ("lower", "higher"):
            assert r["q_value"] <= 0.10
            assert r["low"] * r["high"] > 0
        elif r["verdict"] == "too_small_to_matter":
            assert -worth <= r["low"] < r["high"] <= worth
        elif r["verdict"] == "not_enough_data":
            assert np.isnan([r[name] for name in ESTIMATES]).all()
        assert pd.isna(r["needed"]) or (r["verdict"] == "cannot_tell_yet" and 1 <= r["needed"] <= 200)
    known = strong[2].dropna(subset=["p_value"])
    assert (known["q_value"] >= known["p_value"]).all()


def test_a_sensors_bias_drops_out(strong):
    wears, _, table = strong
    shifted = [with_daily(w, mean_mg_dl=w.daily["mean_mg_dl"] + b) for w, b in zip(wears, (-15, 0, 22), strict=True)]
    again = estimate_effects(shifted, 3.0)
    pd.testing.assert_frame_equal(again[ESTIMATES], table[ESTIMATES], rtol=1e-6, atol=1e-7)


def test_the_same_input_gives_the_same_table(strong):
    pd.testing.assert_frame_equal(estimate_effects(strong[0], 3.0), strong[2])


def test_two_sensors_on_one_body_are_no_more_days(strong):
    """The same life twice: counted twice, its intervals would shrink by a third. (p is of other random orders.)"""
    wears, _, table = strong
    again = estimate_effects([*wears, *(replace(w, name=f"{w.name} other arm") for w in wears)], 3.0)
    same = ["estimate", "low", "high", "n_with", "n_without", "n_days"]
    pd.testing.assert_frame_equal(again[same], table[same])


def test_days_of_illness_and_days_half_recorded_are_left_out(strong):
    wears, _, table = strong
    ill = np.zeros(14, bool)
    ill[[3, 4, 5]] = True
    wild = wears[0].daily["mean_mg_dl"] + 60 * ill
    sick = estimate_effects([replace(with_daily(wears[0], mean_mg_dl=wild), ill=ill), *wears[1:]], 3.0)
    thin = with_daily(wears[0], mean_mg_dl=wild, enough=pd.array(~ill, "boolean"))
    thinned = estimate_effects([thin, *wears[1:]], 3.0)
    for got in (sick, thinned):
        sleep = row(got, "asleep_h", "mean_mg_dl")
        assert sleep["n_days"] == row(table, "asleep_h", "mean_mg_dl")["n_days"] - 3
        assert sleep["low"] < -5 < sleep["high"]


def test_a_meal_that_cannot_be_used_is_not(strong):
    wears, _, table = strong
    meals = wears[0].meal_responses
    spoilt = meals.assign(rise_mg_dl=meals["rise_mg_dl"].where(meals["usable_2h"].astype(bool), 900.0))
    got = estimate_effects([replace(wears[0], meal_responses=spoilt), *wears[1:]], 3.0)
    pd.testing.assert_frame_equal(got, table)


def test_nothing_worn_and_nothing_logged():
    empty = estimate_effects([], 3.0)
    assert list(empty) == EFFECTS.names
    assert set(empty["verdict"]) == {"not_enough_data"}
    assert (empty[["n_with", "n_without", "n_days"]] == 0).all(axis=None)
    wear = invent(np.random.default_rng(2), Truth(), 1)[0][0]
    bare = with_daily(wear, **dict.fromkeys(("asleep_h", "stress", "caffeine_mg", "relaxation_min", "carbs_g"), np.nan))
    nothing = {name: getattr(wear, name).iloc[:0] for name in ("meal_responses", "energy", "sleep", "activity")}
    table = estimate_effects([replace(bare, **nothing, day_covariates=())], 3.0)
    assert set(table["verdict"]) == {"not_enough_data"}


def test_a_few_days_are_not_enough():
    wears, _ = invent(np.random.default_rng(3), STRONG, n_wears=1, n_days=6)
    table = estimate_effects(wears, 3.0)
    assert (table["verdict"] == "not_enough_data").all()
    assert row(table, "asleep_h", "mean_mg_dl")["n_days"] == 6


def test_one_odd_day_carries_no_claim():
    """Thirteen nights alike and one without sleep, followed by a wild day: a line through two points."""
    wear = invent(np.random.default_rng(4), Truth(), 1)[0][0]
    slept, mean = np.full(14, 7.0), wear.daily["mean_mg_dl"].to_numpy().copy()
    slept[::2] += 0.05
    slept[6], mean[6] = 0.0, mean[6] + 50
    odd = row(estimate_effects([with_daily(wear, asleep_h=slept, mean_mg_dl=mean)], 3.0), "asleep_h", "mean_mg_dl")
    assert odd["verdict"] == "not_enough_data"


def test_a_factor_that_never_varies_within_a_wear_says_nothing():
    """Much stress in one wear, little in the other: that is the sensors' difference too."""
    wears, _ = invent(np.random.default_rng(5), Truth(), 2)
    table = estimate_effects([with_daily(w, stress=s) for w, s in zip(wears, (2.0, 8.0), strict=True)], 3.0)
    assert row(table, "stress", "mean_mg_dl")["verdict"] == "not_enough_data"


def test_the_same_dish_at_home_and_out_only():
    """Another, richer dish that is only eaten out must not make eating out look worse."""
    wears, _ = invent(np.random.default_rng(6), Truth(one_offs=0.0, dishes=4), 3)
    changed = []
    for wear in wears:
        meals = wear.meal_responses.copy()
        rich = (meals["dish"] == "dish 0").to_numpy()
        meals.loc[rich, "setting"] = "out"
        meals.loc[rich, "rise_mg_dl"] += 60
        changed.append(replace(wear, meal_responses=meals))
    out = row(estimate_effects(changed, 3.0), "eaten_out", "rise_mg_dl")
    used = sum(int((w.meal_responses["usable_2h"] & (w.meal_responses["dish"] != "dish 0")).sum()) for w in changed)
    assert out["n_with"] + out["n_without"] <= used
    assert out["high"] < 30


def test_a_covariate_is_read_by_what_it_holds():
    wear = invent(np.random.default_rng(7), Truth(), 1)[0][0]
    minutes = 100 + 20 * np.random.default_rng(8).standard_normal(14)
    wear = with_daily(wear, sauna=pd.array(np.arange(14) % 2 == 0, "boolean"), screen_min=minutes)
    table = estimate_effects([replace(wear, day_covariates=("sauna", "screen_min"))], 3.0)
    sauna, screen = (row(table, f"covariate:{name}", "mean_mg_dl") for name in ("sauna", "screen_min"))
    assert (sauna["n_with"], sauna["n_without"], sauna["unit"]) == (7, 7, "mg/dL")
    step = float(f"{wear.daily['screen_min'].std(ddof=0):.2g}")
    assert screen["unit"] == f"mg/dL per {step:g}"
    assert (screen["n_with"], screen["n_without"]) == (14, 0)


def test_a_covariate_that_never_differs_is_told_by_ones():
    wear = with_daily(invent(np.random.default_rng(7), Truth(), 1)[0][0], screen_min=90.0)
    table = estimate_effects([replace(wear, day_covariates=("screen_min",))], 3.0)
    found = row(table, "covariate:screen_min", "mean_mg_dl")
    assert (found["verdict"], found["unit"]) == ("not_enough_data", "mg/dL per 1")


def test_figures_without_any_error_break_nothing():
    wears, _ = invent(np.random.default_rng(9), Truth(), 2)
    exact = [with_daily(w, mean_mg_dl=90.0 + 2 * w.daily["stress"], sd_mg_dl=15.0) for w in wears]
    table = estimate_effects(exact, 3.0)
    stress = row(table, "stress", "mean_mg_dl")
    assert stress["estimate"] == pytest.approx(2.0, abs=0.05)
    assert row(table, "stress", "sd_mg_dl")["verdict"] == "not_enough_data"


def test_needed_is_enough():
    """Ten more than asked for decide it, if the estimate stays where it is: the same days are lived again."""
    wears, _ = invent(np.random.default_rng(10), Truth(day={"asleep_h": -3.0}), 1)
    first = row(estimate_effects(wears, 3.0), "asleep_h", "mean_mg_dl")
    assert first["verdict"] == "cannot_tell_yet"
    more = int(np.ceil((first["needed"] + 10) / 14))
    shifts = [pd.Timedelta(days=100 * (i + 1)) for i in range(more)]
    again = [replace(wears[0], daily=wears[0].daily.assign(date=wears[0].daily["date"] + s)) for s in shifts]
    later = row(estimate_effects([*wears, *again], 3.0), "asleep_h", "mean_mg_dl")
    assert later["verdict"] in ("lower", "too_small_to_matter")
