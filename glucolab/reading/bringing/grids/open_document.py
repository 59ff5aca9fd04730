"""Which cells has an OpenDocument spreadsheet? One sheet as a grid of text, never more cells than are filled."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from typing import Any

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.grid import MOST_CELLS, MOST_TABLE_BYTES, Grid, square
from glucolab.reading.text import show

MIMETYPE = b"application/vnd.oasis.opendocument.spreadsheet"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_WIDEST = 1000
"""No log has more columns."""
_DURATION = re.compile(r"PT(\d+)H(\d+)M(\d+)(?:[.,]\d+)?S")


def is_open_document(path: Path) -> bool:
    """True for a zip that says it is an OpenDocument spreadsheet."""
    try:
        with zipfile.ZipFile(path) as archive, archive.open("mimetype") as part:
            return part.read(len(MIMETYPE)) == MIMETYPE
    except (KeyError, zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError):
        return False


def read_open_document(path: Path, sheet: str | None = None) -> Grid:
    """Read one sheet of an OpenDocument spreadsheet (ISO/IEC 26300); without a name the one with most cells.

    Parameters
    ----------
    path : Path
    sheet : str, optional
        Name of the sheet.

    Returns
    -------
    Grid
        Dates, times and numbers as text: ISO 8601, and decimal points.

    Raises
    ------
    NothingToDo
        If it is broken, would unpack to more than a person's log can have, or lacks the sheet.
    """
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import ParseError, fromstring

    try:
        with zipfile.ZipFile(path) as archive, archive.open("content.xml") as part:
            data = part.read(MOST_TABLE_BYTES + 1)
        if len(data) > MOST_TABLE_BYTES:
            raise NothingToDo(f"{path.name} would unpack to more than {MOST_TABLE_BYTES / 1e6:,.0f} MB: that is no log")
        root = fromstring(data)
    except (KeyError, zipfile.BadZipFile, OSError, RuntimeError, EOFError, ParseError, DefusedXmlException):
        raise NothingToDo(f"{path.name} is a broken, cut-off or locked spreadsheet") from None
    tables = {table.get(f"{_TABLE}name", ""): _read_rows(table, path.name) for table in root.iter(f"{_TABLE}table")}
    if sheet is not None and sheet not in tables:
        raise NothingToDo(f'{path.name} has no sheet "{show(sheet)}"; it has {", ".join(map(show, tables))}')
    sizes = {name: sum(map(len, rows.values())) for name, rows in tables.items()}
    name = sheet if sheet is not None else max(sizes, key=lambda one: sizes[one], default="")
    if not sizes.get(name):
        raise NothingToDo(f"{path.name} has no cells that are filled")
    rows = tables[name]
    width = max(max(cells) for cells in rows.values()) + 1
    if width * len(rows) > MOST_CELLS:
        raise NothingToDo(f'sheet "{show(name)}" has more than {MOST_CELLS:,} cells')
    texts = [[cells.get(place, "") for place in range(width)] for cells in rows.values()]
    said = (f'sheet "{show(name)}" of {len(tables)} is read',) if len(tables) > 1 else ()
    return Grid(path.name, *square(texts, list(rows)), said)


def _read_rows(table: Any, file: str) -> dict[int, dict[int, str]]:
    """Filled cells by row of the sheet, from 1, and by column, from 0."""
    rows: dict[int, dict[int, str]] = {}
    line, count = 1, 0
    for row in table.iter(f"{_TABLE}table-row"):
        again = _repeated(row, "rows")
        cells: dict[int, str] = {}
        place = 0
        for cell in row:
            if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
                continue
            times = _repeated(cell, "columns")
            if text := _read_cell(cell):
                if place + times > _WIDEST:
                    raise NothingToDo(f"{file} row {line} has a cell in column {place + times:,}, which no log has")
                cells |= dict.fromkeys(range(place, place + times), text)
            place += times
        count += len(cells) * again
        if count > MOST_CELLS:
            raise NothingToDo(f"{file} has more than {MOST_CELLS:,} cells: that is no person's log")
        if cells:
            rows |= {line + i: cells for i in range(again)}
        line += again
    return rows


def _repeated(element: Any, what: str) -> int:
    text = element.get(f"{_TABLE}number-{what}-repeated", "1")
    return int(text) if text.isdecimal() and len(text) < 9 else 1


def _read_cell(cell: Any) -> str:
    kind = cell.get(f"{_OFFICE}value-type")
    if kind in ("float", "currency", "percentage"):
        return f"{float(cell.get(f'{_OFFICE}value', 'nan')):.12g}"
    if kind == "date":
        return str(cell.get(f"{_OFFICE}date-value", "")).partition(".")[0]
    if kind == "time" and (match := _DURATION.fullmatch(cell.get(f"{_OFFICE}time-value", ""))):
        return f"{int(match[1]):02d}:{int(match[2]):02d}:{int(match[3]):02d}"
    if kind == "boolean":
        return str(cell.get(f"{_OFFICE}boolean-value", ""))
    return " ".join(" ".join("".join(part.itertext()) for part in cell.iter(f"{_TEXT}p")).split())
