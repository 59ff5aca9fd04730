"""Is what was done read as the contract says: which night, which meals, which mornings?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans, days_between
from glucolab.record import OUTPUT_TABLES
from glucolab.relating.observations.days_and_meals import expected_sizes, gather_days, gather_meals, keep_once
from glucolab.relating.observations.wear_tables import WearTables

LISBON = ZoneSpans(("Europe/Lisbon",))
START = pd.Timestamp("2026-07-06T00:00", tz="Europe/Lisbon").tz_convert("UTC")  # one hour ahead of UTC
N = 4


def local(text: str) -> pd.Timestamp:
    return pd.Timestamp(f"2026-07-{text}", tz="Europe/Lisbon").tz_convert("UTC")


def daily(**columns) -> pd.DataFrame:
    table = pd.DataFrame(np.nan, index=range(N), columns=OUTPUT_TABLES["daily"].names)
    table["date"] = pd.date_range("2026-07-06", periods=N, unit="us")
    table["enough"] = pd.array([True] * N, "boolean")
    return table.assign(**columns)


def eaten(*rows: dict) -> pd.DataFrame:
    names = OUTPUT_TABLES["meal_responses"].names
    table = pd.DataFrame([{"usable_2h": True, "rise_mg_dl": 30.0} | row for row in rows], columns=names)
    table["time"] = pd.DatetimeIndex(table["time"]).as_unit("us")
    words = dict.fromkeys(("dish", "setting", "eaten_first"), "str")
    return table.astype({"usable_2h": "boolean", "walk_after": "boolean"} | words)


def worn(name: str = "wear", days: pd.DataFrame | None = None, meals: pd.DataFrame | None = None, **more) -> WearTables:
    none = pd.DataFrame()
    usual = {"energy": pd.DataFrame({"time": [], "energy": []}), "sleep": none, "activity": none}
    tables = usual | more
    span = days_between(START, START + pd.Timedelta(days=N), LISBON)
    days, meals = daily() if days is None else days, eaten() if meals is None else meals
    return WearTables(name, span, LISBON, days, meals, **tables)


def activity(*rows: tuple) -> pd.DataFrame:
    table = pd.DataFrame(rows, columns=["start", "minutes", "kind", "effort"])
    return table.astype({"kind": "str", "effort": "str"}).assign(start=pd.DatetimeIndex(table["start"]).as_unit("us"))


def test_a_night_belongs_to_the_day_on_which_it_ends_and_follows_the_day_before():
    days = gather_days([worn(days=daily(asleep_h=[5.9, 6.0, 7.0, np.nan], overnight_mean_mg_dl=[80.0, 81, 82, 83]))])
    assert days["asleep_h"].tolist()[:3] == [5.9, 6.0, 7.0]
    np.testing.assert_array_equal(days["short_night"], [1.0, 0.0, 0.0, np.nan])
    np.testing.assert_array_equal(days["next_asleep_h"], [6.0, 7.0, np.nan, np.nan])
    np.testing.assert_array_equal(days["next_overnight_mean_mg_dl"], [81, 82, 83, np.nan])


def test_the_night_after_an_ill_day_and_the_night_into_one_are_left_out():
    days = gather_days([worn(ill=np.array([False, True, False, False]))])
    assert days["left_out"].tolist() == [False, True, False, False]
    assert days["night_left_out"].tolist() == [True, True, False, False]


def test_morning_exercise_is_exercise_that_starts_before_eleven_by_the_local_clock():
    logged = activity(
        (local("06T10:59"), 30, "run", "vigorous"),
        (local("07T11:00"), 30, "run", "vigorous"),
        (local("08T08:00"), 30, "Walk", None),
        (local("08T09:00"), 30, "stretching", "light"),
        (local("09T07:00"), 30, "swim", None),
    )
    assert gather_days([worn(activity=logged)])["morning_exercise"].tolist() == [1, 0, 0, 1]


def test_nothing_ever_logged_is_not_a_day_without():
    days = gather_days([worn()])
    assert days[["morning_exercise", "last_meal_to_sleep_h", "energy"]].isna().all(axis=None)
    meals = gather_meals([worn(meals=eaten({"time": local("06T12:00"), "walk_after": False}))], days)
    assert np.isnan(meals["walk_after"].item())


def test_hours_from_the_last_meal_to_sleep():
    times = [local("06T20:00"), local("06T21:30"), local("07T08:00")]
    meals = eaten(*({"time": time, "usable_2h": False} for time in times))
    nights = pd.DataFrame(
        {"date": pd.to_datetime(["2026-07-07", "2026-07-08"]), "start": [local("07T00:30"), local("07T23:00")]}
    )
    days = gather_days([worn(meals=meals, sleep=nights)])
    # 21:30 to 0:30; on the next day the last meal would be 15 hours before sleep: one was not logged
    np.testing.assert_array_equal(days["last_meal_to_sleep_h"], [3.0, np.nan, np.nan, np.nan])
    np.testing.assert_array_equal(days["bedtime_h"], [12.5, 11.0, np.nan, np.nan])


def test_energy_is_the_mean_of_the_local_day():
    felt = pd.DataFrame({"time": [local("06T23:30"), local("06T09:00"), local("07T00:10")], "energy": [4.0, 8.0, 1.0]})
    assert gather_days([worn(energy=felt)])["energy"].tolist()[:2] == [6.0, 1.0]


CLOCKS = [("17:59", 0), ("18:00", 1), ("23:59", 1), ("00:30", np.nan), ("04:00", 0)]


@pytest.mark.parametrize(("clock", "expected"), CLOCKS)
def test_evening_begins_at_eighteen_and_the_small_hours_are_neither(clock, expected):
    wear = worn(meals=eaten({"time": local(f"07T{clock}")}))
    np.testing.assert_equal(gather_meals([wear], gather_days([wear]))["evening_meal"].item(), expected)


def test_what_was_not_written_is_not_known():
    wear = worn(meals=eaten(
        {"time": local("06T08:00"), "eaten_first": "protein", "setting": "out"},
        {"time": local("06T13:00"), "eaten_first": "carbs", "setting": "home"},
        {"time": local("06T19:00")},
        {"time": local("06T22:00"), "usable_2h": False},
    ))  # fmt: skip
    meals = gather_meals([wear], gather_days([wear]))
    np.testing.assert_array_equal(meals["protein_first"], [1, 0, np.nan])
    np.testing.assert_array_equal(meals["eaten_out"], [1, 0, np.nan])


def test_food_shortly_before_counts_even_if_it_could_not_be_used():
    wear = worn(meals=eaten(
        {"time": local("06T08:00"), "carbs_g": 40.0, "usable_2h": False},
        {"time": local("06T10:30"), "carbs_g": 20.0},
        {"time": local("06T13:45"), "carbs_g": 60.0},
    ))  # fmt: skip
    assert gather_meals([wear], gather_days([wear]))["carbs_before_g"].tolist() == [40.0, 0.0]


def test_what_two_sensors_saw_at_once_is_counted_once():
    times = [local("06T08:00"), local("06T13:00"), local("07T08:00")]
    left = worn("left", meals=eaten(*({"time": t, "rise_mg_dl": 30.0} for t in times)))
    right = worn("right", meals=eaten(*({"time": t, "rise_mg_dl": 50.0} for t in times[:2])))
    meals = gather_meals([right, left], gather_days([right, left]))
    assert meals["rise_mg_dl"].tolist() == [30.0] * 3
    assert keep_once(np.array([0, 0, 1, 1, 1]), np.array([5, 6, 6, 7, 8])).tolist() == [True, False, True, True, True]


def test_expected_sizes_follow_the_persons_own_carbohydrate():
    carbs = np.array([20.0, 80.0] * 10)
    sizes = expected_sizes(carbs, 10 + 0.5 * carbs)
    assert sizes[1] / sizes[0] == pytest.approx(50 / 20)
    assert sizes.mean() == pytest.approx(1)
    assert (expected_sizes(carbs, 50 - 0.5 * carbs) == 1).all()
    assert (expected_sizes(np.full(20, np.nan), 10 + 0.5 * carbs) == 1).all()
