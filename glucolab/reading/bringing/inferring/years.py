"""Do dates say no year? Then they are of the one in which they lie in the wear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from glucolab.reading.bringing.cells.moments import ORDERS, Written, date_in
from glucolab.reading.bringing.cells.short_dates import take_without_year
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.times import Dates
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.words import DATE
from glucolab.reading.text import show

_MOST = 0.7


def complete_years(facts: Sequence[Facts], dates: Dates, said: list[str]) -> list[Facts]:
    """The facts, columns that are called a date and whose cells lack a year as dates of the year of the wear.

    Parameters
    ----------
    facts : sequence of Facts
    dates : Dates
        Of the wear. One that spans a new year settles a year only if all dates lie within it in one of its two.
    said : list of str
        Grows by what was found.
    """
    return [
        _complete(f, dates, said) if likeness(f.bare, DATE) > 0 and not (f.is_day or f.is_moment) else f for f in facts
    ]


def _complete(f: Facts, dates: Dates, said: list[str]) -> Facts:
    years = sorted({day.year for day in (dates.first, dates.last) if day is not None})
    fitting = []
    for year in years:
        written = [take_without_year(cell, year) for cell in f.filled]
        known = [one for one in written if one is not None]
        if len(known) > _MOST * len(written) and _lie_in(known, dates, len(years) == 1):
            fitting.append((year, written))
    if len(fitting) != 1:
        return f
    year, written = fitting[0]
    said.append(f'"{show(f.name)}" says no year: it is {year}, that of the wear')
    share = sum(one is not None for one in written) / len(written)
    return replace(f, written=written, day=share, moment=0.0, clock=0.0, number=0.0, length=0.0, year=str(year))


def _lie_in(known: Sequence[Written], dates: Dates, one_is_enough: bool) -> bool:
    """True where, in one order of day and month, one of the dates lies in the wear, or all of them do."""
    for order in ORDERS:
        days = [date_in(one.numbers, "year-month-day" if one.fixed else order) for one in known if one.numbers]
        inside = [day is not None and dates.holds(day) for day in days]
        if all(days) and (any(inside) if one_is_enough else all(inside)):
            return True
    return False
