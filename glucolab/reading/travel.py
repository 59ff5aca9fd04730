"""Where were the wearer's clocks? Time zones of a wear, with the trips that notes.csv tells of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, to_utc
from glucolab.errors import Problem
from glucolab.reading.cells import WrittenTimes
from glucolab.reading.tables import ParsedTable


@dataclass(frozen=True)
class Trip:
    """The clocks show `zone` from `start` to `end`, or for good; [UTC]."""

    start: pd.Timestamp
    end: pd.Timestamp | None
    zone: str


@dataclass(frozen=True)
class Travel:
    """What notes.csv says of the clocks.

    Attributes
    ----------
    zones : ZoneSpans
    notes : ParsedTable
        The notes, their trips' times settled: a trip's start is read on the clocks before it, its
        end on the clocks of the trip.
    problems : tuple of Problem
    """

    zones: ZoneSpans
    notes: ParsedTable
    problems: tuple[Problem, ...]


def find_zones(notes: ParsedTable, home: str) -> Travel:
    """Zones of a wear that starts in the zone `home`, from the rows of kind travel."""
    kinds, names = (notes.values.get(name, [None] * len(notes.lines)) for name in ("kind", "time_zone"))
    problems = []
    trips: list[Trip] = []
    times = {name: WrittenTimes(t.local.copy(), t.utc.copy()) for name, t in notes.times.items()}
    rows = [i for i, kind in enumerate(kinds) if kind == "travel" and not np.isnat(_roughly(times["start"], i))]
    for i in sorted(rows, key=lambda i: _roughly(times["start"], i)):
        start = _settle(times["start"], i, spans_of(trips, home))
        if start is None:
            continue
        if names[i] is None:
            text = "travel without a time zone: the clocks are read as unchanged"
            problems.append(Problem(notes.file, text, int(notes.lines[i]), left_out=False))
            continue
        end = _settle(times["end"], i, ZoneSpans((names[i],))) if "end" in times else None
        trips.append(Trip(start, end if end is not None and end > start else None, names[i]))
    for i, (kind, name) in enumerate(zip(kinds, names, strict=True)):
        if name is not None and kind != "travel":
            text = "time_zone is not used: it is only read where kind is travel"
            problems.append(Problem(notes.file, text, int(notes.lines[i]), left_out=False))
    return Travel(spans_of(trips, home), replace(notes, times=times), tuple(problems))


def spans_of(trips: Sequence[Trip], home: str) -> ZoneSpans:
    """Zones in force: that of the trip begun last and not over, else `home`."""
    names, changes = [home], []
    edges = {trip.start for trip in trips} | {trip.end for trip in trips if trip.end is not None}
    for edge in sorted(edges):
        under_way = [t for t in trips if t.start <= edge and (t.end is None or edge < t.end)]
        name = max(under_way, key=lambda t: t.start).zone if under_way else home
        if name != names[-1]:
            names.append(name)
            changes.append(edge)
    return ZoneSpans(tuple(names), tuple(changes))


def _roughly(times: WrittenTimes, row: int) -> np.datetime64:
    return times.utc[row] if np.isnat(times.local[row]) else times.local[row]


def _settle(times: WrittenTimes, row: int, zones: ZoneSpans) -> pd.Timestamp | None:
    """The UTC time of one row, written back into `times`; None if there is none."""
    if not np.isnat(times.local[row]):
        settled = to_utc(pd.DatetimeIndex([times.local[row]]), zones)
        if settled.skipped[0]:
            return None
        times.utc[row] = settled.times.tz_localize(None).to_numpy()[0]
        times.local[row] = np.datetime64("NaT")
    return None if np.isnat(times.utc[row]) else pd.Timestamp(times.utc[row], tz="UTC")


RUNS_ON = 0.5
"""Share of the readings expected in the skipped hour that show it to be no slip [0-1]; assumed. Less reads a few wrong
times as a clock that stood, more loses the hour where readings are missing."""
_NEAR_STEPS = 2.5


def find_unchanged_clock(local: np.ndarray, zones: ZoneSpans) -> tuple[pd.Timestamp, str] | None:
    """Whether readings run on through the hour that the spring change skips, as by a clock that does not change.

    Parameters
    ----------
    local : numpy.ndarray of datetime64, shape (n,)
        Wall times of the readings as written, NaT where an offset is written.
    zones : ZoneSpans

    Returns
    -------
    tuple or None
        The beginning of the skipped hour, and the offset at the first reading such as ``UTC-05:00``; None where no
        reading lies there, only a few do, or the wearer travelled.
    """
    times = pd.DatetimeIndex(local[~np.isnat(local)]).unique().sort_values()
    if len(zones.names) > 1 or len(times) < 3:
        return None
    settled = to_utc(times, zones)
    inside = np.flatnonzero(settled.skipped)
    step = pd.Series(times).diff().median()
    if len(inside) < max(RUNS_ON * pd.Timedelta(hours=1) / step, 2) or inside[0] == 0 or inside[-1] == len(times) - 1:
        return None
    near = _NEAR_STEPS * step
    if times[inside[0]] - times[inside[0] - 1] > near or times[inside[-1] + 1] - times[inside[-1]] > near:
        return None
    minutes = round((times[0] - settled.times[0].tz_localize(None)) / pd.Timedelta(minutes=1))
    sign = "-" if minutes < 0 else "+"
    return times[inside[0]].floor("h"), f"UTC{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
