"""From when to when? Masks over readings turned into spans of time, and back."""

from __future__ import annotations

import numpy as np
import pandas as pd


def mask_to_spans(mask: pd.Series, interval_min: float, flag: str, action: str) -> pd.DataFrame:
    """Spans of neighbouring readings that a mask marks.

    Parameters
    ----------
    mask : Series of bool, shape (n,)
        Indexed by time, ascending. [UTC]
    interval_min : float
        What one reading stands for. [min]
    flag : str
    action : {"exclude", "note"}

    Returns
    -------
    DataFrame
        ``start, end, minutes, flag, action``; a span is half-open and ends with its last reading's
        interval, or at the next reading where that comes sooner.
    """
    marked = mask.to_numpy(dtype=bool)
    if not marked.any():
        return empty_spans()
    times = pd.DatetimeIndex(mask.index)
    begins = np.flatnonzero(marked & ~np.r_[False, marked[:-1]])
    lasts = np.flatnonzero(marked & ~np.r_[marked[1:], False])
    last_end = times[lasts] + pd.Timedelta(minutes=interval_min)
    following = times[np.minimum(lasts + 1, len(times) - 1)]
    clipped = last_end.where((following >= last_end) | (lasts + 1 >= len(times)), following)
    # readings of one moment may be marked together: a span then still stands for something
    end = clipped.where(clipped > times[begins], last_end)
    return make_spans(times[begins], end, flag, action)


def make_spans(start: pd.DatetimeIndex, end: pd.DatetimeIndex, flag: str, action: str) -> pd.DataFrame:
    """A table of spans with one flag and one action."""
    minutes = (end - start) / pd.Timedelta(minutes=1)
    return pd.DataFrame({"start": start, "end": end, "minutes": minutes, "flag": flag, "action": action})


def empty_spans() -> pd.DataFrame:
    """A table of spans without rows."""
    none = pd.DatetimeIndex([], tz="UTC").as_unit("us")
    return make_spans(none, none, "", "")


def spans_to_mask(
    times: pd.DatetimeIndex, start: pd.Series | pd.DatetimeIndex, end: pd.Series | pd.DatetimeIndex
) -> np.ndarray:
    """True where a time lies in any half-open span, shape (n,)."""
    stamps = times.as_unit("us").asi8
    starts = np.sort(pd.DatetimeIndex(start).as_unit("us").asi8)
    ends = np.sort(pd.DatetimeIndex(end).as_unit("us").asi8)
    return np.searchsorted(starts, stamps, side="right") > np.searchsorted(ends, stamps, side="right")
