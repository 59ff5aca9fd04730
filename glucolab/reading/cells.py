"""What does a cell mean? Columns of text as numbers, times, dates and words; what cannot be read is named.

Every function here takes the stripped cells of one column and returns its values, missing where a
cell is empty or cannot be read, and its faults: position of the cell to what was found in it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, is_zone, to_utc
from glucolab.reading.text import restore, show

Cells = Sequence[str]
Texts = list[str]
Faults = dict[int, str]
"""What is wrong with a cell, by its place in the column."""
_Word = TypeVar("_Word", str, bool)

FIRST_YEAR, LAST_YEAR = 1900, 2100
"""Dates outside are typing errors; pandas could hold them, calendars and time zones could not."""

_CLOCK = r"([01]\d|2[0-3]):[0-5]\d"
_TIME = re.compile(rf"\d{{4}}-\d\d-\d\d[T ]{_CLOCK}(:\d\d(\.\d{{1,9}})?)?(?P<offset>Z|[+-]\d\d(:?\d\d)?)?", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_CLOCK_ONLY = re.compile(_CLOCK, re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_GROUPED_BY_COMMA = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+", re.ASCII)
_GROUPED_BY_POINT = re.compile(r"[+-]?[1-9]\d{0,2}(\.\d{3})+", re.ASCII)
_WORDS_OF_TRUTH = {"true": True, "1": True, "false": False, "0": False}


def positions(mask: np.ndarray) -> list[int]:
    """Positions at which a mask is true."""
    return np.flatnonzero(mask).tolist()


def has_decimal_comma(cells: Cells) -> bool:
    """True if a cell is a number whose comma can only be a decimal comma."""
    return any("," in c and _DECIMAL_COMMA.fullmatch(c) and not _GROUPED_BY_COMMA.fullmatch(c) for c in cells)


def parse_numbers(
    cells: Cells, name: str, low: float | None = None, high: float | None = None, *, decimal_comma: bool = False
) -> tuple[np.ndarray, Faults]:
    """Numbers with a decimal point or comma.

    Parameters
    ----------
    cells : sequence of str, shape (n,)
    name : str
        The column, for the wording.
    low, high : float, optional
        Smallest and largest number allowed.
    decimal_comma : bool
        The file writes decimal commas somewhere, so that ``1.234`` may mean 1234.

    Returns
    -------
    values : numpy.ndarray of float, shape (n,)
    faults : dict of int to str
    """
    values = np.array(pd.to_numeric(np.array(cells, dtype=object), errors="coerce"), dtype=float)
    unread = positions(~np.isfinite(values))
    values[unread] = np.nan
    faults: Faults = {}
    for i in unread:
        cell = cells[i]
        if _GROUPED_BY_COMMA.fullmatch(cell):
            faults[i] = _word_ambiguous(name, cell, ",")
        elif _DECIMAL_COMMA.fullmatch(cell):
            values[i] = float(cell.replace(",", "."))
        elif cell:
            faults[i] = f'{name} "{show(cell)}" is not a number'
    if decimal_comma:
        for i, cell in enumerate(cells):
            if _GROUPED_BY_POINT.fullmatch(cell):
                faults[i] = _word_ambiguous(name, cell, ".")
    for i in positions(_outside(values, low, high)):
        faults.setdefault(i, f'{name} "{show(cells[i])}" is {_word_range(values[i], low, high)}')
    values[list(faults)] = np.nan
    return values, faults


def _outside(values: np.ndarray, low: float | None, high: float | None) -> np.ndarray:
    outside = np.zeros(len(values), bool)
    if low is not None:
        outside |= values < low
    if high is not None:
        outside |= values > high
    return outside


def _word_range(value: float, low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f"outside {low:g} to {high:g}"
    return f"below {low:g}" if low is not None and value < low else f"above {high:g}"


def _word_ambiguous(name: str, cell: str, mark: str) -> str:
    one, other = cell.replace(mark, "."), cell.replace(mark, "")
    may = f"may mean {other}" if one.count(".") > 1 else f"may mean {one} or {other}"
    return f'{name} "{show(cell)}" {may}: write it with a decimal point and without grouping'


@dataclass(frozen=True)
class WrittenTimes:
    """Times as they were written: `local` without an offset, `utc` with one, NaT where not, shape (n,)."""

    local: np.ndarray
    utc: np.ndarray


def parse_times(cells: Cells, name: str) -> tuple[WrittenTimes, Faults]:
    """ISO 8601 times with date, hour and minute, with or without an offset, mixed in one column."""
    text = np.array(cells, dtype=object)
    if (local := _parse_uniform(text)) is not None:
        return WrittenTimes(local, np.full(len(cells), np.datetime64("NaT", "us"))), {}
    matches = [_TIME.fullmatch(cell) for cell in cells]
    with_offset = np.array([m is not None and m["offset"] is not None for m in matches], dtype=bool)
    without = np.array([m is not None for m in matches], dtype=bool) & ~with_offset
    times = WrittenTimes(_parse_iso(text, without, utc=False), _parse_iso(text, with_offset, utc=True))
    unread = np.isnat(times.local) & np.isnat(times.utc)
    return times, {i: _word_time(cells[i], name) for i in positions(unread) if cells[i]}


def _parse_uniform(text: np.ndarray) -> np.ndarray | None:
    """Local times all written to the minute, or all to the second; None if one is not. The quick way for readings."""
    lengths = set(map(len, text))
    if lengths not in ({16}, {19}):
        return None
    try:
        parsed = pd.to_datetime(text, format="ISO8601")
    except ValueError:
        return None
    if parsed.tz is not None:
        return None
    values = parsed.as_unit("us").to_numpy()
    as_written = np.datetime_as_string(values, unit="m" if lengths == {16} else "s") == text.astype(str)
    return values if as_written.all() and not np.isnat(_refuse_years(values)).any() else None


def _parse_iso(text: np.ndarray, mine: np.ndarray, *, utc: bool) -> np.ndarray:
    values = np.full(len(text), np.datetime64("NaT", "us"))
    if mine.any():
        parsed = pd.to_datetime(text[mine], format="ISO8601", errors="coerce", utc=utc).as_unit("us")
        values[mine] = parsed.tz_localize(None).to_numpy() if utc else parsed.to_numpy()
    return _refuse_years(values)


def _refuse_years(values: np.ndarray) -> np.ndarray:
    years = values.astype("datetime64[Y]").astype(np.int64) + 1970
    return np.where((years < FIRST_YEAR) | (years >= LAST_YEAR), np.datetime64("NaT", "us"), values)


def _word_time(cell: str, name: str) -> str:
    if _DATE.fullmatch(cell):
        return f'{name} "{show(cell)}" has no clock time: write it as {cell}T08:10'
    if _TIME.fullmatch(cell):
        return f'{name} "{show(cell)}" {_word_no_such_day(cell)}'
    return f'{name} "{show(cell)}" is not a time such as 2026-02-03T08:10'


def _word_no_such_day(cell: str) -> str:
    if FIRST_YEAR <= int(cell[:4]) < LAST_YEAR:
        return "does not exist in the calendar"
    return f"lies outside the years {FIRST_YEAR} to {LAST_YEAR - 1}"


@dataclass(frozen=True)
class SettledTimes:
    """Times in UTC, NaT where there is none, with faults (no such time) and doubts (kept, but say so)."""

    times: pd.DatetimeIndex
    faults: Faults
    doubts: Faults


def settle_times(written: WrittenTimes, zones: ZoneSpans, cells: Cells, name: str) -> SettledTimes:
    """UTC of written times; local ones by the wearer's clocks, in the order of the rows."""
    utc = written.utc.copy()
    rows = np.flatnonzero(~np.isnat(written.local))
    faults: Faults = {}
    doubts: Faults = {}
    if len(rows):
        local = to_utc(pd.DatetimeIndex(written.local[rows]), zones)
        utc[rows] = local.times.tz_localize(None).to_numpy()
        for i in rows[local.skipped].tolist():
            faults[i] = f'{name} "{show(cells[i])}" does not exist: the spring clock change skips it'
        for i in rows[local.between_zones].tolist():
            doubts[i] = f'{name} "{show(cells[i])}" was never shown: the change of zone on a trip jumps over it'
    return SettledTimes(pd.DatetimeIndex(utc, tz="UTC"), faults, doubts)


