"""Does every instant come back from local time, over clock changes and trips, when rows are in order?"""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from glucolab.clock import ZoneSpans, days_between, format_times, to_local, to_utc

# Both clock changes of 2026 of each zone (IANA time zone database), and how many minutes the clocks move.
CHANGES = [
    ("Europe/Lisbon", "2026-03-29T01:00", 60),
    ("Europe/Lisbon", "2026-10-25T01:00", 60),
    ("America/New_York", "2026-03-08T07:00", 60),
    ("America/New_York", "2026-11-01T06:00", 60),
    ("Australia/Lord_Howe", "2026-04-04T15:00", 30),
    ("Australia/Lord_Howe", "2026-10-03T15:30", 30),
    ("America/Santiago", "2026-04-05T03:00", 60),
    ("America/Santiago", "2026-09-06T04:00", 60),
    ("Africa/Cairo", "2026-04-23T22:00", 60),
    ("Africa/Cairo", "2026-10-29T21:00", 60),
]


@st.composite
def instants_over_a_change(draw):
    """A zone and instants that begin before its clock change, each nearer to the next than the clocks move."""
    zone, change, moved_min = draw(st.sampled_from(CHANGES))
    steps = draw(st.lists(st.integers(1, moved_min * 60 - 1), min_size=100, max_size=400))
    start = pd.Timestamp(change, tz="UTC") - pd.Timedelta(seconds=draw(st.integers(1, sum(steps))))
    return zone, pd.DatetimeIndex(start + pd.to_timedelta(np.cumsum([0, *steps]), unit="s")).as_unit("us")


@given(instants_over_a_change(), st.booleans())
@settings(max_examples=60, deadline=None)
def test_instants_in_order_survive_the_way_through_local_time(case, newest_first):
    zone, instants = case
    zones = ZoneSpans((zone,))
    instants = instants[::-1] if newest_first else instants
    settled = to_utc(to_local(instants, zones), zones)
    assert settled.times.tolist() == instants.tolist()
    assert not settled.skipped.any()


@given(instants_over_a_change())
@settings(max_examples=30, deadline=None)
def test_written_times_name_their_instant(case):
    zone, instants = case
    written = format_times(instants, ZoneSpans((zone,)))
    assert pd.to_datetime(list(written), utc=True).tolist() == instants.tolist()


@given(
    st.sampled_from(["America/Recife", "Asia/Tbilisi", "Pacific/Auckland", "America/Los_Angeles"]),
    st.integers(2_000, 10_000),  # rows before the change show which pass is which
    st.integers(1, 59),
)
@settings(max_examples=60, deadline=None)
def test_a_trip_there_and_back(there, leaving_min, step_min):
    first = pd.Timestamp("2026-02-01", tz="UTC")
    changes = tuple(first + pd.Timedelta(minutes=leaving_min + m) for m in (0, 5000))
    zones = ZoneSpans(("Europe/Lisbon", there, "Europe/Lisbon"), changes)
    instants = pd.date_range(first, first + pd.Timedelta(days=14), freq=f"{step_min}min", unit="us")
    settled = to_utc(to_local(instants, zones), zones)
    assert settled.times.tolist() == instants.tolist()


@given(instants_over_a_change())
@settings(max_examples=30, deadline=None)
def test_local_days_cover_every_instant_once(case):
    zone, instants = case
    zones = ZoneSpans((zone,))
    days = days_between(instants[0], instants[-1] + pd.Timedelta(seconds=1), zones)
    place = days.of(instants)
    assert (place >= 0).all()
    assert (days.dates[place] == to_local(instants, zones).normalize()).all()
    assert (days.minutes > 0).all()
