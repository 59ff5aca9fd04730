"""Which column holds the glucose? The one named so, or in its unit; two are asked, and one of no known name is too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from glucolab.reading.bringing.cells.amounts import find_unit, read_amounts
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.apply import unit_of
from glucolab.reading.bringing.vocabulary.analytes import names_analyte
from glucolab.reading.bringing.vocabulary.cautions import is_figure
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.rows import names_device
from glucolab.reading.bringing.vocabulary.units import GLUCOSE_UNIT_WORDS, UNIT_FACTORS
from glucolab.reading.bringing.vocabulary.words import CLOCK, COLUMNS, DATE, VALUE
from glucolab.reading.text import plain, show

_LEAST_VARIED = 12
"""So many readings are never all the same: a column that is holds a setting. Assumed."""
_DIMENSIONS = {unit for factors in UNIT_FACTORS.values() for unit in factors} | set(GLUCOSE_UNIT_WORDS)
_ALIKE = {"g": ("g", "mg"), "mg": ("g", "mg")}


def settle_glucose(columns: dict[str, Facts], rest: Sequence[Facts], answers: Answers) -> bool:
    """See to it that glucose has its column: the one named so, else the one of numbers named a value; two are asked."""
    fit = [f for f in rest if f.is_number and not is_figure(f.name) and has_dimension(f, "glucose")]
    fit = [f for f in fit if not names_device(f.bare) or plain(f.bare) in COLUMNS["glucose"]["glucose"]]
    columns.pop("glucose", None)
    named = [f for f in fit if f.place not in {g.place for n, g in columns.items() if n != "glucose"}]
    worth = {
        f.place: round(likeness(f.bare, (*COLUMNS["glucose"]["glucose"], *COLUMNS["checks"]["glucose"])), 1)
        for f in named
    }
    best = [f for f in named if worth[f.place] >= 0.5 and worth[f.place] >= max(worth.values()) - 0.25]
    if not best:
        best = [f for f in named if likeness(f.bare, VALUE) > 0]
    if not best:
        best = _ask_unnamed([f for f in named if _says_glucose(f) and not names_analyte(f.bare)], answers)
    best = _join_turns(best)
    best = [f for f in best if len(set(f.filled)) > 1 or len(f.filled) < _LEAST_VARIED]
    if len(best) > 1:
        choices = tuple((f.name, f"such as {show(f.filled[0])}") for f in best)
        answer = answers.ask(Question("glucose", "more than one column may hold the glucose", choices))
        best = [f for f in best if f.name == answer]
    if best:
        columns["glucose"] = best[0]
    return bool(best)


def _join_turns(best: list[Facts]) -> list[Facts]:
    """Two columns of which each row fills one, such as automatic and scanned readings in one unit, as one."""
    if len(best) != 2 or set(best[0].rows) & set(best[1].rows) or _units_in(best[0]) != _units_in(best[1]):
        return best
    one, other = best
    order = sorted([*zip(one.rows, one.filled, strict=True), *zip(other.rows, other.filled, strict=True)])
    rows, filled = [row for row, _ in order], [cell for _, cell in order]
    return [replace(one, rows=rows, filled=filled, written=[None] * len(rows), beside=other.name)]


def _units_in(f: Facts) -> set[str]:
    texts = (*f.inside, f.name)
    return {GLUCOSE_UNIT_WORDS[unit] for text in texts if (unit := find_unit(text, GLUCOSE_UNIT_WORDS))}


def _ask_unnamed(fit: list[Facts], answers: Answers) -> list[Facts]:
    """Columns in a unit of glucose; one alone that is called something else, such as lactate, is asked."""
    if len(fit) != 1 or not plain(fit[0].bare) or likeness(fit[0].bare, (*DATE, *CLOCK)) > 0:
        return fit
    text = f'"{show(fit[0].name)}" is in a unit of glucose, and no word says that it is glucose'
    choices = ((fit[0].name, "it is glucose"), ("none", "it is something else"))
    return [] if answers.ask(Question("glucose", text, choices)) == "none" else fit


def _says_glucose(f: Facts) -> bool:
    """True for a column each of whose cells, or whose header, says a unit in which glucose is written."""
    if any(find_unit(text, GLUCOSE_UNIT_WORDS) for text in f.inside):
        return True
    units = set(read_amounts(f.filled, ".").units)
    return all(find_unit(unit, GLUCOSE_UNIT_WORDS) for unit in units if unit) and any(units)


def has_dimension(facts: Facts, name: str) -> bool:
    """False where the header states a unit that what our column counts has not: minutes are no awakenings."""
    units = [unit for text in facts.inside if (unit := find_unit(text, _DIMENSIONS))]
    if not units or name in ("value", "low", "high", "range"):
        return True
    if name in ("glucose",):
        return any(find_unit(text, GLUCOSE_UNIT_WORDS) for text in facts.inside)
    return bool(unit_of(name)) and any(
        units[0] in UNIT_FACTORS[own] for own in _ALIKE.get(unit_of(name), (unit_of(name),))
    )
