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
    [("23:30", "06:30", (6.5, 23.5)), ("01:00", "09:00", (9.0, 25.0)), ("17:00", "10:00", (7.0, 23.0))],
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
    """Waking from 7:00 to 23:00, steadiest early or late: the first whole half-hour from 7:15, the last to 22:30."""
    found = []
    for slope in (np.arange(48.0), np.arange(48.0)[::-1]):
        day = TypicalDay(np.arange(48.0), slope, 7.0, 23.0)
        planned = plan_check_times(day, pd.date_range("2026-03-01", periods=40, freq="D"), 40, UTC)
        times = pd.DatetimeIndex(planned["time"])
        found.append(times.hour + times.minute / 60)
    assert found[0].min() == 7.75
    assert found[1].max() == 22.25
