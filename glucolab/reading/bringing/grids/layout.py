"""Where is the table within its file? Lines before it, one header line or two, headers repeated, and its rows."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.moments import take_apart
from glucolab.reading.bringing.grids.drawn_on import take_drawn_on
from glucolab.reading.bringing.grids.grid import Grid
from glucolab.reading.bringing.grids.headings import take_headings
from glucolab.reading.bringing.grids.out_of import take_marks
from glucolab.reading.bringing.grids.sections import read_sections
from glucolab.reading.bringing.vocabulary.matching import likeness, split_name
from glucolab.reading.bringing.vocabulary.words import (
    ALL_COLUMN_WORDS,
)

_LOOKED_AT = 60
_UNIT_LIKE = re.compile(
    r"[\[(]?\s*(mg\s*/\s*dl|mmol\s*/\s*l|g|mg|kg|kcal|kj|cal|min|h|s|ms|bpm|%|\d+\s*[-–]\s*\d+|[dmytj]{2,4}([./-][dmytj]{2,4})*"
    r"|hh?:mm(:ss)?|local|utc|n|count|text|name|g/100 ?g|u/l|µg|iu)\s*[\])]?",
    re.IGNORECASE,
)


_NUMBER = re.compile(r"[<>]?\s*[-+−]?\d+(?:[.,]\d+)?(?:\s*\D{0,8})")
_LEAST_DATA = 2
"""So many rows of data above a header show that it is not the first. Assumed."""


@dataclass(frozen=True)
class Layout:
    """A grid of which is known what is header and what is body.

    Attributes
    ----------
    header : tuple of int
        Lines of the file on which the header stands; empty if it has none.
    names : list of str
        A name for each column, none twice.
    rows : list of list of str
        The body, headers that stand in it again left out.
    lines : list of int
        Line on which each row begins.
    preamble : tuple of str
        Text before the header.
    repeated : int
        How often the header stands again.
    said : tuple of str
        What other headers in the body say.
    faults : tuple of (int, str)
        Line and fault of rows whose cells have moved.
    """

    header: tuple[int, ...]
    names: list[str]
    rows: list[list[str]]
    lines: list[int]
    preamble: tuple[str, ...]
    repeated: int
    said: tuple[str, ...] = ()
    faults: tuple[tuple[int, str], ...] = ()

    def cells(self, place: int) -> list[str]:
        """The cells of one column, shape (n,)."""
        return [row[place] for row in self.rows]

    def place(self, name: str) -> int | None:
        """Position of a column by its name, or by #1, #2, …; None if there is none."""
        if name in self.names:
            return self.names.index(name)
        if re.fullmatch(r"#\d{1,4}", name) and 0 < int(name[1:]) <= len(self.names):
            return int(name[1:]) - 1
        return None


def lay_out(grid: Grid, header: tuple[int, ...]) -> Layout:
    """Part a grid at its header.

    Raises
    ------
    NothingToDo
        If a line of the header is not in the grid, or nothing follows it.
    """
    if missing := [line for line in header if line not in grid.lines]:
        raise NothingToDo(f"{grid.file} has no header on line {missing[0]}: that line is blank or not there")
    places = [grid.lines.index(line) for line in header]
    first = max(places, default=-1) + 1
    heads = [grid.rows[place] for place in places]
    body = [(line, row) for line, row in zip(grid.lines[first:], grid.rows[first:], strict=True)]
    kept = [(line, row) for line, row in body if row not in heads]
    if not kept:
        raise NothingToDo(f"{grid.file} holds a header and no row below it" if header else f"{grid.file} holds no rows")
    preamble = tuple(cell for row in grid.rows[: min(places, default=0)] for cell in row if cell)
    names = _name(heads, grid.width)
    rows, lines, said = read_sections([row for _, row in kept], [line for line, _ in kept], heads, grid.file)
    rows, lines, faults = _without_moved(grid, heads, rows, lines)
    names, rows, lines, days = take_headings(names, rows, lines)
    names, rows, drawn = take_drawn_on(names, rows, preamble)
    names, rows, marks = take_marks(names, rows)
    if not rows:
        raise NothingToDo(f"{grid.file} holds headings and no row below them")
    return Layout(header, names, rows, lines, preamble, len(body) - len(kept), (*said, *days, *drawn, *marks), faults)


def _without_moved(
    grid: Grid, heads: Sequence[Sequence[str]], rows: list[list[str]], lines: list[int]
) -> tuple[list[list[str]], list[int], tuple[tuple[int, str], ...]]:
    """Rows of a text without those that have more cells than its header names: a mark within a cell has moved them.

    Raises
    ------
    NothingToDo
        If half of the rows have: it is not known which cell is under which name.
    """
    width = max((i + 1 for head in heads for i, cell in enumerate(head) if cell), default=grid.width)
    moved = {i for i, row in enumerate(rows) if any(row[width:])} if grid.delimiter and width < grid.width else set()
    if not moved:
        return rows, lines, ()
    first, mark = min(moved), grid.delimiter
    if 2 * len(moved) >= len(rows):
        raise NothingToDo(
            f"{grid.file} line {lines[first]} has more cells than its header has names, as {len(moved)} of {len(rows)} "
            f"rows have: where {_word_mark(mark)} stands inside a cell, as in 5,4, the cells behind it move; export it "
            "with semicolons between the cells, or with quotation marks around them"
        )
    why = f"{_word_mark(mark)} inside a cell has moved them"
    text = f"has more cells than the header has names: {why}; the row is left out"
    kept = [i for i in range(len(rows)) if i not in moved]
    return [rows[i] for i in kept], [lines[i] for i in kept], tuple((lines[i], text) for i in sorted(moved))


