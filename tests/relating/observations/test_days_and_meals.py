"""Is what was done read as the contract says: which night, which meals, which mornings?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.clock import ZoneSpans, days_between
from glucolab.record import OUTPUT_TABLES
from glucolab.relating.observations.days_and_meals import (
    gather_days,
    gather_meals,
    keep_once,
    tell_place,
    within_wears,
)
from glucolab.relating.observations.meal_weights import (
    eating_weights,
    expected_sizes,
    grow_with_size,
    own_errors_mg_dl,
    rise_errors_mg_dl,
)
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
    words = dict.fromkeys(("dish", "setting", "eaten_first", "reason"), "str")
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
    meals = gather_meals([worn(meals=eaten({"time": local("06T12:00"), "walk_after": pd.NA}))], days)
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


@pytest.mark.parametrize(("last_meal", "believed"), [("09T18:00", True), ("09T17:59", False)])
def test_a_fast_three_hours_longer_than_is_usual_is_the_longest_believed(last_meal, believed):
    """Two hours in three nights of four are usual: five are believed, a minute more was a meal not logged."""
    meals = eaten(*({"time": local(text)} for text in ("06T21:00", "07T21:00", "08T21:00", last_meal)))
    nights = pd.DataFrame(
        {"date": pd.date_range("2026-07-07", periods=4), "start": [local(f"0{d}T23:00") for d in (6, 7, 8, 9)]}
    )
    hours = gather_days([worn(meals=meals, sleep=nights)])["last_meal_to_sleep_h"]
    assert hours[:3].tolist() == [2.0, 2.0, 2.0]
    np.testing.assert_equal(hours[3], 5.0 if believed else np.nan)


def test_the_first_meal_of_all_may_be_the_last_before_sleep_and_before_it_nothing_is_known():
    """A night that begins before any meal has none to count from; one that began before the wear belongs to no day."""
    meals = eaten({"time": local("07T20:30")}, {"time": local("08T20:30")})
    nights = pd.DataFrame(
        {"date": pd.date_range("2026-07-06", periods=4), "start": [local(f"0{d}T23:00") for d in (5, 6, 7, 8)]}
    )
    days = gather_days([worn(meals=meals, sleep=nights)])
    np.testing.assert_array_equal(days["last_meal_to_sleep_h"], [np.nan, 2.5, 2.5, np.nan])
    np.testing.assert_array_equal(days["bedtime_h"], [11.0, 11.0, 11.0, np.nan])


def test_a_meal_at_the_moment_of_falling_asleep_is_the_last():
    nights = pd.DataFrame({"date": [pd.Timestamp("2026-07-07")], "start": [local("06T22:00")]})
    meals = eaten({"time": local("06T19:00")}, {"time": local("06T22:00")})
    assert gather_days([worn(meals=meals, sleep=nights)])["last_meal_to_sleep_h"][0] == 0.0


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


def gathered(*rows: dict, days: pd.DataFrame | None = None, **more) -> pd.DataFrame:
    wear = worn(days=days, meals=eaten(*rows), **more)
    return gather_meals([wear], gather_days([wear]))


def test_food_exactly_three_hours_before_acts_no_more():
    meals = gathered(
        {"time": local("06T08:00"), "carbs_g": 40.0}, {"time": local("06T11:00"), "carbs_g": 20.0},
        {"time": local("06T13:59"), "carbs_g": 60.0},
    )  # fmt: skip
    assert meals["digesting"].tolist() == [False, False, True]
    assert meals["carbs_before_g"].tolist() == [0.0, 0.0, 20.0]


PARTS_OF_THE_DAY = {
    "10:59": (0, 0, 0), "11:00": (1, 0, 0), "14:59": (1, 0, 0), "15:00": (0, 1, 0), "17:59": (0, 1, 0),
    "18:00": (0, 0, 1), "23:59": (0, 0, 1), "00:00": (0, 0, 1), "03:59": (0, 0, 1), "04:00": (0, 0, 0),
}  # fmt: skip
"""Noon, afternoon, evening."""


@pytest.mark.parametrize("clock", PARTS_OF_THE_DAY)
def test_noon_is_from_eleven_afternoon_from_fifteen_evening_from_eighteen_to_four(clock):
    row = gathered({"time": local(f"07T{clock}")}).iloc[0]
    assert (row["at_noon"], row["in_afternoon"], row["in_evening"]) == PARTS_OF_THE_DAY[clock]


def test_carbohydrate_counts_by_its_logarithm_with_thirty_grams_as_much_as_nothing_to_twice():
    """log(1 + g / 30): 0 g, 30 g and 90 g are 1, 2 and 4 times."""
    rows = ({"time": local(f"06T{t}:00"), "carbs_g": g} for t, g in (("08", 0.0), ("13", 30.0), ("19", 90.0)))
    meals = gathered(*rows)
    assert meals["log_carbs"].tolist() == pytest.approx([0.0, np.log(2), np.log(4)])


def test_carbohydrate_after_a_short_night_is_that_beyond_what_is_usual_in_the_wear():
    """40, 20 and 90 g are 50 on the mean: 10 less and 40 more; the long night's count as nothing."""
    rows = ({"time": local(f"{t}:00"), "carbs_g": g} for t, g in (("06T08", 40.0), ("07T08", 20.0), ("08T08", 90.0)))
    meals = gathered(*rows, days=daily(asleep_h=[5.0, 7.0, 5.5, np.nan]))
    assert meals["carbs_after_short_night"].tolist() == [-10.0, 0.0, 40.0]


