"""What can a foreign column hold? The share of its cells that are moments, days, numbers, lengths of time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from glucolab.reading.bringing.cells.amounts import clean_number, read_amounts, read_length
from glucolab.reading.bringing.cells.moments import SERIAL, Written, holds_spans, take_apart
from glucolab.reading.bringing.grids.layout import Layout
from glucolab.reading.bringing.vocabulary.matching import likeness, split_name
from glucolab.reading.bringing.vocabulary.words import CLOCK, DATE, MOMENT, START, TOTALS
from glucolab.reading.rules import LIMIT_WORDS
from glucolab.reading.text import plain

_SERIAL = re.compile(r"(?:3[6-9]|[4-6]\d)\d{3}(?:[.,]\d+)?")
"""Days from the year 1998 to 2091 as spreadsheets count them."""
_MOST = 0.7
_LEAST_EXACT = 0.5
"""So many cells must be exact numbers for ranges and estimates among them to be amounts too. Assumed."""
_LEAST_COLUMNS = 3
"""In a table of fewer columns a row with one cell may be a row like any other. Assumed."""
_NUMERIC = re.compile(r"[<>]?\s*[-+−]?[\d.,:]+")
_BLANKS = ("-", "?", "/", "")
_LOOSE = re.compile(
    r"(?:~|≈|±|<|>|ca\.?|circa|about|approx\.?|etwa|env\.?|\w{2,10}\.?)?\s*\d+(?:[.,]\d+)?\s*(?:[-–—~/]\s*\d+(?:[.,]\d+)?)?\s*\??"
)
"""An amount that is no exact one: a range, or a number with a sign or a word for about."""
_FIRST_SECOND, _LAST_SECOND = 9.5e8, 4.1e9
"""Counts since 1970 between the years 2000 and 2100."""


@dataclass(frozen=True)
class Facts:
    """A column of a foreign table.

    Attributes
    ----------
    place : int
    name : str
        As in the header.
    bare : str
        Without what stands in brackets.
    inside : tuple of str
        What stands in brackets.
    filled : list of str
        Its cells that are not blank.
    rows : list of int
        Row in which each of them stands.
    written : list of Written or None
        They, read as times.
    moment, day, clock, number, length : float
        Share of them that are a date with a clock time, a date alone, a clock time alone, a number, a length of time.
    beside : str
        Another column, whose cells stand in the rows that this one leaves empty.
    year : str
        Of dates that are written without one; "" where they have one.
    epoch : str
        "seconds since 1970", "milliseconds since 1970" or "days since 1899-12-30" if all are such counts, else "".
    """

    place: int
    name: str
    bare: str
    inside: tuple[str, ...]
    filled: list[str]
    rows: list[int]
    written: list[Written | None]
    moment: float
    day: float
    clock: float
    number: float
    length: float
    epoch: str
    beside: str = ""
    year: str = ""

    @property
    def is_moment(self) -> bool:
        """Most cells are a date with a clock time, or a count since 1970."""
        return self.moment > _MOST or bool(self.epoch)

    @property
    def is_day(self) -> bool:
        """Most cells are a date."""
        return self.day > _MOST

    @property
    def is_clock(self) -> bool:
        """Most cells are a clock time."""
        return self.clock > _MOST

    @property
    def is_number(self) -> bool:
        """Most cells are numbers."""
        return self.number > _MOST and not self.epoch

    @property
    def is_length(self) -> bool:
        """Most cells are lengths of time or numbers."""
        return self.number > _MOST or self.length > _MOST

    @property
    def is_time(self) -> bool:
        """Most cells are moments, days or clock times written as such."""
        return self.is_moment or self.is_day or (self.is_clock and not self.is_number)


def find_facts(layout: Layout) -> list[Facts]:
    """Facts of every column that has a filled cell; remarks and rows of totals say nothing of a column."""
    found = []
    passed = {i for i, row in enumerate(layout.rows) if _is_remark(row)}
    for place, name in enumerate(layout.names):
        cells = layout.cells(place)
        rows = [i for i, cell in enumerate(cells) if cell and i not in passed] or [
            i for i, cell in enumerate(cells) if cell
        ]
        if rows:
            found.append(_facts(place, name, [cells[i] for i in rows], rows))
    return found


def _is_remark(row: Sequence[str]) -> bool:
    """True for a row of a table of three columns or more that holds one text, or begins with a word for a total."""
    filled = [cell for cell in row if cell]
    if len(row) < _LEAST_COLUMNS or not filled:
        return False
    first = filled[0] if not re.search(r"\d", filled[0]) else ""
    return (len(filled) == 1 and not _NUMERIC.fullmatch(filled[0])) or (
        row[0] == first != "" and plain(first) in TOTALS
    )


def _facts(place: int, name: str, filled: list[str], rows: list[int]) -> Facts:
    bare, inside = split_name(name)
    spans = holds_spans(filled)
    seen = {cell: take_apart(cell) for cell in set(filled)}
    written = [None if spans else seen[cell] for cell in filled]
    numbers = _are_amounts(filled)
    lengths = {cell: read_length(cell) is not None for cell in set(filled)}
    count = len(filled)
    return Facts(
        place,
        name,
        bare,
        inside,
        filled,
        rows,
        written,
        moment=sum(1 for one in written if one and one.numbers and one.clock) / count,
        day=sum(1 for one in written if one and one.numbers and not one.clock) / count,
        clock=sum(1 for one in written if one and not one.numbers and one.clock) / count,
        number=float(numbers.mean()),
        length=sum(lengths[cell] for cell in filled) / count,
        epoch=_epoch(filled) or _serial(name, filled),
    )


def _are_amounts(filled: list[str]) -> np.ndarray:
    """True for numbers, and among them for ranges and estimates, of the cells that stand for something, shape (n,)."""
    blank = {cell for cell in set(filled) if clean_number(cell) in _BLANKS}
    told = [cell for cell in filled if cell not in blank] or filled if blank else filled
    numbers = _are_numbers(told)
    if _LEAST_EXACT <= numbers.mean() < 1.0:
        loose = {cell for cell in set(told) if _LOOSE.fullmatch(cell.strip())}
        numbers |= np.array([cell in loose for cell in told], dtype=bool)
    return numbers


def _are_numbers(filled: list[str]) -> np.ndarray:
    """True for numbers, with or without a unit, and for a sensor's words at its limits, shape (n,)."""
    read = [read_amounts(filled, mark) for mark in ".,"]
    numbers = np.isfinite(read[0].values) | np.isfinite(read[1].values)
    short = np.array([len(unit) <= 12 for unit in read[0].units], dtype=bool)
    limits = np.array([LIMIT_WORDS.fullmatch(clean_number(cell)) is not None for cell in filled], dtype=bool)
    return (numbers & short) | limits


def _serial(name: str, filled: list[str]) -> str:
    """Days as spreadsheets count them, with a part of a day, in a column that is called a time."""
    if not all(_SERIAL.fullmatch(cell) for cell in filled) or not likeness(name, (*MOMENT, *CLOCK, *DATE, *START)) > 0:
        return ""
    return SERIAL if any("." in cell or "," in cell for cell in filled) else ""


def _epoch(filled: list[str]) -> str:
    if not all(re.fullmatch(r"\d{9,13}(\.\d+)?", cell) for cell in filled):
        return ""
    values = np.array(filled, dtype=float)
    for name, scale in (("seconds since 1970", 1), ("milliseconds since 1970", 1000)):
        if ((values >= _FIRST_SECOND * scale) & (values < _LAST_SECOND * scale)).all():
            return name
    return ""
