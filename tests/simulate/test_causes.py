"""Are the true effects true? Against long invented lives analysed in the plainest way, and closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.simulate import draw_wearer, simulate_life
from glucolab.simulate.causes import rises_if, true_effects, true_trials
from glucolab.simulate.definitions import measure_responses
from glucolab.simulate.expectations import expected_dish_rises, expected_evening_effects, live_long

UTC = ZoneSpans(("UTC",))
START = pd.Timestamp("2026-02-03T00:00Z")


def _live(wearer, days, seed=1, plan=None):
    return simulate_life(np.random.default_rng(seed), wearer, START, START + pd.Timedelta(days=days), UTC, plan)


def _effects(lived):
    return pd.DataFrame(true_effects([lived]), columns=["factor", "outcome", "estimate"])


def _effect(lived, factor, outcome):
    table = _effects(lived).set_index(["factor", "outcome"])["estimate"]
    return table[factor, outcome]


def test_a_meal_left_as_it_was_has_its_own_rise():
    lived = _live(draw_wearer(np.random.default_rng(2)), 14)
    rise, area = rises_if(lived, lambda meals, days: (meals, days))
    straight = measure_responses(lived.blood_mg_dl, lived.minute(lived.meals["time"]))
    inside = straight["rise_mg_dl"].notna().to_numpy()
    np.testing.assert_allclose(rise[inside], straight["rise_mg_dl"][inside], atol=0.15)
    np.testing.assert_allclose(area[inside], straight["iauc_2h_mg_dl_min"][inside], rtol=0.01, atol=5)


def test_where_nothing_works_every_true_effect_but_food_is_nil():
    wearer = draw_wearer(np.random.default_rng(3), effects=False, exercise_rise_mg_dl=0.0, exercise_fall_mg_dl=0.0)
    table = _effects(_live(wearer, 14)).set_index("factor")["estimate"].drop(["carbs_g", "fat_g", "protein_first"])
    np.testing.assert_allclose(table, 0, atol=1e-9)


def test_true_effect_of_stress_is_the_slope_of_daily_means():
    wearer = draw_wearer(np.random.default_rng(4), effects=False, day_sd_mg_dl=1.0, day_autocorrelation=0.0, linked=0.0)
    wearer = replace(wearer, effects=replace(wearer.effects, per_stress_point=2.0))
    lived = _live(wearer, 700)
    means = pd.Series(lived.blood_mg_dl).groupby(lived.days.of(lived.time)).mean().iloc[2:-2]
    slope = np.polyfit(lived.life.days["stress"].iloc[means.index], means, 1)[0]
    assert slope == pytest.approx(_effect(lived, "stress", "mean_mg_dl"), abs=0.25)


def test_true_effect_of_walking_is_the_difference_in_rises_of_like_meals():
    wearer = draw_wearer(
        np.random.default_rng(5),
        effects=False,
        linked=0.0,
        walk_share=0.5,
        exercise_rise_mg_dl=0.0,
        exercise_fall_mg_dl=0.0,
    )
    wearer = replace(wearer, effects=replace(wearer.effects, walk_after=-0.4))
    lived = _live(wearer, 900)
    rises = measure_responses(lived.blood_mg_dl, lived.minute(lived.meals["time"]))["rise_mg_dl"].to_numpy()
    big = lived.meals["slot"].isin(["breakfast", "lunch", "dinner"]).to_numpy() & ~np.isnan(rises)
    walked = lived.meals["walk_after"].to_numpy(bool)
    plain = rises[big & walked].mean() - rises[big & ~walked].mean()
    pairs = [rises_if(lived, lambda m, d, w=w: (m.assign(walk_after=w), d), big)[0] for w in (True, False)]
    assert plain == pytest.approx(np.nanmean(pairs[0] - pairs[1]), abs=1.6)
    assert np.nanmean(pairs[0]) / np.nanmean(pairs[1]) == pytest.approx(np.exp(-0.4), abs=0.08)


def test_expected_rise_of_a_dish_is_its_mean_over_many_eatings():
    """Over the eatings that can be judged: nothing else eaten within two hours."""
    wearer = draw_wearer(np.random.default_rng(6), dishes=5, one_off_share=0.0, linked=0.0, exercise_share=0.0)
    lived = _live(wearer, 900, seed=9)
    at = lived.minute(lived.meals["time"])
    rises = measure_responses(lived.blood_mg_dl, at)["rise_mg_dl"].where(np.diff(at, append=np.inf) > 120)
    eaten = rises.groupby(lived.meals["dish"].to_numpy()).agg(["mean", "sem"])
    for _, row in expected_dish_rises(live_long(wearer, 400), np.zeros(1)).iterrows():
        assert row["rise_mg_dl"] == pytest.approx(
            eaten.loc[row["dish"], "mean"], abs=max(4 * eaten.loc[row["dish"], "sem"], 2.5)
        )


def test_what_is_eaten_between_takes_no_part_in_a_dishs_rise():
    """Bites end a meal's window (contract), so that a grazer's dishes rise as where nothing else is eaten."""
    quiet = {"wander_sd_mg_dl": 0.5, "dip_fraction": 0.0, "exercise_share": 0.0, "snacks_per_day": 0.3, "linked": 0.0}
    wearer = draw_wearer(np.random.default_rng(11), effects=False, dishes=5, **quiet)
    grazer = replace(wearer, habits=replace(wearer.habits, bites_per_day=6.0, coffee_after_share=0.8))
    plain, grazed = (
        expected_dish_rises(live_long(one, 200), np.zeros(1)).set_index("dish")["rise_mg_dl"]
        for one in (wearer, grazer)
    )
    main = [dish.name for dish in wearer.dishes if dish.slot == "main"]
    # what was eaten in the hour before is still falling, which lowers a grazer's rises a little
    assert (grazed[main] / plain[main]).between(0.85, 1.03).all()


def test_the_true_difference_of_a_trial_compares_its_own_meals_both_ways():
    wearer = draw_wearer(np.random.default_rng(7), effects=False)
    wearer = replace(wearer, effects=replace(wearer.effects, walk_after=-0.5))
    dates = pd.date_range("2026-02-04", periods=10, freq="D", unit="us")
    arm = np.array(["walk", "rest"] * 5, object)
    dish = wearer.dishes[0].name
    trials = pd.DataFrame({"date": dates, "trial": "t", "arm": arm, "dish": dish})
    plan = pd.DataFrame({"date": dates, "slot": "breakfast", "dish": dish, "walk": arm == "walk", "first": None})
    lived = _live(wearer, 14, plan=plan)
    mine = lived.meals[lived.meals["dish"] == dish].merge(
        trials.assign(day=lived.life.dates.get_indexer(dates)), on="day"
    )
    assert (mine["walk_after"] == (mine["arm"] == "walk")).all()
    assert len(mine) >= 10
    found = true_trials([lived], trials).set_index("outcome").loc["rise_mg_dl"]
    assert (found["arm_a"], found["arm_b"]) == ("rest", "walk")
    assert found["difference"] < -8


def test_the_evening_takes_its_falling_background_along():
    quiet = {
        "day_sd_mg_dl": 1.0,
        "wander_sd_mg_dl": 1.0,
        "dip_fraction": 0.0,
        "snacks_per_day": 0.0,
        "exercise_share": 0.0,
    }
    wearer = draw_wearer(
        np.random.default_rng(8), effects=False, circadian_mg_dl=6.0, circadian_hour=16.0, dawn_mg_dl=0.0, **quiet
    )
    table = {outcome: value for _, outcome, value in expected_evening_effects(live_long(wearer, 300))}
    assert -6 < table["rise_mg_dl"] < -1
    flat = replace(wearer, body=replace(wearer.body, circadian_mg_dl=0.0))
    found = {outcome: value for _, outcome, value in expected_evening_effects(live_long(flat, 300))}
    assert found["rise_mg_dl"] == pytest.approx(0, abs=0.8)


def test_sweet_food_after_a_short_night_is_an_effect_that_grows_with_carbohydrate():
    """Where a short night multiplies every rise, it adds more to a meal of more carbohydrate, in the same ratio."""
    wearer = draw_wearer(np.random.default_rng(9), effects=False, linked=0.0)
    wearer = replace(wearer, effects=replace(wearer.effects, short_night_response=0.3))
    lived = _live(wearer, 60)
    rise, _ = rises_if(lived, lambda meals, days: (meals, days.assign(short_night=False)))
    carbs, known = lived.meals["carbs_g"].to_numpy(float), ~np.isnan(rise)
    per_50_g = 50 * np.polyfit(carbs[known], rise[known], 1)[0]
    found = _effect(lived, "carbs_after_short_night", "rise_mg_dl")
    assert found == pytest.approx(per_50_g * (np.exp(0.3) - 1), rel=0.15)
