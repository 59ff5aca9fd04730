"""Which of several columns is it? Two counters of steps are asked, and a row of several meals is refused."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.times import Timing
from glucolab.reading.bringing.vocabulary.matching import SAME_NAME, likeness
from glucolab.reading.bringing.vocabulary.words import COLUMNS, END
from glucolab.reading.meal_names import MEALS_OF_THE_DAY
from glucolab.reading.text import plain, show
from glucolab.record import INPUT_TABLES

_ASKED = ("days", "feelings", "movement", "sleep", "meals")
_MOST_CLOCKS = 2
"""A row with more clock times than this beside its own is no single meal. Assumed."""


def settle_rivals(
    table: str, columns: dict[str, Facts], fitting: dict[str, list[Facts]], answers: Answers
) -> dict[str, Facts]:
    """The columns of a table, each number that a second column is called as well by what the wearer says.

    Parameters
    ----------
    table : str
        Of ours.
    columns : dict of str to Facts
        The file's column for each of ours.
    fitting : dict of str to list of Facts
        All columns whose content can be it.
    answers : Answers
    """
    if table not in _ASKED:
        return columns
    taken = {f.place for f in columns.values()}
    settled = dict(columns)
    for column in INPUT_TABLES[table].columns:
        f = columns.get(column.name)
        if f is None or column.kind != "number":
            continue
        words = COLUMNS[table][column.name]
        least = likeness(f.bare, words) - SAME_NAME
        others = [g for g in fitting[column.name] if g.place not in taken and likeness(g.bare, words) > max(0.0, least)]
        others = [g for g in others if _differs(f, g)]
        if others:
            choices = tuple((g.name, f"such as {show(g.filled[0])}") for g in (f, *others))
            answer = answers.ask(Question(column.name, f"more than one column may hold {column.name}", choices))
            settled[column.name] = next(g for g in (f, *others) if g.name == answer)
            taken.add(settled[column.name].place)
    return settled


def _differs(f: Facts, g: Facts) -> bool:
    """True where two columns say different numbers of the same rows."""
    one, other = (dict(zip(h.rows, read_amounts(h.filled, ".").values, strict=True)) for h in (f, g))
    return any(not np.isclose(one[row], other[row], equal_nan=True) for row in one.keys() & other.keys())


def find_meals_beside(timing: Timing, facts: Sequence[Facts]) -> str:
    """Why a row is not one meal: it has times of others beside its own; "" where it has none."""
    clocks = [f for f in facts if f.is_clock and not f.is_number and f.place not in timing.used]
    clocks = [f for f in clocks if likeness(f.bare, END) < 1]
    others = [f for f in clocks if any(f" {word} " in f" {plain(f.bare)} " for word in MEALS_OF_THE_DAY)]
    if not others and len(clocks) <= _MOST_CLOCKS:
        return ""
    names = " and ".join(f'"{show(f.name)}"' for f in others or clocks)
    return f"{names} hold times of further meals in the same row: write each meal into a row of its own"
