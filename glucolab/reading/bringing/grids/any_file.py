"""What does a foreign file hold? A delimited file or a spreadsheet, told by its content, as a grid."""

from __future__ import annotations

import os
import stat
import zipfile
from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.delimited import read_delimited
from glucolab.reading.bringing.grids.grid import MOST_TABLE_BYTES, Grid
from glucolab.reading.text import show


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
        if status.st_size > MOST_TABLE_BYTES:
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
    from glucolab.reading.bringing.grids.sheets import read_sheet  # only a spreadsheet needs what it loads

    data = read_bytes(path)
    if zipfile.is_zipfile(path):
        return read_sheet(path, sheet)
    if sheet is not None:
        raise NothingToDo(f"{path.name} is no spreadsheet, so it has no sheet {show(sheet)}")
    return read_delimited(data, path.name)
