"""What is a foreign table before anything is said of its meaning? Rows of text with their lines."""

from __future__ import annotations

from dataclasses import dataclass

from glucolab.errors import NothingToDo

MOST_TABLE_BYTES = 100_000_000
"""A year of one-minute readings with many columns has less; what is larger is no log of a person."""
MOST_CELLS = 10_000_000
MOST_COLUMNS = 2_000
"""A table of nutrients has some hundred; assumed. More takes minutes to tell what each column is, fewer refuses wide
tables. [columns]"""


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
    header : int
        Line of the names of its columns, where the form of the file says which it is; 0 where it does not.
    delimiter : str
        What parts the cells of a text, which moves them where it stands in one; "" where each has its own place.
    """

    file: str
    rows: list[list[str]]
    lines: list[int]
    said: tuple[str, ...] = ()
    faults: tuple[tuple[int, str], ...] = ()
    delimiter: str = ""
    header: int = 0

    def __post_init__(self) -> None:
        if self.width > MOST_COLUMNS:
            raise NothingToDo(f"{self.file} has {self.width:,} columns: no person's log has more than {MOST_COLUMNS:,}")

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.rows[0]) if self.rows else 0


def square(rows: list[list[str]], lines: list[int]) -> tuple[list[list[str]], list[int]]:
    """Rows without those that are blank and without columns that are blank at the right, all equally long."""
    kept = [(line, row) for line, row in zip(lines, rows, strict=True) if any(row)]
    width = max((max(i + 1 for i, cell in enumerate(row) if cell) for _, row in kept), default=0)
    return [(row + [""] * width)[:width] for _, row in kept], [line for line, _ in kept]
