"""How does anyone's file come into a study? Read, shown before and after, and written only when the wearer agrees."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.adding import Added, add_rows
from glucolab.reading.bringing.applying import apply_mapping
from glucolab.reading.bringing.brought import Brought
from glucolab.reading.bringing.grid import Grid, read_grid
from glucolab.reading.bringing.guessing import guess_mapping
from glucolab.reading.bringing.guessing_times import Dates
from glucolab.reading.bringing.layout import lay_out
from glucolab.reading.bringing.mapping import BRINGABLE, mapping_text, read_mapping
from glucolab.reading.bringing.mapping import Mapping as TableMapping
from glucolab.reading.bringing.questions import Answers, UnsettledError
from glucolab.reading.places import Place, find_place
from glucolab.reading.standards import read_standard
from glucolab.reading.text import show
from glucolab.running.targets import replace_text

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
    if mapping is None and sheet is None and (standard := read_standard(Path(file))) is not None:
        return _add(place, standard, None, None)
    grid = read_grid(Path(file), sheet)
    if mapping is not None:
        used, said = read_mapping(Path(mapping)), tuple[str, ...]()
        if used.sheet and sheet is None:
            grid = read_grid(Path(file), used.sheet)
    else:
        guess = guess_mapping(grid, _dates(place), Answers(dict(answers or {})), table=table, sheet=sheet or "")
        used, said = guess.mapping, guess.said
    brought = apply_mapping(grid, used, place.zones)
    brought = Brought(brought.file, brought.tables, (*grid.said, *said), brought.problems)
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


def write_brought(bringing: Bringing) -> list[Path]:
    """Write what is new: each table to a temporary name beside it, then moved, so that a killed run leaves it whole.

    Returns
    -------
    list of Path
        The files that changed.

    Raises
    ------
    OSError
        If a file cannot be written; the study is then as it was, or whole tables further.
    """
    written = []
    for one in bringing.added:
        if one.changes:
            path = bringing.place.path(one.table)
            replace_text(path, one.text)
            written.append(path)
    return written


def say_brought(bringing: Bringing) -> list[str]:
    """What would come in, and how the file was understood, a sentence a line."""
    lines = [f"{bringing.brought.file}: {sentence}." for sentence in bringing.brought.said]
    for one in bringing.added:
        counts = [f"{len(one.new)} new rows"]
        counts += [f"{one.known} already there"] if one.known else []
        counts += [f"{one.filled} empty cells filled"] if one.filled else []
        lines.append(f"{bringing.place.name(one.table)}: {', '.join(counts)}.")
    return lines


def bring(
    file: Path,
    wear: Path,
    say: Callable[[str], None],
    agree: Callable[[], bool] | None,
    *,
    save_mapping: Path | None = None,
    **options: object,
) -> tuple[list[Path], Sequence[Problem]]:
    """Show what a file would bring, ask, and write it.

    Parameters
    ----------
    file, wear : Path
    say : callable
        Takes a line for the wearer.
    agree : callable or None
        Asks the wearer; None if there is nobody to ask and nothing was agreed before.
    save_mapping : Path, optional
        Where the mapping is written, also if nothing is brought.
    **options
        Of `bring_file`.

    Returns
    -------
    paths : list of Path
        The files that changed.
    problems : sequence of Problem

    Raises
    ------
    NothingToDo
        If nothing can be brought, or the wearer does not agree.
    """
    try:
        bringing = bring_file(file, wear, **options)  # type: ignore[arg-type]
    except UnsettledError as unsettled:
        for question in unsettled.questions:
            say(str(question))
        raise NothingToDo(f"{file} has more than one reading: answer with --say, nothing was written") from None
    for line in say_brought(bringing):
        say(line)
    if bringing.before is not None:
        say(f"\nas it stands in the file:\n{bringing.before.to_string()}\n")
    for one in bringing.added:
        if len(one.new):
            say(
                f"as it would stand in {bringing.place.name(one.table)}:\n"
                f"{bringing.after(one.table).to_string(index=False)}\n"
            )
    if save_mapping is not None:
        _save_mapping(save_mapping, bringing.mapping)
    if bringing.changes and agree is None:
        raise NothingToDo("nobody is here to agree: --yes writes this, a --mapping of your own needs no question")
    if bringing.changes and agree is not None and not agree():
        raise NothingToDo("nothing was written")
    return write_brought(bringing), bringing.problems


def agree_always() -> bool:
    """What the wearer has said before."""
    return True


def ask_wearer() -> bool:
    """Ask at the terminal; only y and yes agree."""
    print("Write this? [y/N] ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def _save_mapping(path: Path, mapping: TableMapping | None) -> None:
    if mapping is None:
        raise NothingToDo("a file of an open standard needs no mapping: there is none to save")
    if os.path.lexists(path):
        raise NothingToDo(f"{path} is already there, and is left as it is")
    with open(path, "x", encoding="utf-8") as file:
        file.write(mapping_text(mapping))
