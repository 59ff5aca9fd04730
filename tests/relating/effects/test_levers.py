"""Does an effect on meals or days reach the day's average as it should, and is it judged by its own test?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.record.habit_outputs import LEVERS
from glucolab.relating.effects import levers
from glucolab.relating.effects.levers import estimate_levers
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.simulate.blood import meal_areas
from glucolab.simulate.changed_lives import true_levers
from glucolab.simulate.study import simulate_study
from tests.hand_made import at
from tests.relating.planned import eaten, worn

AREAS = {
    "walk_after": (-1200.0, -1600.0, -800.0),
    "protein_first": (-300.0, -900.0, 300.0),
    "carbs_g": (400.0, 200.0, 600.0),
}
OF_MEAN = {"asleep_h": (-1.5, -3.5, 0.5), "stress": (2.0, 1.0, 3.0)}
Q = {"walk_after": 0.01, "protein_first": 0.4, "carbs_g": 0.02, "asleep_h": 0.6, "stress": 0.05}


def file_of_effects(**q) -> pd.DataFrame:
    rows = [
        {"factor": name, "outcome": "mean_mg_dl", "estimate": e, "low": lo, "high": hi, "range_from": 2.0}
        for name, (e, lo, hi) in OF_MEAN.items()
    ]
    rows += [{"factor": name, "outcome": "rise_mg_dl", "range_from": np.nan} for name in AREAS]
    return pd.DataFrame(rows).assign(q_value=lambda t: t["factor"].map(Q | q))


def three_meals_a_day(days: int = 10, meals: int = 3) -> list[dict]:
    """Every day 20 g at eight, 40 g at noon and 60 g at six, these two walked every other day; rises like grams."""
    hours = ("08:00", "12:00", "18:00")[:meals]
    return [
        eaten(at(hour, day), walk=grams > 20 and day % 2 == 0) | {"carbs_g": grams, "rise_mg_dl": grams}
        for day in range(days)
        for hour, grams in zip(hours, (20.0, 40.0, 60.0), strict=False)
    ]


def twelve_days(meals: list[dict]) -> WearTables:
    wear = worn(meals, n_days=12)
    n = len(wear.days.dates)
    known = {"date": wear.days.dates, "enough": pd.array([True] * n, "boolean"), "asleep_h": 7.0, "stress": 4.5}
    unknown = ("caffeine_mg", "relaxation_min", "carbs_g", "fiber_g", "exercise_min", "mean_mg_dl", "sd_mg_dl")
    daily = pd.DataFrame(known | dict.fromkeys((*unknown, "overnight_mean_mg_dl"), np.nan))
    walked = pd.DataFrame({"start": [at("12:10")], "minutes": 15.0, "kind": "walk", "effort": "light"})
    felt = pd.DataFrame({"time": [at("12:10")], "energy": [np.nan]})
    return replace(wear, daily=daily, activity=walked, energy=felt)


@pytest.fixture
def found(monkeypatch):
    """Levers of one wear of twelve days, where the effects are given."""

    def of(meals: list[dict], **q) -> pd.DataFrame:
        table = pd.DataFrame(
            [(name, *ends) for name, ends in AREAS.items()], columns=["factor", "estimate", "low", "high"]
        )
        monkeypatch.setattr(levers, "estimate_area_effects", lambda _: table)
        return estimate_levers([twelve_days(meals)], file_of_effects(**q), 3.0).set_index("factor")

    return of


def test_a_walk_after_each_larger_meal_counts_those_without_by_their_size(found):
    """Half of two larger meals a day, 1.25 times as large as a usual one: 1.25 times -1200 mg/dL min, and 5 % more
    for what comes after three hours, give or take 15, over 1440 min.
    """
    row = found(three_meals_a_day()).loc["walk_after"]
    by = 0.5 * 2 * 1.25 * 1.05 / 1440
    assert row["now"] == pytest.approx(0.5)
    assert row["on_mean_mg_dl"] == pytest.approx(-1200 * by)
    half = np.hypot(400 * by, stats.norm.ppf(0.95) * 1200 * by * 0.15 / 1.05)
    assert (row["low_mg_dl"], row["high_mg_dl"]) == pytest.approx((-1200 * by - half, -1200 * by + half))
    assert (row["verdict"], row["source"]) == ("lower", "effects")


def test_thirty_grams_less_carbohydrate_are_three_times_ten_less(found):
    row = found(three_meals_a_day()).loc["carbs_g"]
    assert row["now"] == pytest.approx(120.0)
    assert row["on_mean_mg_dl"] == pytest.approx(-3 * 400 * 1.05 / 1440)
    assert row["low_mg_dl"] < row["on_mean_mg_dl"] < row["high_mg_dl"] < 0
    assert row["verdict"] == "lower"


def test_sleep_and_stress_are_read_from_the_days_own_average(found):
    """An hour more; from a mean stress of 4.5 down to 2, the calmest end of the own range."""
    table = found(three_meals_a_day())
    assert table.loc["asleep_h", ["now", "on_mean_mg_dl", "low_mg_dl", "high_mg_dl"]].tolist() == [7.0, -1.5, -3.5, 0.5]
    assert table.loc["stress", ["now", "on_mean_mg_dl", "low_mg_dl", "high_mg_dl"]].tolist() == [4.5, -5.0, -7.5, -2.5]
    assert table.loc["stress", "change"] == "every day as calm as your calmest (2)"


def test_a_lever_is_claimed_only_where_its_factor_is_clear_among_all(found):
    assert found(three_meals_a_day()).loc["stress", "verdict"] == "lower"
    assert found(three_meals_a_day(), stress=0.2).loc["stress", "verdict"] == "cannot_tell_yet"
    assert (
        found(three_meals_a_day()).loc["protein_first", "verdict"] == "not_enough_data"
    )  # nothing says what came first


def test_the_largest_comes_first_and_what_is_not_known_last(found):
    table = found(three_meals_a_day()).reset_index()
    assert table.columns.tolist() == LEVERS.names
    size = table["on_mean_mg_dl"].abs().to_numpy()
    assert table["factor"].iloc[-1] == "protein_first"
    assert (np.diff(size[:-1]) <= 0).all()
    assert np.isnan(size[-1])


def test_days_with_fewer_than_three_meals_were_not_logged_as_a_whole(found):
    assert np.isnan(found(three_meals_a_day(meals=2)).loc["carbs_g", "now"])


def test_two_dishes_of_a_size_on_one_day_are_two_and_what_two_sensors_saw_is_one(monkeypatch):
    """40 g three times a day are 120 g a day, by one sensor or by two at once."""
    meals = [eaten(at(hour, day)) | {"carbs_g": 40.0} for day in range(10) for hour in ("08:00", "12:00", "18:00")]
    table = pd.DataFrame([(name, *ends) for name, ends in AREAS.items()], columns=["factor", "estimate", "low", "high"])
    monkeypatch.setattr(levers, "estimate_area_effects", lambda _: table)
    wear = twelve_days(meals)
    for wears in ([wear], [wear, replace(wear, name="beside it")]):
        now = estimate_levers(wears, file_of_effects(), 3.0).set_index("factor")["now"]
        assert now["carbs_g"] == pytest.approx(120.0)


def test_nothing_logged_on_whole_days_leaves_every_meals_habit_unknown(found):
    table = found([eaten(at("08:00"))])
    assert set(table.loc[["walk_after", "protein_first", "carbs_g"], "verdict"]) == {"not_enough_data"}


@pytest.fixture(scope="module")
def lives():
    return [one.lived for one in simulate_study(np.random.default_rng(5), wears=1, days=20.0).wears]


class TestTrueLevers:
    """What the judge takes for the truth."""

    def test_what_is_done_already_changes_nothing(self, lives):
        effects = pd.DataFrame({"factor": ["asleep_h", "stress"], "outcome": "mean_mg_dl", "estimate": [-1.0, 0.5]})
        eaten_so = lives[0].life.meals.assign(walk_after=True, eaten_first="protein")
        done = replace(lives[0], life=replace(lives[0].life, meals=eaten_so))
        found = true_levers([done], effects).set_index("factor")["on_mean_mg_dl"]
        assert found[["walk_after", "protein_first"]].tolist() == [0.0, 0.0]
        assert found["asleep_h"] == -1.0
        stress = lives[0].life.days["stress"]
        assert found["stress"] == pytest.approx(0.5 * (np.percentile(stress, 10) - stress.mean()))

    def test_thirty_grams_less_of_all_food_are_thirty_grams_a_day(self, lives):
        """Every meal's response is measured by the simulator with so much less on each plate."""
        effects = pd.DataFrame({"factor": ["asleep_h", "stress"], "outcome": "mean_mg_dl", "estimate": 0.0})
        found = true_levers(lives, effects).set_index("factor")["on_mean_mg_dl"]
        life, wearer = lives[0].life, lives[0].wearer
        a_day = life.meals["carbs_g"].sum() / len(life.days)
        less = life.meals.assign(carbs_g=life.meals["carbs_g"] * (a_day - 30.0) / a_day)
        now, then = (meal_areas(np.random.default_rng(1), wearer, m, life.days).sum() for m in (life.meals, less))
        assert found["carbs_g"] < -0.2
        assert found["carbs_g"] == pytest.approx((then - now) / len(life.days) / 1440, rel=0.04)
