"""How does anyone's file come into a study? Read, shown before and after, and written only when the wearer agrees."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.mapping.mapping import Mapping, mapping_text
from glucolab.reading.bringing.preview import Bringing, bring_file, say_brought
from glucolab.running.output_file import replace_text


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


def _save_mapping(path: Path, mapping: Mapping | None) -> None:
    if mapping is None:
        raise NothingToDo("a file of an open standard needs no mapping: there is none to save")
    if os.path.lexists(path):
        raise NothingToDo(f"{path} is already there, and is left as it is")
    with open(path, "x", encoding="utf-8") as file:
        file.write(mapping_text(mapping))
