"""Days of illness, and the mean without them."""

import numpy as np
import pandas as pd
import pytest

from glucolab.analysis import analyse_wear
from glucolab.clock import days_between
from glucolab.measuring.illness import find_ill_days
from tests.hand_made import START, at, make_glucose, make_study, make_table, make_times, make_wear


def _days(*ill: bool | None) -> pd.DataFrame:
    first = START.tz_localize(None)
    return make_table("days", *({"date": first + pd.Timedelta(days=i), "ill": one} for i, one in enumerate(ill)))


def _note(kind: str, begin: tuple[str, int], end: tuple[str, int] | None = None) -> dict:
    return {"start": at(*begin), "kind": kind, "end": pd.NaT if end is None else at(*end)}


def _find(**tables) -> list[int]:
    wear = make_wear(days=5, **tables)
    return np.flatnonzero(find_ill_days(wear, days_between(wear.start, wear.end, wear.zones))).tolist()


def test_days_are_ill_by_their_row_or_by_a_note_that_touches_them():
    assert _find() == []
    assert _find(days_table=_days(False, True, None, True)) == [1, 3]
    through_midnight = _note("illness", ("22:00", 1), ("02:00", 2))
    assert _find(notes=make_table("notes", through_midnight, _note("heat", ("10:00", 3), ("11:00", 3)))) == [1, 2]
    assert _find(notes=make_table("notes", _note("illness", ("14:00", 3)))) == [3]
    assert _find(days_table=_days(True), notes=make_table("notes", _note("illness", ("12:00", 0), ("13:00", 0)))) == [0]


def test_the_mean_without_ill_days_is_that_of_the_others():
    """Two of six days at 130 mg/dL, the others at 100: 110 with them and 100 without."""
    times = make_times(6 * 288)
    ill = np.isin(np.arange(len(times)) // 288, [2, 3])
    frame = make_glucose(times, np.where(ill, 130.0, 100.0) + np.tile([1.0, -1.0], len(times) // 2))
    wear = make_wear(days=6, glucose=frame, days_table=_days(False, False, True, True))
    summary = analyse_wear(wear, make_study(wear)).summary
    assert summary["ill_days"] == 2
    assert summary["mean"]["estimate"] - summary["mean_without_ill_days"]["estimate"] == pytest.approx(10, abs=0.5)
    without = analyse_wear(make_wear(days=6, glucose=frame), make_study(wear)).summary
    assert (without["ill_days"], without["mean_without_ill_days"]) == (0, None)
    assert without["mean"] == summary["mean"]
