"""In which unit is each glucose value? By its cell, a column, its header, the lines above, and always by its size."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from glucolab.reading.bringing.cells.amounts import find_unit, read_amounts
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.values import limit_words
from glucolab.reading.bringing.mapping.glucose import BY_SIZE, is_glucose, tell_by_size
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.units import GLUCOSE_UNIT_WORDS, OTHER_CONCENTRATIONS
from glucolab.reading.text import show

_LEVELS = {"mg/dL": (40.0, np.inf), "mmol/L": (2.6, 17.0), "g/L": (0.4, 2.3)}
"""Between these lies the median of values in each unit, whoever wears the sensor; between them lies nobody for long.
Common practice, no source."""
_MEANINGS = {
    "mg/dL": "milligrams in a tenth of a litre",
    "mmol/L": "millimoles in a litre",
    "g/L": "grams in a litre",
    BY_SIZE: "the unit that the size of each value fits",
}
_FEW = 0.02
"""So small a share of values that fit no unit, or another one, are errors and not a second unit. Assumed: larger hides
rows in another unit among the errors, which are named too."""


def settle_glucose_unit(
    source: Source, facts: Facts, units: Facts | None, context: str, mark: str, answers: Answers, said: list[str]
) -> Source:
    """The source of glucose with the unit of its values, stated and checked against their size.

    Parameters
    ----------
    source : Source
    facts : Facts
        The column of glucose.
    units : Facts or None
        A column of units.
    context : str
        Text above the table.
    mark : {".", ","}
        The decimal mark.
    answers : Answers
    said : list of str
        Grows by what was found.
    """
    amounts = read_amounts(facts.filled, mark)
    source = replace(source, words=limit_words(facts.filled))
    if units is not None and (known := _known_units(units)):
        said.append(f'the unit stands in column "{show(units.name)}"')
        source = replace(source, unit_from=units.name, words=source.words | known)
        own = dict(zip(units.rows, units.filled, strict=True))
        of_rows = [known.get(own.get(row, ""), "") for row in facts.rows]
    else:
        of_rows = [_unit_in(text) for text in amounts.units]
    bare = np.array([not unit for unit in of_rows], dtype=bool)
    for unit in dict.fromkeys(filter(None, of_rows)):
        mine = np.array([one == unit for one in of_rows], dtype=bool)
        if source.unit_from or bare.any():
            said.append(f"{mine.sum()} values say that they are in {unit}")
        _check(amounts.values[mine], unit, answers, is_asked=False)
    if source.unit_from or not bare.any():
        if not source.unit_from:
            said.append(f"each value says its unit, {' or '.join(dict.fromkeys(of_rows))}")
        return source
    stated = _stated_unit(facts, context)
    values = amounts.values[bare]
    return replace(source, unit=_settle(values, stated, answers, said))


def _known_units(units: Facts) -> dict[str, str]:
    found = {cell: find_unit(cell, GLUCOSE_UNIT_WORDS) for cell in set(units.filled)}
    return {cell: GLUCOSE_UNIT_WORDS[unit] for cell, unit in found.items() if unit}


def _unit_in(text: str) -> str:
    unit = find_unit(text, GLUCOSE_UNIT_WORDS) if text else ""
    return GLUCOSE_UNIT_WORDS[unit] if unit else ""


def _settle(values: np.ndarray, stated: str, answers: Answers, said: list[str]) -> str:
    """The unit of values without one of their own."""
    values = values[np.isfinite(values)]
    median = float(np.median(values)) if values.size else np.nan
    fitting = [unit for unit, (low, high) in _LEVELS.items() if low <= median <= high]
    by_size = fitting[0] if len(fitting) == 1 else ""
    if stated in _LEVELS and (not by_size or stated == by_size or not values.size):
        unit = _check(values, stated, answers)
        said.append(f"glucose is in {_MEANINGS[BY_SIZE] if unit == BY_SIZE else unit}")
        return unit
    if stated:
        text = f"{stated} is stated, but the values, half of them above {median:.4g}, do not look like it"
        return _ask(text, answers)
    if not by_size:
        return _ask(f"half of the glucose values lie above {median:.4g}, which is usual in no unit", answers)
    unit = _check(values, by_size, answers)
    said.append(f"glucose is in {unit}: half of the values lie above {median:.4g}")
    return unit


def _check(values: np.ndarray, unit: str, answers: Answers, is_asked: bool = True) -> str:
    """The unit, or that each value tells its own by its size, where many values fit another unit: it is asked."""
    other = ~is_glucose(values, unit) & np.isfinite(values)
    sized = np.array([bool(tell_by_size(value)) for value in values[other]], dtype=bool)
    if not other.any() or sized.sum() <= max(_FEW * values.size, 1):
        return unit
    example = values[other][sized][0]
    text = f"{sized.sum()} of {values.size} values, such as {example:g}, are no glucose in {unit}"
    choices = ((BY_SIZE, _MEANINGS[BY_SIZE]), (unit, f"{_MEANINGS[unit]}, and the others are left out"))
    answer = answers.ask(Question("unit", text, choices))
    return answer if is_asked else unit


def _ask(text: str, answers: Answers) -> str:
    return answers.ask(Question("unit", text, tuple((unit, _MEANINGS[unit]) for unit in _LEVELS)))


def _stated_unit(facts: Facts, context: str) -> str:
    """The unit that the header or, if it names only one, the text before the table states; "" for none."""
    for text in (*facts.inside, facts.name):
        if find_unit(text, OTHER_CONCENTRATIONS):
            return find_unit(text, OTHER_CONCENTRATIONS)
        if unit := find_unit(text.replace("_", " "), GLUCOSE_UNIT_WORDS) or find_unit(text, GLUCOSE_UNIT_WORDS):
            return GLUCOSE_UNIT_WORDS[unit]
        squeezed = re.sub(r"[\s_]", "", text.lower())
        if ours := next((o for t, o in GLUCOSE_UNIT_WORDS.items() if len(t) > 3 and squeezed.endswith(t)), ""):
            return ours
    above = re.sub(r"\s*/\s*", "/", context.lower())
    found = {
        ours
        for theirs, ours in GLUCOSE_UNIT_WORDS.items()
        if "/" in theirs and re.search(rf"(?<![^\W_]){re.escape(theirs)}(?![^\W_])", above)
    }
    return found.pop() if len(found) == 1 else ""
