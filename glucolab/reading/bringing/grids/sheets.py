"""Which cells has a spreadsheet? One sheet as a grid of text; zip bombs and formulas without a value are named."""

from __future__ import annotations

import datetime as dt
import zipfile
from pathlib import Path
from typing import Any

from glucolab.errors import NothingToDo, is_own_fault
from glucolab.reading.bringing.grids.grid import MOST_CELLS, MOST_TABLE_BYTES, Grid, square
from glucolab.reading.text import show

_MOST_RATIO = 500
"""XML of a real sheet packs to a fiftieth; a bomb to a thousandth."""


def is_workbook(path: Path) -> bool:
    """True for a zip that holds a workbook, or is too broken to say."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, OSError, ValueError):
        return True
    return any(name.startswith(("xl/", "[Content_Types]")) for name in names)


def read_sheet(path: Path, sheet: str | None = None) -> Grid:
    """Read one sheet of an XLSX workbook; without a name the one with most cells of those that are not hidden.

    Parameters
    ----------
    path : Path
    sheet : str, optional
        Name of the sheet.

    Returns
    -------
    Grid
        Dates, times and numbers as text: ISO 8601, and decimal points. Rows that are struck through are its faults.

    Raises
    ------
    NothingToDo
        If it is no workbook, would unpack to more than a person's log can have, or lacks the sheet.
    """
    _want_small(path)
    try:
        values, formulas = (_open(path, data_only) for data_only in (True, False))
        sheets = [values[name] for name in values.sheetnames if hasattr(values[name], "iter_rows")]
        shown = [one for one in sheets if one.title == sheet or one.sheet_state == "visible"] or sheets
        tables = {one.title: _rows(one) for one in shown}
        name = _choose(tables, sheet, path.name)
        rows, lines, struck = tables[name]
        empty = _find_uncomputed(rows, lines, formulas[name])
    except NothingToDo:
        raise
    except Exception as fault:  # a broken workbook fails anywhere in the library that reads it, with any error
        if is_own_fault(fault):
            raise
        raise NothingToDo(f"{path.name} cannot be read as a spreadsheet: {show(str(fault), most=150)}") from None
    if empty:
        place, count = empty[0], len(empty)
        raise NothingToDo(
            f"{path.name} row {place} holds a formula whose result is not in the file ({count} such cells): open it in "
            "a spreadsheet program and save it, or export it as CSV"
        )
    others = [f'"{show(one.title)}"' for one in sheets if one.title != name]
    said = (f'sheet "{show(name)}" of {len(sheets)} is read, and not {", ".join(others)}',) if others else ()
    square_rows, square_lines = square(rows, lines)
    faults = tuple((line, "is struck through; the row is left out") for line in struck)
    return Grid(path.name, square_rows, square_lines, said, faults)


def _want_small(path: Path) -> None:
    """Refuse what unpacks to very much, by what its own list says; unpacking stops at what the list says."""
    try:
        with zipfile.ZipFile(path) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError):
        raise NothingToDo(f"{path.name} is a broken or cut-off spreadsheet") from None
    if not any(part.filename == "xl/workbook.xml" for part in parts):
        raise NothingToDo(f"{path.name} is a packed file and no spreadsheet: unpack it first")
    unpacked, packed = sum(part.file_size for part in parts), sum(part.compress_size for part in parts)
    if unpacked > MOST_TABLE_BYTES or (unpacked > 1_000_000 and unpacked > _MOST_RATIO * max(packed, 1)):
        raise NothingToDo(f"{path.name} would unpack to {unpacked / 1e6:,.0f} MB: that is no person's log")


def _open(path: Path, data_only: bool) -> Any:
    from openpyxl import load_workbook  # it guards against XML bombs by defusedxml, a dependency for that reason

    return load_workbook(path, read_only=True, data_only=data_only)


def _rows(sheet: Any) -> tuple[list[list[str]], list[int], list[int]]:
    """Rows of text, the row of the sheet on which each stands, and rows that are struck through."""
    sheet.reset_dimensions()
    rows, lines, struck, count = [], [], list[int](), 0
    for row in sheet.iter_rows():
        count += len(row)
        if count > MOST_CELLS:
            raise NothingToDo(f'sheet "{show(sheet.title)}" has more than {MOST_CELLS:,} cells')
        texts = [_text(cell) for cell in row]
        filled = [cell for cell, text in zip(row, texts, strict=True) if text]
        if filled and all(cell.font.strike for cell in filled):
            struck.append(filled[0].row)
        elif filled:
            rows.append(texts)
            lines.append(filled[0].row)
    return rows, lines, struck


def _choose(tables: dict[str, tuple[list[list[str]], list[int], list[int]]], sheet: str | None, file: str) -> str:
    if sheet is not None and sheet not in tables:
        raise NothingToDo(f'{file} has no sheet "{show(sheet)}"; it has {", ".join(map(show, tables))}')
    sizes = {name: sum(1 for row in rows for cell in row if cell) for name, (rows, *_) in tables.items()}
    name = sheet if sheet is not None else max(sizes, key=lambda name: sizes[name], default="")
    if not sizes.get(name):
        raise NothingToDo(f"{file} has no cells that are filled")
    return name


def _find_uncomputed(rows: list[list[str]], lines: list[int], sheet: Any) -> list[int]:
    """Rows of formulas, where not one has its result in the file: a program wrote them that does not compute.

    Where some have, the others' result is nothing.
    """
    sheet.reset_dimensions()
    texts = dict(zip(lines, rows, strict=True))
    formulas = [(cell.row, i) for row in sheet.iter_rows() for i, cell in enumerate(row) if _is_formula(cell)]
    empty = [place for place, i in formulas if not (texts.get(place, []) + [""] * (i + 1))[i]]
    return empty if len(empty) == len(formulas) else []


def _is_formula(cell: Any) -> bool:
    return getattr(cell, "data_type", "") == "f"


def _text(cell: Any) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dt.datetime):
        with_clock = value.time() != dt.time() or "h" in (cell.number_format or "").lower()
        return value.isoformat(timespec="seconds") if with_clock else value.date().isoformat()
    if isinstance(value, dt.time):
        return value.isoformat(timespec="seconds")
    if isinstance(value, dt.timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"
    if isinstance(value, float):
        return f"{value:.12g}"
    return " ".join(str(value).split())
