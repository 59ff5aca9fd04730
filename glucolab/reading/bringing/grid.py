"""What does a foreign file hold? Rows of text with their lines, out of a delimited file or a spreadsheet."""

from __future__ import annotations

import os
import stat
import zipfile
from dataclasses import dataclass
from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.reading.text import show

MOST_BYTES = 100_000_000
"""A year of one-minute readings with many columns has less; what is larger is no log of a person."""
MOST_CELLS = 10_000_000


@dataclass(frozen=True)
class Grid:
    """A foreign table as it stands in its file, before anything is said of its meaning.

    Attributes
    ----------
    file : str
        Name of the file, for messages.
    rows : list of list of str
        Cells without surrounding space, all rows equally long; blank rows are not among them.
    lines : list of int
        Line of the file, or row of the sheet, on which each row begins.
    said : tuple of str
        How the file was opened, where there was a choice.
    faults : tuple of (int, str)
        Line and fault of rows that could not be read.
    """

    file: str
    rows: list[list[str]]
    lines: list[int]
    said: tuple[str, ...] = ()
    faults: tuple[tuple[int, str], ...] = ()

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.rows[0]) if self.rows else 0


def read_bytes(path: Path) -> bytes:
    """The bytes of a plain file of bounded size.

    Raises
    ------
    NothingToDo
        If it is not there, no plain file, empty, or too large.
    """
    name = show(os.fspath(path), most=300)
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise NothingToDo(f"{name} is not a file")
        if status.st_size > MOST_BYTES:
            raise NothingToDo(f"{name} has {status.st_size / 1e6:,.0f} MB: a person's log has less than 100")
        data = path.read_bytes()
    except OSError as fault:
        raise NothingToDo(f"{name} cannot be read: {(fault.strerror or 'it went wrong').lower()}") from None
    if not data.strip():
        raise NothingToDo(f"{name} is empty")
    return data


def read_grid(path: Path, sheet: str | None = None) -> Grid:
    """Read a foreign table, told by its content and not by the ending of its name.

    Parameters
    ----------
    path : Path
    sheet : str, optional
        Which sheet of a spreadsheet.

    Returns
    -------
    Grid

    Raises
    ------
    NothingToDo
        If it is no table, or too large to be a person's log; the reason in one sentence.
    """
    from glucolab.reading.bringing.delimited import read_delimited
    from glucolab.reading.bringing.sheets import read_sheet

    data = read_bytes(path)
    if zipfile.is_zipfile(path):
        return read_sheet(path, sheet)
    if sheet is not None:
        raise NothingToDo(f"{path.name} is no spreadsheet, so it has no sheet {show(sheet)}")
    return read_delimited(data, path.name)


def square(rows: list[list[str]], lines: list[int]) -> tuple[list[list[str]], list[int]]:
    """Rows without those that are blank and without columns that are blank at the right, all equally long."""
    kept = [(line, row) for line, row in zip(lines, rows, strict=True) if any(row)]
    width = max((max(i + 1 for i, cell in enumerate(row) if cell) for _, row in kept), default=0)
    return [(row + [""] * width)[:width] for _, row in kept], [line for line, _ in kept]
