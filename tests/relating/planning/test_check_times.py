"""Is a person's typical day what their wears show, and waking what their nights say? By hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.relating.planning.check_times import TypicalDay, measure_typical_day, plan_check_times
from tests.hand_made import UTC, at, make_pair, make_wear


def nights(start, end, source="ring"):
    moments = {name: pd.DatetimeIndex([at(clock)]) for name, clock in (("start", start), ("end", end))}
    return pd.DataFrame(moments | {"night_source": [source]})


def typical(night, values=None):
    _, trace = make_pair(make_wear(days=1), np.full(288, 100.0) if values is None else values)
    return measure_typical_day([(trace, UTC, night)])


@pytest.mark.parametrize(
    ("start", "end", "waking"),
    [
        ("23:30", "06:30", (6.5, 23.5)),
        ("01:00", "09:00", (9.0, 25.0)),
        ("17:00", "10:00", (7.0, 23.0)),
        ("18:00", "10:00", (10.0, 18.0)),  # eight hours just
        ("17:59", "10:00", (7.0, 23.0)),
    ],
)
def test_waking_is_what_nights_leave_unless_under_eight_hours(start, end, waking):
    day = typical(nights(start, end))
    assert (day.wake_h, day.bed_h) == waking


def test_waking_by_the_clock_where_no_sleep_is_logged():
    day = typical(nights("00:00", "06:00", "clock"))
    assert (day.wake_h, day.bed_h) == (7.0, 23.0)


def test_level_and_slope_of_a_half_hour():
    """Glucose that rises by 2 mg/dL a grid point from 12:00 to 14:00, and is flat before and after."""
    values = np.full(288, 100.0)
    values[144:168] += 2 * np.arange(24)
    values[168:] = 148.0
    day = typical(nights("23:00", "07:00"), values)
    assert day.level_mg_dl[26] == pytest.approx(100 + 2 * 14.5)
    assert day.slope_mg_dl_min[26] == pytest.approx(2 / 5)
    assert day.slope_mg_dl_min[20] == 0


def test_the_first_and_last_finger_sticks_leave_room_about_waking_and_bed():
    """Waking from 7:00 to 23:00, steadiest early or late: two on waking, the first whole half-hour from 7:15 on, the
    last to 22:30."""
    found = []
    for slope in (np.arange(48.0), np.arange(48.0)[::-1]):
        day = TypicalDay(np.arange(48.0), slope, 7.0, 23.0)
        planned = plan_check_times(day, pd.date_range("2026-03-01", periods=40, freq="D"), 40, UTC)
        times = pd.DatetimeIndex(planned["time"])
        found.append(times.hour + times.minute / 60)
    assert np.sort(found[0])[:3].tolist() == [7.25, 7.25, 7.75]
    assert found[1].max() == 22.25


def test_a_jump_is_seen_as_far_as_a_slope_reaches():
    """From 100 to 130 mg/dL at 12:30. A slope spans 15 minutes to either side, 30 mg/dL over 30 min there: it is 1 at
    the six points from 12:15 to 12:40, half of those of each half-hour beside the jump, so that either median is 0.5.
    """
    values = np.full(288, 100.0)
    values[150:] = 130.0
    slope = typical(nights("23:00", "07:00"), values).slope_mg_dl_min
    assert slope[23:27] == pytest.approx([0.0, 0.5, 0.5, 0.0], abs=1e-12)


def test_the_day_has_48_half_hours_and_nothing_is_known_of_those_without_readings():
    values = np.full(288, 100.0)
    values[:6] = np.nan
    day = typical(nights("23:00", "07:00"), values)
    assert day.level_mg_dl == pytest.approx([np.nan, *[100.0] * 47], nan_ok=True)
    assert len(day.slope_mg_dl_min) == 48


def test_waking_that_begins_and_ends_on_a_half_hour_loses_just_its_margins():
    """Awake from 6:45 to 22:30: a quarter of an hour later and half an hour sooner are 7:00 and 22:00."""
    found = []
    for slope in (np.arange(48.0), np.arange(48.0)[::-1]):
        day = TypicalDay(np.arange(48.0), slope, 6.75, 22.5)
        local = pd.DatetimeIndex(plan_check_times(day, pd.date_range("2026-03-01", periods=40), 40, UTC)["time"])
        found.append(local.strftime("%H:%M"))
    assert found[0].min() == "07:15"
    assert found[1].max() == "21:45"


def by_sevens() -> TypicalDay:
    """Awake so that finger-sticks may be taken from 8:00 to 22:00: four parts of seven half-hours.

    In each the first three are the steadiest, at 100, 120 and 110 mg/dL; the fourth, at 60, is one too many.
    """
    place = (np.arange(48) - 16) % 7
    level = np.array([100.0, 120.0, 110.0, 60.0, 200.0, 90.0, 90.0])[place]
    return TypicalDay(level, 0.1 * (1 + place), 7.75, 22.5)


def test_eight_finger_sticks_by_hand():
    """The third and the seventh on waking, at 7:45, rounded to 8:00. The others go round the parts in the order 1, 3,
    2, 4; each takes turns between its low and its high half-hour, the second and the fourth part beginning with the
    high one. A stick stands in the middle of its half-hour.
    """
    planned = plan_check_times(by_sevens(), pd.date_range("2026-03-01", periods=8), 8, UTC)
    assert pd.DatetimeIndex(planned["time"]).strftime("%d %H:%M").tolist() == [
        "01 08:15", "02 15:15", "03 08:15", "04 12:15", "05 19:15", "06 08:45", "07 08:15", "08 15:45",
    ]  # fmt: skip
    assert planned["usual_mg_dl"].tolist() == [100, 100, 100, 120, 120, 120, 100, 120]
    assert planned["usual_slope_mg_dl_min"].to_numpy() == pytest.approx([0.1, 0.1, 0.1, 0.2, 0.2, 0.2, 0.1, 0.2])


@pytest.mark.parametrize(("checks", "places"), [(3, []), (4, [1, 3]), (6, [1, 4]), (10, [2, 7]), (20, [5, 15])])
def test_two_of_four_or_more_are_taken_on_waking(checks, places):
    """In the middle of either half of the wear; the day's own begin at noon here."""
    day = TypicalDay(np.full(48, 100.0), np.where(np.arange(48) < 24, 9.0, 0.1), 7.0, 23.0)
    planned = plan_check_times(day, pd.date_range("2026-03-01", periods=20), checks, UTC)
    assert np.flatnonzero(pd.DatetimeIndex(planned["time"]).strftime("%H:%M") == "07:15").tolist() == places


@pytest.mark.parametrize(("days", "day"), [(1, "01"), (4, "03"), (5, "03")])
def test_a_single_finger_stick_is_taken_in_the_middle_of_the_wear(days, day):
    planned = plan_check_times(by_sevens(), pd.date_range("2026-03-01", periods=days), 1, UTC)
    assert pd.DatetimeIndex(planned["time"]).strftime("%d %H:%M").tolist() == [f"{day} 08:15"]


def test_no_finger_sticks_are_a_table_without_rows():
    assert plan_check_times(by_sevens(), pd.date_range("2026-03-01", periods=5), 0, UTC).empty


def test_a_waking_day_that_is_all_margin_still_has_four_half_hours():
    """Awake from 20:00 to 21:00: nothing is left from 20:30 on, and the four half-hours that follow are taken."""
    day = TypicalDay(np.full(48, 100.0), np.full(48, 0.1), 20.0, 21.0)
    planned = plan_check_times(day, pd.date_range("2026-03-01", periods=6), 6, UTC)
    clock = pd.DatetimeIndex(planned["time"]).strftime("%H:%M").tolist()
    assert clock == ["20:45", "20:15", "21:45", "21:15", "20:15", "22:15"]
