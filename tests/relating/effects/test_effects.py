"""Does effects.csv say what it may, refuse what it must, and not depend on what it should not?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.record import VERDICTS
from glucolab.record.habit_outputs import EFFECTS
from glucolab.relating.effects import questions
from glucolab.relating.effects.effects import (
    _adjustments,
    _eaten_both_ways,
    estimate_effects,
)
from glucolab.relating.effects.questions import ADJUSTED_FOR, PAIRS, Pair
from glucolab.relating.effects.verdicts import count_needed, count_tests, judge_effects, z_to_stand_out
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import worth_noticing
from tests.relating.effects.asked import ask
from tests.relating.invented import Truth, invent

FACTORS = {"asleep_h", "stress", "caffeine_mg", "relaxation_min", "morning_exercise", "walk_after", "protein_first",
           "fiber_g", "protein_g", "fat_g", "carbs_g", "evening_meal", "eaten_out", "short_night",
           "last_meal_to_sleep_h", "carbs_after_short_night"}  # fmt: skip
OUTCOMES = {"mean_mg_dl", "sd_mg_dl", "overnight_mean_mg_dl", "rise_mg_dl", "iauc_2h_mg_dl_min", "energy", "asleep_h",
            "next_mean_mg_dl"}  # fmt: skip
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
    # twice p for many looks, over a weight of at most three
    assert (known["q_value"] >= known["p_value"] * 2 / 3 - 1e-12).all()


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


WANDERING = np.array([3.0, -1, 4, -1, 5, -9, 2, -6, 5, 3, -5, 8, -9, 7])
"""Differs from day to day and goes with nothing asked about here."""


@pytest.mark.parametrize(("with_it", "answered"), [(4, False), (5, True), (9, True), (10, False)])
def test_five_days_with_and_five_without_are_asked_for(with_it, answered):
    trained = np.isin(np.arange(14), [0, 3, 5, 8, 11, 1, 6, 10, 13, 2][:with_it]).astype(float)
    found = ask("morning_exercise", "mean", morning_exercise=trained, mean_mg_dl=95 + WANDERING)
    assert (found["n_with"], found["n_without"], found["n_days"]) == (with_it, 14 - with_it, 14)
    assert np.isfinite(found["estimate"]) == answered


@pytest.mark.parametrize(("n", "answered"), [(7, False), (8, True)])
def test_eight_days_are_asked_for(n, answered):
    found = ask("stress", "mean", stress=np.array([1.0, 4, 3, 6, 2, 8, 5, 7])[:n], mean_mg_dl=95 + WANDERING[:n])
    assert (found["n_with"], found["n_without"], found["n_days"]) == (n, 0, n)
    assert np.isfinite([found[name] for name in ESTIMATES]).all() == answered


@pytest.mark.parametrize(("short_nights", "answered"), [([2, 9], False), ([2, 6, 9], True)])
def test_a_product_needs_three_days_with_it(short_nights, answered):
    """Four meals a day, alike after each short night: eight meals after them are two days all the same."""
    day = np.repeat(np.arange(12), 4)
    short = np.isin(day, short_nights).astype(float)
    carbs_g = np.tile([20.0, 45, 90, 60], 12) + 8 * (1 - short)
    meals = {"carbs_g": carbs_g, "short_night": short, "carbs_after_short_night": (carbs_g - carbs_g.mean()) * short}
    rise = 25 + 0.3 * carbs_g + np.resize(WANDERING, 48)
    found = ask("carbs_after_short_night", "rise", day=day, rise_mg_dl=rise, iauc_2h_mg_dl_min=60 * rise, **meals)
    assert (found["n_with"], found["n_without"]) == (4 * len(short_nights), 48 - 4 * len(short_nights))
    assert np.isfinite(found["estimate"]) == answered
    if answered:
        assert "adjusted for carbs_g, short_night" in found["contrast"]


@pytest.mark.parametrize(("name", "grown"), [("place_in_wear", 5), ("settling", -8)])
def test_what_a_sensor_does_over_its_wear_is_not_put_down_to_a_habit_that_went_with_it(name, grown):
    """Six wears, drifts or first days that go with more stress, beside two a point of it."""
    wear, since = np.repeat(np.arange(6), 14), np.tile(np.arange(14), 6)
    of_wear = {"place_in_wear": since / 13 - 0.5, "settling": np.exp(-since / 2)}
    stress = np.random.default_rng(1).integers(1, 9, 84) + grown * of_wear[name]
    days = {"wear": wear, "day": 100 * wear + since, "stress": stress}
    days["mean_mg_dl"] = 90 + 2 * stress + 4 * grown * of_wear[name]
    found = ask("stress", "mean", gain_errors=np.zeros((6, 1)), **days, **of_wear)
    assert found["estimate"] == pytest.approx(2, abs=0.02)
    assert found["contrast"].endswith(", adjusted for place in the wear; within wears, days of illness left out")
    assert ask("stress", "mean", gain_errors=np.zeros((6, 1)), **days)["estimate"] > 2.2


def test_every_question_of_days_is_adjusted_for_the_place_in_the_wear(strong):
    table = strong[2]
    answered = table[table["estimate"].notna()]
    of_days = ~answered["outcome"].isin(["rise_mg_dl", "iauc_2h_mg_dl_min"])
    assert of_days.sum() > 10
    assert (answered["contrast"].str.contains("place in the wear") == of_days).all()


def test_what_no_order_of_days_matches_has_a_p_of_one_in_a_thousand():
    """Fourteen days on a line: of 999 random orders none lies on one, and (1 + 0) / (1 + 999)."""
    stress = np.array([1.0, 4, 3, 6, 2, 8, 5, 7, 9, 3, 1, 6, 8, 2])
    found = ask("stress", "mean", stress=stress, mean_mg_dl=90 + 2 * stress)
    assert found["p_value"] == pytest.approx(0.001, abs=1e-12)
    assert found["estimate"] == pytest.approx(2)


def test_meals_of_no_dish_are_not_the_same_dish_at_home_and_out():
    dish = np.array(["", "", "rice", "rice", "soup", "soup", "tart", "tart"], object)
    out = np.array([0.0, 1, 0, 1, 0, 0, 1, 0])
    keep = np.array([True] * 7 + [False])
    assert _eaten_both_ways(dish, out, keep).tolist() == [False, False, True, True, False, False, False, False]


class TestAdjustments:
    """Twenty days of one wear; 0 stands where nothing was written."""

    day = np.arange(20)

    def rows(self, **columns) -> dict[str, np.ndarray]:
        nothing = dict.fromkeys((*ADJUSTED_FOR["day"], "bedtime_h"), np.full(20, np.nan))
        return {"wear": np.zeros(20, int)} | nothing | columns

    @pytest.mark.parametrize(("days", "used"), [(10, False), (11, True)])
    def test_what_is_written_on_more_than_half_of_the_days_is_adjusted_for(self, days, used):
        written = np.where(self.day < days, self.day % 2, np.nan)
        found = _adjustments(Pair("stress", "mean", ""), questions.OUTCOMES["mean"], self.rows(asleep_h=written))
        assert list(found) == ["asleep_h"] * used

    def test_each_has_mean_nought_and_a_spread_of_one_about_each_wears_own(self):
        """Stress 2 and 6 in one wear, 10 and 14 in the other: 2 below and above."""
        wear = np.repeat([0, 1], 10)
        stress = np.where(self.day < 18, 2.0 + 4 * (self.day % 2) + 8 * wear, np.nan)
        found = _adjustments(
            Pair("asleep_h", "mean", ""), questions.OUTCOMES["mean"], self.rows(stress=stress, wear=wear)
        )
        assert found["stress"] == pytest.approx(np.where(self.day < 18, 2.0 * (self.day % 2) - 1, 0))

    def test_time_since_the_last_meal_is_read_at_equal_bedtime_where_sleep_follows(self):
        rows = self.rows(bedtime_h=11 + self.day % 3.0)
        of_sleep, of_glucose = (
            _adjustments(Pair("last_meal_to_sleep_h", name, ""), questions.OUTCOMES[name], rows)
            for name in ("sleep", "overnight")
        )
        assert (list(of_sleep), list(of_glucose)) == (["bedtime_h"], [])


@pytest.mark.parametrize(
    ("estimate", "half", "worth", "n", "needed"),
    [
        (0.0, 3.0, 1.0, 25, 200),  # 25 (3² - 1)
        (0.0, 2.0, 1.0, 67, np.nan),  # 201
        (0.0, 0.5, 1.0, 25, 1),  # as good as done
        (2.0, 4.02, 3.0, 10, 60),  # until 2 is 2.16 SE (p 0.031): 10 ((4.02 / 1.523)² - 1) = 59.7
        (-2.0, 4.02, 3.0, 10, 60),
        (2.0, 4.0, 6.0, 10, 0),  # until it lies within 6: 4 on each side, as it is
        (2.0, 4.5, 6.0, 10, 3),  # 10 (1.125² - 1) = 2.66
        (5.0, 6.01, 1.0, 100, 150),  # until 5 is 2.16 SE: 3.807; 100 ((6.01 / 3.807)² - 1) = 149.2
    ],
)
def test_what_is_needed_of_one_question(estimate, half, worth, n, needed):
    """Widths shrink with the root of the number; alone, a question stands out at a p of 0.1 / 3.25."""
    spans = np.array([[estimate, estimate - half, estimate + half]])
    found = count_needed(spans, np.array([n]), np.array([worth]), z_to_stand_out(1, 0))
    assert found == pytest.approx([max(needed, 1)], nan_ok=True)


def test_among_many_questions_more_is_needed_to_stand_out():
    """Forty factors asked and three clear, one at 0.10: the next needs p = 0.1 / 3.25 x 4 / 40 = 0.0031, 2.960 SE.

    3.25 is for the many looks. Half of 8 must become 2 / 1.7994 = 1.1115: (4 / 1.1115)² - 1 = 11.95
    times the ten days. What has no q is not asked, and an area is no test beside its rise.
    """
    q = [0.01, 0.05, 0.10, *[0.5] * 37, np.nan]
    table = pd.DataFrame({"factor": [f"covariate:{i}" for i in range(41)], "outcome": "mean_mg_dl", "q_value": q})
    areas = pd.DataFrame({"factor": "walk_after", "outcome": ["rise_mg_dl", "iauc_2h_mg_dl_min"], "q_value": np.nan})
    areas.loc[1, "q_value"] = 0.03
    assert count_tests(pd.concat([table, areas], ignore_index=True)) == (40, 3)
    found = count_needed(np.array([[2.0, -1.0, 7.0]]), np.array([10.0]), np.ones(1), z_to_stand_out(40, 3))
    assert found.tolist() == [120.0]


def test_days_with_and_days_without_count_toward_what_is_needed():
    """Twenty days: 4.01 on each side must become 1.523, 2 over 2.16 SE: 20 ((4.01 / 1.523)² - 1) = 118.6 more."""
    row = {
        "factor": "morning_exercise", "outcome": "mean_mg_dl", "contrast": "", "unit": "mg/dL", "estimate": 2.0,
        "low": -2.01, "high": 6.01, "p_value": 0.4, "n_with": 12, "n_without": 8, "n_days": 20,
        "range_estimate": 2.0, "range_low": -2.01, "range_high": 6.01,
    }  # fmt: skip
    found = judge_effects(pd.DataFrame([row]), 3.0).iloc[0]
    assert (found["verdict"], found["needed"], found["q_value"]) == ("cannot_tell_yet", 119, 1.0)


def test_q_grows_for_many_looks_and_weighs_what_is_likely_before():
    """Two tests, both of p 0.04, times 3.25 0.13: weights of 3 and 1 are 1.5 and 0.5, so 0.0867 and 0.26 are adjusted.

    By hand (Benjamini & Hochberg): 2 x 0.0867 = 0.1733, and 0.26.
    """
    row = {"outcome": "mean_mg_dl", "p_value": 0.04, "n_with": 20, "n_without": 0, "range_estimate": 2.0,
           "range_low": 1.0, "range_high": 3.0}  # fmt: skip
    table = judge_effects(pd.DataFrame([{"factor": name} | row for name in ("stress", "caffeine_mg")]), 3.0)
    assert table["q_value"].tolist() == pytest.approx([0.13 / 1.5 * 2, 0.26])
