"""How does what was typed come into the study? Only into a file that is still as it was read; undone likewise."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.entering.hands import Hands
from glucolab.reading.entering.table_edits import Edit
from glucolab.reading.new_wear import start_study, start_wear
from glucolab.running.bringing import hold_study, write_brought
from glucolab.running.output_file import replace_bytes


def own_hands() -> Hands:
    """The hands that write into the studies of this computer."""
    return Hands(write_edit, undo_edit, start_study, _begin_wear, write_brought, _report)


def write_edit(edit: Edit) -> None:
    """Write a row that was typed.

    Raises
    ------
    NothingToDo
        If the file is another by now than it was when the row was made.
    OSError
        If it cannot be written; it is then as it was.
    """
    _exchange(edit, edit.before, edit.after)


def undo_edit(edit: Edit) -> None:
    """Take back a row that was written; the file is then byte for byte as it was.

    Raises
    ------
    NothingToDo
        If the file was changed since.
    OSError
        If it cannot be written.
    """
    _exchange(edit, edit.after, edit.before)


def _exchange(edit: Edit, expected: bytes | None, wanted: bytes | None) -> None:
    """The one place where a row that was typed reaches a file, under the lock that `bring` holds too."""

    def stands() -> bool:
        return (edit.path.read_bytes() if edit.path.exists() else None) == expected

    with hold_study(edit.study):
        kept = stands()
        if kept and wanted is None:
            edit.path.unlink()
        elif kept and wanted is not None:
            kept = replace_bytes(edit.path, wanted, stands)
    if not kept:
        raise NothingToDo(f"{edit.name} was changed by another program meanwhile, and is left as it is")


def _begin_wear(study: Path, name: str, text: str) -> list[Path]:
    return start_wear(study, name, text=text)


def _report(study: Path, out: Path, progress: Callable[[str], None]) -> tuple[Sequence[Path], Sequence[Problem]]:
    from glucolab.running.report import report_into  # a form that only writes does without

    _, left_out, paths = report_into(study, out, progress, again=False)
    return paths, left_out
