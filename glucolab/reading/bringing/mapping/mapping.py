"""Which column is what? The mapping of a foreign table into one of ours."""

from __future__ import annotations

from dataclasses import dataclass, field

NIGHTS = ("evening", "morning")
Words = tuple[str, tuple[str, ...]]
"""A column of the file, and cells of it."""
LOCAL = "local"
"""Stands for a zone where an offset that is written does not count."""
PARTS_OF_LENGTHS = ("h:m", "m:s", "h.mm")
BRINGABLE = ("glucose", "meals", "activity", "movement", "sleep", "days", "feelings", "checks", "labs", "notes")


@dataclass(frozen=True)
class Source:
    """Where a column of ours comes from, and how it is read.

    Attributes
    ----------
    columns : tuple of str
        The file's columns: one; or a date and a clock time; or for a length of time the end of it; or two of glucose,
        of which a row fills one, and whose names say how it was taken; or two texts, which are joined.
    always : str
        The same text in every row, in place of columns.
    order : str
        How dates are written, out of `moments.ORDERS`.
    year : str
        Of dates that are written without one.
    since : str
        "seconds since 1970", "milliseconds since 1970", "days since 1899-12-30", or for clock times "minutes since
        midnight" or "hours and minutes as one number".
    zone : str
        IANA name or offset (+05:30) of times without an offset; "" for what the wearer's clocks showed; "local" where
        they showed it in spite of an offset that is written.
    zone_from : str
        The file's column that says the same of each row, as a name, an offset, or a number of hours.
    night : str
        For a sleep with one date: "evening" if it is that of the evening, "morning" if that of the waking.
    late : str
        "next_day" where times after midnight that stand last under a date are of the next one.
    reads : str
        "running": a total that counts on from row to row, of which the growth is meant; "length": minutes are a length
        of time; "end": they last until the time in the columns; "length_after_start":
        an end is so long after the start.
    parts : str
        What 1:20 means as a length: "h:m" or "m:s"; "h.mm": 7.30 is 7 hours 30 minutes.
    unit : str
        Of the values: a unit of glucose, or one that is turned into ours, such as "kJ", or "12 g" for exchanges.
    of : str
        The file's column of grams that were eaten: the values are of 100 of them.
    unit_from : str
        The file's column that says the unit.
    shift_min : float
        What is added to times as they are written: less than 0 where they are those of an interval's end, or where the
        clock was fast. [min]
    scale : tuple of float
        The marks that are turned into 0 and into 10: the lowest and the highest, or these changed over.
    bound : str
        "low" or "high": the limit in a range such as 3.5-5.0.
    words : dict of str to str
        What a cell's text stands for.
    """

    columns: tuple[str, ...] = ()
    always: str = ""
    order: str = ""
    year: str = ""
    since: str = ""
    zone: str = ""
    zone_from: str = ""
    night: str = ""
    late: str = ""
    reads: str = ""
    parts: str = ""
    unit: str = ""
    of: str = ""
    unit_from: str = ""
    shift_min: float = 0.0
    scale: tuple[float, ...] = ()
    bound: str = ""
    words: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Mapping:
    """How a foreign table becomes one of ours.

    Attributes
    ----------
    table : str
        The table of ours.
    sources : dict of str to Source
        By our column.
    header : tuple of int
        Line of the file on which the header stands, or its two lines; empty if it has none.
    decimal : {".", ","}
    keep : tuple of (str, tuple of str)
        Columns of the file with words: only rows are kept whose cell in each of them is one of its words.
    leave : tuple of (str, tuple of str)
        The same of rows that are left out, such as totals.
    stages : str
        The column of stages of sleep, whose rows are joined to a row a sleep.
    latest : tuple of str
        The column that tells records apart, and the one whose highest cell is that of the state that counts.
    joins : bool
        Rows of activity with one start and one length are one session.
    sheet : str
        Of a spreadsheet.
    """

    table: str
    sources: dict[str, Source]
    header: tuple[int, ...]
    decimal: str = "."
    keep: tuple[Words, ...] = ()
    leave: tuple[Words, ...] = ()
    stages: str = ""
    sheet: str = ""
    latest: tuple[str, ...] = ()
    joins: bool = False
