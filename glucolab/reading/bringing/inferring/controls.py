"""Which rows of a meter are no blood? Those of its control solution, by a column that says so."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Words
from glucolab.reading.bringing.vocabulary.cautions import may_name_control, names_blood, names_control
from glucolab.reading.bringing.vocabulary.matching import find_truth
from glucolab.reading.bringing.vocabulary.words import KINDS_OF_ROW, TRUTH
from glucolab.reading.text import plain, show

_MARKS = ("x", "✓", "✔")


def find_controls(facts: Sequence[Facts], answers: Answers, said: list[str]) -> tuple[Words, ...]:
    """The column, and its cells, by which rows of a control solution are left out; none where there are none.

    Parameters
    ----------
    facts : sequence of Facts
        All columns of the file.
    answers : Answers
    said : list of str
        Grows by what was found.
    """
    for f in facts:
        if f.is_time:
            continue
        cells = tuple(dict.fromkeys(f.filled))
        if names_control(f.name) or may_name_control(f.bare):
            found, sure = tuple(cell for cell in cells if _is_true(cell)), True
        else:
            named = tuple(cell for cell in cells if names_control(cell))
            found = named + tuple(cell for cell in cells if may_name_control(cell) and cell not in named)
            sure = found == named or any(_is_blood(cell) for cell in cells)
        if not found:
            continue
        listed = ", ".join(f'"{show(cell)}"' for cell in found)
        if not sure:
            text = f'rows whose "{show(f.name)}" is {listed} may be of a control solution, which is no blood'
            choices = (("leave_out", "control solution: not brought"), ("keep", "a check of blood"))
            if answers.ask(Question("control", text, choices)) == "keep":
                continue
        said.append(f'rows whose "{show(f.name)}" is {listed} are of a control solution, and are left out')
        return ((f.name, found),)
    return ()


def _is_true(cell: str) -> bool:
    return (
        find_truth(cell, TRUTH) == "true"
        or cell.lower() in (*_MARKS, "1")
        or names_control(cell)
        or (may_name_control(cell))
    )


def _is_blood(cell: str) -> bool:
    return names_blood(cell) or plain(cell) in KINDS_OF_ROW["checks"]
