"""Which hours were the night? Trackers, sleeps and the clock."""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.clock import ZoneSpans, days_between
from glucolab.measuring.nights import find_nights
from tests.hand_made import START, UTC, at, make_table, make_wear


def nights(*sleeps, days=3.0, **wear):
    worn = make_wear(days=days, sleep=make_table("sleep", *sleeps), **wear)
    return find_nights(worn, days_between(worn.start, worn.end, worn.zones))


def slept(start, end, **columns):
    return {"start": start, "end": end} | columns


def test_without_sleep_the_clock_says_midnight_to_six():
    found = nights()
    assert list(found["night_source"]) == ["clock"] * 3
    assert list(found["start"]) == [at("00:00", d) for d in range(3)]
    assert list(found["end"]) == [at("06:00", d) for d in range(3)]
    assert found["asleep_h"].isna().all()


def test_a_night_belongs_to_the_day_on_which_it_ends():
    found = nights(slept(at("22:30"), at("06:10", 1), source="band"))
    assert found["night_source"].tolist() == ["clock", "band", "clock"]
    assert found["start"][1] == at("22:30")
    assert found["end"][1] == at("06:10", 1)
    assert found["asleep_h"][1] == pytest.approx(7 + 40 / 60)


def test_asleep_is_the_trackers_own_count_where_it_has_one():
    assert nights(slept(at("22:30"), at("06:10", 1), asleep_min=400.0))["asleep_h"][1] == pytest.approx(400 / 60)


@pytest.mark.parametrize(("end", "night"), [("02:59", False), ("03:00", True), ("14:00", True), ("14:01", False)])
def test_only_a_sleep_that_ends_from_three_to_fourteen_is_a_night(end, night):
    assert (nights(slept(at("21:00"), at(end, 1)))["night_source"][1] == "sleep") == night


def test_the_longest_sleep_of_the_morning_is_the_night():
    found = nights(
        slept(at("04:00", 1), at("05:00", 1)), slept(at("22:00"), at("03:30", 1)), slept(at("12:00", 1), at("13:00", 1))
    )
    assert found["start"][1] == at("22:00")
    assert found["end"][1] == at("03:30", 1)


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_of_trackers_with_as_many_nights_the_one_that_began_first_is_used(order):
    both = slept(at("22:50"), at("06:00", 1), source="watch"), slept(at("23:00"), at("06:40", 1), source="band")
    assert nights(*(both[i] for i in order))["night_source"][1] == "watch"


def test_the_tracker_with_most_nights_is_used_and_named():
    found = nights(
        slept(at("21:00"), at("07:00", 1), source="watch"),
        slept(at("23:00"), at("06:00", 1), source="ring"),
        slept(at("23:00", 1), at("06:00", 2), source="ring"),
        slept(at("13:00", 1), at("14:00", 1), source="watch"),
        slept(at("20:00", 2), at("21:00", 2), source="watch"),
    )
    assert found["night_source"].tolist() == ["clock", "ring", "ring"]
    assert found["start"][1] == at("23:00")


def test_clock_nights_follow_the_clock_change():
    """Lisbon, 2026-03-29: 01:00 becomes 02:00, so midnight to six lasts five hours."""
    zones = ZoneSpans(("Europe/Lisbon",))
    start = pd.Timestamp("2026-03-28T00:00", tz="Europe/Lisbon").tz_convert("UTC")
    found = nights(start=start, zones=zones, days=2.9)
    assert ((found["end"] - found["start"]) / pd.Timedelta(hours=1)).tolist() == [6, 5, 6]


def test_clock_nights_follow_a_trip():
    zones = ZoneSpans(("UTC", "America/Recife"), (START + pd.Timedelta(hours=30),))
    found = nights(zones=zones)
    assert found["start"][2] == at("03:00", 2), "midnight in Recife is three in UTC"
    assert zones != UTC
