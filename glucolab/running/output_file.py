"""Which single file may be written? Not one of the study's, and not over anything but an earlier one of its kind."""

from __future__ import annotations

import glob
import os
import stat
from collections.abc import Callable
from pathlib import Path

from glucolab.errors import NothingToDo

_LOOKED_AT = 400
"""So many first characters tell an earlier file of a kind, whose mark stands in its first lines. [characters]"""
_NEW = ".new"
"""How the name of a file ends that is being written, hidden beside the one it will be."""


def want_target(path: Path, study: Path | None, begins: str, what: str) -> None:
    """Refuse a file that must not be written.

    Parameters
    ----------
    path : Path
        The file to be.
    study : Path or None
        The study folder, among whose inputs it must not lie; None for a file of no study.
    begins : str
        What stands near the beginning of an earlier file of this kind, which may be replaced.
    what : str
        The kind, in words.

    Raises
    ------
    NothingToDo
        If it lies in the study, is a folder, stands in none, or would bury another file.
    """
    if study is not None and study.resolve() in path.resolve().parents:
        raise NothingToDo(f"{path} would lie in the study itself: choose a place outside {study}")
    if path.is_dir():
        raise NothingToDo(f"{path} is a folder: name a file in it")
    if not path.parent.is_dir():
        raise NothingToDo(f"{path.parent} is not there: make the folder first")
    if path.exists() and begins not in path.read_text(encoding="utf-8", errors="replace")[:_LOOKED_AT]:
        raise NothingToDo(f"{path} is there already and is no {what}: choose another name")


def replace_text(path: Path, text: str, still: Callable[[], bool] = lambda: True) -> bool:
    """Write a text file whole or not at all.

    One that is there keeps its permissions, a new one has those that the umask leaves.

    Parameters
    ----------
    path : Path
    text : str
    still : callable, optional
        Asked at the last moment whether the file may be replaced.

    Returns
    -------
    bool
        False if it might not, and was left as it is.

    Raises
    ------
    OSError
        If it cannot be written; nothing is left behind then.
    """
    return replace_bytes(path, text.encode("utf-8"), still)


def replace_bytes(path: Path, data: bytes, still: Callable[[], bool] = lambda: True) -> bool:
    """The same for bytes."""
    new = path.with_name(f".{path.name}.{os.getpid()}{_NEW}")
    try:
        with open(new, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            os.chmod(new, stat.S_IMODE(path.stat().st_mode))
        if not still():
            return False
        os.replace(new, path)
    finally:
        new.unlink(missing_ok=True)
    return True


def remove_left(path: Path) -> None:
    """Remove what killed runs left of this file, while nobody else can be writing it."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.*{_NEW}"):
        left.unlink(missing_ok=True)
