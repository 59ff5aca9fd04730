"""Has anything changed since? A hash of input files and of the program that reads them."""

from __future__ import annotations

import hashlib
import os
import re
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError, requires, version
from importlib.resources import files
from pathlib import Path

from glucolab.reading.folder import WEARS

_OF_PAGES = re.compile("extra == .pages.")
WHOLE = (".csv", ".toml", ".json")
"""Of these every byte counts; of others, photos above all, size and time of the last change."""


def fingerprint_study(study: Path) -> str:
    """A hash that changes with everything that is read of a study, and with glucolab itself.

    Parameters
    ----------
    study : Path
        The study folder. Where it lies does not count, nor what else is kept in it.

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    return fingerprint([*_beside_wears(study), study / WEARS], study)


def fingerprint_wear(study: Path, wear: str) -> str:
    """The same of what one wear's page is made from: its folder, and what the study says of the person."""
    return fingerprint([*_beside_wears(study), study / WEARS / wear], study)


def fingerprint(paths: Iterable[Path], below: Path) -> str:
    """A hash of files, and of all files in folders, by their names from `below` on.

    Links to folders are followed as the reader of a study follows them: not out of `below`. Each folder counts once.
    """
    whole, inside, seen = hashlib.sha256(_program().encode()), os.path.realpath(below), set[str]()
    for path in sorted(file for start in paths for file in _files(start, inside, seen)):
        whole.update(repr((path.relative_to(below).as_posix(), _content(path))).encode())
    return whole.hexdigest()


def _beside_wears(study: Path) -> list[Path]:
    return [path for path in study.iterdir() if not path.is_dir()]


def _files(path: Path, inside: str, seen: set[str]) -> Iterator[Path]:
    """The files below a path; the path itself where it is none, leads out, was `seen` or may not be looked into."""
    real = os.path.realpath(path)
    stays = (real + os.sep).startswith(inside + os.sep) and real not in seen
    if not (stays and path.is_dir() and os.access(path, os.R_OK | os.X_OK)):
        yield path
        return
    seen.add(real)
    for inner in sorted(path.iterdir()):
        yield from _files(inner, inside, seen)


def _content(path: Path) -> str:
    """What stands for a file's content; whoever reads the study says what of it cannot be read."""
    try:
        if path.is_file() and path.suffix in WHOLE and not path.is_symlink():
            with path.open("rb") as file:
                return hashlib.file_digest(file, "sha256").hexdigest()
        found = path.stat()
        where = path.readlink() if path.is_symlink() else ""
    except OSError as error:
        return f"not readable: {error.strerror}"
    return f"{found.st_size} {found.st_mtime_ns} {where}"


def _find_version(name: str) -> str:
    """Of what is installed; tables are written without what draws the pages."""
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


@cache
def _program() -> str:
    """Of every module and template, and of what they lean on: figures of another glucolab are not the same figures."""
    drawn_by = [text for text in requires("glucolab") or () if "extra ==" not in text or _OF_PAGES.search(text)]
    leans_on = sorted(re.split(r"[^\w.-]", text)[0] for text in drawn_by)
    whole = hashlib.sha256(repr((sys.version, [(name, _find_version(name)) for name in leans_on])).encode())
    package = Path(str(files("glucolab")))
    for folder in (package, package.parent / "notebooks"):  # the latter in a checkout alone
        for path in sorted(folder.rglob("*")):
            if path.suffix in (".py", ".html", ".css", ".js", ".ipynb") and ".ipynb_checkpoints" not in path.parts:
                whole.update(path.relative_to(package.parent).as_posix().encode() + path.read_bytes())
    return whole.hexdigest()
