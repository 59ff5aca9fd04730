"""What does a clock say? Halves of a day that its cells leave out, and times that are written as one number."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.cells.moments import DIGITS, MINUTES, names_half, take_digits
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.vocabulary.cautions import names_minutes, names_twelve_hours
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.words import CLOCK, MOMENT
from glucolab.reading.text import plain, show

_NOON = 12
_LEAST_FOR_HALVES = 12
"""Rows from which it is no accident that no hour is 0 or above 12."""
_LEAST_TO_ASK = 3
"""Rows from which that is asked. Assumed."""
_DAY_MIN = 1440
_LONGEST_HALF = 4
"""Letters and signs of AM, p. m., 午前; a cell of more says more than that. Assumed."""
_CHANGE_H = 1
"""Clocks that are put back in autumn go back by no more."""


def want_both_halves(day: Facts, clock: Facts, answers: Answers) -> None:
    """See to it that a clock of twelve hours says which half of the day it means.

    Raises
    ------
    NothingToDo
        If its hours run from 1 to 12 alone and, within a day, start again; of few rows the wearer is asked.
    """
    if len(day.written) != len(clock.written) or len(clock.written) < _LEAST_TO_ASK:
        return
    told = [(a.numbers, b.clock) for a, b in zip(day.written, clock.written, strict=True) if a and b and b.clock]
    if not all(1 <= clock[0] <= _NOON for _, clock in told):
        return
    by_day: dict[object, list[int]] = {}
    for numbers, (hour, *_) in told:
        by_day.setdefault(numbers, []).append(hour)
    steps = [np.diff(hours) for hours in by_day.values()]
    starts_again = any(
        bool(((s < -_CHANGE_H).any() and (s > 0).any()) or ((s > _CHANGE_H).any() and (s < 0).any())) for s in steps
    )
    few = len(clock.written) < _LEAST_FOR_HALVES
    if few and (starts_again or _looks_halved([hour for _, (hour, *_) in told], clock)):
        text = f'"{show(clock.name)}" runs from 1 to 12, and nothing says which half of the day is meant'
        choices = (("24h", "a clock of 24 hours: they are as written"), ("12h", "a clock of 12 hours"))
        starts_again = answers.ask(Question("halves", text, choices)) == "12h"
    if starts_again:
        raise NothingToDo(
            f'"{show(clock.name)}" runs from 1 to 12 and starts again within a day, and nothing says which half of the '
            "day is meant: export it with a clock of 24 hours, or with AM and PM"
        )


def _looks_halved(hours: Sequence[int], clock: Facts) -> bool:
    """True where an hour after noon is written as 12, none as 13 or more, and none begins with a 0."""
    return _NOON in hours and min(hours) < _NOON - 1 and not any(cell.startswith("0") for cell in clock.filled)


def want_halves(columns: Sequence[Facts], others: Sequence[Facts]) -> None:
    """See to it that a clock of twelve hours, as a header or other cells say it is, has its half of the day.

    Parameters
    ----------
    columns : sequence of Facts
        Of the times that are brought.
    others : sequence of Facts
        The other columns, of which one may hold AM and PM alone.

    Raises
    ------
    NothingToDo
        If cells from 1 to 12 o'clock do not say which half of the day they mean, though others or the header do.
    """
    apart = next((f for f in others if not f.is_time and all(_is_half(cell) for cell in set(f.filled))), None)
    for f in columns:
        clocks = {c: one.clock[0] for c, one in zip(f.filled, f.written, strict=True) if one and one.clock}
        bare = [cell for cell in clocks if not names_half(cell)]
        if not bare or any(not 1 <= clocks[cell] <= _NOON for cell in bare):
            continue
        if apart is not None or len(bare) < len(clocks) or names_twelve_hours(f.name):
            beside = f': write "{show(apart.filled[0])}" of "{show(apart.name)}" into its cell' if apart else ""
            raise NothingToDo(
                f'"{show(f.name)}" is of a clock of 12 hours, and "{show(bare[0])}" does not say which half of the day '
                f"it means{beside or ': export it with a clock of 24 hours, or with AM and PM in each cell'}"
            )


def _is_half(cell: str) -> bool:
    return names_half(cell) and len(plain(cell).replace(" ", "")) <= _LONGEST_HALF


def count_of_day(facts: Facts, answers: Answers) -> str:
    """Whether numbers named a time are minutes of the day, or hours and minutes as one number; "" for neither.

    A leading zero, or more than a day has minutes, tell the one; 80 and 875 the other; else it is asked.
    """
    if not likeness(facts.name, (*MOMENT, *CLOCK)) > 0:
        return ""
    values = read_amounts(facts.filled, ".").values
    counts = bool(((values >= 0) & (values < _DAY_MIN)).all())
    digits = all(take_digits(cell) for cell in set(facts.filled))
    if not digits or not counts:
        return DIGITS if digits else MINUTES if counts else ""
    if names_minutes(facts.name):
        return MINUTES
    if any(len(cell) in (4, 6) and cell.startswith("0") for cell in facts.filled):
        return DIGITS
    cell = max(facts.filled, key=int)
    hour, minute = divmod(int(cell), 100)
    choices = (
        ("digits", f"{hour:02d}:{minute:02d}, hours and minutes as one number"),
        ("minutes", f"{int(cell) // 60:02d}:{int(cell) % 60:02d}, minutes since midnight"),
    )
    text = f'"{show(facts.name)}" has two readings: "{show(cell)}" may be'
    return DIGITS if answers.ask(Question("clock", text, choices)) == "digits" else MINUTES
