"""Which table is in a web page? Its only one as a grid of text, with what stands above it."""

from __future__ import annotations

from html.parser import HTMLParser

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.delimited import decode_any
from glucolab.reading.bringing.grids.grid import MOST_CELLS, MOST_COLUMNS, Grid, square

_LOOKED_AT = 4096
_CELLS, _UNSEEN = ("td", "th"), ("script", "style", "template")
_SIGNS = ("<!doctype html", "<html", "<table")


def looks_like_page(start: str) -> bool:
    """True for text that begins as a web page, or as a table of one, does."""
    text = start[:_LOOKED_AT].lstrip("\ufeff \t\r\n").lower()
    return text.startswith("<") and any(sign in text for sign in _SIGNS)


def read_page(data: bytes, file: str) -> Grid:
    """Read the one table of a web page.

    Parameters
    ----------
    data : bytes
    file : str
        Name of the file, for messages.

    Returns
    -------
    Grid
        What stands above the table comes before its rows, a text each; they are counted as lines.

    Raises
    ------
    NothingToDo
        If the page holds no table or more than one, one within another, or more cells than a person's log.
    """
    text, said = decode_any(data, file)
    page = _Page(file)
    page.feed(text)
    page.close()
    if page.tables != 1:
        count = "no table" if not page.tables else f"{page.tables} tables"
        raise NothingToDo(f"{file} is a web page with {count}: save the one that is meant as CSV")
    rows, lines = square(page.rows, list(range(1, len(page.rows) + 1)))
    return Grid(file, rows, lines, (*said, "it is a web page: its texts and rows are counted as lines"))


class _Page(HTMLParser):
    """Texts above the first table's rows, its caption among them, and the rows."""

    def __init__(self, file: str):
        super().__init__(convert_charrefs=True)
        self.file = file
        self.rows: list[list[str]] = []
        self.tables = 0
        self._cell: list[str] | None = None
        self._left: dict[int, tuple[int, str]] = {}
        self._spans = (1, 1)
        self._begun = False
        self._depth = self._unseen = self._cells = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a table, a row or a cell."""
        if tag in _UNSEEN:
            self._unseen += 1
        elif tag == "table":
            self.tables += 1
            self._depth += 1
            if self._depth > 1:
                raise NothingToDo(f"{self.file} is a web page with a table within a table: save it as CSV")
        elif self.tables == 1 and self._depth and tag == "tr":
            self._end_cell()
            self._begin_row()
        elif self.tables == 1 and self._depth and tag in _CELLS:
            self._end_cell()
            if not self._begun:  # cells of a page that leaves out its first <tr>
                self._begin_row()
            named = dict(attrs)
            self._spans = (_span(named.get("colspan")), _span(named.get("rowspan")))
            self._cell = []
        elif tag == "br" and self._cell is not None:
            self._cell.append(" ")

    def handle_endtag(self, tag: str) -> None:
        """End what began."""
        if tag in _UNSEEN:
            self._unseen = max(0, self._unseen - 1)
        elif tag in (*_CELLS, "tr", "table"):
            self._end_cell()
            self._depth -= tag == "table" and self._depth > 0

    def handle_data(self, data: str) -> None:
        """Keep the text of a cell, and texts above the table."""
        if self._unseen:
            return
        if self._cell is not None:
            self._cell.append(data)
        elif (not self.tables or (self._depth and not self._begun)) and data.strip():
            self.rows.append([" ".join(data.split())])

    def _begin_row(self) -> None:
        self._begun = True
        self.rows.append([])
        self._fill()

    def _end_cell(self) -> None:
        """Put a cell into its row: a text over several rows stands in each, over several columns in the first."""
        if self._cell is None:
            return
        text, (across, down) = " ".join("".join(self._cell).split()), self._spans
        self._cell = None
        if not self.rows or not self.tables:
            return
        for i in range(across):
            place = len(self.rows[-1])
            own = text if i == 0 else ""
            self.rows[-1].append(own)
            if down > 1:
                self._left[place] = (down - 1, own)
        self._cells += across
        if self._cells > MOST_CELLS:
            raise NothingToDo(f"{self.file} has more than {MOST_CELLS:,} cells: that is no person's log")
        self._fill()

    def _fill(self) -> None:
        """Texts that reach down from rows above."""
        while (place := len(self.rows[-1])) in self._left:
            count, text = self._left.pop(place)
            self.rows[-1].append(text)
            if count > 1:
                self._left[place] = (count - 1, text)


def _span(value: str | None) -> int:
    return min(max(int(value), 1), MOST_COLUMNS) if value and value.strip().isdecimal() else 1