def test_a_rises_own_error_is_what_the_sensor_does_to_none_else_and_half_at_least():
    """Of 10 in all, 6 is what a sensor adds to all rises: √(100 - 36) = 8. A gain of a tenth makes 4.8 at 48 mg/dL,
    √(64 - 4.8²) = 6.4; at 63 mg/dL it leaves 4.93, at 95 less than half of those 8, so that half is kept."""
    half = 10 * stats.norm.ppf(0.95)
    table = eaten(*(
        {"time": local("06T08:00"), "rise_mg_dl": rise, "rise_low_mg_dl": rise - half, "rise_high_mg_dl": rise + half}
        for rise in (0.0, 48.0, 63.0, 95.0, -48.0)
    ))  # fmt: skip
    assert rise_errors_mg_dl(table) == pytest.approx(np.full(5, 10.0))
    expected = [8.0, 6.4, np.sqrt(64 - 6.3**2), 4.0, 6.4]
    assert own_errors_mg_dl(table, 0.1) == pytest.approx(expected)
    wear = worn(meals=table, gain_errors=np.array([0.06, -0.08]))
    assert gather_meals([wear], gather_days([wear]))["rise_se_mg_dl"].tolist() == pytest.approx(expected)


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


def test_values_within_wears_are_less_their_own_wears_mean():
    """A wear without rows has no mean to take off."""
    found = within_wears(np.array([1.0, 3.0, 10.0, 20.0, 60.0]), np.array([0, 0, 2, 2, 2]))
    assert found.tolist() == [-1.0, 1.0, -20.0, -10.0, 30.0]


def test_of_two_wears_with_as_many_rows_the_first_keeps_what_both_hold():
    assert keep_once(np.array([0, 0, 1, 1]), np.array([7, 8, 8, 9])).tolist() == [True, True, False, True]
    assert keep_once(np.array([], int), np.array([], int)).tolist() == []


def test_a_meal_of_next_to_no_expected_response_counts_as_a_fifth_of_a_usual_one():
    """A line of 1 mg/dL a gram from -10: 50 g make 40, none would make -10. Their mean is 35: 40 / 35 and, at least,
    0.2; then all over the mean of all."""
    carbs = np.array([50.0] * 9 + [0.0])
    usual = (9 * 40 / 35 + 0.2) / 10
    assert expected_sizes(carbs, carbs - 10) == pytest.approx([40 / 35 / usual] * 9 + [0.2 / usual])


def test_a_meal_whose_carbohydrate_is_not_logged_is_of_the_usual_size():
    """Ten with 20 and 80 g: 20 and 50 mg/dL, 4/7 and 10/7 of their mean; the eleventh's own outcome has no part."""
    carbs, outcome = np.array([20.0, 80.0] * 5 + [np.nan]), np.array([20.0, 50.0] * 5 + [300.0])
    assert expected_sizes(carbs, outcome) == pytest.approx([4 / 7, 10 / 7] * 5 + [1.0])


def test_ten_meals_with_carbohydrate_are_enough_for_a_line_and_nine_are_not():
    carbs = np.array([20.0, 80.0] * 5)
    assert np.ptp(expected_sizes(carbs, 10 + 0.5 * carbs)) > 0.5
    assert (expected_sizes(carbs[:9], 10 + 0.5 * carbs[:9]) == 1).all()


def test_without_a_rise_on_the_mean_or_a_difference_in_carbohydrate_all_meals_are_alike():
    carbs = np.array([20.0, 80.0] * 5)
    for outcome in (carbs - 50.0, carbs - 60.0):
        assert (expected_sizes(carbs, outcome) == 1).all()
    assert (expected_sizes(np.full(10, 50.0), np.arange(10.0)) == 1).all()


def test_eatings_vary_by_two_fifths_alike_and_three_fifths_with_the_square_of_their_size():
    assert grow_with_size(np.array([0.0, 0.5, 1.0, 2.0])) == pytest.approx([0.4, 0.55, 1.0, 2.8])


