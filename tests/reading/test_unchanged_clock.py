"""Is a record that runs on through the hour which the spring change skips read by the clock that kept it?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.reading.folder import read_study
from glucolab.reading.travel import find_unchanged_clock

CHICAGO = ZoneSpans(("America/Chicago",))
"""Its clocks went from 02:00 to 03:00 on 8 March 2020 (tz database)."""


def written(step_min: int = 5, start: str = "2020-03-07T12:00", days: int = 3) -> np.ndarray:
    return pd.date_range(start, periods=days * 1440 // step_min, freq=f"{step_min}min").to_numpy()


def in_the_hour(times: np.ndarray) -> np.ndarray:
    return (times >= np.datetime64("2020-03-08T02:00")) & (times < np.datetime64("2020-03-08T03:00"))


@pytest.mark.parametrize("step_min", [1, 5, 15])
def test_readings_all_through_the_skipped_hour_are_of_a_clock_that_did_not_change(step_min):
    found = find_unchanged_clock(written(step_min), CHICAGO)
    assert found == (pd.Timestamp("2020-03-08T02:00"), "UTC-06:00")


def test_in_a_zone_of_half_an_hour():
    times = written(start="2020-10-03T12:00")  # Adelaide's change is on 4 October
    assert find_unchanged_clock(times, ZoneSpans(("Australia/Adelaide",)))[1] == "UTC+09:30"


def test_a_clock_that_changed_and_a_few_slips_are_not():
    times = written()
    assert find_unchanged_clock(times[~in_the_hour(times)], CHICAGO) is None
    slips = np.sort(np.r_[times[~in_the_hour(times)], times[in_the_hour(times)][:4]])
    assert find_unchanged_clock(slips, CHICAGO) is None
    assert find_unchanged_clock(written(start="2020-05-01T12:00"), CHICAGO) is None


def test_readings_in_that_hour_with_hours_missing_about_it_prove_nothing():
    times = written()
    hour = times[in_the_hour(times)]
    far = (times < hour[0] - np.timedelta64(3, "h")) | (times > hour[-1] + np.timedelta64(3, "h"))
    assert find_unchanged_clock(times[far | in_the_hour(times)], CHICAGO) is None


def test_such_a_wear_keeps_all_its_readings_evenly_apart_and_says_so(make_study, sound_study):
    name = next(name for name in sound_study if name.endswith("wear.toml")).removesuffix("wear.toml")
    times = written(15)
    rows = "".join(f"{str(t)[:16]},{100 + i % 7}\n" for i, t in enumerate(times))
    toml = 'start = 2020-03-07T11:50:00\nunit = "mg/dL"\ntime_zone = "America/Chicago"\n'
    study = read_study(make_study({f"{name}wear.toml": toml, f"{name}glucose.csv": "time,glucose\n" + rows,
                                   f"{name}meals.csv": "time,name\n2020-03-08T12:00,rice\n"}))  # fmt: skip
    wear = study.wears[0]
    assert len(wear.glucose) == len(times)
    assert wear.glucose["time"].diff().dropna().eq(pd.Timedelta(minutes=15)).all()
    assert wear.meals["time"].tolist() == [pd.Timestamp("2020-03-08T18:00", tz="UTC")]
    said = [str(problem) for problem in study.problems if "clock did not change" in str(problem)]
    assert len(said) == 1
    assert "UTC-06:00" in said[0]
