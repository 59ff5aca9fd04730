"""What time was it there? Local days, clock changes, and travel; UTC inside, local only through here."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

ONE_DAY = pd.Timedelta(days=1)
"""From one local date to the next, by definition; a day between two moments may have 23 or 25 hours. [dates]"""


@dataclass(frozen=True)
class ZoneSpans:
    """Which zone the wearer's clocks showed when.

    Attributes
    ----------
    names : tuple of str
        IANA names; the first holds from the beginning.
    changes : tuple of pandas.Timestamp
        When each following zone took over, ascending, one fewer than `names`. [UTC]
    """

    names: tuple[str, ...]
    changes: tuple[pd.Timestamp, ...] = ()

    def at(self, times: pd.DatetimeIndex) -> np.ndarray:
        """Index into `names` of the zone in force at each UTC time, shape (n,)."""
        changes = pd.DatetimeIndex(self.changes, tz="UTC").as_unit("us")
        return np.searchsorted(changes.asi8, times.as_unit("us").asi8, side="right")


UTC = ZoneSpans(("UTC",))
"""The clock that tables keep, where nobody's own is known."""


def is_zone(name: str) -> bool:
    """True if `name` is an IANA time zone known here."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def to_local(times: pd.DatetimeIndex | pd.Series, zones: ZoneSpans) -> pd.DatetimeIndex:
    """Local wall time, without zone, of UTC times, shape (n,)."""
    times = pd.DatetimeIndex(times).as_unit("us")
    where = zones.at(times)
    local = times.tz_convert(zones.names[0]).tz_localize(None)
    for i, name in enumerate(zones.names[1:], start=1):
        mine = where == i
        if mine.any():
            local = local.where(~mine, times.tz_convert(name).tz_localize(None))
    return local


@dataclass(frozen=True)
class Localized:
    """UTC times of local ones, and what was odd about each.

    Attributes
    ----------
    times : pandas.DatetimeIndex
        [UTC], NaT where the local time does not exist or was NaT.
    skipped : numpy.ndarray of bool
        The clock change in spring skips this local time.
    between_zones : numpy.ndarray of bool
        The change of zone on a trip skips it; taken as the earlier zone's time.
    repeated : numpy.ndarray of bool
        It happened twice.
    """

    times: pd.DatetimeIndex
    skipped: np.ndarray
    between_zones: np.ndarray
    repeated: np.ndarray


def to_utc(local: pd.DatetimeIndex | pd.Series, zones: ZoneSpans) -> Localized:
    """UTC times of local wall times, in the order of the rows of a table.

    A local time that happened twice is taken as the first, unless the rows before it show the
    second: it is then earlier than they are. Tables that run newest first are read backwards.

    Parameters
    ----------
    local : DatetimeIndex or Series of naive datetimes, shape (n,)
    zones : ZoneSpans

    Returns
    -------
    Localized
    """
    local = pd.DatetimeIndex(local).as_unit("us")
    first, second = _candidates(local, zones)
    missing = np.asarray(local.isna())
    none = (first == _NEVER) & ~missing
    in_gap = np.zeros(len(local), bool)
    for name, after, change in zip(zones.names[:-1], zones.names[1:], zones.changes, strict=True):
        mine = none & _jumped_over(local, name, after, change)
        first = np.where(mine, _localize(local, name, True), first)
        in_gap |= mine
    repeated = (second != _NEVER) & (second > first)
    chosen = _follow_order(first, second, repeated)
    nat = (chosen == _NEVER) | missing
    times = pd.DatetimeIndex(pd.to_datetime(np.where(nat, 0, chosen), unit="us", utc=True)).as_unit("us")
    return Localized(pd.DatetimeIndex(times.where(~nat)), none & ~in_gap, in_gap, repeated)


_NEVER = np.iinfo(np.int64).max


def _microseconds(moment: pd.Timestamp) -> int:
    return int(pd.DatetimeIndex([moment]).as_unit("us").asi8[0])


def _jumped_over(local: pd.DatetimeIndex, before: str, after: str, change: pd.Timestamp) -> np.ndarray:
    """True where a change of zone moves the clock past a local time."""
    old, new = (change.tz_convert(name).tz_localize(None) for name in (before, after))
    return np.asarray((local >= old) & (local < new))


def _localize(local: pd.DatetimeIndex, name: str, is_dst: bool) -> np.ndarray:
    """Microseconds since 1970 of local times in one zone, _NEVER where the zone skips them."""
    aware = local.tz_localize(name, ambiguous=np.full(len(local), is_dst), nonexistent="NaT")
    return np.where(aware.isna(), _NEVER, aware.tz_convert("UTC").as_unit("us").asi8)


def _candidates(local: pd.DatetimeIndex, zones: ZoneSpans) -> tuple[np.ndarray, np.ndarray]:
    """First and last instants at which the wearer's clocks showed each local time."""
    edges = [-_NEVER, *(_microseconds(t) for t in zones.changes), _NEVER]
    first = np.full(len(local), _NEVER)
    last = np.full(len(local), -_NEVER)
    for i, name in enumerate(zones.names):
        for is_dst in (True, False):
            value = _localize(local, name, is_dst)
            inside = (value != _NEVER) & (value >= edges[i]) & (value < edges[i + 1])
            first = np.where(inside, np.minimum(first, value), first)
            last = np.where(inside, np.maximum(last, value), last)
    return first, np.where(last == -_NEVER, _NEVER, last)


