"""Is a laboratory glucose set beside the right minute of the right wear, with all errors counted in?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.clock import ZoneSpans
from glucolab.record.study_outputs import LAB_CHECKS
from glucolab.relating.comparing.periods import Measured
from glucolab.relating.labs.analytes import read_values
from glucolab.relating.labs.sensor_at_draws import check_sensor_by_labs
from tests.hand_made import at, make_clean, make_glucose, make_table, make_times, make_trace, make_wear

POINTS = 2 * 288


def worn(values=90.0, sd=4.0, checks=None, zones=None, meals=None):
    """Two days from 3 February; the sensor reads 6 above its estimate of blood, whose draws spread by `sd`."""
    values = np.broadcast_to(np.asarray(values, float), POINTS)
    times = make_times(POINTS)
    tables = {"glucose": make_glucose(times, values + 6)}
    tables |= {name: table for name, table in (("checks", checks), ("meals", meals)) if table is not None}
    wear = make_wear("winter", **tables, **({} if zones is None else {"zones": zones}))
    clean = make_clean(wear, ~np.isnan(values))
    spread = sd * np.linspace(-1, 1, 41) / np.linspace(-1, 1, 41).std()
    draws = np.where(np.isnan(values), 90.0, values) + spread[:, None]
    return Measured(wear, make_trace(clean, values, draws), None, 1.0, clean.start, at("00:00", 2), 5.0)


def check(value=90.0, *, wear=None, date="2026-02-04", time="07:30", unit="mg/dL", worth=3.0):
    row = {"date": date, "analyte": "glucose", "value": value, "unit": unit, "time": time}
    return check_sensor_by_labs(read_values(make_table("labs", row))[0], [wear or worn()], worth)


def test_no_values_no_rows():
    table = check_sensor_by_labs(read_values(make_table("labs"))[0], [worn()], 3.0)
    assert (len(table), list(table.columns)) == (0, LAB_CHECKS.names)


def test_estimate_reading_and_difference_stand_beside_it():
    row = check(84.0).iloc[0]
    assert row[["value_mg_dl", "raw_mg_dl", "sensor_mg_dl", "difference_mg_dl"]].tolist() == [84, 96, 90, 6]
    assert row["high_mg_dl"] - row["sensor_mg_dl"] == pytest.approx(1.645 * 4, abs=0.01)
    assert (row["wear"], row["reason"]) == ("winter", "")


def test_the_laboratorys_own_error_is_in_the_differences_interval():
    """Bias and noise of 4 mg/dL, laboratory 3 % of 100: half-width 1.645 times 5."""
    row = check(100.0).iloc[0]
    assert row["difference_high_mg_dl"] - row["difference_mg_dl"] == pytest.approx(1.645 * 5, abs=0.01)


def test_where_glucose_moves_the_minute_of_the_draw_counts():
    still, moving = (check(100.0, wear=worn(v)).iloc[0] for v in (100.0, 100 + 5.0 * np.arange(POINTS)))
    widths = [row["difference_high_mg_dl"] - row["difference_low_mg_dl"] for row in (still, moving)]
    assert widths[1] == pytest.approx(2 * 1.645 * np.hypot(5, 5), abs=0.02)  # 1 mg/dL a min, 5 min
    assert widths[0] == pytest.approx(2 * 1.645 * 5, abs=0.02)


@pytest.mark.parametrize(
    ("value", "sd", "worth", "verdict"),
    [
        (95, 4, 3, "cannot_tell_yet"), (86, 4, 3, "cannot_tell_yet"), (75, 4, 3, "higher"), (105, 4, 3, "lower"),
        (90, 0.1, 6, "too_small_to_matter"), (88, 0.1, 6, "cannot_tell_yet"), (92, 0.1, 6, "cannot_tell_yet"),
    ],
)  # fmt: skip
def test_it_differs_only_where_the_interval_says_so(value, sd, worth, verdict):
    assert check(value, wear=worn(sd=sd), worth=worth)["verdict"].tolist() == [verdict]


def test_nine_differences_in_ten_hold_zero_where_nothing_is_wrong():
    rng = np.random.default_rng(11)
    told = sum(
        check(blood * (1 + 0.03 * rng.standard_normal()), wear=worn(blood + 4 * rng.standard_normal()), worth=0.0)[
            "verdict"
        ].isin(["lower", "higher"])[0]
        for blood in rng.uniform(80, 120, 200)
    )
    assert 9 <= told <= 33  # of 200 at 10 %: 99.5 % limits of the binomial


def test_the_time_is_that_of_the_clocks_where_the_wear_was():
    rising = np.arange(POINTS, dtype=float)
    row = check(wear=worn(rising, zones=ZoneSpans(("Europe/Warsaw",))))  # 07:30 there is 06:30 UTC, 30.5 h in
    assert row["sensor_mg_dl"].tolist() == [30.5 * 12]


@pytest.mark.parametrize(("time", "points"), [("07:30", 90.0), ("07:32", 90.4), ("07:34:30", 90.9), ("07:35", 91.0)])
def test_between_two_points_the_estimate_lies_on_the_line_between_them(time, points):
    """One mg/dL a point of five minutes from the first midnight on; errors too, where they grow by 0.01 a point."""
    wear = worn(np.arange(POINTS, dtype=float))
    spread = replace(wear.trace, sd_mg_dl=2 + 0.01 * np.arange(POINTS))
    row = check(100.0, wear=replace(wear, trace=spread), time=time).iloc[0]
    assert row["sensor_mg_dl"] == pytest.approx(288 + points)
    half = stats.norm.ppf(0.95) * (2 + 0.01 * (288 + points))
    assert row["high_mg_dl"] - row["sensor_mg_dl"] == pytest.approx(half)
    assert row["sensor_mg_dl"] - row["low_mg_dl"] == pytest.approx(half)


def test_all_three_errors_of_a_difference_add_as_squares():
    """Estimate 4, laboratory 3 % of 200, and 2 mg/dL in the five minutes by which the needle may be off: √56."""
    values = 2.0 * np.arange(POINTS) - 700
    row = check(200.0, wear=worn(values)).iloc[0]
    half = stats.norm.ppf(0.95) * np.sqrt(4**2 + 6**2 + 2**2)
    assert row["difference_mg_dl"] == pytest.approx(2 * (288 + 90) - 700 - 200)
    assert row["difference_high_mg_dl"] - row["difference_mg_dl"] == pytest.approx(half)
    assert row["difference_mg_dl"] - row["difference_low_mg_dl"] == pytest.approx(half)


@pytest.mark.parametrize(
    ("eaten", "carbs_g", "fed"),
    [
        ("07:00", 60.0, True), ("07:30", 60.0, True), ("07:30:01", 60.0, False), ("05:00", 60.0, True),
        ("04:59:59", 60.0, False), ("07:00", 5.0, True), ("07:00", 4.9, False), ("07:00", None, True),
    ],
)  # fmt: skip
def test_for_two_and_a_half_hours_after_food_a_vein_lacks_what_a_finger_has(eaten, carbs_g, fed):
    """Estimate 4, laboratory 3 % of 100, and 15 mg/dL after 5 g of carbohydrate or food of which none is written."""
    meals = make_table("meals", {"time": at(eaten, 1), "name": "bread", "carbs_g": carbs_g})
    row = check(100.0, wear=worn(meals=meals)).iloc[0]
    half = stats.norm.ppf(0.95) * np.sqrt(4**2 + 3**2 + (15**2 if fed else 0))
    assert row["difference_high_mg_dl"] - row["difference_mg_dl"] == pytest.approx(half)
    assert row["difference_mg_dl"] - row["difference_low_mg_dl"] == pytest.approx(half)


@pytest.mark.parametrize(("date", "time"), [("2026-02-03", "00:00"), ("2026-02-04", "23:59:59"), ("2026-02-03", None)])
def test_from_the_first_moment_to_the_last_it_was_worn(date, time):
    assert len(check(date=date, time=time)) == 1


@pytest.mark.parametrize(("ends", "rows"), [("00:00", 0), ("00:00:01", 1)])
def test_a_wear_that_ends_at_midnight_has_nothing_of_the_day_that_begins(ends, rows):
    """Of a draw on that date whose time is not known; a second after midnight it may have been worn."""
    assert len(check(date="2026-02-05", time=None, wear=replace(worn(), end=at(ends, 2)))) == rows
    assert len(check(date="2026-02-04", time=None, wear=replace(worn(), end=at(ends, 2)))) == 1


def test_a_draw_beside_the_last_reading_has_its_row():
    row = check(wear=worn(np.arange(POINTS, dtype=float)), time="23:55").iloc[0]
    assert row["sensor_mg_dl"] == POINTS - 1


@pytest.mark.parametrize(("date", "time"), [("2026-02-02", "07:30"), ("2026-02-05", "00:00"), ("2026-02-09", None),
                                              ("2026-02-05", None), ("2026-02-02", None)])  # fmt: skip
def test_what_was_drawn_without_the_sensor_is_no_row(date, time):
    assert len(check(date=date, time=time)) == 0


def test_without_a_time_or_a_reading_it_says_so():
    gap = np.full(POINTS, 90.0)
    gap[288 + 84 : 288 + 96] = np.nan
    for row, reason in ((check(time=None), "no_time"), (check(wear=worn(gap)), "no_reading")):
        assert (row["reason"][0], row["verdict"][0]) == (reason, "not_enough_data")
        assert row[["sensor_mg_dl", "difference_mg_dl"]].isna().all(axis=None)


@pytest.mark.parametrize(
    ("clock", "glucose", "source", "line"),
    [
        ("07:44", 90.9, "venous", 2), ("07:45", 90.0, "venous", 2), ("07:15", 90.0, "venous", 2),
        ("07:45:01", 90.0, "venous", None), ("07:30", 91.79, "venous", 2), ("07:30", 91.81, "venous", None),
        ("07:30", 88.21, "venous", 2), ("07:30", 88.19, "venous", None), ("07:46", 90.0, "venous", None),
        ("07:30", 93.0, "venous", None),
        ("07:30", 90.0, "fingerstick", None), ("07:30", 90.0, None, 2),
    ],
)  # fmt: skip
def test_a_value_that_is_a_check_already_is_known_by_its_line(clock, glucose, source, line):
    checks = make_table("checks", {"time": at(clock, 1), "glucose_mg_dl": glucose, "source": source})
    found = check(wear=worn(checks=checks))["check_line"][0]
    assert (None if pd.isna(found) else found) == line
