"""What would a file bring into a wear? Read and set beside what is there; nothing is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.grids.any_file import read_grid
from glucolab.reading.bringing.grids.grid import Grid
from glucolab.reading.bringing.grids.layout import lay_out
from glucolab.reading.bringing.inferring.ambiguities import Answers
from glucolab.reading.bringing.inferring.table import guess_mapping
from glucolab.reading.bringing.inferring.times import Dates
from glucolab.reading.bringing.mapping.apply import apply_mapping
from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.bringing.mapping.mapping import BRINGABLE
from glucolab.reading.bringing.mapping.mapping import Mapping as TableMapping
from glucolab.reading.bringing.mapping.mapping_file import read_mapping
from glucolab.reading.bringing.merging.merge_rows import Added, add_rows
from glucolab.reading.standards import read_standard
from glucolab.reading.text import show
from glucolab.reading.wear_context import Place, find_place

SHOWN = 5
"""So many rows are shown before and after."""


@dataclass(frozen=True)
class Bringing:
    """A file on its way into a wear; nothing is written yet.

    Attributes
    ----------
    place : Place
    brought : Brought
        What the file says in the contract's words, and how it was understood.
    added : tuple of Added
        What is new in it, a table each.
    before : pandas.DataFrame or None
        The first rows as they stand in the file; None for files of open standards, which are no tables.
    mapping : Mapping or None
        That was given or guessed; None for files of open standards, which need none.
    """

    place: Place
    brought: Brought
    added: tuple[Added, ...]
    before: pd.DataFrame | None
    mapping: TableMapping | None

    @property
    def problems(self) -> tuple[Problem, ...]:
        """All that was left out or is to be known."""
        return (*self.brought.problems, *(problem for one in self.added for problem in one.problems))

    @property
    def changes(self) -> bool:
        """True if something would be written."""
        return any(one.changes for one in self.added)

    @property
    def paths(self) -> list[Path]:
        """The files that would change."""
        return [self.place.path(one.table) for one in self.added if one.changes]

    def after(self, table: str) -> pd.DataFrame:
        """The first rows of one table as they would stand in the study."""
        frame = next(one.new for one in self.added if one.table == table)
        return frame.loc[:, (frame != "").any()].head(SHOWN) if len(frame) else frame.head(0)


def bring_file(
    file: Path,
    wear: Path,
    *,
    table: str | None = None,
    mapping: Path | None = None,
    sheet: str | None = None,
    answers: Mapping[str, str] | None = None,
) -> Bringing:
    """Read any file for one wear, and say what would come in; nothing is written.

    Parameters
    ----------
    file : Path
        A delimited table, a spreadsheet, or a file of one of the open standards that are known.
    wear : Path
        The wear's folder.
    table : str, optional
        Which table of ours it is; else it is told from its columns.
    mapping : Path, optional
        A mapping file; else one is guessed.
    sheet : str, optional
        Which sheet of a spreadsheet.
    answers : mapping of str to str, optional
        What the wearer said where the file has two readings.

    Returns
    -------
    Bringing

    Raises
    ------
    NothingToDo
        If nothing can be brought, and why.
    UnsettledError
        If the file has two readings.
    """
    if table is not None and table not in BRINGABLE:
        raise NothingToDo(f'"{show(table)}" is no table that can be brought: it is one of {", ".join(BRINGABLE)}')
    place = find_place(wear)
    said_so = Answers(dict(answers or {}))
    if mapping is None and sheet is None and (standard := read_standard(Path(file), said_so)) is not None:
        return _add(place, standard, None, None)
    grid = read_grid(Path(file), sheet)
    if mapping is not None:
        used, said = read_mapping(Path(mapping)), tuple[str, ...]()
        if used.sheet and sheet is None:
            grid = read_grid(Path(file), used.sheet)
    else:
        guess = guess_mapping(grid, _dates(place), said_so, table=table, sheet=sheet or "")
        used, said = guess.mapping, guess.said
    brought = apply_mapping(grid, used, place.zones)
    brought = Brought(brought.file, brought.tables, (*grid.said, *said, *brought.said), brought.problems)
    return _add(place, brought, _first_rows(grid, used), used)


def _add(place: Place, brought: Brought, before: pd.DataFrame | None, mapping: TableMapping | None) -> Bringing:
    if not any(len(rows) for rows in brought.tables.values()):
        raise NothingToDo(f"no row of {brought.file} can be read", brought.problems)
    added = tuple(add_rows(place, table, rows, brought.file) for table, rows in brought.tables.items())
    return Bringing(place, brought, added, before, mapping)


def _dates(place: Place) -> Dates:
    last = place.local(place.end).date() if place.end is not None else None
    return Dates(place.local(place.start).date(), last)


def _first_rows(grid: Grid, mapping: TableMapping) -> pd.DataFrame:
    layout = lay_out(grid, mapping.header)
    return pd.DataFrame(layout.rows[:SHOWN], columns=layout.names, index=layout.lines[:SHOWN])


def say_brought(bringing: Bringing) -> list[str]:
    """What would come in, and how the file was understood, a sentence a line."""
    lines = [f"{bringing.brought.file}: {sentence}." for sentence in bringing.brought.said]
    for one in bringing.added:
        counts = [f"{len(one.new)} new rows"]
        counts += [f"{one.known} already there"] if one.known else []
        counts += [f"{one.filled} empty cells filled"] if one.filled else []
        lines.append(f"{bringing.place.name(one.table)}: {', '.join(counts)}.")
    return lines
