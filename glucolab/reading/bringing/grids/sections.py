"""Does another header stand within a table? Its columns brought under the first one's, or the file refused."""

from __future__ import annotations

import re
from collections.abc import Sequence

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.amounts import find_unit
from glucolab.reading.bringing.cells.moments import take_apart
from glucolab.reading.bringing.cells.zones import find_zone
from glucolab.reading.bringing.vocabulary.matching import likeness, split_name
from glucolab.reading.bringing.vocabulary.units import GLUCOSE_UNIT_WORDS, UNIT_FACTORS
from glucolab.reading.bringing.vocabulary.words import ALL_COLUMN_WORDS
from glucolab.reading.text import plain, show

_UNITS = frozenset(GLUCOSE_UNIT_WORDS) | {unit for factors in UNIT_FACTORS.values() for unit in factors}
_SURE = 0.7
"""So much of a line's cells, by likeness, must name columns for it to be a header. Assumed."""


def read_sections(
    rows: list[list[str]], lines: list[int], heads: Sequence[Sequence[str]], file: str
) -> tuple[list[list[str]], list[int], tuple[str, ...]]:
    """The rows of a body without headers that stand within it, all in the columns of the first header.

    A header of the same columns in another order moves the cells below it; one in which a column has another unit
    writes that unit beside each number below it.

    Parameters
    ----------
    rows : list of list of str
    lines : list of int
        Line on which each row begins.
    heads : sequence of sequences of str
        The first header, one line or two.
    file : str
        For messages.

    Returns
    -------
    rows : list of list of str
    lines : list of int
    said : tuple of str

    Raises
    ------
    NothingToDo
        If another header has other columns: the file holds two tables.
    """
    if not heads:
        return rows, lines, ()
    first = list(heads[-1])
    at = [i for i, row in enumerate(rows) if _is_header(row, first)]
    if not at:
        return rows, lines, ()
    kept, numbers, said = rows[: at[0]], lines[: at[0]], []
    for i, end in zip(at, [*at[1:], len(rows)], strict=True):
        order = _find_order(rows[i], first)
        if order is None:
            names = ", ".join(f'"{show(cell)}"' for cell in rows[i] if cell)
            raise NothingToDo(
                f"{file} line {lines[i]} is another header ({names}), with other columns: the file holds two tables; "
                "save each in a file of its own"
            )
        pairs = [(rows[i][place], name) for place, name in zip(order, first, strict=True) if place is not None]
        if any(find_zone(one) != find_zone(other) for one, other in pairs):
            raise NothingToDo(
                f"{file} line {lines[i]} is another header, of times in another zone: part the file there"
            )
        units = [_unit_of(rows[i][place]) if place is not None else "" for place in order]
        units = [unit if unit != _unit_of(name) else "" for unit, name in zip(units, first, strict=True)]
        said.append(f"line {lines[i]} is a header again" + _word_changes(order, units, first))
        for row in rows[i + 1 : end]:
            moved = [row[place] if place is not None else "" for place in order]
            kept.append([_with_unit(cell, unit) for cell, unit in zip(moved, units, strict=True)])
        numbers += lines[i + 1 : end]
    if not kept:
        raise NothingToDo(f"{file} holds headers and no row below them")
    return kept, numbers, tuple(said)


def _is_header(row: Sequence[str], first: Sequence[str]) -> bool:
    """True for a row of the first header's names in any order, or of words that all name columns."""
    filled = [cell for cell in row if cell]
    if len(filled) < 2 or any(_is_value(cell) for cell in filled):
        return False
    if {_bare(cell) for cell in filled} == {_bare(cell) for cell in first if cell}:
        return True
    worth = [likeness(split_name(cell)[0], ALL_COLUMN_WORDS) for cell in filled]
    return len(filled) >= sum(map(bool, first)) - 1 and sum(worth) >= _SURE * len(filled)


def _is_value(cell: str) -> bool:
    return bool(re.fullmatch(r"[<>]?\s*[-+−]?[\d.,:/%\s-]+\S{0,6}", cell)) or take_apart(cell) is not None


def _bare(name: str) -> str:
    """A column's name without its unit."""
    bare, _ = split_name(name)
    words = plain(bare).split()
    text = plain(bare)
    for unit in (plain(unit) for unit in _UNITS):
        if unit and len(words) > 1 and text.endswith(f" {unit}"):
            text = text[: -len(unit) - 1]
            break
    return text


def _unit_of(name: str) -> str:
    texts = (*split_name(name)[1], name)
    return next((unit for text in texts if (unit := find_unit(text, _UNITS))), "")


def _find_order(row: Sequence[str], first: Sequence[str]) -> list[int | None] | None:
    """Place in the row of each column of the first header; None if the columns are not the same."""
    places = {_bare(cell): place for place, cell in enumerate(row) if cell}
    wanted = [_bare(cell) for cell in first]
    if set(places) != {name for name in wanted if name} or len(places) != sum(map(bool, wanted)):
        return None
    return [places.get(name) if name else place for place, name in enumerate(wanted)]


def _with_unit(cell: str, unit: str) -> str:
    return f"{cell} {unit}" if unit and re.fullmatch(r"[<>]?\s*[-+−]?[\d.,]+", cell) else cell


def _word_changes(order: Sequence[int | None], units: Sequence[str], first: Sequence[str]) -> str:
    changes = ["its columns stand in another order"] if any(p != i for i, p in enumerate(order)) else []
    changes += [f'"{show(name)}" is in {unit} from there on' for name, unit in zip(first, units, strict=True) if unit]
    return f": {' and '.join(changes)}" if changes else ""
