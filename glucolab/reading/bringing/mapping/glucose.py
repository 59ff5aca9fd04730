"""Can a number be glucose, and in which unit? Each value by its own unit or by its size; codes of errors are none."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from glucolab.reading.bringing.cells.amounts import clean_number, find_unit, read_amounts
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.units import GLUCOSE_UNIT_WORDS
from glucolab.reading.cells import Faults, Texts
from glucolab.reading.rules import LIMIT_WORDS, NO_READING, word_no_reading
from glucolab.reading.text import show
from glucolab.units import glucose_to_mg_dl

BY_SIZE = "by size"
"""Stands for a unit where each value is in the one that its size fits."""
LOWEST_PRINTED_MG_DL, HIGHEST_PRINTED_MG_DL = 18.0, 610.0
"""Meters print 20 to 600 mg/dL (1.1 to 33.3 mmol/L) and words beyond. Common practice, no source: closer limits lose
readings, wider ones take 0, 999 and other codes of errors for glucose."""
_MG_DL_PER_G_L = 100.0
_SURELY_MG_DL, _SURELY_MMOL_L = 36.0, (2.6, 30.0)
"""Values above the one are in mg/dL, between the others in mmol/L, where a file is known to hold both; what lies
elsewhere may be either."""


def to_mg_dl(values: np.ndarray, unit: str) -> np.ndarray:
    """Glucose in mg/dL, of values in mg/dL, mmol/L or g/L, shape (n,). [mg/dL]"""
    return values * _MG_DL_PER_G_L if unit == "g/L" else glucose_to_mg_dl(values, unit)


def is_glucose(values: np.ndarray, unit: str) -> np.ndarray:
    """True where a value can be glucose in a unit, shape (n,); missing in, False out."""
    if unit == BY_SIZE:
        return np.array([bool(tell_by_size(value)) for value in values], dtype=bool)
    found = to_mg_dl(values, unit)
    return np.asarray((found >= LOWEST_PRINTED_MG_DL) & (found <= HIGHEST_PRINTED_MG_DL))


def tell_by_size(value: float) -> str:
    """The unit that the size of a value fits, mg/dL or mmol/L; "" if it may be in either, or is no glucose."""
    if _SURELY_MG_DL <= value <= HIGHEST_PRINTED_MG_DL:
        return "mg/dL"
    return "mmol/L" if _SURELY_MMOL_L[0] <= value <= _SURELY_MMOL_L[1] else ""


def read_glucose(
    cells: Sequence[str], source: Source, stated: Sequence[str] | None, mark: str
) -> tuple[Texts, Texts, Faults]:
    """Glucose as the contract writes it, each value with its unit.

    Parameters
    ----------
    cells : sequence of str, shape (n,)
    source : Source
    stated : sequence of str, shape (n,), optional
        Cells of the column of units.
    mark : {".", ","}
        The decimal mark.

    Returns
    -------
    texts : list of str, shape (n,)
        Numbers, LO, HI, <40 and >400; "" where there is no glucose.
    units : list of str, shape (n,)
        mg/dL or mmol/L; "" where there is no glucose.
    faults : dict of int to str
    """
    cells = [source.words.get(cell, cell) for cell in cells]
    amounts = read_amounts([cell.lstrip("<>≤≥ ") for cell in cells], mark)
    texts, units, faults = [""] * len(cells), [""] * len(cells), dict[int, str]()
    for i, (cell, value) in enumerate(zip(cells, amounts.values, strict=True)):
        unit = _unit_of(amounts.units[i], source, stated[i] if stated is not None else None, value)
        is_word = LIMIT_WORDS.fullmatch(clean_number(cell)) is not None and not cell[:1].isdigit()
        if not cell or (not is_word and not amounts.bad[i] and not np.isfinite(value)):
            continue
        if is_word and not np.isfinite(value):
            texts[i], units[i] = ("LO" if cell[0] in "lL" else "HI"), unit or "mg/dL"
        elif amounts.bad[i]:
            faults[i] = f'glucose "{show(cell)}" is not a number'
        elif not unit:
            faults[i] = f'glucose "{show(cell)}" {_word_no_unit(source, stated[i] if stated is not None else "")}'
        elif value in NO_READING:
            faults[i] = word_no_reading(cell)
        elif not is_glucose(np.array([value]), unit)[0]:
            faults[i] = f'glucose "{show(cell)}" is no glucose that a sensor or a meter prints in {unit}'
        else:
            texts[i], units[i] = _write(cell, value, unit)
    return texts, units, faults


def _unit_of(own: str, source: Source, stated: str | None, value: float) -> str:
    """The unit of one value: that of its cell, else of the column of units, else of the whole column."""
    if re.search(r"[^\W\d_]|%", own):
        known = find_unit(own, GLUCOSE_UNIT_WORDS)
        return GLUCOSE_UNIT_WORDS[known] if known else ""
    if stated is not None:
        return source.words.get(stated, "" if stated else source.unit)
    return tell_by_size(value) if source.unit == BY_SIZE else source.unit


def _word_no_unit(source: Source, stated: str) -> str:
    if stated:
        return f'is in "{show(stated)}", which is no unit of it'
    return "may be in mg/dL or mmol/L" if source.unit == BY_SIZE else "has no unit that is known"


def _write(cell: str, value: float, unit: str) -> tuple[str, str]:
    sign = re.match(r"[<>]?", cell)
    if unit == "g/L":
        value, unit = value * _MG_DL_PER_G_L, "mg/dL"
    return f"{sign[0] if sign else ''}{value:.10g}", unit
