"""How does anyone's file come into a study? Read, shown before and after, and written only when the wearer agrees."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from functools import partial
from pathlib import Path

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.mapping.mapping import Mapping
from glucolab.reading.bringing.mapping.mapping_file import mapping_text
from glucolab.reading.bringing.merging.existing import stands_unchanged
from glucolab.reading.bringing.merging.merge_rows import Added, add_rows
from glucolab.reading.bringing.preview import Bringing, bring_file, say_brought
from glucolab.reading.folder import WEARS
from glucolab.reading.wear_context import find_place
from glucolab.running.locking import lock
from glucolab.running.output_file import remove_left, replace_text

_LOCK = ".bring.lock"
_PATIENCE_S = 30.0
"""How long another `bring` may be writing; assumed. It merges and writes for a second or two: less refuses for nothing,
more keeps waiting where one hangs. [s]"""
_TRIES = 20
"""So often a table is merged anew because it was changed again; assumed. An editor saves once, a program that never
stops is no editor. [times]"""


def hold_study(study: Path) -> AbstractContextManager[None]:
    """The lock of a study's input tables: one writes into them at a time.

    Raises
    ------
    NothingToDo
        If another process does not end.
    OSError
        If the lock file cannot be made.
    """
    return lock(study / _LOCK, study, patience_s=_PATIENCE_S)


def write_brought(bringing: Bringing) -> Bringing:
    """Write what is new, into what stands in each table at this moment.

    One `bring` at a time writes into a study. A table that has been changed since it was shown, by an editor or another
    `bring`, is merged anew; each is written to a name beside it and moved, so that a killed run leaves it whole.

    Returns
    -------
    Bringing
        As it was written: with a note where a table had been changed.

    Raises
    ------
    NothingToDo
        If another `bring` does not end, a table cannot be kept as it stands now, or what the rows were read by (unit,
        zones, span of the wear) has changed. The study is then as it was, or whole tables further.
    OSError
        If a file cannot be written; likewise.

    Limits of validity: an editor knows no lock. What it saves in the instant between the last look at the file and the
    move over it, some hundredths of a millisecond, would be lost.
    """
    place = bringing.place
    if not bringing.changes:
        return bringing
    with hold_study(place.study):
        if find_place(place.study / WEARS / place.wear) != place:
            raise NothingToDo(
                f"what {bringing.brought.file} was read by has changed meanwhile (wear.toml, study.toml or a trip in "
                "notes.csv): nothing was written, bring it once more"
            )
        return replace(bringing, added=tuple(_write(bringing, one) for one in bringing.added))


def _write(bringing: Bringing, shown: Added) -> Added:
    """Write one table; what was brought, beside what stood there when it was written."""
    place, one = bringing.place, shown
    path = place.path(one.table)
    remove_left(path)
    for _ in range(_TRIES):
        if not stands_unchanged(place, one.table, one.digest):
            one = _merge_anew(bringing, one.table)
        if not one.changes or replace_text(path, one.text, partial(stands_unchanged, place, one.table, one.digest)):
            return one
    raise NothingToDo(f"{place.name(one.table)} is being changed again and again: nothing was written into it")


def _merge_anew(bringing: Bringing, table: str) -> Added:
    one = add_rows(bringing.place, table, bringing.brought.tables[table], bringing.brought.file)
    text = "was changed meanwhile: what is brought is set beside what stands there now"
    return replace(one, problems=(Problem(bringing.place.name(table), text, left_out=False), *one.problems))


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
    written = write_brought(bringing)
    return written.paths, written.problems


def agree_always() -> bool:
    """What the wearer has said before."""
    return True


def ask_wearer() -> bool:
    """Ask at the terminal; only y and yes agree."""
    print("Write this? [y/N] ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def _save_mapping(path: Path, mapping: Mapping | None) -> None:
    if mapping is None:
        raise NothingToDo("a file of an open standard needs no mapping: there is none to save")
    if os.path.lexists(path):
        raise NothingToDo(f"{path} is already there, and is left as it is")
    with open(path, "x", encoding="utf-8") as file:
        file.write(mapping_text(mapping))
