"""Which rows are kept, and what is told of the others? Parsed tables as the record holds them."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import Problem
from glucolab.reading.cells import settle_times
from glucolab.reading.tables import Fault, ParsedTable, count_many
from glucolab.record import empty_table
from glucolab.record.study import INSIDE_NAMES


@dataclass(frozen=True)
class SettledTable:
    """A table as the record holds it, and everything that was wrong with it."""

    frame: pd.DataFrame
    problems: tuple[Problem, ...]


Rule = Callable[[ParsedTable, dict[str, Any]], list[Fault]]


def settle_table(
    parsed: ParsedTable, zones: ZoneSpans, rules: Sequence[Rule] = (), needed: Sequence[str] = ()
) -> SettledTable:
    """Give the record's table: times in UTC, bad cells empty, bad rows left out.

    Parameters
    ----------
    parsed : ParsedTable
    zones : ZoneSpans
        What the wearer's clocks showed.
    rules : sequence of callables
        Each takes the parsed table and its columns and returns faults that show only across cells;
        it may change the columns.
    needed : sequence of str
        Columns that a row cannot do without, beside those that the schema requires.

    Returns
    -------
    SettledTable
    """
    columns, faults, doubts = find_faults(parsed, zones, rules)
    required = {None, *needed, *(column.name for column in parsed.table.columns if column.required)}
    kept = np.ones(len(parsed.lines), dtype=bool)
    kept[[fault.row for fault in faults if fault.column in required]] = False
    problems = [*parsed.problems, *_word(parsed, faults, required), *_word(parsed, doubts, set(), left_out=False)]
    return SettledTable(_frame(parsed, columns)[kept], tuple(sorted(problems, key=_by_line)))


def find_faults(
    parsed: ParsedTable, zones: ZoneSpans, rules: Sequence[Rule]
) -> tuple[dict[str, Any], list[Fault], list[Fault]]:
    """The columns with times in UTC, the cells that cannot be used, and those that are used with a doubt."""
    columns: dict[str, Any] = {**parsed.values}
    faults, doubts = list(parsed.faults), []
    for name, written in parsed.times.items():
        settled = settle_times(written, zones, parsed.cells[name], name)
        columns[name] = settled.times
        faults += [Fault(row, name, text) for row, text in settled.faults.items()]
        doubts += [Fault(row, name, text) for row, text in settled.doubts.items()]
    for rule in rules:
        faults += rule(parsed, columns)
    return columns, faults, doubts


def _word(
    parsed: ParsedTable, faults: list[Fault], required: set[str | None], *, left_out: bool = True
) -> list[Problem]:
    """Faults as problems; of a column with very many, the first ones and a count."""
    by_column: dict[str | None, list[Fault]] = {}
    for fault in sorted(faults, key=lambda f: f.row):
        by_column.setdefault(fault.column, []).append(fault)

    def word(fault: Fault) -> Problem:
        text = f"{fault.text}; the row is left out" if fault.column in required else fault.text
        return Problem(parsed.file, text, int(parsed.lines[fault.row]), left_out)

    return [
        problem
        for column, found in by_column.items()
        for problem in count_many(found, f"cells of {column}" if column else "rows", word)
    ]


def _by_line(problem: Problem) -> float:
    return math.inf if problem.line is None else problem.line


def _frame(parsed: ParsedTable, columns: Mapping[str, Any]) -> pd.DataFrame:
    index = pd.Index(parsed.lines, name="line")
    inside = {INSIDE_NAMES.get(name, name): values for name, values in columns.items()}
    full: dict[Hashable, pd.Series] = {
        name: pd.Series(inside.get(str(name)), index=index, dtype=column.dtype)
        for name, column in empty_table(parsed.table.name).items()
    }
    for name, values in parsed.further.items():
        full[name] = pd.Series(values, index=index, dtype="float64" if isinstance(values, np.ndarray) else "str")
    return pd.DataFrame(full, index=index)
