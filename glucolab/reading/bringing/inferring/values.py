"""What do foreign values mean? Decimal mark, unit, scale and words, from the header and from all cells."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from glucolab.reading.bringing.cells.amounts import (
    clean_number,
    find_marks,
    find_unit,
    has_open_mark,
    read_amounts,
)
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.doubts import names_opposite
from glucolab.reading.bringing.vocabulary.matching import find_truth
from glucolab.reading.bringing.vocabulary.units import UNIT_FACTORS
from glucolab.reading.bringing.vocabulary.words import LIMITS, SCALED, TRUTH
from glucolab.reading.rules import LIMIT_WORDS
from glucolab.reading.text import plain, show

_SCALE = re.compile(r"(\d+)\s*(?:-|–|—|to|bis|à|a|/|～|~)\s*(\d+)")
_OUT_OF = re.compile(r"(?:/|out of|von|sur|de|su|van|z)\s*(\d+)\b")
_WITH_UNIT = re.compile(r"[<>≤≥]?\s*[-+−]?\d[\d.,]*\s*([^\W\d_]+\s*/\s*[\w.³²]+|%)")
_WHOLE = {"steps", "awakenings"}


def settle_decimal(numbers: dict[str, Facts], answers: Answers, said: list[str]) -> str:
    """The decimal mark of a file, over all its columns of numbers."""
    cells = {name: facts.filled for name, facts in numbers.items()}
    marks = set().union(*(find_marks(column) for name, column in cells.items() if name not in _WHOLE))
    if len(marks) == 1:
        mark = marks.pop()
        if mark == ",":
            said.append("numbers have a decimal comma")
        return mark
    doubtful = {name: column for name, column in cells.items() if has_open_mark(column)}
    if not marks and not doubtful:
        return "."
    if not marks and set(doubtful) <= _WHOLE:
        grouped = next(c for column in doubtful.values() for c in column if has_open_mark([c]))
        mark = "." if "," in grouped else ","
        said.append(
            f'"{show(grouped)}" is {clean_number(grouped).replace(",", "").replace(".", "")}: the mark groups digits'
        )
        return mark
    example = next((c for column in doubtful.values() for c in column if has_open_mark([c])), "")
    what = (
        f'"{show(example)}" may have a decimal mark or grouped digits'
        if example
        else "points and commas both stand as decimal marks"
    )
    return answers.ask(Question("decimal", what, ((".", "decimal point"), (",", "decimal comma"))))


def limit_words(cells: Sequence[str]) -> dict[str, str]:
    """Words of other languages that a sensor writes at its limits."""
    words = {}
    for cell in set(cells):
        if LIMIT_WORDS.fullmatch(clean_number(cell)) or re.search(r"\d", cell):
            continue
        for ours, theirs in LIMITS.items():
            if (plain(cell) or cell) in theirs:
                words[cell] = ours
    return words


def settle_amount(
    name: str, source: Source, facts: Facts, unit: str, mark: str, answers: Answers, said: list[str]
) -> Source | None:
    """The unit and scale of an amount that is not glucose; None, and said, if it is in a unit that does not fit."""
    if unit in UNIT_FACTORS:
        return _settle_unit(name, source, facts, unit, said)
    if name in SCALED:
        return _settle_scale(name, source, facts, mark, answers, said)
    return source


def _settle_unit(name: str, source: Source, facts: Facts, unit: str, said: list[str]) -> Source | None:
    known = UNIT_FACTORS[unit]
    every = {u for factors in UNIT_FACTORS.values() for u in factors} | {"%", "oz"}
    for text in (*facts.inside, facts.name.replace("_", " ")):
        found = find_unit(text, known) if text in facts.inside or " " in text or text.lower() in known else ""
        if found:
            if known[found] != 1.0:
                said.append(f'"{show(facts.name)}" is turned from {found} into {unit}')
            return replace(source, unit=found)
        if text in facts.inside and (other := find_unit(text, dict.fromkeys(every))):
            said.append(f'"{show(facts.name)}" is in {other}, which {name} cannot be: it is not brought')
            return None
    return source


def _settle_scale(
    name: str, source: Source, facts: Facts, mark: str, answers: Answers, said: list[str]
) -> Source | None:
    """Marks on another scale than 0-10, by the header, else by the highest mark, where that leaves only one."""
    stated = _stated_scale(facts)
    values = read_amounts(facts.filled, mark).values
    top = float(np.nanmax(values)) if np.isfinite(values).any() else 0.0
    if stated is None and (top <= 5 or 10 < top <= 50):
        stated = _ask_scale(facts, top, answers)
    if stated is None and 10 < top <= 100:
        stated = (0.0, 100.0)
    if stated is None and top > 100:
        said.append(f'"{show(facts.name)}" goes up to {top:g}, which is no scale that is known: {name} is not brought')
        return None
    if names_opposite(name, facts.bare) and _is_turned(name, facts, stated or (0.0, 10.0), answers):
        low, high = stated or (0.0, 10.0)
        said.append(f'"{show(facts.name)}" is turned round: {high:g} becomes 0')
        return replace(source, scale=(high, low))
    if stated in (None, (0.0, 10.0), (1.0, 10.0)):
        return source
    said.append(f'"{show(facts.name)}" from {stated[0]:g} to {stated[1]:g} is turned into 0 to 10')
    return replace(source, scale=stated)


def _is_turned(name: str, facts: Facts, scale: tuple[float, float], answers: Answers) -> bool:
    """True where the highest mark is the least of a mark whose name holds its opposite too."""
    text = f'"{show(facts.name)}" names both ends, and not which of them is the high number'
    choices = (("most", f"{scale[1]:g} is the most {name}"), ("least", f"{scale[1]:g} is the least {name}"))
    return answers.ask(Question(f"high_{name}", text, choices)) == "least"


def _ask_scale(facts: Facts, top: float, answers: Answers) -> tuple[float, float]:
    """The scale of marks that say none, and none of which is higher than half of a usual one."""
    scales = {"0-10": (0.0, 10.0), "1-5": (1.0, 5.0), "0-5": (0.0, 5.0)} if top <= 5 else {"0-100": (0.0, 100.0)}
    scales |= {"0-20": (0.0, 20.0), "0-50": (0.0, 50.0)} if top > 5 else {}
    fitting = {name: scale for name, scale in scales.items() if top <= scale[1]}
    choices = tuple((name, f"from {name.replace('-', ' to ')}") for name in fitting)
    text = f'"{show(facts.name)}" says no scale, and goes up to {top:g}'
    return scales[answers.ask(Question("scale", text, choices))]


def _stated_scale(facts: Facts) -> tuple[float, float] | None:
    for text in (*facts.inside, facts.bare):
        if (match := _SCALE.search(text)) and float(match[1]) < float(match[2]):
            return float(match[1]), float(match[2])
        if match := _OUT_OF.search(text):
            return 0.0, float(match[1])
        if text.strip() == "%":
            return 0.0, 100.0
    return None


def units_in_cells(cells: Sequence[str]) -> dict[str, str]:
    """The unit of a laboratory that follows the number of each cell; empty where few cells have one."""
    units = {cell: match[1] if (match := _WITH_UNIT.fullmatch(cell.strip())) else "" for cell in cells}
    return units if 2 * sum(map(bool, units.values())) > len(units) else {}


def truth_words(cells: Sequence[str]) -> dict[str, str] | None:
    """Words of truth as 1 and 0; None if a cell is none, or all are numbers."""
    found = {cell: find_truth(cell, TRUTH) for cell in set(cells)}
    if not all(found.values()) or all(cell in ("0", "1") for cell in found):
        return None
    return {cell: "1" if truth == "true" else "0" for cell, truth in found.items()}
