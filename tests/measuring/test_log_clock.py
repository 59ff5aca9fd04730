"""Is a clock that is off found, by how much, and is none alleged where both agree?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.aligning.trace import estimate_trace
from glucolab.analysis import LEAST_READINGS
from glucolab.cleaning.clean import clean_wear
from glucolab.clock import days_between
from glucolab.measuring.log_clock import (
    estimate_clocks_apart,
    estimate_log_clock,
    is_log_off,
    is_off,
    move_log,
    word_clocks_apart,
    word_log_clock,
)
from glucolab.measuring.occasions import find_occasions
from glucolab.reading.folder import read_study
from tests.hand_made import MINUTE, START, UTC, make_pair, make_wear

OTHER_CLOCK = ("p006",)
"""Of the open recordings: its two sensors' clocks differ by 50 minutes (the dataset's own times)."""


def lived(seed: int = 0, days: int = 8, peak_min: float = 55.0, noise: float = 2.0):
    """Glucose on a 5-minute grid and the times of three meals a day, each with a rise that peaks and falls."""
    rng = np.random.default_rng(seed)
    minutes = np.arange(days * 288) * 5.0
    eaten = np.sort((np.arange(days)[:, None] * 1440 + [480, 780, 1140] + rng.normal(0, 50, (days, 3))).ravel())
    values = 90 + np.convolve(rng.normal(0, noise, len(minutes) + 23), np.ones(24) / np.sqrt(24), "valid")
    for at in eaten:
        since = np.maximum(minutes - at, 0) / peak_min
        values = values + rng.uniform(15, 60) * (since * np.exp(1 - since)) ** 2
    return values, eaten, days


def clock_of(values, eaten, days, late_min: float = 0.0):
    wear = make_wear(days=days)
    clean, trace = make_pair(wear, values)
    meals = pd.DataFrame({"time": START + pd.to_timedelta(eaten + late_min, unit="min"), "carbs_g": 50.0})
    return estimate_log_clock(trace, meals, days_between(clean.start, clean.end, UTC))


@pytest.mark.parametrize("late_min", [-90.0, -60.0, 0.0, 25.0, 60.0, 120.0])
@pytest.mark.parametrize("peak_min", [35.0, 55.0, 80.0])
def test_a_log_that_is_late_or_early_is_found(late_min, peak_min):
    found, _ = clock_of(*lived(peak_min=peak_min), late_min)
    assert found["estimate"] == pytest.approx(late_min, abs=15)
    assert found["low"] < late_min < found["high"]
    assert is_log_off(found) == (late_min >= 25 or late_min <= -60)


@pytest.mark.parametrize("peak_min", [110.0, 130.0])
def test_late_peaks_are_not_taken_for_a_slow_clock(peak_min):
    """Medians of some people lie there (references A1)."""
    found = [clock_of(*lived(seed, days=13, peak_min=peak_min))[0] for seed in range(12)]
    assert not any(is_log_off(one) for one in found)


def test_the_log_is_moved_and_nothing_else():
    eaten = pd.DataFrame({"time": [START], "name": ["soup"]})
    walked = pd.DataFrame({"start": [START], "minutes": [20.0]})
    wear = make_wear(meals=eaten, activity=walked, sleep=pd.DataFrame({"start": [START], "end": [START]}))
    moved = move_log(wear, 45.0)
    assert moved.tables["meals"]["time"].tolist() == [START - 45 * MINUTE]
    assert moved.tables["activity"]["start"].tolist() == [START - 45 * MINUTE]
    for name in set(wear.tables) - {"meals", "activity", "feelings"}:
        assert moved.tables[name] is wear.tables[name]


def test_right_clocks_are_seldom_said_to_be_off():
    assert sum(is_off(clock_of(*lived(seed, noise=6.0))[0]) for seed in range(40)) <= 1


def test_moved_together_nothing_changes():
    values, eaten, days = lived()
    later = clock_of(np.roll(values, 12), eaten + 60, days)[0]
    assert later["estimate"] == clock_of(values, eaten, days)[0]["estimate"]


def test_a_few_meals_and_meals_that_do_nothing_tell_of_no_clock():
    values, eaten, days = lived()
    assert clock_of(values, eaten[:11], days) == (
        None, "Too few meals are logged within this wear to tell whether its clock agrees with the sensor's.",
    )  # fmt: skip
    flat = 90 + np.random.default_rng(1).normal(0, 3, len(values))
    found, why = clock_of(flat, eaten, days)
    assert found is None or found["high"] - found["low"] > 40
    assert (found is None) == bool(why)


@pytest.mark.parametrize("apart_min", [-45, 0, 60])
def test_of_two_sensors_at_once_the_later_clock_is_found(apart_min):
    values, _, days = lived()
    other = np.roll(values * 1.1 + np.random.default_rng(2).normal(0, 2, len(values)), apart_min // 5)
    traces = [make_pair(make_wear(days=days), one)[1] for one in (values, other)]
    found = estimate_clocks_apart(*traces)
    assert found["estimate"] == pytest.approx(apart_min, abs=5)
    assert is_off(found) == (apart_min != 0)
    assert estimate_clocks_apart(*traces[::-1])["estimate"] == pytest.approx(-apart_min, abs=5)


def test_sensors_worn_after_each_other_say_nothing_of_clocks():
    values, _, days = lived()
    later = make_wear(days=days, start=START + pd.Timedelta(days=30))
    assert estimate_clocks_apart(make_pair(make_wear(days=days), values)[1], make_pair(later, values)[1]) is None


@pytest.mark.parametrize(
    ("estimate", "low", "high", "off"),
    [
        (20, 1, 39, True),
        (19.9, 5, 35, False),
        (40, 0, 80, False),
        (-20, -39, -1, True),
        (-60, -80, 1, False),
    ],
)
def test_a_clock_is_off_from_twenty_minutes_and_where_its_interval_says_so(estimate, low, high, off):
    assert is_off({"estimate": float(estimate), "low": float(low), "high": float(high), "level": 0.9}) == off
    assert not is_off(None)


@pytest.mark.parametrize(
    ("estimate", "off"), [(20, True), (19.9, False), (-20, False), (-54.9, False), (-55, True), (-90, True)]
)
def test_a_log_is_called_slow_only_beyond_slow_digestion(estimate, off):
    ends = {"low": estimate - 19.0, "high": estimate + 19.0, "level": 0.9}
    assert is_log_off({"estimate": float(estimate), **ends}) == off
    assert not is_log_off(None)


def test_the_words_say_which_way():
    ahead = {"estimate": -55.0, "low": -68.0, "high": -42.0, "level": 0.9}
    assert word_log_clock(ahead).startswith("meals are logged about 55 min (42 to 68) earlier than glucose")
    assert "slow" in word_log_clock(ahead)
    late = {name: -value for name, value in ahead.items()} | {"low": 42.0, "high": 68.0}
    assert "fast" in word_log_clock(late)
    assert "later than in left arm" in word_clocks_apart(late, "left arm")


def test_logs_of_real_people_moved_by_an_hour_are_found_and_right_ones_left_alone(open_data):
    """Nineteen sensors of thirteen people with their logs; one sensor's clock is known to be off its twin's and is left
    out.

    One in twenty may be said to be off, one of nineteen: by chance alone one or more would be in 62 of 100 such sets.
    That one is of a person whose glucose rises for an hour and a half; both sensors tell of 15 to 20 min there, for the
    onset of a slow rise is known least.
    """
    right, off_min, found = [], [], []
    for folder in ("food_log", "two_sensors"):
        for path in sorted(open_data(folder).glob("p*")):
            for wear in read_study(path).wears:
                clean = clean_wear(wear)
                occasions = find_occasions(wear.meals)
                if path.name in OTHER_CLOCK or len(clean.usable) < LEAST_READINGS:
                    continue
                trace, days = estimate_trace(wear, clean), days_between(clean.start, clean.end, wear.zones)
                eaten = occasions[~occasions["minor"]]
                as_logged, why = estimate_log_clock(trace, eaten, days)
                if why.startswith("Too few"):
                    continue
                right.append(is_off(as_logged))
                off_min.append(abs(as_logged["estimate"]) if as_logged else np.nan)
                for late_min in (-60, 60):
                    moved, _ = estimate_log_clock(trace, eaten.assign(time=eaten["time"] + late_min * MINUTE), days)
                    found.append(moved is not None and abs(moved["estimate"] - late_min) <= 15)
    assert len(right) >= 16
    assert sum(right) <= round(0.05 * len(right))
    assert np.nanmax(off_min) <= 20
    assert np.nanmedian(off_min) <= 5
    assert np.mean(found) >= 0.85