def parse_dates(cells: Cells, name: str) -> tuple[np.ndarray, Faults]:
    """Dates such as 2026-02-03, as naive datetime64[us]."""
    matches = np.array([_DATE.fullmatch(cell) is not None for cell in cells], dtype=bool)
    values = _parse_iso(np.array(cells, dtype=object), matches, utc=False)
    faults = {}
    for i in positions(np.isnat(values)):
        cell = cells[i]
        if cell:
            why = _word_no_such_day(cell) if matches[i] else "is not a date such as 2026-02-03"
            faults[i] = f'{name} "{show(cell)}" {why}'
    return values, faults


def parse_clock_times(cells: Cells, name: str) -> tuple[list[str | None], Faults]:
    """Clock times HH:MM, kept as text."""
    return _parse_words(
        cells, name, lambda c: c if _CLOCK_ONLY.fullmatch(c) else None, "is not a clock time such as 08:10"
    )


def parse_choices(cells: Cells, name: str, choices: Sequence[str]) -> tuple[list[str | None], Faults]:
    """Words out of a list, in any case."""
    known = {choice.lower(): choice for choice in choices}
    return _parse_words(cells, name, lambda c: known.get(c.lower()), f"is none of {', '.join(choices)}")


def parse_zones(cells: Cells, name: str) -> tuple[list[str | None], Faults]:
    """IANA names of time zones."""
    return _parse_words(cells, name, lambda c: c if is_zone(c) else None, "is not a time zone such as Europe/Lisbon")


def parse_true_false(cells: Cells, name: str) -> tuple[list[bool | None], Faults]:
    """The words true and false, or 1 and 0."""
    why = "is not true or false (write true, false, 1 or 0)"
    return _parse_words(cells, name, lambda c: _WORDS_OF_TRUTH.get(c.lower()), why)


def parse_text(cells: Cells, name: str) -> tuple[list[str | None], Faults]:
    """Any text, a neutralised formula as it was; the empty cell is missing."""
    return [restore(cell) or None for cell in cells], {}


def _parse_words(
    cells: Cells, name: str, read: Callable[[str], _Word | None], why: str
) -> tuple[list[_Word | None], Faults]:
    seen = {cell: read(cell) for cell in set(cells) if cell}
    faults = {i: f'{name} "{show(c)}" {why}' for i, c in enumerate(cells) if c and seen[c] is None}
    return [seen.get(cell) for cell in cells], faults


def parse_covariate(cells: Cells, name: str, *, decimal_comma: bool) -> tuple[np.ndarray | None, Faults]:
    """A further column of days: numbers, or true (1) and false (0); None if most cells are neither."""
    digits = [{"true": "1", "false": "0"}.get(cell.lower(), cell) for cell in cells]
    values, faults = parse_numbers(digits, name, decimal_comma=decimal_comma)
    written = sum(map(bool, cells))
    return (None if 2 * len(faults) > written else values), faults
