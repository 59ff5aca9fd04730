"""Which cell stands on which line? The bytes of a delimited file as rows of text, in any usual dialect."""

from __future__ import annotations

import csv
import difflib
import io
import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

_DELIMITERS = (",", ";", "\t")
_ACCENTS = re.compile("[\u0300-\u036f\u0591-\u05c7\u064b-\u065f\u0670]")
"""Marks that a writer may leave out: accents of Latin, Greek and Cyrillic, points of Hebrew and Arabic. Fewer part
words that are one, more join words that are two. The blocks are Unicode's (from memory)."""


class UnreadableError(Exception):
    """A file of which nothing can be used, and why; `line` where one line is to blame."""

    def __init__(self, text: str, line: int | None = None):
        super().__init__(text)
        self.line = line


@dataclass(frozen=True)
class TextRows:
    """The rows of a file.

    Attributes
    ----------
    header : list of str
        As written, without surrounding space.
    columns : list of list of str
        A list of cells for each name of the header, without surrounding space.
    lines : list of int
        The line of the file, as an editor counts it, on which each row begins.
    broken : list of (int, str)
        Line and fault of rows that could not be split into cells.
    header_line : int
        The line on which the header begins.
    long : dict of int to str
        Position of rows with blank cells beyond the header, and how to word it: harmless, unless a
        cell of the row cannot be read, for then its cells have moved.
    delimiter : str
        What stands between two cells.
    """

    header: list[str]
    columns: list[list[str]]
    lines: list[int]
    broken: list[tuple[int, str]]
    header_line: int
    long: dict[int, str]
    delimiter: str


def decode(data: bytes) -> str:
    """Text of a file in UTF-8, with or without a byte-order mark.

    Bytes that are not UTF-8 become lone surrogates, so that only the cells that hold them are lost.

    Raises
    ------
    UnreadableError
        If the file is in UTF-16.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableError("is written in UTF-16: save it as UTF-8")
    return data.decode("utf-8-sig", errors="surrogateescape")


def is_plain(text: str) -> bool:
    """True if the text has neither NULs nor bytes that are not UTF-8."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\0" not in text


def show(text: str, most: int = 40) -> str:
    """Text for a message: short, on one line, printable."""
    cut = text if len(text) <= most else text[:most] + "…"
    return cut if cut.isprintable() else "".join(c if c.isprintable() else "\ufffd" for c in cut)


_FORMULA = re.compile(r"'*[=+\-@\t\n]")
"""What a spreadsheet would run, behind any number of apostrophes, so that reading back is exact."""


def neutralize(text: str) -> str:
    """An apostrophe before a text that a spreadsheet would run as a formula."""
    return f"'{text}" if _FORMULA.match(text) else text


