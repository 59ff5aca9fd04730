"""Which rows of a log of meals hold the sum of the rows beside them? By their names and by their numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Words
from glucolab.reading.bringing.vocabulary.words import TOTALS
from glucolab.reading.text import plain, show

_NUTRIENTS = ("carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal")
_ROUNDING = 0.6
"""Sums of rounded numbers are off by no more for each of them; assumed."""
_SURE = 2
"""So many nutrients that add up are no accident. Assumed."""


def find_totals(
    columns: dict[str, Facts], times: Sequence[Facts], mark: str, answers: Answers, said: list[str]
) -> tuple[Words, ...]:
    """The column and the names by which rows of totals are left out; none where there are none.

    Parameters
    ----------
    columns : dict of str to Facts
        Columns of meals.
    times : sequence of Facts
        The columns of their time.
    mark : {".", ","}
        The decimal mark.
    answers : Answers
    said : list of str
        Grows by what was found.
    """
    names = columns["name"]
    by_row = dict(zip(names.rows, names.filled, strict=True))
    timed = set.intersection(*(set(f.rows) for f in times))
    named = {row for row, cell in by_row.items() if row in timed and _names_total(cell)}
    values = _read_nutrients(columns, mark)
    adding = _find_sums(_group(times, _as_written), values)
    adding |= {row: count for row, count in _find_sums(_group(times, _date_of), values).items() if row in named}
    total = {row: adding.get(row, 0) for row in named | adding.keys()}
    if not total:
        return ()
    words = tuple(dict.fromkeys(by_row[row] for row in sorted(total) if row in by_row))
    others = {cell for row, cell in by_row.items() if row not in total}
    sure = all(adding.get(row) and (row in named or adding[row] >= _SURE) for row in total)
    example = show(words[0])
    if others.isdisjoint(words) and sure:
        said.append(f'{len(total)} rows such as "{example}" hold the sum of the rows beside them, and are left out')
        return ((names.name, words),)
    text = f'{len(total)} rows such as "{example}" look like totals of the rows beside them'
    choices = (("leave_out", "totals: rows of these names are not brought"), ("keep", "food of its own"))
    return ((names.name, words),) if answers.ask(Question("totals", text, choices)) == "leave_out" else ()


def _names_total(cell: str) -> bool:
    text = f" {plain(cell)} "
    return any(f" {word} " in text for word in TOTALS if word not in ("ende", "nombre", "mean", "media", "medel"))


def _as_written(f: Facts) -> dict[int, object]:
    return {row: " ".join(cell.split()) for row, cell in zip(f.rows, f.filled, strict=True)}


def _date_of(f: Facts) -> dict[int, object]:
    return {row: one.numbers if one else None for row, one in zip(f.rows, f.written, strict=True)}


def _group(times: Sequence[Facts], key_of: Callable[[Facts], dict[int, object]]) -> list[list[int]]:
    """Rows with the same key in every column of their time."""
    keys = [key_of(f) for f in times]
    groups: dict[tuple[object, ...], list[int]] = {}
    for row in sorted(set.intersection(*map(set, keys))):
        groups.setdefault(tuple(one[row] for one in keys), []).append(row)
    return list(groups.values())


def _read_nutrients(columns: dict[str, Facts], mark: str) -> list[dict[int, float]]:
    """Amounts by row, of every nutrient that the file has."""
    return [
        dict(zip(f.rows, read_amounts(f.filled, mark).values, strict=True))
        for name in _NUTRIENTS
        if (f := columns.get(name)) is not None
    ]


def _find_sums(groups: Sequence[Sequence[int]], values: Sequence[dict[int, float]]) -> dict[int, int]:
    """Rows whose nutrients are the sum of two or more other rows of their group, and how many nutrients are."""
    found: dict[int, int] = {}
    for rows in groups:
        if len(rows) < 3:
            continue
        table = np.array([[one.get(row, np.nan) for one in values] for row in rows], dtype=float).reshape(len(rows), -1)
        sums = np.nansum(table, axis=0)
        adds = np.abs(2 * table - sums) <= _ROUNDING * len(rows)
        tells = np.isfinite(table) & (table > _ROUNDING * len(rows))
        for i, row in enumerate(rows):
            if tells[i].any() and adds[i][np.isfinite(table[i])].all():
                found[row] = int((adds[i] & tells[i]).sum())
    return found
