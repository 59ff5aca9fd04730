"""Which days was the wearer ill? By the day's own row, or by a noted illness."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.clock import Days
from glucolab.record import WearPeriod


def find_ill_days(wear: WearPeriod, days: Days) -> np.ndarray:
    """True for days of illness, shape (d,).

    Parameters
    ----------
    wear : WearPeriod
        A day is one of illness if days.csv says so, or if a span of illness in notes.csv touches it; a note without
        an end is of the day it begins on.
    days : Days
    """
    told = wear.days.reindex(columns=["date", "ill"])
    ill = np.isin(days.dates, pd.DatetimeIndex(told.loc[told["ill"].eq(True).fillna(False).astype(bool), "date"]))
    spans = wear.notes[wear.notes["kind"] == "illness"]
    starts, ends = pd.DatetimeIndex(spans["start"]), pd.DatetimeIndex(spans["end"].fillna(spans["start"]))
    touched = (starts.to_numpy() < days.edges[1:].to_numpy()[:, None]) & (
        ends.to_numpy() >= days.edges[:-1].to_numpy()[:, None]
    )
    return ill | touched.any(axis=1)
