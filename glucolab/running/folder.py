"""How does a new report take the old one's place? Written beside it, moved over it, one run at a time."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.running.locking import lock
from glucolab.running.tables import STUDY_FOLDER, SUMMARY

OLDER = Path(STUDY_FOLDER, "older")
"""Where an earlier report's files go that a new one lacks; below the one name that no wear may have."""
WELCOME = ("README.md", ".gitignore", ".gitkeep")
"""What may lie in a folder that is to become a report; it stays there."""


def check_out(out: Path, study: Path) -> None:
    """Refuse a folder in which a report would lie among inputs or bury other files.

    Parameters
    ----------
    out : Path
        The report folder, may not exist yet.
    study : Path
        The study folder.

    Raises
    ------
    NothingToDo
        If `out` is the study, holds it, lies among its wears, is a file, or holds something that is no report.
    """
    here, there = out.resolve(), study.resolve()
    wears = there / "wear_periods"
    if here == there or here in there.parents:
        raise NothingToDo(f"--out {out} is, or holds, the study itself: choose a folder of its own")
    if here == wears or wears in here.parents:
        raise NothingToDo(f"--out {out} lies among the study's wears: choose a folder outside wear_periods")
    if out.exists() and not out.is_dir():
        raise NothingToDo(f"--out {out} is a file: choose a folder")
    others = [path for path in out.iterdir() if path.name not in WELCOME] if out.is_dir() else []
    if others and not (out / STUDY_FOLDER / SUMMARY).is_file():
        raise NothingToDo(f"--out {out} holds other files and no report: choose an empty or a new folder")


@contextmanager
def replace_report(out: Path) -> Iterator[Path]:
    """An empty folder to write into, which takes the place of `out` when all went well.

    It lies beside `out`, so that moving it is one step; a run that fails or is killed leaves the last report whole.
    While it lasts, no second run can write into `out`.

    Parameters
    ----------
    out : Path
        The report folder.

    Yields
    ------
    Path
        The folder to fill, beside `out`: what is relative to it stays right after the move.

    Raises
    ------
    NothingToDo
        If another run is writing there.
    OSError
        If something cannot be written.
    """
    out = out.resolve()
    out.parent.mkdir(parents=True, exist_ok=True)
    new, old = (out.parent / f".{out.name}.{which}" for which in ("new", "old"))
    with lock(out.parent / f".{out.name}.lock", out):
        _recover(out, new, old)
        try:
            new.mkdir()
            yield new
            _keep_older(out, new)
            _swap(out, new, old)
        finally:
            shutil.rmtree(new, ignore_errors=True)
            shutil.rmtree(old, ignore_errors=True)


@contextmanager
def fill_new_folder(folder: Path) -> Iterator[Path]:
    """An empty folder to write into, which becomes `folder` when all went well, and is removed when not.

    Parameters
    ----------
    folder : Path
        Not there yet, or empty.

    Yields
    ------
    Path
        Beside it.

    Raises
    ------
    OSError
        If something cannot be written; nothing is left behind then.
    """
    folder = folder.resolve()
    folder.parent.mkdir(parents=True, exist_ok=True)
    new = folder.parent / f".{folder.name}.new"
    shutil.rmtree(new, ignore_errors=True)
    new.mkdir()
    try:
        yield new
        if folder.is_dir():
            folder.rmdir()
        os.rename(new, folder)
    finally:
        shutil.rmtree(new, ignore_errors=True)


def _recover(out: Path, new: Path, old: Path) -> None:
    """Clear away what a killed run left; put back a report that was moved away and not yet replaced."""
    if old.is_dir() and not out.exists():
        os.rename(old, out)
    shutil.rmtree(new, ignore_errors=True)
    shutil.rmtree(old, ignore_errors=True)


def _swap(out: Path, new: Path, old: Path) -> None:
    """Two renames: for an instant neither is there, and the next run mends a kill between them."""
    if out.exists():
        os.rename(out, old)
    try:
        os.rename(new, out)
    except OSError:
        if old.exists():
            os.rename(old, out)
        raise


def _keep_older(out: Path, new: Path) -> None:
    """Carry over what the new run did not write.

    A page or notebook whose tables came out the same stays where it is. Everything else of the earlier report that the
    new one lacks (pages drawn from other figures, wears that are gone) goes to ``study/older/``, so that nothing stands
    beside figures it does not belong to, and nothing is lost.
    """
    if not out.is_dir():
        return
    kept = [file for file in sorted(out.rglob("*")) if not file.is_dir() or file.is_symlink()]
    in_step = {folder.name: _is_in_step(folder, new / folder.name) for folder in out.iterdir() if folder.is_dir()}
    for file in kept:
        below = file.relative_to(out)
        if OLDER in below.parents:
            stays, made_anew = new / below, (new / below.relative_to(OLDER)).exists()
        else:
            apart = len(below.parts) > 1 and not in_step.get(below.parts[0], True)
            stays, made_anew = new / OLDER / below if apart else new / below, (new / below).exists()
        if not made_anew and not stays.exists():
            stays.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(file, stays, follow_symlinks=False)


def _is_in_step(folder: Path, new: Path) -> bool:
    """True if every table of a new folder is in the earlier one, byte for byte."""
    tables = [path for path in new.glob("*") if path.suffix in (".csv", ".json")]
    return bool(tables) and all(_same_bytes(folder / path.name, path) for path in tables)


def _same_bytes(a: Path, b: Path) -> bool:
    return a.is_file() and a.stat().st_size == b.stat().st_size and a.read_bytes() == b.read_bytes()
