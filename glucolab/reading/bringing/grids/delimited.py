"""Which delimiter and which letters? The bytes of any delimited file as a grid."""

from __future__ import annotations

import codecs
import io
from collections import Counter

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.alphabets import guess_alphabet
from glucolab.reading.bringing.grids.grid import MOST_CELLS, Grid, square
from glucolab.reading.text import split_rows

_DELIMITERS = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma"}
"""The comma comes last: it also stands inside numbers."""
LONGEST_LINE = 1_000_000
_LOOKED_AT = 300
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def read_delimited(data: bytes, file: str) -> Grid:
    """Read a delimited table in any usual alphabet and with any usual delimiter.

    Parameters
    ----------
    data : bytes
    file : str
        Name of the file, for messages.

    Returns
    -------
    Grid

    Raises
    ------
    NothingToDo
        If the bytes are no text, or a line is too long to be a row.
    """
    text, said = decode_any(data, file)
    lines = list(io.StringIO(text, newline=""))
    longest = max(range(len(lines)), key=lambda i: len(lines[i]))
    if len(lines[longest]) > LONGEST_LINE:
        raise NothingToDo(f"{file} line {longest + 1} has {len(lines[longest]):,} characters: that is no table")
    delimiter = _find_delimiter(lines)
    rows, places, faults, cells = [], [], [], 0
    for line, row in split_rows(lines, delimiter):
        if isinstance(row, str):
            faults.append((line, row))
            continue
        cells += len(row)
        if cells > MOST_CELLS:
            raise NothingToDo(f"{file} has more than {MOST_CELLS:,} cells: that is no person's log")
        rows.append([cell.strip() for cell in row])
        places.append(line)
    rows, places = square(rows, places)
    return Grid(file, rows, places, (*said, f"cells are parted by {_DELIMITERS[delimiter]}s"), tuple(faults), delimiter)


def decode_any(data: bytes, file: str) -> tuple[str, tuple[str, ...]]:
    """Text of a file, and what was said of its letters: UTF-8 unless a mark or the bytes say otherwise."""
    for mark, encoding in _BOMS:
        if data.startswith(mark):
            try:
                return _want_text(data[len(mark) :].decode(_without_mark(mark, encoding)), file), ()
            except UnicodeDecodeError:
                raise NothingToDo(f"{file} begins as {encoding.upper()} text and does not go on so") from None
    try:
        return _want_text(data.decode("utf-8"), file), ()
    except UnicodeDecodeError:
        page = None if b"\0" in data else guess_alphabet(data)
        if page is None:
            raise NothingToDo(f"{file} is neither a text table nor a spreadsheet") from None
        return _want_text(data.decode(page, errors="replace"), file), (f"the letters are read as {page}",)


def _without_mark(mark: bytes, encoding: str) -> str:
    ends = {codecs.BOM_UTF32_LE: "utf-32-le", codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
    return ends.get(mark, encoding)


def _want_text(text: str, file: str) -> str:
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise NothingToDo(f"{file} line {line} holds NUL characters: it is no text table")
    return text


def _find_delimiter(lines: list[str]) -> str:
    """The delimiter that parts most rows into equally many cells, at least two."""

    def share(delimiter: str) -> float:
        widths = Counter(len(row) for _, row in split_rows(lines[:_LOOKED_AT], delimiter) if not isinstance(row, str))
        parted = {width: count for width, count in widths.items() if width > 1}
        return max(parted.values(), default=0) / max(widths.total(), 1)

    shares = {delimiter: share(delimiter) for delimiter in _DELIMITERS}
    best = max(shares.values())
    return next(delimiter for delimiter in _DELIMITERS if shares[delimiter] >= 0.9 * best) if best else ","