def test_a_rise_measured_as_loosely_as_eatings_vary_weighs_half():
    """Eatings of one meal vary by 0.4 of the mean rise; of 30 mg/dL that is 12. Of twice the size 2.8 times that
    variance; an error not known counts as none; a mean rise below 10 mg/dL is taken for 10."""
    one, rises, errors = np.ones(3), np.array([20.0, 30.0, 40.0]), np.array([0.0, np.nan, 12.0])
    assert eating_weights(one, rises, errors) == pytest.approx([1, 1, 1 / 2])
    assert eating_weights(2 * one, rises, errors) == pytest.approx([1 / 2.8, 1 / 2.8, 1 / 3.8])
    assert eating_weights(one, np.array([2.0, 4.0, np.nan]), np.array([0.0, 4.0, 8.0])) == pytest.approx([1, 0.5, 0.2])
    assert eating_weights(one, 10.5 * one, 4.2 * one) == pytest.approx([0.5] * 3)


def test_a_days_place_runs_from_one_end_of_its_wear_to_the_other_and_a_sensor_settles_in_two_days():
    """By hand; of a wear of one day the middle. What is left out keeps its place."""
    place, settling = tell_place(5)
    assert place.tolist() == [-0.5, -0.25, 0, 0.25, 0.5]
    assert settling == pytest.approx([1, 0.60653, 0.36788, 0.22313, 0.13534], abs=1e-5)
    assert [part.tolist() for part in tell_place(1)] == [[-0.5], [1.0]]
    assert [len(part) for part in tell_place(0)] == [0, 0]
    wears = [worn(name, ill=np.array([True, False, False, False])) for name in ("left", "right")]
    days = gather_days(wears)
    assert days["place_in_wear"].tolist() == pytest.approx([-1 / 2, -1 / 6, 1 / 6, 1 / 2] * 2)
    assert days["settling"].tolist() == pytest.approx([1, 0.60653, 0.36788, 0.22313] * 2, abs=1e-5)


def test_a_coffee_is_neither_the_last_meal_before_sleep_nor_food_before_another():
    """Nothing that is minor ends a fast or counts as a meal, whatever else stands beside it."""
    meals = (
        {"time": local("06T19:00"), "carbs_g": 60.0}, {"time": local("06T21:00"), "carbs_g": 3.0, "reason": "minor"},
        {"time": local("07T08:00"), "carbs_g": 2.0, "usable_2h": False, "reason": "gap;minor"},
        {"time": local("07T09:00"), "carbs_g": 50.0, "reason": ""},
    )  # fmt: skip
    nights = pd.DataFrame({"date": [pd.Timestamp("2026-07-07")], "start": [local("06T23:00")]})
    wear = worn(meals=eaten(*meals), sleep=nights)
    days = gather_days([wear])
    assert days["last_meal_to_sleep_h"][0] == 4.0
    found = gather_meals([wear], days)
    assert found["carbs_g"].tolist() == [60.0, 50.0]
    assert found["carbs_before_g"].tolist() == [0.0, 0.0]


def test_what_follows_within_two_hours_is_adjusted_for_and_no_reason_to_leave_out():
    """An hour later half of the window is left to 40 g, after 90 min a quarter to 20 g more; at two hours nothing."""
    rows = (
        {"time": local("06T08:00"), "usable_2h": False, "reason": "next_occasion"},
        {"time": local("06T09:00"), "carbs_g": 40.0, "usable_2h": False, "reason": "next_occasion;exercise"},
        {"time": local("06T09:30"), "carbs_g": 20.0, "usable_2h": False, "reason": "exercise"},
        {"time": local("06T11:30"), "carbs_g": 90.0},
    )
    meals = gathered(*rows)
    assert meals["carbs_after_g"].tolist() == pytest.approx([40 / 2 + 20 / 4, 20 * 0.75, 0.0, 0.0])
    assert meals["exercised"].tolist() == [0, 1, 1, 0]
    assert meals["alone"].tolist() == [False, False, False, True]


def test_a_later_occasion_without_carbohydrate_written_counts_as_a_snack():
    meals = gathered(
        {"time": local("06T08:00"), "usable_2h": False, "reason": "next_occasion"}, {"time": local("06T09:00")}
    )
    assert meals["carbs_after_g"].tolist() == pytest.approx([30 / 2, 0.0])


@pytest.mark.parametrize("reason", ["gap", "next_occasion;gap", "no_baseline", "flagged", "time_uncertain", ""])
def test_what_was_not_recorded_or_not_dated_is_left_out(reason):
    assert not len(gathered({"time": local("06T08:00"), "usable_2h": False, "reason": reason}))


def test_a_rise_nobody_knows_is_left_out():
    row = {"time": local("06T08:00"), "usable_2h": False, "reason": "next_occasion", "rise_mg_dl": np.nan}
    assert not len(gathered(row))