def _word_mark(delimiter: str) -> str:
    return {",": "a comma", ";": "a semicolon", "|": "a bar"}.get(delimiter, "a tab")


def _name(heads: Sequence[Sequence[str]], width: int) -> list[str]:
    """A name for each column: the header's lines joined, numbered where it stands twice, else its place."""
    names: list[str] = []
    above = _spread(heads[0]) if len(heads) == 2 else [""] * width
    for place in range(width):
        own = heads[-1][place] if heads else ""
        name = " ".join(filter(None, (above[place], own))) or f"#{place + 1}"
        again = sum(1 for other in names if re.fullmatch(re.escape(name) + r"( \(\d+\))?", other))
        names.append(f"{name} ({again + 1})" if again else name)
    return names


def _spread(row: Sequence[str]) -> list[str]:
    """A heading that stands over several columns, over each of them."""
    spread, last = [], ""
    for cell in row:
        last = cell or last
        spread.append(last)
    return spread


def find_header(grid: Grid) -> tuple[int, ...]:
    """Lines of the header: the row with most words that name a column, and a line of units or of headings beside it.

    Raises
    ------
    NothingToDo
        If no row names a column.
    """
    if grid.header:
        return (grid.header,)
    counts = [0.0 if _is_units(row) else _count_names(row) for row in grid.rows[:_LOOKED_AT]]
    counts = [count * (1 + _is_followed(grid.rows, i)) for i, count in enumerate(counts)]
    best = max(counts, default=0.0)
    if best < 1 and (bare := _find_unknown(grid)) is not None:
        return (grid.lines[bare],)
    if best < 1:
        raise NothingToDo(
            f"{grid.file}: no line names columns that are known here; write a mapping "
            "(reports/commands.md, “Any table, any photo, any standard”) that says which column is what"
        )
    place = counts.index(best)
    rows = grid.rows
    data = [i for i, row in enumerate(rows[:place]) if _is_data(row)]
    if len(data) >= _LEAST_DATA:
        best = max(counts[: data[0]], default=0.0)
        if best < 1:
            raise NothingToDo(
                f"{grid.file} line {grid.lines[data[0]]} is a row of a table whose header stands below it, on line "
                f"{grid.lines[place]}: put the header first"
            )
        place = counts.index(best)
    if place + 1 < len(rows) and _is_units(rows[place + 1]):
        return grid.lines[place], grid.lines[place + 1]
    if place and grid.lines[place - 1] == grid.lines[place] - 1 and _is_heading(rows[place - 1], rows[place]):
        return grid.lines[place - 1], grid.lines[place]
    if place + 1 < len(rows) and _is_heading(rows[place], rows[place + 1]):
        return grid.lines[place], grid.lines[place + 1]
    return (grid.lines[place],)


def _is_followed(rows: Sequence[Sequence[str]], place: int) -> bool:
    """True where data stand below, at once or under a line of units."""
    return any(_is_data(row) for row in rows[place + 1 : place + 3])


def _find_unknown(grid: Grid) -> int | None:
    """The row of words, none of which is known, that stands over each column of the first data; None for none."""
    first = next((i for i, row in enumerate(grid.rows[:_LOOKED_AT]) if _is_data(row)), 0)
    if first == 0:
        return None
    names, data = grid.rows[first - 1], grid.rows[first]
    is_full = all(name or not cell for name, cell in zip(names, data, strict=True))
    return None if not is_full or any(_is_value(name) for name in names if name) else first - 1


def _is_data(row: Sequence[str]) -> bool:
    """True for a row with a time and with a number beside it."""
    filled = [cell for cell in row if cell]
    times = [cell for cell in filled if take_apart(cell) is not None]
    return bool(times) and any(_NUMBER.fullmatch(cell) for cell in filled if cell not in times)


def _count_names(row: Sequence[str]) -> float:
    """How many cells of a row name a column; a sentence does not."""
    filled = [cell for cell in row if cell]
    if len(filled) < 2:
        return 0.0
    worth = [
        likeness(split_name(cell)[0], ALL_COLUMN_WORDS) if len(cell) < 60 and not _is_value(cell) else 0.0
        for cell in filled
    ]
    known = sum(worth)
    return known * (0.5 + 0.5 * sum(w > 0 for w in worth) / len(filled))


def _is_value(cell: str) -> bool:
    return bool(re.fullmatch(r"[<>]?\s*[-+−]?[\d.,:/%\s-]+\S{0,6}", cell)) or take_apart(cell) is not None


def _is_units(row: Sequence[str]) -> bool:
    """True for a line of units and formats below the names."""
    filled = [cell for cell in row if cell]
    return bool(filled) and sum(bool(_UNIT_LIKE.fullmatch(cell)) for cell in filled) > len(filled) / 2


def _is_heading(above: Sequence[str], below: Sequence[str]) -> bool:
    """True where a line of headings, some standing over several columns, lies over a line of names."""
    filled = [place for place, cell in enumerate(above) if cell]
    if len(filled) < 2 or any(_is_value(cell) for cell in (*above, *below) if cell):
        return False
    covered = [place for place, cell in enumerate(below) if cell]
    gaps = [place for place, cell in enumerate(above) if not cell and filled[0] < place]
    return bool(covered) and any(below[place] for place in gaps)
