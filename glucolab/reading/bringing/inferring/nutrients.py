"""Of how much is a nutrient, and in what? Of 100 g, exchanges, kilojoules, cups: turned where sure, else asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from glucolab.reading.bringing.cells.amounts import find_unit, read_amounts
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.cautions import (
    PER_100,
    names_amount,
    names_count,
    names_exchanges,
    names_piece,
)
from glucolab.reading.bringing.vocabulary.doubts import names_label, names_net
from glucolab.reading.bringing.vocabulary.units import UNIT_FACTORS
from glucolab.reading.text import plain, show

_EXCHANGES = (
    ("12 g", "12 g of carbohydrate each"),
    ("10 g", "10 g each"),
    ("15 g", "15 g each"),
    ("g", "they are grams after all"),
)
_DEFINED = re.compile(r"(?<![\d.,])1\s*[^\W\d][^=:\d]{0,25}[=:]\s*(1[0-5])\s*g(?![^\W\d_])", re.IGNORECASE)
"""What one exchange is, as the lines above a table say it: 1 BE = 12 g."""
_LEAST_CARBS_G = 8.0
"""Half of the rows of a log of meals hold more carbohydrate, or the number may count exchanges. Assumed. [g]"""
_LEAST_CAFFEINE_MG, _LEAST_ALCOHOL_G = 10.0, 6.0
"""Numbers none of which is larger may count cups or drinks: a cup of coffee has 60 to 100 mg, a drink 8 to 14 g."""
_KCAL, _KJ = (0.6, 1.6), (2.6, 6.4)
"""Energy beside 4 kcal a gram of carbohydrate and protein and 9 of fat (Atwater): about one in kcal, 4.2 in kJ."""
_LEAST_WITH_ALL = 3
"""Rows with all three nutrients by which the unit of energy is told. Assumed."""


def settle_nutrient(
    name: str,
    source: Source,
    f: Facts,
    columns: dict[str, Facts],
    facts: Sequence[Facts],
    context: str,
    mark: str,
    answers: Answers,
    said: list[str],
) -> Source | None:
    """The source of a nutrient as it was eaten; None where the wearer leaves it out.

    Parameters
    ----------
    name : str
        Our column of meals.
    source : Source
        With the unit that the header states, if any.
    f : Facts
        Its column.
    columns : dict of str to Facts
        All columns that were found, by ours.
    facts : sequence of Facts
        All columns of the file.
    context : str
        Text above the table.
    mark : {".", ","}
        The decimal mark.
    answers : Answers
    said : list of str
        Grows by what was found.
    """  # fmt: skip
    values = read_amounts(f.filled, mark)
    known = values.values[np.isfinite(values.values) & (values.values > 0)]
    cells = set(values.units)
    if name == "carbs_g":
        in_exchanges = names_exchanges(f.name) or any(names_exchanges(unit) for unit in cells if unit)
        unsure = not _states(source, f, "g", cells) and known.size and float(np.median(known)) < _LEAST_CARBS_G
        if in_exchanges or unsure:
            if in_exchanges and (match := _DEFINED.search(context)):
                said.append(f'"{show(f.name)}" is counted in {match[1]} g: "{show(match[0].strip())}" stands above')
                return replace(source, unit=f"{match[1]} g")
            return _ask_exchange(source, f, in_exchanges, answers, said)
        if names_net(f.name):
            choices = (("leave_out", "it is not brought"), ("label", "the label prints carbohydrate without fiber"))
            text = f'"{show(f.name)}" is carbohydrate without fiber, and a label may count fiber with it'
            if answers.ask(Question("carbs", text, choices)) == "leave_out":
                return None
    if name == "energy_kcal":
        source = _settle_energy(source, f, columns, mark, answers, said)
    unit = name.rsplit("_", 1)[-1]
    low = {"caffeine_mg": _LEAST_CAFFEINE_MG, "alcohol_g": _LEAST_ALCOHOL_G}.get(name, 0.0)
    counted = names_count(f.name) and not names_piece(f.name)
    if known.size and (counted or float(known.max()) <= low) and not _states(source, f, unit, cells):
        choices = (("leave_out", "cups, drinks or pieces: the column is not brought"), (unit, f"amounts in {unit}"))
        key = name.split("_", maxsplit=1)[0] if low else "per"
        text = f'"{show(f.name)}" says no unit of mass, and goes up to {known.max():g}'
        return source if answers.ask(Question(key, text, choices)) == unit else None
    return _settle_share(source, f, facts, context, answers, said)


def _states(source: Source, f: Facts, unit: str, cells: set[str]) -> bool:
    """True where the header or the cells state a unit of mass."""
    header = bool(source.unit) or any(
        find_unit(text, UNIT_FACTORS[unit]) for text in (*f.inside, f.name.replace("_", " "))
    )
    return header or any(cell in UNIT_FACTORS[unit] for cell in cells)


def _ask_exchange(source: Source, f: Facts, is_named: bool, answers: Answers, said: list[str]) -> Source:
    what = "counts exchanges of carbohydrate" if is_named else "says no unit, and holds numbers as small as exchanges"
    choices = _EXCHANGES if is_named else (_EXCHANGES[-1], *_EXCHANGES[:-1])
    unit = answers.ask(Question("exchange", f'"{show(f.name)}" {what}: how many grams is one?', choices))
    said.append(f'"{show(f.name)}" is counted in {unit}')
    return replace(source, unit=unit)


def _settle_energy(
    source: Source, f: Facts, columns: dict[str, Facts], mark: str, answers: Answers, said: list[str]
) -> Source:
    ratio = _beside_nutrients(f, columns, mark)
    by_size = "kcal" if _KCAL[0] <= ratio <= _KCAL[1] else "kj" if _KJ[0] <= ratio <= _KJ[1] else ""
    stated = source.unit or ("kcal" if _names_calories(f) else "")
    if stated:
        is_kj = UNIT_FACTORS["kcal"][stated] < 1
        if by_size and is_kj != (by_size == "kj"):
            text = f'"{show(f.name)}" says {stated}, but beside the other nutrients it looks like {by_size}'
            return replace(source, unit=_ask_energy(text, answers))
        return source
    if by_size:
        said.append(f'"{show(f.name)}" is in {"kJ" if by_size == "kj" else by_size}, by what the other nutrients hold')
        return replace(source, unit=by_size)
    return replace(source, unit=_ask_energy(f'"{show(f.name)}" says neither kcal nor kJ', answers))


def _ask_energy(text: str, answers: Answers) -> str:
    return answers.ask(Question("energy", text, (("kcal", "kilocalories"), ("kj", "kilojoules"))))


def _names_calories(f: Facts) -> bool:
    name = plain(f.name)
    units = any(find_unit(cell.lstrip("0123456789., "), UNIT_FACTORS["kcal"]) for cell in f.filled[:20])
    return units or any(
        word in name for word in ("cal", "ккал", "калор", "θερμιδ", "カロリー", "칼로리", "热量", "kalor")
    )


def _beside_nutrients(f: Facts, columns: dict[str, Facts], mark: str) -> float:
    """Energy over what carbohydrate, protein and fat hold, median of the rows that have all; NaN if few do."""
    parts = [columns.get(name) for name in ("carbs_g", "protein_g", "fat_g")]
    if any(part is None for part in parts):
        return np.nan
    values = [dict(zip(g.rows, read_amounts(g.filled, mark).values, strict=True)) for g in parts if g is not None]
    ratios = []
    for row, energy in zip(f.rows, read_amounts(f.filled, mark).values, strict=True):
        if all(row in one for one in values):
            held = 4 * values[0][row] + 4 * values[1][row] + 9 * values[2][row]
            ratios += [energy / held] if held > 0 and np.isfinite(energy) else []
    return float(np.median(ratios)) if len(ratios) >= _LEAST_WITH_ALL else np.nan


def _settle_share(
    source: Source, f: Facts, facts: Sequence[Facts], context: str, answers: Answers, said: list[str]
) -> Source | None:
    """Amounts of 100 g times what was eaten; of a serving, and where nothing says how much was eaten, asked."""
    of_100 = bool(PER_100.search(f.name) or PER_100.search(context))
    eaten = [g for g in facts if g is not f and not PER_100.search(g.name) and _counts_grams(g)]
    if of_100 and len(eaten) == 1:
        said.append(f'"{show(f.name)}" is of 100 g, and taken times "{show(eaten[0].name)}" over 100')
        return replace(source, of=eaten[0].name)
    if not of_100 and len(eaten) == 1 and names_label(f.name):
        return _ask_label(source, f, eaten[0], answers)
    if not of_100 and not names_piece(f.name):
        return source
    share = "100 g" if of_100 else "one serving"
    choices = (("leave_out", "it is not brought"), ("eaten", "the numbers are of what was eaten"))
    text = f'"{show(f.name)}" is of {share}, and no column says in grams how much was eaten'
    return source if answers.ask(Question("per", text, choices)) == "eaten" else None


def _ask_label(source: Source, f: Facts, eaten: Facts, answers: Answers) -> Source | None:
    """What a packet says, beside a column of how much was eaten: of 100 g, or of that."""
    choices = (
        ("leave_out", "it is not brought"),
        ("eaten", "the numbers are of what was eaten"),
        ("100 g", "of 100 g, and taken times what was eaten"),
    )
    text = f'"{show(f.name)}" may be what the packet says of 100 g, or of "{show(eaten.name)}"'
    answer = answers.ask(Question("per", text, choices))
    if answer == "100 g":
        return replace(source, of=eaten.name)
    return source if answer == "eaten" else None


def _counts_grams(g: Facts) -> bool:
    """True for a column of how much was eaten, in grams."""
    if not g.is_number or not (names_amount(g.bare) or names_count(g.bare)):
        return False
    units = set(read_amounts(g.filled, ".").units)
    stated = any(
        find_unit(text, ("g", "gr", "gram", "grams", "gramm", "ml", "г"))
        for text in (*g.inside, g.name.replace("_", " "))
    )
    inside = any(find_unit(text, ("g", "gr", "gram", "grams", "gramm", "г")) for text in g.inside)
    return inside or (units <= {"g", "gr", "gram", "grams", "ml", "г"} if not stated else not names_count(g.name))