def _follow_order(first: np.ndarray, second: np.ndarray, repeated: np.ndarray) -> np.ndarray:
    chosen = first.copy()
    rows = np.flatnonzero(repeated)
    if not len(rows):
        return chosen
    known = first[first != _NEVER]
    backwards = len(known) > 1 and np.count_nonzero(np.diff(known) < 0) > len(known) / 2
    step = -1 if backwards else 1
    for i in rows[::step]:
        before = i - step
        if (
            0 <= before < len(first)
            and chosen[before] != _NEVER
            and chosen[before] > first[i]
            and second[i] >= chosen[before]
        ):
            chosen[i] = second[i]
    return chosen


@dataclass(frozen=True)
class Days:
    """Local days that follow each other without a hole.

    Attributes
    ----------
    dates : pandas.DatetimeIndex
        The local dates, naive, shape (d,).
    edges : pandas.DatetimeIndex
        Where each begins, and where the last ends, shape (d + 1,). [UTC]
    """

    dates: pd.DatetimeIndex
    edges: pd.DatetimeIndex

    @property
    def minutes(self) -> np.ndarray:
        """Length of each day, 23 or 25 hours when the clocks change, shape (d,). [min]"""
        return np.diff(self.edges.asi8) / 60e6

    def of(self, times: pd.DatetimeIndex | pd.Series) -> np.ndarray:
        """Position of the day each UTC time lies in, -1 outside, shape (n,)."""
        stamps = pd.DatetimeIndex(times).as_unit("us")
        place = np.searchsorted(self.edges.asi8, stamps.asi8, side="right") - 1
        outside = (place >= len(self.dates)) | np.asarray(stamps.isna())
        return np.where(outside, -1, place)


def days_between(start: pd.Timestamp, end: pd.Timestamp, zones: ZoneSpans) -> Days:
    """The local days that the span from `start` to `end` touches.

    A midnight that the clocks skip begins at the first moment after it; one that they repeat on
    a trip begins at the last, so that days never overlap.
    """
    first, last = to_local(pd.DatetimeIndex([start, end - pd.Timedelta(microseconds=1)]), zones).normalize()
    last = max(first, last)
    dates = pd.date_range(first, last, freq="D", unit="us")
    midnights = pd.date_range(first, last + ONE_DAY, freq="D", unit="us")
    return Days(dates, day_starts(midnights, zones))


def day_starts(dates: pd.DatetimeIndex, zones: ZoneSpans) -> pd.DatetimeIndex:
    """The UTC moment at which each local date begins, shape (n,)."""
    starts = []
    for name in zones.names:
        aware = dates.tz_localize(name, ambiguous=np.ones(len(dates), bool), nonexistent="shift_forward")
        starts.append(aware.tz_convert("UTC").as_unit("us").asi8)
    chosen = starts[0]
    for change, later in zip(zones.changes, starts[1:], strict=True):
        at = _microseconds(change)
        chosen = np.where(later >= at, later, np.minimum(chosen, at))
    return pd.DatetimeIndex(pd.to_datetime(np.maximum.accumulate(chosen), unit="us", utc=True)).as_unit("us")


def local_hours(times: pd.DatetimeIndex, zones: ZoneSpans) -> np.ndarray:
    """Local time of day of UTC times, 0 <= h < 24, shape (n,). [h]"""
    local = to_local(times, zones)
    return np.asarray(local.hour + local.minute / 60 + local.second / 3600, dtype=float)


def format_times(times: pd.Series | pd.DatetimeIndex, zones: ZoneSpans) -> np.ndarray:
    """ISO 8601 text with the local offset, to the second; empty for NaT, shape (n,)."""
    stamps = pd.DatetimeIndex(times).as_unit("us")
    local = to_local(stamps, zones)
    missing = np.asarray(stamps.isna())
    if not len(stamps):
        return np.array([], dtype=object)
    safe_local = np.where(missing, np.datetime64("1970-01-01T00:00:00", "s"), local.values.astype("datetime64[s]"))
    text = np.datetime_as_string(safe_local, unit="s").astype(object)
    offset_min = np.where(missing, 0, (local.asi8 - stamps.asi8) // 60_000_000)
    suffix = {
        int(m): f"{'-' if m < 0 else '+'}{abs(int(m)) // 60:02d}:{abs(int(m)) % 60:02d}" for m in np.unique(offset_min)
    }
    result = text + np.array([suffix[int(m)] for m in offset_min], dtype=object)
    result[missing] = ""
    return result
