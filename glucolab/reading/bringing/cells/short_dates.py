"""Which day is meant where no year is written? 12/06, Tue 12.6., May 19, in a year that is known otherwise."""

from __future__ import annotations

import re
from functools import cache

from glucolab.reading.bringing.cells.moments import Written, month_names, one_of, tidy_moment, without_day_name

_NUMBERS = re.compile(r"(\d{1,2})\s*[-./]\s*(\d{1,2})\.?")


@cache
def _named() -> tuple[re.Pattern[str], re.Pattern[str]]:
    month = rf"(?P<month>{one_of(month_names())})\.?"
    return (
        re.compile(rf"(?P<day>\d{{1,2}})(?:\.|er|º|o|st|nd|rd|th)?\s*(?:de |of )?[-./ ]*{month}"),
        re.compile(rf"{month}[-./ ]*(?P<day>\d{{1,2}})(?:st|nd|rd|th)?"),
    )


def take_without_year(cell: str, year: int) -> Written | None:
    """Read one cell as a date of a year that it does not say; None if it is none.

    Parameters
    ----------
    cell : str
    year : int

    Returns
    -------
    Written or None
        Its numbers in the order in which they stand, the year last; fixed where the month is named.
    """
    text = without_day_name(tidy_moment(cell))
    if match := _NUMBERS.fullmatch(text):
        return Written((int(match[1]), int(match[2]), year), False, None, "")
    for form in _named():
        if match := form.fullmatch(text):
            return Written((year, month_names()[match["month"]], int(match["day"])), True, None, "")
    return None
