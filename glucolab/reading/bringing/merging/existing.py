"""What stands in a wear's table already? Its cells as they are written, to be kept, and the text of the file to be."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from glucolab.errors import NothingToDo
from glucolab.reading.cells import has_decimal_comma
from glucolab.reading.files import StudyFiles
from glucolab.reading.text import TextRows, UnreadableError, decode, header_name, is_plain, neutralize, read_rows
from glucolab.reading.wear_context import Place
from glucolab.record import Table

_GROUP_LIKE = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


@dataclass
class Existing:
    """A table as it stands: names as they are written, rows of cells, and the file's SHA-256 ("" for none)."""

    header: list[str]
    rows: list[list[str]]
    lines: list[int]
    digest: str
    delimiter: str = ","
    comma: bool = False
    names: list[str] = field(init=False)

    def __post_init__(self) -> None:
        self.names = [header_name(name) for name in self.header]

    def column(self, name: str) -> list[str]:
        """Cells of a column; blank ones where there is none."""
        if name not in self.names:
            return [""] * len(self.rows)
        place = self.names.index(name)
        return [row[place] for row in self.rows]


def read_existing(place: Place, schema: Table) -> Existing:
    """The table as it stands; one without header and rows where there is no file yet.

    Raises
    ------
    NothingToDo
        If part of it cannot be read, and so could not be kept.
    """
    files = StudyFiles(place.study)
    name = place.name(schema.name)
    data = files.read(name)
    if files.problems:
        raise NothingToDo(str(files.problems[0]))
    if data is None or not data.strip():
        return Existing([], [], [], files.hashes.get(name, ""))
    try:
        text = decode(data)
        rows = read_rows(text, schema.names)
    except UnreadableError as fault:
        raise NothingToDo(f"{name} {fault}: mend it first") from None
    if not is_plain(text):
        raise NothingToDo(f"{name} holds bytes that are not UTF-8 text, and would be lost: save it as UTF-8 first")
    if rows.broken or rows.long:
        line = min([line for line, _ in rows.broken] + [rows.lines[i] for i in rows.long])
        raise NothingToDo(f"{name} line {line} cannot be split into its cells, and would be lost: mend it first")
    return as_existing(rows, schema, files.hashes[name])


def as_existing(rows: TextRows, schema: Table, digest: str) -> Existing:
    """Rows of a file as cells, with how its numbers are written."""
    numbers = [cells for title, cells in zip(rows.header, rows.columns, strict=True) if _is_number(schema, title)]
    comma = any(has_decimal_comma(cells) for cells in numbers)
    cells = [list(row) for row in zip(*rows.columns, strict=True)]
    return Existing(list(rows.header), cells, list(rows.lines), digest, rows.delimiter, comma)


def stands_unchanged(place: Place, table: str, digest: str) -> bool:
    """True if a table's file still has this SHA-256, or still is not there where that is ""."""
    files, name = StudyFiles(place.study), place.name(table)
    files.read(name)
    return not files.problems and files.hashes.get(name, "") == digest


def _is_number(schema: Table, title: str) -> bool:
    return any(column.name == header_name(title) and column.kind == "number" for column in schema.columns)


def add_columns(existing: Existing, schema: Table, columns: Sequence[str]) -> None:
    """Columns that were brought and are not there yet, in the schema's order, at the right."""
    wanted = schema.names if not existing.header else [n for n in schema.names if n in columns]
    for name in [*wanted, *(n for n in columns if n not in schema.names)]:
        if name not in existing.names:
            existing.header.append(name)
            existing.names.append(name)
            for row in existing.rows:
                row.append("")


def as_written(existing: Existing, text: str) -> str:
    """A brought cell as it is written into this file."""
    try:
        float(text)
    except ValueError:
        return neutralize(text)
    if not existing.comma:
        return text
    written = text.replace(".", ",")
    return f"{written}0" if _GROUP_LIKE.fullmatch(written) else written  # 12,125 might be 12125


def write_text(existing: Existing, rows: Sequence[Sequence[str]]) -> str:
    """The text of the file with these rows."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=existing.delimiter, lineterminator="\n")
    writer.writerow(existing.header)
    writer.writerows(rows)
    return out.getvalue()
