"""Are the sums of days those of the rows, and only of days that were worn? Days whose answers can be added on paper."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans, days_between
from glucolab.measuring.daily import measure_daily
from glucolab.measuring.excursions import measure_excursions
from glucolab.measuring.movement import find_worn
from glucolab.measuring.nights import find_nights
from glucolab.measuring.walks import add_movement
from tests.hand_made import START, make_pair, make_table, make_times, make_wear

TEN_A_MINUTE = np.full(2 * 1440, 10.0)


def wrist(steps, step_min: float = 1.0, start: pd.Timestamp = START, **columns) -> pd.DataFrame:
    """movement.csv as read: a row each `step_min`, none where steps are NaN and nothing else is known."""
    table = pd.DataFrame({"time": make_times(len(steps), start, step_min), "steps": np.asarray(steps, float)})
    for name in ("heart_rate_bpm", "mets"):
        table[name] = columns.get(name, np.nan)
    table["source"] = pd.Series(columns.get("source"), index=table.index, dtype="str")
    table.index = pd.RangeIndex(2, len(table) + 2, name="line")
    return table if "heart_rate_bpm" in columns or "mets" in columns else table[table["steps"].notna()]


def bare(hours: tuple[float, float], steps: np.ndarray = TEN_A_MINUTE, day: int = 0) -> np.ndarray:
    """The same with nothing written between two hours of a day."""
    steps = steps.copy()
    steps[round(1440 * day + 60 * hours[0]) : round(1440 * day + 60 * hours[1])] = np.nan
    return steps


def days_of(movement: pd.DataFrame, **more) -> pd.DataFrame:
    return add_movement(make_wear(movement=movement, **more)).days.set_index("date")


def test_whole_days_are_added_up():
    days = days_of(wrist(TEN_A_MINUTE))
    assert days["steps"].tolist() == [14400, 14400]
    assert days["steps_source"].tolist() == ["movement", "movement"]


def test_rows_of_a_quarter_of_an_hour_give_the_same_sum():
    assert days_of(wrist(np.full(192, 150.0), 15))["steps"].tolist() == [14400, 14400]


@pytest.mark.parametrize(
    ("hours", "sum_of_day"),
    [
        ((0, 6), 18 * 600),  # a night on the charger is no loss
        ((10, 13.5), 20.5 * 600),  # 14.5 h of 18 are 0.806
        ((10, 13.7), None),  # 14.3 h are 0.794
        ((13, 15.9), 21.1 * 600),  # of noon to six 3.1 h are 0.52
        ((13, 16.1), None),  # 2.9 h are 0.48: half a block is missing
        ((12, 24), None),
    ],
)  # fmt: skip
def test_a_partly_worn_day_has_no_sum_and_nothing_is_scaled_up(hours, sum_of_day):
    sums = days_of(wrist(bare(hours)))["steps"].to_dict()
    whole = {pd.Timestamp("2026-02-04"): 14400.0}
    assert sums == (whole if sum_of_day is None else whole | {pd.Timestamp("2026-02-03"): sum_of_day})


def test_without_a_heart_rate_for_hours_a_device_that_writes_one_is_not_worn():
    steps, beats = TEN_A_MINUTE.copy(), np.full(2880, 60.0)
    steps[720:1440], beats[720:1440] = 0.0, np.nan
    assert days_of(wrist(steps, heart_rate_bpm=beats))["steps"].tolist() == [14400]
    assert days_of(wrist(steps))["steps"].tolist() == [7200, 14400], "nothing tells an idle wrist from a table"


def test_a_heart_rate_each_ten_minutes_is_enough():
    beats = np.where(np.arange(2880) % 10 == 0, 60.0, np.nan)
    assert days_of(wrist(np.zeros(2880), heart_rate_bpm=beats))["steps"].tolist() == [0, 0]


def test_days_csv_goes_before_it():
    written = make_table(
        "days",
        {"date": pd.Timestamp("2026-02-03"), "steps": 9000.0},
        {"date": pd.Timestamp("2026-02-05"), "stress": 3.0},
    )
    days = days_of(wrist(TEN_A_MINUTE), days_table=written)
    assert days["steps"].iloc[:2].tolist() == [9000, 14400]
    assert days["steps_source"].iloc[:2].tolist() == ["days", "movement"]
    assert days["steps_source"].isna().iloc[2]
    assert days["stress"].iloc[2] == 3


def test_of_two_devices_the_one_worn_longest_counts_and_is_named():
    phone, watch = wrist(np.full(600, 90.0), source="phone"), wrist(TEN_A_MINUTE, source="watch")
    days = days_of(pd.concat([phone, watch]))
    assert days["steps"].tolist() == [14400, 14400], "never the sum of both"
    assert set(days["steps_source"]) == {"watch"}


def test_energy_use_stands_in_where_no_steps_are_written():
    days = days_of(wrist(np.full(2880, np.nan), mets=1.5))
    assert days["met_h"].tolist() == pytest.approx([27.0, 27.0]), "18 hours from six to midnight at 1.5 MET"
    assert days["steps"].isna().all()


def test_local_days_have_their_own_midnight_and_length():
    """On 29 March 2026 Lisbon's clocks skip an hour: that day has 23."""
    zones = ZoneSpans(("Europe/Lisbon",))
    start = pd.Timestamp("2026-03-28T00:00", tz="Europe/Lisbon").tz_convert("UTC").as_unit("us")
    movement = wrist(np.full(3 * 1440, 10.0), start=start)
    days = add_movement(make_wear(start=start, days=3, zones=zones, movement=movement)).days
    assert days["steps"].tolist()[:3] == [14400, 13800, 14400]


def test_a_single_row_says_nothing():
    assert days_of(wrist([50.0]))["steps"].tolist() == []
    assert find_worn(wrist([50.0])).minutes.tolist() == [0]


def test_daily_names_the_source_beside_the_steps():
    wear = add_movement(make_wear(movement=wrist(TEN_A_MINUTE)))
    clean, trace = make_pair(wear, np.full(576, 90.0))
    days = days_between(clean.start, clean.end, wear.zones)
    out = measure_daily(
        wear, clean, trace, days, find_nights(wear, days), measure_excursions(wear, clean, trace), 70, 140
    )
    assert out["steps"].tolist() == [14400, 14400]
    assert out["steps_source"].tolist() == ["movement", "movement"]
    assert out["exercise_min"].isna().all(), "nobody logged any"
