"""Are the rows of one file those of one person, and of one sensor? A column that parts them into several is asked."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.times import Dates
from glucolab.reading.bringing.mapping.mapping import Source, Words
from glucolab.reading.bringing.mapping.times import read_dates, read_times
from glucolab.reading.bringing.vocabulary.rows import names_device, names_person
from glucolab.reading.cells import parse_dates, parse_times
from glucolab.reading.text import show

_MOST_SERIES = 6
"""A column of more different cells parts no rows into persons or sensors. Assumed."""
_FILLED = 0.9
"""So many rows must say whose they are. Assumed."""
_ALIKE, _REGULAR = 0.25, 0.8
"""Steps that differ from their median by no more than the one share are alike; a sensor's are, in the other share of
them at least. Assumed: a trend or a mark comes at no such steps."""
_BETWEEN = 0.5
"""In so many of its steps a series has a reading of another one, or there is only one series. Assumed."""
_DAY_MIN = 1440
_LEAST_STEPS = 12
"""Fewer steps say nothing of how regular they are. Assumed."""
_READ_BY_DEVICES = ("glucose", "checks")
_WHOLE_DAYS = ("days", "labs")
_OF_THINGS = ("meals", "activity", "sleep", "movement")


def find_series(
    table: str, source: Source, facts: Sequence[Facts], used: set[str], dates: Dates, answers: Answers
) -> tuple[Words, ...]:
    """The column, and its cell, of the series that is kept; none where all rows are of one.

    A column that names persons or devices parts the rows where it comes back to a former one, or where several have
    rows within the wear. Any other column does so if its cells come at steps as regular as a sensor's, with those of
    another in between. Which one this wear is, is asked.

    Parameters
    ----------
    table : str
        Of ours.
    source : Source
        Of the time of its rows, the order of dates settled.
    facts : sequence of Facts
        All columns of the file.
    used : set of str
        Those of them that are brought.
    dates : Dates
        Of the wear: what lies outside does not come in.
    answers : Answers
    """
    candidates = [f for f in facts if f.name not in used and _may_part(f, facts)]
    times = _read_minutes(table, source, facts, dates) if candidates else {}
    for f in candidates:
        parts = _part(f, times)
        named = names_person(f.bare, table in _OF_THINGS) or (table in _READ_BY_DEVICES and names_device(f.bare))
        unnamed = table == "glucose" and not f.is_number and _run_at_once(parts)
        if len(parts) > 1 and (_comes_back(parts) if named else unnamed):
            return _ask(f, parts, answers)
    return ()


def _may_part(f: Facts, facts: Sequence[Facts]) -> bool:
    rows = max(len(g.filled) for g in facts)
    return not f.is_time and 2 <= len(set(f.filled)) <= _MOST_SERIES and len(f.filled) >= _FILLED * rows


def _read_minutes(table: str, source: Source, facts: Sequence[Facts], dates: Dates) -> dict[int, float]:
    """Minutes by row, of the rows on days of the wear; laboratory values are of any day. [min]"""
    by_name = {f.name: f for f in facts}
    columns = [by_name[name] for name in source.columns]
    count = 1 + max(f.rows[-1] for f in columns)
    cells = [[""] * count for _ in columns]
    for texts, f in zip(cells, columns, strict=True):
        for row, cell in zip(f.rows, f.filled, strict=True):
            texts[row] = cell
    if table in _WHOLE_DAYS:
        moments, _ = parse_dates(read_dates(cells[0], source, "date")[0], "date")
    else:
        written, _ = parse_times(read_times(cells, source, "time")[0], "time")
        moments = np.where(np.isnat(written.utc), written.local, written.utc)
    days = moments.astype("datetime64[D]")
    inside = ~np.isnat(moments)
    if table != "labs":
        inside &= (days >= np.datetime64(dates.first)) if dates.first else inside
        inside &= (days <= np.datetime64(dates.last)) if dates.last else inside
    return {
        row: float(moments[row].astype("datetime64[us]").astype(np.int64)) / 60e6
        for row in np.flatnonzero(inside).tolist()
    }


def _part(f: Facts, times: dict[int, float]) -> dict[str, np.ndarray]:
    """Minutes of the rows of each cell of a column, ascending. [min]"""
    parts: dict[str, list[float]] = {}
    for row, cell in zip(f.rows, f.filled, strict=True):
        if row in times:
            parts.setdefault(cell, []).append(times[row])
    return {cell: np.sort(np.array(minutes)) for cell, minutes in parts.items()}


def _comes_back(parts: dict[str, np.ndarray]) -> bool:
    """True where one of the series goes on after another began, or begins after the first day."""
    spans = sorted((minutes[0], minutes[-1]) for minutes in parts.values())
    first_day = spans[0][0] // _DAY_MIN
    return any(later[0] <= earlier[1] or later[0] // _DAY_MIN > first_day for earlier, later in pairwise(spans))


def _run_at_once(parts: dict[str, np.ndarray]) -> bool:
    """True where two series are each as regular as a sensor's, and lie in one another's steps."""
    regular = [minutes for minutes in parts.values() if _is_regular(minutes)]
    return any(_share_between(one, other) >= _BETWEEN for one in regular for other in regular if one is not other)


def _is_regular(minutes: np.ndarray) -> bool:
    steps = np.diff(np.unique(minutes))
    if len(steps) < _LEAST_STEPS:
        return False
    usual = float(np.median(steps))
    return bool((np.abs(steps - usual) <= _ALIKE * usual).mean() >= _REGULAR)


def _share_between(one: np.ndarray, other: np.ndarray) -> float:
    """Share of the steps of a series, while the other runs, in which the other has a reading. [0-1]"""
    edges = np.unique(one)
    edges = edges[(edges >= other[0]) & (edges <= other[-1])]
    if len(edges) < _LEAST_STEPS:
        return 0.0
    inside = np.diff(np.searchsorted(np.unique(other), edges, side="left"))
    return float((inside > 0).mean())


def _ask(f: Facts, parts: dict[str, np.ndarray], answers: Answers) -> tuple[Words, ...]:
    names = " and ".join(f'"{show(cell)}"' for cell in parts)
    text = f'"{show(f.name)}" parts the rows into those of {names}, and a wear is of one sensor on one person'
    choices = [(cell, f"its {len(minutes)} rows alone") for cell, minutes in parts.items()]
    answer = answers.ask(Question("series", text, (*choices, ("all", "they are of one: all rows are brought"))))
    return () if answer == "all" else ((f.name, (answer,)),)
