"""Which files may be read? The only door to a study folder: nothing outside it, nothing but plain files, no writing."""

from __future__ import annotations

import hashlib
import os
import stat
from dataclasses import dataclass, field
from pathlib import Path

from glucolab.errors import Problem
from glucolab.reading.text import did_you_mean, show


@dataclass
class StudyFiles:
    """Reads the files of one study folder once each, and keeps their hashes and what was wrong.

    Attributes
    ----------
    root : Path
        The study folder.
    hashes : dict of str to str
        SHA-256 of every file read, by path below the folder.
    problems : list of Problem
    """

    root: Path
    hashes: dict[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def report(self, file: str, text: str, line: int | None = None, *, left_out: bool = True) -> None:
        """Note a problem."""
        self.problems.append(Problem(show_path(file), text, line, left_out))

    def list_folder(self, folder: str) -> list[str]:
        """Names in a folder, sorted, hidden ones apart; none, and a report, if it cannot be listed."""
        try:
            names = os.listdir(self.root / folder)
        except OSError as fault:
            self.report(folder, f"cannot be listed: {_word_os(fault)}")
            return []
        return sorted(name for name in names if not name.startswith("."))

    def is_folder(self, path: str) -> bool:
        """True for a folder that lies in the study; a link that leads out of it is reported."""
        return self._stays_inside(path) and (self.root / path).is_dir()

    def read(self, file: str) -> bytes | None:
        """The bytes of a plain file; None if it is absent, or cannot be read, which is reported."""
        path = self.root / file
        if not os.path.lexists(path) or not self._stays_inside(file):
            return None
        try:
            if not stat.S_ISREG(path.stat().st_mode):
                self.report(file, "is not a plain file and is not read")
                return None
            data = path.read_bytes()
        except OSError as fault:
            self.report(file, f"cannot be read: {_word_os(fault)}")
            return None
        self.hashes[show_path(file)] = hashlib.sha256(data).hexdigest()
        return data

    def size(self, file: str) -> int:
        """Bytes of a file; 0 if it is not there."""
        try:
            return (self.root / file).stat().st_size
        except OSError:
            return 0

    def hint_at_names(self, folder: str, found: list[str], known: list[str]) -> None:
        """Warn of files and folders whose names are nearly known ones."""
        absent = {name for name in known if not os.path.lexists(self.root / folder / name)}
        by_stem = {Path(name).stem: name for name in absent}
        for name in found:
            same_stem = by_stem.get(Path(name).stem.lower())
            hint = f": did you mean {same_stem}?" if same_stem else did_you_mean(name, absent)
            if hint and name not in known:
                self.report(f"{folder}/{name}" if folder else name, f"is not read{hint}", left_out=False)

    def _stays_inside(self, path: str) -> bool:
        inside = os.path.realpath(self.root)
        real = os.path.realpath(self.root / path)
        if real == inside or real.startswith(inside + os.sep):
            return True
        self.report(path, "is a link that leads out of the study folder and is not followed")
        return False


@dataclass
class HeldFiles(StudyFiles):
    """The same of files that are held in memory: nothing is read from a disk.

    Attributes
    ----------
    held : dict of str to bytes
        What each file would hold, by path below the study folder.
    """

    root: Path = field(default_factory=Path)
    held: dict[str, bytes] = field(default_factory=dict)

    def list_folder(self, folder: str) -> list[str]:
        """Names in a folder, sorted."""
        names = (path.removeprefix(f"{folder}/") for path in self.held if path.startswith(f"{folder}/"))
        return sorted({name.split("/")[0] for name in names})

    def is_folder(self, path: str) -> bool:
        """True where a file lies below it."""
        return bool(self.list_folder(path))

    def read(self, file: str) -> bytes | None:
        """What the file would hold; None if there is none."""
        data = self.held.get(file)
        if data is not None:
            self.hashes[show_path(file)] = hashlib.sha256(data).hexdigest()
        return data

    def size(self, file: str) -> int:
        """Bytes of a file; 0 if there is none."""
        return len(self.held.get(file, b""))

    def hint_at_names(self, folder: str, found: list[str], known: list[str]) -> None:
        """Names in memory were given by the code: nothing to hint at."""


def show_path(path: str) -> str:
    """A path for a message, printable, with forward slashes."""
    return "/".join(show(part, most=255) for part in Path(path).parts)


def _word_os(fault: OSError) -> str:
    if isinstance(fault, PermissionError):
        return "no permission"
    return (fault.strerror or "it went wrong").lower()
