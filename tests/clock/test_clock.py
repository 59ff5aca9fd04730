"""Is local time right at clock changes, on trips and where midnight does not exist?

Dates of clock changes are from the IANA time zone database (2026 rules): Lisbon 29 March 01:00 -> 02:00 and 25 October
02:00 -> 01:00; Lord Howe Island moves by half an hour on 4 October; Santiago skips midnight of 6 September, Cairo that
of 24 April; Recife stays three hours behind UTC.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans, day_starts, days_between, format_times, is_zone, local_hours, to_local, to_utc

LISBON = ZoneSpans(("Europe/Lisbon",))


def utc(*texts: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(list(texts), tz="UTC")


def naive(*texts: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(list(texts))


def trip(there: str, leaving: str, back: str | None = None) -> ZoneSpans:
    if back is None:
        return ZoneSpans(("Europe/Lisbon", there), (utc(leaving)[0],))
    return ZoneSpans(("Europe/Lisbon", there, "Europe/Lisbon"), (utc(leaving)[0], utc(back)[0]))


def test_summer_and_winter():
    local = to_local(utc("2026-02-03T08:10", "2026-07-03T08:10"), LISBON)
    assert list(local) == list(naive("2026-02-03T08:10", "2026-07-03T09:10"))


def test_the_hour_that_spring_skips_has_no_time():
    settled = to_utc(naive("2026-03-29T00:59", "2026-03-29T01:00", "2026-03-29T01:59", "2026-03-29T02:00"), LISBON)
    assert settled.skipped.tolist() == [False, True, True, False]
    assert not settled.between_zones.any()
    assert settled.times[[0, 3]].tolist() == utc("2026-03-29T00:59", "2026-03-29T01:00").tolist()
    assert settled.times[[1, 2]].isna().all()


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (["01:10"], ["00:10"]),
        (["01:10", "01:40", "02:10"], ["00:10", "00:40", "02:10"]),
        (["01:40", "01:10", "02:10"], ["00:40", "01:10", "02:10"]),
        (
            ["00:50", "01:20", "01:50", "01:20", "01:50", "02:20"],
            ["23:50", "00:20", "00:50", "01:20", "01:50", "02:20"],
        ),
        (
            ["02:20", "01:50", "01:20", "01:50", "01:20", "00:50"],
            ["02:20", "01:50", "01:20", "00:50", "00:20", "23:50"],
        ),
    ],
    ids=["alone", "first pass", "two passes", "both passes whole", "newest first"],
)
def test_the_hour_that_autumn_repeats(rows, expected):
    settled = to_utc(naive(*(f"2026-10-25T{row}" for row in rows)), LISBON)
    assert [f"{time:%H:%M}" for time in settled.times] == expected
    assert settled.repeated.tolist() == [row.startswith("01") for row in rows]


def test_missing_times_stay_missing():
    settled = to_utc(pd.DatetimeIndex([pd.NaT, pd.Timestamp("2026-10-25T01:10")]), LISBON)
    assert settled.times.isna().tolist() == [True, False]
    assert settled.skipped.tolist() == [False, False]


def test_westward_a_trip_repeats_hours_and_the_first_is_taken():
    zones = trip("America/Recife", "2026-02-03T12:00")
    settled = to_utc(naive("2026-02-03T11:30", "2026-02-03T09:30", "2026-02-03T12:30"), zones)
    assert settled.times.tolist() == utc("2026-02-03T11:30", "2026-02-03T12:30", "2026-02-03T15:30").tolist()
    assert settled.repeated.tolist() == [True, True, False]


def test_eastward_a_trip_jumps_over_hours():
    zones = trip("Asia/Tbilisi", "2026-02-03T12:00")  # four hours ahead
    settled = to_utc(naive("2026-02-03T11:59", "2026-02-03T13:00", "2026-02-03T16:00"), zones)
    assert settled.between_zones.tolist() == [False, True, False]
    assert not settled.skipped.any()
    assert settled.times.tolist() == utc("2026-02-03T11:59", "2026-02-03T13:00", "2026-02-03T12:00").tolist()


def test_days_have_the_hours_the_clocks_show():
    march = days_between(utc("2026-03-28T12:00")[0], utc("2026-03-30T12:00")[0], LISBON)
    assert (march.minutes / 60).tolist() == [24, 23, 24]
    october = days_between(utc("2026-10-24T12:00")[0], utc("2026-10-26T12:00")[0], LISBON)
    assert (october.minutes / 60).tolist() == [24, 25, 24]
    howe = ZoneSpans(("Australia/Lord_Howe",))
    assert 23.5 in (days_between(utc("2026-10-02T12:00")[0], utc("2026-10-05T12:00")[0], howe).minutes / 60)


@pytest.mark.parametrize(
    ("zone", "date", "start"),
    [("America/Santiago", "2026-09-06", "2026-09-06T04:00"), ("Africa/Cairo", "2026-04-24", "2026-04-23T22:00")],
)
def test_a_day_without_midnight_begins_at_its_first_moment(zone, date, start):
    zones = ZoneSpans((zone,))
    assert day_starts(naive(date), zones).tolist() == utc(start).tolist()
    first = to_local(utc(start), zones)[0]
    assert (first.date().isoformat(), first.hour) == (date, 1)


def test_days_on_a_trip_follow_each_other_without_a_hole():
    zones = trip("America/Recife", "2026-02-03T12:00", "2026-02-05T12:00")
    days = days_between(utc("2026-02-02T10:00")[0], utc("2026-02-06T20:00")[0], zones)
    assert [f"{d:%d}" for d in days.dates] == ["02", "03", "04", "05", "06"]
    assert (days.minutes / 60).tolist() == [24, 27, 24, 21, 24]


def test_which_day_a_time_lies_in():
    days = days_between(utc("2026-07-03T12:00")[0], utc("2026-07-04T12:00")[0], LISBON)
    times = utc("2026-07-02T22:59", "2026-07-02T23:00", "2026-07-03T22:59", "2026-07-03T23:00", "2026-07-04T23:00")
    assert days.of(times).tolist() == [-1, 0, 0, 1, -1]
    assert days.of(pd.DatetimeIndex([pd.NaT], tz="UTC")).tolist() == [-1]


def test_an_end_at_midnight_does_not_touch_the_next_day():
    days = days_between(utc("2026-02-03T00:00")[0], utc("2026-02-04T00:00")[0], LISBON)
    assert [f"{d:%d}" for d in days.dates] == ["03"]


def test_times_are_written_with_the_offset_of_the_place():
    zones = trip("America/Recife", "2026-07-03T12:00")
    times = pd.DatetimeIndex(["2026-07-03T08:00:05", "2026-07-03T15:00", None], tz="UTC")
    assert format_times(times, zones).tolist() == ["2026-07-03T09:00:05+01:00", "2026-07-03T12:00:00-03:00", ""]
    india = ZoneSpans(("Asia/Kolkata",))
    assert format_times(utc("2026-07-03T00:00"), india).tolist() == ["2026-07-03T05:30:00+05:30"]
    assert len(format_times(utc(), LISBON)) == 0


def test_local_hours():
    assert np.allclose(local_hours(utc("2026-07-03T08:30", "2026-07-03T23:15"), LISBON), [9.5, 0.25])


@pytest.mark.parametrize(
    "name", ["", "Lisbon", "../etc/passwd", "Europe", "x" * 5000, "Europe/Lisbon\0", "/etc/localtime"]
)
def test_what_is_no_zone(name):
    assert not is_zone(name)


def test_what_is_a_zone():
    assert is_zone("Europe/Lisbon")
    assert is_zone("UTC")
