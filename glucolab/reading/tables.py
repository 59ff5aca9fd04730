"""What does a table hold? One reader for every input table, driven by its schema.

It works in two steps, because local times can only be settled once notes.csv has said where the
wearer was: `parse_table` reads the cells, `settling.settle_table` gives the record's table.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from glucolab.errors import Problem
from glucolab.reading import cells as cell
from glucolab.reading.header import match_header
from glucolab.reading.text import decode, is_plain, read_rows, show
from glucolab.record import Column, Table

_MOST_NAMED = 20
"""So many bad cells of one column are named one by one; the rest are counted."""

ColumnValues = Sequence[Any] | np.ndarray
"""Of one column, None or NaN where a cell is missing."""


class Fault(NamedTuple):
    """A cell that cannot be used; with no column, or a required one, the row is left out."""

    row: int
    column: str | None
    text: str


@dataclass(frozen=True)
class ParsedTable:
    """A table whose cells are read and whose times still stand as written.

    Attributes
    ----------
    table : Table
        Its schema.
    file : str
        Path below the study folder.
    lines : numpy.ndarray of int, shape (n,)
        Line of the file on which each row begins.
    cells : dict of str to list of str
        As written, by column.
    values : dict of str to array-like
        Known columns, times apart.
    times : dict of str to WrittenTimes
        Known columns of times.
    further : dict of str to array-like
        Columns that the schema does not name: text, or numbers where they are covariates.
    faults : tuple of Fault
    problems : tuple of Problem
        Of the header, and of rows that could not be split.
    photo_times : tuple of str
        Of each row "offset" or "local" if its time is that of a photo, with or without the camera's offset, else "";
        empty if no time is.
    """

    table: Table
    file: str
    lines: np.ndarray
    cells: dict[str, list[str]]
    values: dict[str, ColumnValues]
    times: dict[str, cell.WrittenTimes]
    further: dict[str, ColumnValues]
    faults: tuple[Fault, ...]
    problems: tuple[Problem, ...]
    photo_times: tuple[str, ...] = ()


def parse_table(
    data: bytes, table: Table, file: str, words: Mapping[str, re.Pattern[str]] | None = None
) -> ParsedTable:
    """Read the cells of one table.

    Parameters
    ----------
    data : bytes
        The file.
    table : Table
        Its schema.
    file : str
        Path below the study folder, for the problems.
    words : mapping of str to re.Pattern, optional
        Words that a column of numbers may hold; they are missing among its values, and no fault.

    Returns
    -------
    ParsedTable

    Raises
    ------
    UnreadableError
        If the file is empty, lacks a required column or is no text at all.
    """
    text = decode(data)
    rows = read_rows(text, table.names)
    written, problems = match_header(rows, table, file)
    broken = [Problem(file, f"{fault}; the row is left out", line) for line, fault in rows.broken]
    faults = [] if is_plain(text) else _blank_unreadable(written)
    comma = "," in text and _writes_decimal_commas(written, table)
    values: dict[str, ColumnValues] = {}
    times: dict[str, cell.WrittenTimes] = {}
    for column in table.columns:
        if column.name in written:
            cells = written[column.name]
            parsed, found = _PARSERS[column.kind](column, cells, comma)
            (times if column.kind == "time" else values)[column.name] = parsed
            allowed = (words or {}).get(column.name)
            faults += [
                Fault(i, column.name, what)
                for i, what in found.items()
                if not (allowed and allowed.fullmatch(cells[i]))
            ]
            faults += _find_empty(column, cells, faults)
    lines = np.array(rows.lines, dtype=np.int64)
    further, further_faults, doubts = _read_further(written, table, comma, lines, file)
    faults = _find_moved(faults + further_faults, rows.long)
    problems += count_many(broken, "rows") + doubts
    return ParsedTable(table, file, lines, written, values, times, further, tuple(faults), tuple(problems))


_PARSERS: dict[str, Callable[..., Any]] = {
    "time": lambda column, cells, comma: cell.parse_times(cells, column.name),
    "number": lambda column, cells, comma: cell.parse_numbers(
        cells, column.name, column.low, column.high, decimal_comma=comma
    ),
    "text": lambda column, cells, comma: cell.parse_text(cells, column.name),
    "choice": lambda column, cells, comma: cell.parse_choices(cells, column.name, column.choices),
    "zone": lambda column, cells, comma: cell.parse_zones(cells, column.name),
    "true_false": lambda column, cells, comma: cell.parse_true_false(cells, column.name),
    "date": lambda column, cells, comma: cell.parse_dates(cells, column.name),
    "clock": lambda column, cells, comma: cell.parse_clock_times(cells, column.name),
}


def _find_empty(column: Column, cells: Sequence[str], faults: Sequence[Fault]) -> list[Fault]:
    """A fault for every empty cell of a required column that has none yet."""
    if not column.required or all(cells):
        return []
    spoilt = {fault.row for fault in faults if fault.column == column.name}
    empty = [i for i, text in enumerate(cells) if not text and i not in spoilt]
    return [Fault(i, column.name, f"{column.name} is empty") for i in empty]


def _find_moved(faults: list[Fault], long: Mapping[int, str]) -> list[Fault]:
    """The faults, one alone for a row that has a cell too many and one that cannot be read."""
    moved = {fault.row for fault in faults if fault.row in long}
    others = [fault for fault in faults if fault.row not in moved]
    return others + [Fault(row, None, long[row]) for row in sorted(moved)]


def _blank_unreadable(written: dict[str, list[str]]) -> list[Fault]:
    """Empty the cells that hold NULs or bytes that are not UTF-8, and say so."""
    faults = []
    for name, cells in written.items():
        for i, text in enumerate(cells):
            if not is_plain(text):
                faults.append(Fault(i, name, f'{name} "{show(text)}" is not UTF-8 text: save the file as UTF-8'))
                cells[i] = ""
    return faults


def _writes_decimal_commas(written: dict[str, list[str]], table: Table) -> bool:
    return any(c.kind == "number" and cell.has_decimal_comma(written.get(c.name, ())) for c in table.columns)


def _read_further(
    written: Mapping[str, list[str]], table: Table, comma: bool, lines: np.ndarray, file: str
) -> tuple[dict[str, ColumnValues], list[Fault], list[Problem]]:
    """Columns beyond the schema: text, or in a table with covariates numbers where they are."""
    strange = [name for name in written if name not in table.names]
    further: dict[str, ColumnValues] = {name: cell.parse_text(written[name], name)[0] for name in strange}
    faults: list[Fault] = []
    doubts: list[Problem] = []
    if table.covariates:
        for name in strange:
            values, found = cell.parse_covariate(written[name], name, decimal_comma=comma)
            if values is None:
                row, what = next(iter(sorted(found.items())))
                text = f"{what}; the column is kept as text and is no covariate"
                doubts.append(Problem(file, text, int(lines[row]), left_out=False))
            else:
                further[name] = values
                faults += [Fault(row, name, what) for row, what in found.items()]
    return further, faults, doubts


def as_it_is(problem: Problem) -> Problem:
    """Of problems that are worded already."""
    return problem


def count_many(found: Sequence[Any], what: str, word: Callable[[Any], Problem] = as_it_is) -> list[Problem]:
    """The problems of one kind, counted from the twenty-first on; a million of them are not worded.

    Parameters
    ----------
    found : sequence
    what : str
        Their plural.
    word : callable, optional
        Makes a problem of one of them.
    """
    named = [word(one) for one in found[:_MOST_NAMED]]
    if len(found) <= _MOST_NAMED:
        return named
    first, last = word(found[_MOST_NAMED]), word(found[-1])
    text = f"{len(found) - _MOST_NAMED} more {what} like this, lines {first.line} to {last.line}"
    return [*named, Problem(first.file, text, left_out=first.left_out)]
