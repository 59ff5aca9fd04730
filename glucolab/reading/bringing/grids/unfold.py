"""Does a table have a column a day, a clock time or an analyte? It is laid out with a row for each of its cells."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from glucolab.reading.bringing.cells.moments import Written, take_apart
from glucolab.reading.bringing.grids.grid import Grid
from glucolab.reading.bringing.vocabulary.analytes import names_analyte, names_analytes
from glucolab.reading.bringing.vocabulary.matching import likeness, split_name
from glucolab.reading.bringing.vocabulary.words import CLOCK, DATE

_LOOKED_AT = 60
_LEAST_TIMES = 3
"""So many days or clock times in a header are columns of their own; a sleep has two. Assumed."""
_LEAST_ANALYTES = 2
"""So many names of what a laboratory measures, glucose apart, in a header are columns of their own. Assumed."""
_MOST = 0.7
_NUMBER = re.compile(r"[<>]?\s*[-+−]?[\d.,]+")
_Holds = Callable[[Written], bool]


def unfold(grid: Grid) -> Grid:
    """A grid whose header names days, clock times or analytes, with a row for each of its filled cells.

    Parameters
    ----------
    grid : Grid

    Returns
    -------
    Grid
        The same where its header names none; else with the header on the line on which it stood, and each row on the
        line of its cell.
    """
    for place, row in enumerate(grid.rows[:_LOOKED_AT]):
        body = grid.rows[place + 1 :]
        if not body:
            return grid
        for header, holds in (("a clock time", _is_clock), ("a day", _is_day)):
            first = _find_first(row, body, holds)
            if first and (found := _lay_out_times(grid, place, first, holds)) is not None:
                return _with_rows(grid, place, found, f"it has a column {header}")
        analytes = [i for i, cell in enumerate(row) if cell and names_analyte(split_name(cell)[0])]
        if len(analytes) >= _LEAST_ANALYTES and any(likeness(cell, DATE) > 0 for cell in row):
            return _with_rows(grid, place, _lay_out_analytes(row, body), "it has a column an analyte")
    return grid


def _is_clock(one: Written) -> bool:
    return one.clock is not None and one.numbers is None


def _is_day(one: Written) -> bool:
    return one.numbers is not None and one.clock is None


def _share(cells: Sequence[str], holds: _Holds) -> float:
    """Share of the filled cells that are such a time. [0-1]"""
    filled = [cell for cell in cells if cell]
    return sum((one := take_apart(cell)) is not None and holds(one) for cell in filled) / max(len(filled), 1)


def _find_first(row: Sequence[str], body: Sequence[Sequence[str]], holds: _Holds) -> int:
    """Place of the first of the header's times, which reach to its end and stand over none; 0 where there are none."""
    times = [i for i, cell in enumerate(row) if (one := take_apart(cell)) is not None and holds(one)]
    first = times[0] if times else 0
    if len(times) < _LEAST_TIMES or first == 0 or times != list(range(first, len(row))):
        return 0
    if len({row[i] for i in times}) < len(times) or any(take_apart(cell) is not None for cell in row[:first]):
        return 0
    below = [cell for cells in body for cell in cells[first:] if cell and not _NUMBER.fullmatch(cell)]
    return 0 if any(take_apart(cell) is not None for cell in set(below)) else first


def _lay_out_times(grid: Grid, place: int, first: int, holds: _Holds) -> list[tuple[int, list[str]]] | None:
    """Header and rows, each with the place of the row it was in; None where the first column does not fit."""
    row, body = grid.rows[place], grid.rows[place + 1 :]
    heads, times = row[:first], row[first:]
    labels = [cells[0] for cells in body]
    other, name = (_is_day, "date") if holds is _is_clock else (_is_clock, "time")
    cells = [(i, k, cell) for i, cells in enumerate(body, start=1) for k, cell in enumerate(cells[first:]) if cell]
    value = heads[0] if heads[0] and not _names_only_time(heads[0]) else "value"
    if first == 1 and _share(labels, other) >= _MOST:
        head = [name, "time" if name == "date" else "date", value]
        return [(0, head), *((i, [labels[i - 1], times[k], cell]) for i, k, cell in cells)]
    if holds is _is_clock:
        return None
    if first > 1 or names_analytes(filter(None, labels)):
        head = [*heads, "date", "value"]
        return [(0, head), *((i, [*body[i - 1][:first], times[k], cell]) for i, k, cell in cells)]
    turned = zip(times, *(cells[first:] for cells in body), strict=True)
    return [(0, ["date", *labels]), *((0, list(cells)) for cells in turned)]


def _names_only_time(name: str) -> bool:
    bare, inside = split_name(name)
    return not inside and likeness(bare, (*DATE, *CLOCK)) >= 1 - _MOST


def _lay_out_analytes(row: Sequence[str], body: Sequence[Sequence[str]]) -> list[tuple[int, list[str]]]:
    names = [split_name(cell) for cell in row]
    wide = [i for i, (bare, inside) in enumerate(names) if names_analyte(bare) or (bare and inside and i > 0)]
    fixed = [i for i in range(len(row)) if i not in wide]
    found = [(0, [*(row[i] for i in fixed), "analyte", "value", "unit"])]
    for at, cells in enumerate(body, start=1):
        kept = [cells[i] for i in fixed]
        found += [(at, [*kept, names[i][0], cells[i], " ".join(names[i][1])]) for i in wide if cells[i]]
    return found


def _with_rows(grid: Grid, place: int, found: list[tuple[int, list[str]]], what: str) -> Grid:
    width = max(grid.width, *(len(cells) for _, cells in found))
    rows = [[*row, *[""] * (width - len(row))] for row in (*grid.rows[:place], *(cells for _, cells in found))]
    lines = [*grid.lines[:place], *(grid.lines[place + at] for at, _ in found)]
    said = f"{what}: laid out with a row for each of its {len(found) - 1} cells"
    narrow = max(max((i + 1 for i, cell in enumerate(row) if cell), default=0) for row in rows)
    return replace(
        grid,
        rows=[row[:narrow] for row in rows],
        lines=lines,
        said=(*grid.said, said),
        header=grid.lines[place],
        delimiter="",
    )
