"""What is missing, and why? Usable time, coverage, and gaps with their kinds."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.cleaning.spans import spans_to_mask
from glucolab.record import WearPeriod

_MINUTE = pd.Timedelta(minutes=1)
"""What lengths of time are divided by to count minutes: a unit, no limit. [min]"""


def usable_minutes(
    times: pd.DatetimeIndex, interval_min: float, start: pd.Timestamp, end: pd.Timestamp
) -> tuple[np.ndarray, np.ndarray]:
    """What each usable reading stands for: from itself to its interval's end or the next reading.

    Parameters
    ----------
    times : DatetimeIndex, shape (n,)
        Usable readings, ascending. [UTC]
    interval_min : float
        Sampling interval. [min]
    start, end : Timestamp
        Time outside is not counted. [UTC]

    Returns
    -------
    begins, ends : numpy.ndarray of float, shape (n,)
        Minutes since 1970; they do not overlap.
    """
    begins = times.as_unit("us").asi8 / 60e6
    ends = np.minimum(begins + interval_min, np.r_[begins[1:], np.inf])
    low, high = minutes_since_1970(start), minutes_since_1970(end)
    begins = np.clip(begins, low, high)
    return begins, np.clip(ends, begins, high)


def minutes_since_1970(moment: pd.Timestamp) -> float:
    """Minutes from 1970-01-01 UTC."""
    return float(moment.timestamp() / 60)


def count_minutes(begins: np.ndarray, ends: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Usable minutes between neighbouring edges.

    Parameters
    ----------
    begins, ends : numpy.ndarray, shape (n,)
        From :func:`usable_minutes`.
    edges : numpy.ndarray, shape (m,)
        Ascending minutes since 1970.

    Returns
    -------
    numpy.ndarray, shape (m - 1,)
        [min]
    """
    if not len(begins):
        return np.zeros(len(edges) - 1)
    lengths = np.r_[0.0, np.cumsum(ends - begins)]
    place = np.searchsorted(begins, edges, side="right")
    partial = np.where(
        place > 0, np.clip(edges - begins[np.maximum(place - 1, 0)], 0, (ends - begins)[np.maximum(place - 1, 0)]), 0.0
    )
    until = lengths[np.maximum(place - 1, 0)] + partial
    return np.diff(until)


def find_gaps(
    wear: WearPeriod,
    usable: pd.DatetimeIndex,
    readings: pd.DataFrame,
    interval_min: float,
    start: pd.Timestamp,
    end: pd.Timestamp,
) -> pd.DataFrame:
    """Spans without usable readings, from the end of warm-up to the end of the wear.

    Parameters
    ----------
    wear : WearPeriod
    usable : DatetimeIndex
        Usable readings, ascending. [UTC]
    readings : DataFrame
        All readings, ascending: ``time``, ``excluded`` (bool), ``taken``.
    interval_min : float
        Sampling interval. [min]
    start, end : Timestamp
        [UTC]

    Returns
    -------
    DataFrame
        ``start, end, minutes, kind``. A gap has at least one reading missing.
    """
    within = usable[(usable >= start) & (usable <= end)]
    stands = pd.Timedelta(minutes=interval_min)
    begin = pd.DatetimeIndex([start]).append(within + stands)
    between = pd.DataFrame({"start": begin, "end": within.append(pd.DatetimeIndex([end]))})
    gaps = between[between["end"] - between["start"] >= stands / 2].reset_index(drop=True)
    kinds = [_gap_kind(a, b, wear, readings, interval_min, end) for a, b in gaps.itertuples(index=False)]
    gaps["minutes"] = (gaps["end"] - gaps["start"]).dt.total_seconds() / 60
    gaps["kind"] = pd.Series(kinds, dtype="str")
    return gaps


def _gap_kind(
    a: pd.Timestamp, b: pd.Timestamp, wear: WearPeriod, readings: pd.DataFrame, interval_min: float, end: pd.Timestamp
) -> str:
    times = pd.DatetimeIndex(readings["time"])
    low, high = times.searchsorted(a - 0.5 * interval_min * _MINUTE), times.searchsorted(b)
    excluded = readings["excluded"].to_numpy()[low:high]
    if excluded.sum() * interval_min >= 0.5 * (b - a) / _MINUTE:
        return "flagged"
    if b >= end and high >= len(times):
        return "ended_early" if wear.end is not None else "unknown"
    if wear.memory_hours is None:
        return "signal_lost"
    return "missed_scan" if _scan_came_late(b, wear.memory_hours, readings, interval_min) else "unknown"


def _scan_came_late(b: pd.Timestamp, memory_hours: float, readings: pd.DataFrame, interval_min: float) -> bool:
    """True if the history that follows a gap reaches back just as far as the sensor remembers.

    The next scan tells, where scans are marked; without marks, unbroken history for as long as
    the sensor remembers is what a scan at its end would leave.
    """
    memory = memory_hours * 60
    later = readings[readings["time"] >= b]
    by_hand = later.loc[later["taken"] == "by_hand", "time"]
    if len(by_hand):
        reach = (by_hand.iloc[0] - b) / _MINUTE
        return abs(reach - memory) <= 2 * interval_min + 10
    upto = later[later["time"] <= b + memory * _MINUTE]
    return len(upto) >= 0.9 * memory / interval_min


def overlaps(times: pd.DatetimeIndex, spans: pd.DataFrame) -> np.ndarray:
    """True where a time lies within any of the spans, shape (n,)."""
    return spans_to_mask(times, spans["start"], spans["end"])