def restore(text: str) -> str:
    """A text as it was before :func:`neutralize`."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text) else text


def plain(text: str) -> str:
    """Text for comparing: small letters, no accents, words parted by single spaces.

    Signs that are letters of their script stay, such as the vowels of Devanagari and Thai.
    """
    folded = unicodedata.normalize("NFKD", text.casefold().replace("ı", "i").replace("ł", "l").replace("ø", "o"))
    bare = unicodedata.normalize("NFC", _ACCENTS.sub("", folded))
    return " ".join("".join(c if c.isalnum() or unicodedata.category(c)[0] == "M" else " " for c in bare).split())


def plain_words(text: str) -> frozenset[str]:
    """The words of a list with commas between them, each as `plain` writes it."""
    return frozenset(plain(word) for word in text.split(","))


def did_you_mean(word: str, known: Collection[str]) -> str:
    """``: did you mean x?`` where one of the known words is close, else nothing."""
    near = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.7)
    return f": did you mean {near[0]}?" if near else ""


def header_name(written: str) -> str:
    """A name of the header as the schema writes it: small letters, ``_`` for space."""
    return "_".join(written.strip().lower().split())


def read_rows(text: str, known: Collection[str]) -> TextRows:
    """Split a file into rows, each with the line on which it begins.

    The delimiter is the one that finds most of the `known` names in the header. Blank lines are
    skipped, missing cells at the end of a row are blank. A row with more cells than the header
    is broken, for its values have moved; so is one whose quotation marks do not close.

    Raises
    ------
    UnreadableError
        If the file has no header.
    """
    lines = list(io.StringIO(text, newline=""))
    header, delimiter = _find_header(lines, known)
    return _read_grid(text, header, delimiter) or _read_one_by_one(lines, header, delimiter)


def _read_grid(text: str, header: list[str], delimiter: str) -> TextRows | None:
    """All rows at once, where every line holds as many cells as the header and none is quoted; else None.

    Nearly every file is so, and long ones are read several times as fast as row by row.
    """
    body = text.replace("\r\n", "\n").rstrip("\n")
    if '"' in body or "\r" in body:
        return None
    data = np.frombuffer(body.encode(errors="surrogateescape"), dtype=np.uint8)
    marks = np.append(data[(data == ord("\n")) | (data == ord(delimiter))], ord("\n"))
    pattern = [ord(delimiter)] * (len(header) - 1) + [ord("\n")]
    if len(marks) % len(header) or (marks.reshape(-1, len(header)) != pattern).any():
        return None
    cells = body.replace("\n", delimiter).split(delimiter)
    if max(map(len, cells)) > csv.field_size_limit():
        return None
    columns = [[cell.strip() for cell in cells[i :: len(header)]] for i in range(len(header))]
    if not all(columns[0]) and not all(map(any, zip(*columns, strict=True))):
        return None  # some rows are blank
    lines = list(range(2, len(columns[0]) + 1))
    return TextRows([column[0] for column in columns], [column[1:] for column in columns], lines, [], 1, {}, delimiter)


def _read_one_by_one(lines: Sequence[str], header: list[str], delimiter: str) -> TextRows:
    """The rows of any file, one after the other."""
    width = len(header)
    kept: list[list[str]] = []
    places: list[int] = []
    broken: list[tuple[int, str]] = []
    long: dict[int, str] = {}
    rows = split_rows(lines, delimiter)
    header_line, _ = next(rows)
    for line, row in rows:
        if isinstance(row, str):
            broken.append((line, row))
            continue
        if len(row) > width:
            many = _word_too_many(len(row), width, delimiter)
            if any(map(str.strip, row[width:])):
                broken.append((line, many))
                continue
            long[len(kept)] = many
        kept.append(row if len(row) == width else (row + [""] * width)[:width])
        places.append(line)
    columns = [[cell.strip() for cell in column] for column in zip(*kept, strict=True)] or [[] for _ in header]
    return TextRows([name.strip() for name in header], columns, places, broken, header_line, long, delimiter)


def _word_too_many(found: int, expected: int, delimiter: str) -> str:
    hint = " (a comma inside a cell needs quotation marks around it)" if delimiter == "," else ""
    return f"{found} cells, {expected} expected{hint}"


def _find_header(lines: Sequence[str], known: Collection[str]) -> tuple[list[str], str]:
    """The cells of the header and the delimiter that finds most known names in it."""
    firsts = {delimiter: next(split_rows(lines, delimiter), None) for delimiter in _DELIMITERS}
    headers = {delimiter: first for delimiter, first in firsts.items() if first is not None}
    if "," not in headers:
        raise UnreadableError("is empty: it has no header")
    usable = {delimiter: row for delimiter, (_, row) in headers.items() if not isinstance(row, str)}
    if not usable:
        line, fault = headers[","]
        raise UnreadableError(f"the header cannot be read: {fault}", line)

    def count_known(delimiter: str) -> tuple[int, int]:
        row = usable[delimiter]
        return len({header_name(name) for name in row} & set(known)), len(row)

    best = max(usable, key=count_known)
    return usable[best], best


def split_rows(lines: Sequence[str], delimiter: str) -> Iterator[tuple[int, list[str] | str]]:
    """Line and cells of every row that is not blank; line and fault of a row that cannot be split.

    After a fault reading goes on with the next line, so that one stray quotation mark costs one
    row and not the rest of the file.
    """
    start = 0
    while start < len(lines):
        rest = (lines[i] for i in range(start, len(lines)))
        reader = csv.reader(rest, delimiter=delimiter, skipinitialspace=True, strict=True)
        before = 0
        try:
            for row in reader:
                if "".join(row).strip():
                    yield start + before + 1, row
                before = reader.line_num
            return
        except csv.Error as fault:
            yield start + before + 1, _word_fault(str(fault), reader.line_num - before)
            start += before + 1


def _word_fault(fault: str, lines_long: int) -> str:
    if "field limit" in fault and lines_long == 1:
        return f"a cell has more than {csv.field_size_limit():,} characters"
    if "expected after" in fault and lines_long == 1:
        return "text follows a closing quotation mark (inside a quoted cell, write the mark twice)"
    return "a quotation mark is opened and not closed"
