"""What does a foreign file hold? A table in any form that is known here, told by its content, as a grid."""

from __future__ import annotations

import os
import stat
import zipfile
from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.delimited import read_delimited
from glucolab.reading.bringing.grids.fold import fold_answers
from glucolab.reading.bringing.grids.grid import MOST_TABLE_BYTES, Grid
from glucolab.reading.bringing.grids.open_document import is_open_document, read_open_document
from glucolab.reading.bringing.grids.packed import is_gzip, unpack_gzip, unpack_zip
from glucolab.reading.bringing.grids.parquet import is_parquet, read_parquet
from glucolab.reading.bringing.grids.records import looks_like_json, read_records
from glucolab.reading.bringing.grids.unfold import unfold
from glucolab.reading.bringing.grids.web_pages import looks_like_page, read_page
from glucolab.reading.text import show

_LOOKED_AT = 4096
_OLD_OFFICE, _ZIP = b"\xd0\xcf\x11\xe0", b"PK\x03\x04"


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
    return unfold(fold_answers(_read_any(path, sheet)))


def _read_any(path: Path, sheet: str | None) -> Grid:
    """The grid of any file as it stands in it."""
    from glucolab.reading.bringing.grids.sheets import is_workbook, read_sheet  # only a spreadsheet needs what it loads

    data = read_bytes(path)
    if zipfile.is_zipfile(path):
        if is_open_document(path):
            return read_open_document(path, sheet)
        if is_workbook(path):
            return read_sheet(path, sheet)
    if sheet is not None:
        raise NothingToDo(f"{path.name} is no spreadsheet, so it has no sheet {show(sheet)}")
    if zipfile.is_zipfile(path):
        name, data = unpack_zip(path)
        if data.startswith(_ZIP):
            raise NothingToDo(f"{name} is a spreadsheet in a packed file: unpack it first")
        return _read_data(data, name)
    if data.startswith(_ZIP):
        raise NothingToDo(f"{path.name} is a broken or cut-off spreadsheet or packed file")
    if is_gzip(data):
        data = unpack_gzip(data, path.name)
    return _read_data(data, path.name)


def _read_data(data: bytes, file: str) -> Grid:
    """The grid of a table that is no spreadsheet."""
    if data.startswith(_OLD_OFFICE):
        raise NothingToDo(f"{file} is a spreadsheet of an old kind (.xls): save it as .xlsx or as CSV")
    if is_parquet(data):
        return read_parquet(data, file)
    if looks_like_page(data[:_LOOKED_AT].decode("utf-8", errors="replace")):
        return read_page(data, file)
    return read_records(data, file) if looks_like_json(data) else read_delimited(data, file)
