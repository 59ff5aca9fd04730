"""Do dates stand as headings over the rows of their day? Each is written into a column of its own, beside its rows."""

from __future__ import annotations

from glucolab.reading.bringing.cells.moments import take_apart


def take_headings(
    names: list[str], rows: list[list[str]], lines: list[int]
) -> tuple[list[str], list[list[str]], list[int], tuple[str, ...]]:
    """A body without rows that hold a date and nothing else, and with that date in each row below it.

    Parameters
    ----------
    names : list of str
    rows : list of list of str
    lines : list of int
        Line on which each row begins.

    Returns
    -------
    names, rows, lines
        As they came where no row is such a heading, or the first is none: its rows would have no day.
    said : tuple of str
    """
    if not rows or not _is_heading(rows[0]):
        return names, rows, lines, ()
    day, kept, numbers = "", list[list[str]](), list[int]()
    for row, line in zip(rows, lines, strict=True):
        if _is_heading(row):
            day = next(filter(None, row))
            continue
        kept.append([*row, day])
        numbers.append(line)
    count = len(rows) - len(kept)
    said = f"{count} rows hold a date alone: it is that of the rows below"
    return [*names, "date" if "date" not in names else "date of the heading"], kept, numbers, (said,)


def _is_heading(row: list[str]) -> bool:
    filled = [cell for cell in row if cell]
    if len(filled) != 1:
        return False
    one = take_apart(filled[0])
    return one is not None and one.numbers is not None and one.clock is None
