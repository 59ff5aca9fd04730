"""Which single file may be written? Not one of the study's, and not over anything but an earlier one of its kind."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from glucolab.errors import NothingToDo

_LOOKED_AT = 400


def want_target(path: Path, study: Path, begins: str, what: str) -> None:
    """Refuse a file that must not be written.

    Parameters
    ----------
    path : Path
        The file to be.
    study : Path
        The study folder, among whose inputs it must not lie.
    begins : str
        What stands near the beginning of an earlier file of this kind, which may be replaced.
    what : str
        The kind, in words.

    Raises
    ------
    NothingToDo
        If it lies in the study, is a folder, stands in none, or would bury another file.
    """
    here, there = path.resolve(), study.resolve()
    if there in here.parents:
        raise NothingToDo(f"{path} would lie in the study itself: choose a place outside {study}")
    if path.is_dir():
        raise NothingToDo(f"{path} is a folder: name a file in it")
    if not path.parent.is_dir():
        raise NothingToDo(f"{path.parent} is not there: make the folder first")
    if path.exists() and begins not in path.read_text(encoding="utf-8", errors="replace")[:_LOOKED_AT]:
        raise NothingToDo(f"{path} is there already and is no {what}: choose another name")


def replace_text(path: Path, text: str) -> None:
    """Write a text file whole or not at all; it keeps its permissions."""
    replace_bytes(path, text.encode("utf-8"))


def replace_bytes(path: Path, data: bytes) -> None:
    """The same for bytes."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with open(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise
