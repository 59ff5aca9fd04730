"""Is a whole wear cleaned in the right order, and is the reason for each reading kept?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.cleaning.clean import clean_wear
from glucolab.record.outputs import FLAGS
from glucolab.units import MG_DL_PER_MMOL_L
from tests.hand_made import START, at, make_glucose, make_table, make_times, make_wear


def readings(days=3.0, step_min=5.0, seed=0):
    times = make_times(round(days * 1440 / step_min), step_min=step_min)
    minutes = np.arange(len(times)) * step_min
    values = 100 + 12 * np.sin(2 * np.pi * minutes / 1440) + np.random.default_rng(seed).normal(0, 1.2, len(times))
    return times, np.round(values)


def flags_of(record):
    """Flags of each reading in the order of the file."""
    ordered = record.readings.sort_values("row")
    return [[flag for flag in FLAGS if row[flag]] for _, row in ordered.iterrows()]


def test_a_clean_wear_loses_nothing():
    times, values = readings()
    record = clean_wear(make_wear(days=3, glucose=make_glucose(times, values)))
    assert not record.readings["excluded"].any()
    assert len(record.spans) == 0
    assert len(record.usable) == 864
    assert record.usable.index.is_monotonic_increasing


def test_every_reading_is_kept_with_its_line_and_place():
    times, values = readings()
    order = np.r_[np.arange(100), np.arange(100, 864)[::-1]]
    record = clean_wear(make_wear(days=3, glucose=make_glucose(times[order], values[order])))
    back = record.readings.sort_values("row")
    assert len(back) == 864
    assert back["line"].tolist() == list(range(2, 866))
    assert back["time"].tolist() == list(times[order])
    assert record.readings["time"].is_monotonic_increasing


def test_each_fault_has_its_flag():
    times, values = readings()
    values[400] += 40
    values[500:514] = 97.0
    values[600] = 40.0
    frame = make_glucose(times, values)
    twice = pd.concat([frame, frame.iloc[[700]]]).sort_values("time", kind="stable")
    notes = make_table("notes", {"start": at("17:00", 1), "end": at("18:00", 1), "kind": "knock"})
    record = clean_wear(make_wear(days=3, glucose=twice, notes=notes, warm_up_hours=12))
    found = flags_of(record)
    assert found[0] == ["warm_up"]
    assert found[143] == ["warm_up"]
    assert found[144] == []
    assert found[400] == ["jump"]
    assert found[399] == found[401] == []
    assert all("stuck" in found[i] for i in range(500, 514) if not 492 <= i < 504)
    assert found[600] == ["limit"]
    assert sorted(map(tuple, (found[700], found[701]))) == [(), ("duplicate",)]
    assert found[495] == ["noted"]
    excluded = record.readings.sort_values("row")["excluded"].to_numpy()
    assert excluded.tolist() == [bool(flags) for flags in found]


def test_words_at_the_limits_are_limits():
    """The reader writes the floor or the ceiling for LO and HI."""
    times, values = readings()
    frame = make_glucose(times, values)
    frame.loc[frame.index[300], ["glucose_mg_dl", "limit"]] = [60.0, "low"]
    frame.loc[frame.index[301], ["glucose_mg_dl", "limit"]] = [250.0, "high"]
    record = clean_wear(make_wear(days=3, glucose=frame, reads_from_mg_dl=60.0, reads_to_mg_dl=250.0))
    assert record.readings["limit"].to_numpy().nonzero()[0].tolist() == [300, 301]


def test_notes_of_every_kind_are_spans_and_only_three_exclude():
    times, values = readings()
    notes = make_table(
        "notes",
        {"start": at("10:00"), "end": at("11:00"), "kind": "heat"},
        {"start": at("12:00"), "kind": "travel"},
        {"start": at("15:00"), "end": at("15:30"), "kind": "swim"},
    )
    record = clean_wear(make_wear(days=3, glucose=make_glucose(times, values), notes=notes))
    spans = record.spans.set_index("start")
    assert spans["flag"].tolist() == ["noted"] * 3
    assert spans["action"].tolist() == ["exclude", "note", "note"]
    assert spans["minutes"].tolist() == [60, 60, 30]
    assert record.readings["excluded"].sum() == 12


def test_loosening_is_noted_and_still_used():
    times, values = readings(days=14)
    values[288 * 13 :] += np.random.default_rng(3).normal(0, 6, 288)
    record = clean_wear(make_wear(days=14, glucose=make_glucose(times, values)))
    loose = record.readings["loosening"]
    assert loose.sum() > 250
    assert not record.readings.loc[loose & ~record.readings["jump"] & ~record.readings["pressure"], "excluded"].any()
    spans = record.spans[record.spans["flag"] == "loosening"]
    assert set(spans["action"]) == {"note"}
    assert spans["end"].iloc[-1] == at("00:00", 14)


def test_scans_beside_the_history_are_duplicates_of_it():
    times, values = readings(step_min=15.0)
    scans = times[20::9] + pd.Timedelta(minutes=4)
    frame = pd.concat([
        make_glucose(times, values, "automatic"),
        make_glucose(scans, values[20::9] + 1, "by_hand"),
    ])  # fmt: skip
    record = clean_wear(make_wear(days=3, glucose=frame, interval_min=15.0, memory_hours=8.0))
    found = record.readings
    assert found.loc[found["taken"] == "by_hand", "duplicate"].all()
    assert not found["clock"].any(), "scans listed below the history are an order, not a fault"
    assert (~found["excluded"]).sum() == len(times)
    assert record.coverage == pytest.approx(1)


def test_readings_outside_the_wear_are_the_clocks_fault_and_move_no_edge():
    times, values = readings(days=4)
    record = clean_wear(make_wear(days=2, start=START + pd.Timedelta(days=1), glucose=make_glucose(times, values)))
    clock = record.readings["clock"].to_numpy()
    assert clock[:288].all()
    assert not clock[288:864].any()
    assert clock[865:].all()
    assert (record.start, record.end) == (at("00:00", 1), at("00:00", 3))
    assert record.coverage == pytest.approx(1)


@pytest.mark.parametrize("step_min", [1.0, 5.0, 15.0])
def test_the_interval_is_the_median_step_where_nobody_wrote_it(step_min):
    times, values = readings(step_min=step_min)
    kept = np.flatnonzero(np.random.default_rng(0).random(len(times)) > 0.2)
    record = clean_wear(make_wear(days=3, glucose=make_glucose(times[kept], values[kept]), interval_min=None))
    assert record.interval_min == step_min


def test_scans_do_not_shorten_the_interval():
    times, _values = readings(step_min=15.0)
    scans = np.sort(np.r_[times.asi8, (times[:250] + pd.Timedelta(minutes=6)).asi8])
    every = pd.DatetimeIndex(pd.to_datetime(scans, unit="us", utc=True)).as_unit("us")
    taken = np.where(every.isin(times), "automatic", "by_hand")
    record = clean_wear(
        make_wear(days=3, glucose=make_glucose(every, np.arange(len(every)) % 7 + 95.0, taken), interval_min=None)
    )
    assert record.interval_min == 15


@pytest.mark.parametrize("count", [0, 1, 2, 5, 13])
@pytest.mark.parametrize("running", [True, False])
def test_very_few_readings(count, running):
    times, values = readings()
    record = clean_wear(
        make_wear(days=3, running=running, glucose=make_glucose(times[:count], values[:count]), interval_min=None)
    )
    assert len(record.readings) == count == len(record.usable)
    assert 0 <= record.coverage <= 1


def test_the_wear_is_left_as_it_was():
    times, values = readings()
    wear = make_wear(days=3, glucose=make_glucose(times, values))
    before = {name: frame.copy(deep=True) for name, frame in wear.tables.items()}
    clean_wear(wear)
    for name, frame in wear.tables.items():
        pd.testing.assert_frame_equal(frame, before[name])


def test_a_ceiling_shown_in_mmol_l_with_one_decimal_is_still_the_ceiling():
    """400 mg/dL is 22.2 mmol/L on a display, and 22.2 mmol/L is 399.9 mg/dL."""
    values = np.full(60, 5.4 * MG_DL_PER_MMOL_L)
    values[20], values[40] = 22.2 * MG_DL_PER_MMOL_L, 2.2 * MG_DL_PER_MMOL_L
    wear = make_wear(glucose=make_glucose(make_times(60), values), unit="mmol/L")
    assert np.flatnonzero(clean_wear(wear).readings["limit"]).tolist() == [20, 40]


@pytest.mark.parametrize(("unit", "floor", "ceiling"), [("mmol/L", 40.900, 399.100), ("mg/dL", 40.0, 400.0)])
def test_limits_in_mmol_l_reach_half_a_last_decimal_further(unit, floor, ceiling):
    """0.05 mmol/L are 0.9008 mg/dL; in mg/dL the limits are as written."""
    values = np.full(60, 100.0)
    values[[10, 20, 30, 40]] = floor, floor + 0.01, ceiling, ceiling - 0.01
    wear = make_wear(glucose=make_glucose(make_times(60), values), unit=unit)
    assert np.flatnonzero(clean_wear(wear).readings["limit"]).tolist() == [10, 30]


@pytest.mark.parametrize(("life_days", "last"), [(None, 60), (14.0, 60), (50.0, 75)])
def test_while_running_sixty_days_or_one_and_a_half_lives_are_believed(life_days, last):
    """A reading later than that has a wrong date, and the wear ends with the last before."""
    times = make_times(20).append(pd.DatetimeIndex([START, START + pd.Timedelta(minutes=1)]) + pd.Timedelta(days=last))
    wear = make_wear(running=True, life_days=life_days, glucose=make_glucose(times.as_unit("us"), np.arange(22) + 90.0))
    record = clean_wear(wear)
    assert np.flatnonzero(record.readings["clock"]).tolist() == [21]
    assert record.end == START + pd.Timedelta(days=last, minutes=5)


@pytest.mark.parametrize(("steps", "interval"), [
    ([], 5.0), ([7.3] * 9, 7.5), ([7.2] * 9, 7.0), ([0.1] * 9, 0.5), ([5.0, 5, 61, 61, 61], 5.0), ([60.0] * 3, 60.0),
])  # fmt: skip
def test_the_interval_is_the_median_step_to_half_a_minute(steps, interval):
    """Of one reading five minutes; never less than half a minute; steps over an hour are pauses."""
    times = pd.DatetimeIndex(START + pd.to_timedelta(np.cumsum([0.0, *steps]), unit="min")).as_unit("us")
    wear = make_wear(interval_min=None, glucose=make_glucose(times, np.arange(len(times)) + 90.0))
    assert clean_wear(wear).interval_min == interval


@pytest.mark.parametrize(("automatic", "interval"), [(2, 2.0), (3, 15.0)])
def test_three_automatic_readings_are_enough_to_tell_the_interval(automatic, interval):
    """Scans every two minutes between readings a quarter of an hour apart."""
    times = make_times(automatic, step_min=15.0).append(make_times(20, start=at("00:01"), step_min=2.0))
    order = np.argsort(times.asi8)
    taken = np.array(["automatic"] * automatic + ["by_hand"] * 20)[order]
    frame = make_glucose(times[order], np.arange(automatic + 20) + 90.0, taken)
    assert clean_wear(make_wear(interval_min=None, glucose=frame)).interval_min == interval


def test_a_low_after_readings_at_the_ceiling_is_still_found():
    """Ten minutes over the ceiling at two say nothing of the night's level: an hour 35 lower at three is pressure."""
    times, values = readings()
    values[288 + 24 : 288 + 26] = 400.0
    values[288 + 36 : 288 + 48] -= 35
    record = clean_wear(make_wear(days=3, glucose=make_glucose(times, values)))
    assert np.flatnonzero(record.readings["limit"]).tolist() == [312, 313]
    assert np.flatnonzero(record.readings["pressure"]).tolist() == list(range(324, 336))


def test_a_low_whose_ground_is_the_floor_is_taken_out_with_its_flanks():
    """A quarter of an hour down, half an hour at the floor, a quarter up: the flanks alone would be two short dips."""
    times, values = readings()
    low = slice(288 + 36, 288 + 48)
    values[low] = [75, 65, 55, 40, 40, 40, 40, 40, 40, 55, 65, 75]
    record = clean_wear(make_wear(days=3, glucose=make_glucose(times, values)))
    assert np.flatnonzero(record.readings["limit"]).tolist() == list(range(327, 333))
    assert record.readings["excluded"].to_numpy()[low].all()
