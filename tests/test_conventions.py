"""Are the contract's rules what the code goes by? Walks, exercise, nights and names of dishes, case by case."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab import conventions
from glucolab.cleaning.quiet_nights import find_sleeps
from glucolab.clock import ZoneSpans


def activity(kind: str, effort: str | None, minutes: float = 20.0) -> pd.DataFrame:
    return pd.DataFrame({"kind": [kind], "effort": pd.Series([effort], dtype="str"), "minutes": [minutes]})


@pytest.mark.parametrize(
    ("kind", "effort", "easy", "exercise"),
    [
        ("walk", "light", True, False), ("walk", None, True, False), (" Walk ", None, True, False),
        ("stretching", "light", True, False), ("run", "vigorous", False, True), ("bicycle", "moderate", False, True),
        ("bicycle", None, False, True),
    ],
)  # fmt: skip
def test_walks_and_exercise_are_told_apart(kind, effort, easy, exercise):
    one = activity(kind, effort)
    assert conventions.is_easy(one).tolist() == [easy]
    assert conventions.is_exercise(one).tolist() == [exercise]


@pytest.mark.parametrize(("minutes", "easy"), [(4.9, False), (5.0, True)])
def test_a_walk_lasts_five_minutes(minutes, easy):
    assert conventions.is_easy(activity("walk", None, minutes)).tolist() == [easy]


def test_a_night_ends_from_three_to_two_in_the_afternoon():
    hours = np.array([2.99, 3.0, 7.5, 14.0, 14.01])
    assert conventions.ends_a_night(hours).tolist() == [False, True, True, True, False]


def test_the_clocks_night_is_from_midnight_to_six():
    assert conventions.CLOCK_NIGHT_H == (0.0, 6.0)
    assert conventions.WALK_WITHIN_MIN == 45.0


def test_without_logged_sleep_a_night_is_looked_through_from_half_an_hour_before_to_half_an_hour_after():
    """Between midnight and six somebody lies; already at 23:30 and still at 6:30 they may."""
    times = pd.date_range("2026-02-03T12:00", periods=288, freq="5min", tz="UTC")
    nights = find_sleeps(times, ZoneSpans(("UTC",)), pd.DataFrame({"start": times[:0], "end": times[:0]}))
    assert [(f"{begin:%d %H:%M}", f"{end:%d %H:%M}") for begin, end in nights] == [
        ("02 23:30", "03 06:30"), ("03 23:30", "04 06:30"),
    ]  # fmt: skip
