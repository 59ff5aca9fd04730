"""How does a row come into a table whose every other byte stays as it is? The file to be, not yet written."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.merging.existing import Existing, add_columns, as_existing, as_written
from glucolab.reading.files import StudyFiles
from glucolab.reading.text import UnreadableError, decode, neutralize, read_rows
from glucolab.reading.wear_context import Place
from glucolab.record import INPUT_TABLES, Table

_AS_TEXT = ("text", "time", "date", "zone", "choice")
"""Kinds of columns whose cells are written as typed, also where they look like a number."""


@dataclass(frozen=True)
class Edit:
    """A change of one file, to be written if the file is still as it was, and undone if it is as it was left.

    Attributes
    ----------
    study : Path
        The study's folder.
    path : Path
    name : str
        The same below the study's folder, for messages.
    before, after : bytes or None, bytes
        The whole file; None where there was none.
    line : int
        The line on which the row stands, as an editor counts it.
    """

    study: Path
    path: Path
    name: str
    before: bytes | None
    after: bytes
    line: int


@dataclass(frozen=True)
class OpenTable:
    """A table as it stands: its bytes, its lines as they are written, and its cells.

    Attributes
    ----------
    place : Place
    schema : Table
    data : bytes or None
        None where there is no file.
    lines : list of str
        With their ends; a byte that is not UTF-8 as a lone surrogate.
    header_line : int
    existing : Existing
    """

    place: Place
    schema: Table
    data: bytes | None
    lines: list[str]
    header_line: int
    existing: Existing

    @property
    def name(self) -> str:
        """Its file, below the study's folder."""
        return self.place.name(self.schema.name)


def open_table(place: Place, table: str) -> OpenTable:
    """Read a wear's table so that a row can be put into it.

    Raises
    ------
    NothingToDo
        If the file cannot be read, or has no header.
    """
    schema, files, name = INPUT_TABLES[table], StudyFiles(place.study), place.name(table)
    data = files.read(name)
    if files.problems:
        raise NothingToDo(str(files.problems[0]))
    if data is None or not data.strip():
        return OpenTable(place, schema, data, [], 1, Existing([], [], [], ""))
    try:
        rows = read_rows(decode(data), schema.names)
    except UnreadableError as fault:
        raise NothingToDo(f"{name} {fault}: mend it first") from None
    lines = list(io.StringIO(data.decode("utf-8", "surrogateescape"), newline=""))
    return OpenTable(place, schema, data, lines, rows.header_line, as_existing(rows, schema, files.hashes[name]))


def append_row(table: OpenTable, cells: Mapping[str, str]) -> Edit:
    """A row at the end of a table, in the file's own delimiter, decimal mark and line ends.

    Parameters
    ----------
    table : OpenTable
    cells : mapping of str to str
        By column; a column that the file has not yet is added at the right of its header alone, for a row that ends
        early has empty cells there.

    Returns
    -------
    Edit

    Raises
    ------
    NothingToDo
        If the file is written so that a row at its end would not be read as one.
    """
    lines, end = list(table.lines), _line_end(table)
    wanted = _widen(table, lines, cells)
    if lines and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += end
    row = [_as_cell(table, name, cells.get(name, "")) for name in wanted.names]
    lines.append(_join(row, wanted.delimiter) + end)
    return _checked(table, lines, wanted, [*wanted.rows, row])


def fill_row(table: OpenTable, row: int, cells: Mapping[str, str]) -> Edit:
    """Empty cells of a row that is there already, filled; every other cell stays as it is written.

    Parameters
    ----------
    table : OpenTable
    row : int
        Its place among the rows.
    cells : mapping of str to str

    Returns
    -------
    Edit

    Raises
    ------
    NothingToDo
        If the row is written so that its cells cannot be told apart on their line.
    """
    lines = list(table.lines)
    wanted = _widen(table, lines, cells)
    rows = [list(one) for one in wanted.rows]
    at = wanted.lines[row] - 1
    body = lines[at].rstrip("\r\n")
    written = re.findall(_cell_pattern(wanted.delimiter), body)
    written += [""] * (len(wanted.names) - len(written))
    for name, text in cells.items():
        column = wanted.names.index(name)
        rows[row][column] = _as_cell(table, name, text)
        written[column] = _join([rows[row][column]], wanted.delimiter)
    lines[at] = wanted.delimiter.join(written) + lines[at][len(body) :]
    return _checked(table, lines, wanted, rows, wanted.lines[row])


def _cell_pattern(delimiter: str) -> str:
    """A cell as it is written, with its quotation marks."""
    mark = re.escape(delimiter)
    return rf'(?:(?<=^)|(?<={mark}))(?:\s*"(?:[^"]|"")*"[^{mark}]*|[^{mark}]*)'


def _line_end(table: OpenTable) -> str:
    return "\r\n" if table.lines and table.lines[0].endswith("\r\n") else "\n"


def _widen(table: OpenTable, lines: list[str], cells: Mapping[str, str]) -> Existing:
    """The table with the columns that are wanted; `lines` begin with its header."""
    old = table.existing
    wanted = replace(old, header=list(old.header), rows=[list(row) for row in old.rows])
    add_columns(wanted, table.schema, list(cells))
    added = wanted.header[len(old.header) :]
    if not lines:
        lines.append(_join(wanted.header, wanted.delimiter) + "\n")
    elif added:
        at = table.header_line - 1
        body = lines[at].rstrip("\r\n")
        lines[at] = body + wanted.delimiter + _join(added, wanted.delimiter) + (lines[at][len(body) :] or "\n")
    return wanted


def _as_cell(table: OpenTable, name: str, text: str) -> str:
    kind = next((column.kind for column in table.schema.columns if column.name == name), "number")
    return neutralize(text) if kind in _AS_TEXT else as_written(table.existing, text)


def _join(cells: list[str], delimiter: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(cells)
    return out.getvalue() if cells != [""] else ""


def _checked(
    table: OpenTable, lines: list[str], wanted: Existing, rows: list[list[str]], line: int | None = None
) -> Edit:
    """The change, once the file that it makes is read as exactly these rows: what cannot be kept is not touched."""
    after = "".join(lines).encode("utf-8", "surrogateescape")
    try:
        found = read_rows(decode(after), table.schema.names)
    except UnreadableError:
        found = None
    cells = [list(row) for row in zip(*found.columns, strict=True)] if found else []
    if found is None or list(found.header) != wanted.header or cells != rows:
        raise NothingToDo(f"{table.name} is written so that a row cannot be added to it: mend it first")
    path = table.place.path(table.schema.name)
    return Edit(table.place.study, path, table.name, table.data, after, line or found.lines[-1])
