"""Does a column count on from row to row? A running total is not what was walked or eaten at each: it is asked."""

from __future__ import annotations

from collections.abc import Sequence
from math import factorial

import numpy as np

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.vocabulary.cautions import names_running
from glucolab.reading.text import show

_RISES = 12
"""Rows of a running total rise so often for each time they start anew; counts fall as often as they rise. Assumed:
fewer take a walk that grows longer for a total, more pass over totals of few rows."""
_BY_CHANCE = 5e-4
"""Amounts of meals rise all day, on two days or more, by chance as seldom as this. Assumed: more asks of honest
logs."""
_LEAST_DAYS = 4
"""Days from which a figure that only grows, to half as many times its first value, is a total. Assumed."""
_COUNTED = {
    "movement": ("steps",),
    "meals": ("carbs_g", "energy_kcal", "protein_g", "fat_g", "fiber_g"),
    "days": ("caffeine_mg", "steps", "relaxation_min"),
}


def settle_running(
    table: str, columns: dict[str, Facts], times: Sequence[Facts], answers: Answers, said: list[str]
) -> tuple[dict[str, Facts], tuple[str, ...]]:
    """The columns without those that count on and are left out, and which of ours are running totals.

    Parameters
    ----------
    table : str
        Of ours.
    columns : dict of str to Facts
    times : sequence of Facts
        The columns of the time of each row, that of its date first.
    answers : Answers
    said : list of str
        Grows by what was found.

    Raises
    ------
    NothingToDo
        If nothing else is left.
    """
    found = [
        name
        for name in _COUNTED.get(table, ())
        if (f := columns.get(name)) is not None and (names_running(f.name) or _counts_on(table, f, times))
    ]
    if not found:
        return columns, ()
    first = columns[found[0]]
    text = f'"{show(first.name)}" seems to count on from row to row, as "{show(first.filled[-1])}" on the last'
    choices = (
        ("leave_out", "a running total: it is not brought"),
        ("differences", "a running total: what it grew by is brought"),
        ("each", "the amount of each row alone"),
    )
    answer = answers.ask(Question("running", text, choices))
    if answer == "each":
        return columns, ()
    names = " and ".join(f'"{show(columns[name].name)}"' for name in found)
    if answer == "differences":
        said.append(f"{names}: a running total, of which the growth from row to row is brought")
        return columns, tuple(found)
    left = {name: f for name, f in columns.items() if name not in found}
    if "running" in answers.said and not left.keys() - {"note", "source"}:
        raise NothingToDo(f"{names} is a running total, and no other column of {table} is there")
    said.append(f"{names} is a running total: it is not brought")
    return left, ()


def _counts_on(table: str, f: Facts, times: Sequence[Facts]) -> bool:
    """True where amounts hardly ever fall, or, in a file that runs back in time, hardly ever rise."""
    values = read_amounts(f.filled, ".").values
    if table == "meals":
        return _rises_daily(f.rows, values, times)
    if table == "days":
        known = values[np.isfinite(values)]
        grows = len(known) > _LEAST_DAYS and bool((np.diff(known) >= 0).all())
        return grows and float(known[-1]) > len(known) / 2 * float(known[0])
    steps = np.diff(values)
    rises, falls = int((steps > 0).sum()), int((steps < 0).sum())
    return max(rises, falls) >= _RISES * max(min(rises, falls), 1)


def _rises_daily(rows: Sequence[int], values: np.ndarray, times: Sequence[Facts]) -> bool:
    """True where amounts never fall within a day, on so many days that chance hardly makes it so.

    Of rows of one time, such as the parts of a meal, the last counts.
    """
    dates = {row: one.numbers if one else None for row, one in zip(times[0].rows, times[0].written, strict=True)}
    cells = {row: cell for f in times for row, cell in zip(f.rows, f.filled, strict=True)}
    by_day: dict[object, dict[str, float]] = {}
    date = None
    for row, value in zip(rows, values, strict=True):
        date = dates.get(row) or date
        by_day.setdefault(date, {})[cells.get(row, "")] = value
    days = [list(one.values()) for one in by_day.values()]
    parts = [np.diff(one) for one in days]
    if not all((part >= 0).all() for part in parts) and not all((part <= 0).all() for part in parts):
        return False
    distinct = [len(np.unique(one)) for one in days]
    chance = float(np.prod([1 / factorial(n) for n in distinct]))
    return sum(count > 1 for count in distinct) > 1 and chance < _BY_CHANCE
