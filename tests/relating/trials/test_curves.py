"""Do an experiment's curves start from their own baseline, and hold the dates that count alone?"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from glucolab.record.trial_outputs import TRIAL_CURVES
from glucolab.relating.trials.curves import gather_trial_curves

START = pd.Timestamp("2026-02-03T00:00", tz="UTC")


def trace_of(glucose):
    time = START + pd.to_timedelta(np.arange(len(glucose)) * 5, unit="min")
    return SimpleNamespace(
        time=time,
        glucose_mg_dl=np.asarray(glucose, float),
        cells=lambda at: np.asarray((at - START) / pd.Timedelta(minutes=5)),
    )


def dates_of(*rows):
    return pd.DataFrame(rows, columns=["trial", "arm", "wear", "used", "at", "date"])


def test_each_curve_is_above_the_mean_of_its_own_half_hour():
    """A ramp of 1 mg/dL in five minutes: the half hour before lies 3.5 below the moment of eating on average."""
    at = START + pd.Timedelta(hours=2)
    day = pd.Timestamp("2026-02-03")
    dates = dates_of(
        ("t", "walk", "w", True, at, day), ("t", "rest", "w", False, at, day), ("t", "rest", "x", True, at, day)
    )
    curves = gather_trial_curves(dates, {"w": trace_of(80 + np.arange(100))})
    assert list(curves.columns) == TRIAL_CURVES.names
    assert curves["arm"].unique().tolist() == ["walk"]
    by_minute = curves.set_index("minutes")["above_mg_dl"]
    assert by_minute[0] == pytest.approx(3.5)
    assert by_minute[180] == pytest.approx(3.5 + 36)
    assert curves["date"].eq(day).all()


def test_what_was_not_recorded_stays_empty_and_nothing_gives_an_empty_table():
    at = START + pd.Timedelta(hours=2)
    dates = dates_of(("t", "walk", "w", True, at, pd.Timestamp("2026-02-03")))
    glucose = np.full(100, 90.0)
    glucose[30:40] = np.nan
    curves = gather_trial_curves(dates, {"w": trace_of(glucose)})
    assert curves["above_mg_dl"].isna().sum() == 10
    assert list(gather_trial_curves(dates.iloc[:0], {}).columns) == TRIAL_CURVES.names
