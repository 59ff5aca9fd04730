"""Does a column count on from row to row? A running total is not what was walked in each minute: it is asked."""

from __future__ import annotations

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


def settle_running(columns: dict[str, Facts], answers: Answers, said: list[str]) -> dict[str, Facts]:
    """The columns of movement without steps that count on from row to row, unless the wearer says that they do not.

    Raises
    ------
    NothingToDo
        If nothing else is left: the first row of a running total says nothing of its own minutes.
    """
    steps = columns.get("steps")
    if steps is None or not (names_running(steps.name) or _counts_on(steps)):
        return columns
    text = f'"{show(steps.name)}" seems to count on from row to row, as "{show(steps.filled[-1])}" on the last'
    choices = (
        ("leave_out", "a running total: it is not brought"),
        ("each", "the steps of each row alone"),
    )
    if answers.ask(Question("running", text, choices)) == "each":
        return columns
    left = {name: f for name, f in columns.items() if name != "steps"}
    if "running" in answers.said and not left.keys() - {"note", "source"}:
        raise NothingToDo(f'"{show(steps.name)}" is a running total, and no other column of movement is there')
    said.append(f'"{show(steps.name)}" is a running total: it is not brought')
    return left


def _counts_on(f: Facts) -> bool:
    """True where amounts hardly ever fall, or, in a file that runs back in time, hardly ever rise."""
    steps = np.diff(read_amounts(f.filled, ".").values)
    rises, falls = int((steps > 0).sum()), int((steps < 0).sum())
    return max(rises, falls) >= _RISES * max(min(rises, falls), 1)
