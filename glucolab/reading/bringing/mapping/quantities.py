"""What number does a foreign cell stand for? Amounts, lengths, marks and glucose as the contract writes them."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from glucolab.reading.bringing.cells.amounts import Amounts, read_amounts, read_length
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.cautions import names_exchanges
from glucolab.reading.bringing.vocabulary.units import UNIT_FACTORS
from glucolab.reading.cells import Faults, Texts
from glucolab.reading.text import show
from glucolab.record import Column

_RANGE = re.compile(
    r"(?P<low>[\d.,]+)\s*(?:-|–|—|to|bis|a|à|até|hasta|do|tot|〜|~|\.\.)\s*(?P<high>[\d.,]+)", re.IGNORECASE
)
_ONE_SIDED = re.compile(r"(?P<sign><|≤|<=|>|≥|>=|bis|up to|under|unter)\s*(?P<number>[\d.,]+)", re.IGNORECASE)


def read_quantity(
    cells: Sequence[str], source: Source, column: Column, unit: str, mark: str, eaten: Sequence[str] | None = None
) -> tuple[Texts, Faults]:
    """Numbers as the contract writes them, turned into the unit of our column.

    Parameters
    ----------
    cells : sequence of str, shape (n,)
    source : Source
    column : Column
        Its limits are held after turning.
    unit : str
        Ours: a key of `amounts.FACTORS`, or "".
    mark : {".", ","}
        The decimal mark of the file.
    eaten : sequence of str, shape (n,), optional
        Grams that were eaten, where the values are of 100 g.

    Returns
    -------
    texts : list of str, shape (n,)
        "" where a cell is empty or cannot be read.
    faults : dict of int to str
    """
    cells = [source.words.get(cell, cell) for cell in cells]
    if source.bound:
        return _read_bound(cells, source.bound, mark), {}
    amounts = read_amounts(cells, mark)
    values, bad = _turn(cells, source, amounts, unit)
    if eaten is not None:
        values = values * read_amounts(eaten, mark).values / 100
        bad |= np.isnan(values) & ~np.isnan(amounts.values)
    texts = [""] * len(cells)
    faults = {}
    for i, cell in enumerate(cells):
        if bad[i]:
            faults[i] = f'{column.name} "{show(cell)}" is {_word_bad(source)}'
        elif np.isfinite(values[i]):
            if fault := _outside(values[i], column):
                faults[i] = f'{column.name} "{show(cell)}" is {fault}'
            else:
                texts[i] = f"{values[i]:.10g}"
        elif cell and not np.isfinite(amounts.values[i]):
            continue  # a dash stands for nothing
        elif cell:
            faults[i] = f'{column.name} "{show(cell)}" is in a unit that is not known here'
    return texts, faults


def _turn(cells: Sequence[str], source: Source, amounts: Amounts, unit: str) -> tuple[np.ndarray, np.ndarray]:
    """Numbers in the unit of our column, NaN where there are none, and where something else stands."""
    values, bad = amounts.values, amounts.bad
    if unit == "min":
        lengths = {cell: read_length(cell, "m:s" if source.parts == "m:s" else "h:m") for cell in set(cells)}
        parted = np.array([lengths[cell] is not None for cell in cells], dtype=bool)
        values = np.where(parted, np.array([lengths[cell] for cell in cells], dtype=float), values)
        bad = bad & ~parted
        if source.parts == "h.mm":
            values = np.where(parted, values, 60 * np.floor(values) + 100 * (values % 1))
        else:
            values[~parted] *= factor_of(source.unit, "min")
    elif unit in UNIT_FACTORS:
        units = [_unit_word(own) for own in amounts.units]
        values = values * np.array([_factor(own, source.unit, unit) for own in units], dtype=float)
    if len(source.scale) == 2:
        low, high = source.scale
        outside = (values < min(low, high)) | (values > max(low, high))
        values = np.where(outside, np.nan, (values - low) * 10 / (high - low))
        bad = bad | (np.isnan(values) & ~np.isnan(amounts.values))
    return values, bad


def _unit_word(own: str) -> str:
    """The unit that follows a number; a mark without letters, such as an asterisk, is none."""
    return own if re.search(r"[^\W\d_]|%", own) else ""


def _factor(own: str, stated: str, unit: str) -> float:
    """What the value is to be multiplied by: by the cell's own unit, else by that of the header."""
    if own:
        return float(UNIT_FACTORS[unit].get(own, factor_of(stated, unit) if names_exchanges(own) else np.nan))
    return factor_of(stated, unit)


def factor_of(stated: str, unit: str) -> float:
    """What one of a stated unit is in ours; 12 where it is "12 g", an exchange. NaN for a unit that is not known."""
    if not stated:
        return 1.0
    number, _, word = stated.rpartition(" ")
    try:
        return float(number or 1) * UNIT_FACTORS[unit].get(word, np.nan)
    except ValueError:
        return np.nan


def _word_bad(source: Source) -> str:
    if source.scale:
        return f"no number from {source.scale[0]:g} to {source.scale[1]:g}"
    return "not a number"


def _outside(value: float, column: Column) -> str:
    if column.low is not None and value < column.low:
        return f"below {column.low:g}"
    if column.high is not None and value > column.high:
        return f"above {column.high:g}"
    return ""


def _read_bound(cells: Sequence[str], bound: str, mark: str) -> Texts:
    """The lower or upper limit in cells such as 3.5-5.0, <100 or 40; "" where it has none."""
    texts = []
    for cell in cells:
        found = ""
        if match := _RANGE.search(cell):
            found = match[bound]
        elif match := _ONE_SIDED.search(cell):
            is_upper = match["sign"].lower() in ("<", "≤", "<=", "bis", "up to", "under", "unter")
            found = match["number"] if is_upper == (bound == "high") else ""
        value = read_amounts([found], mark).values[0] if found else np.nan
        texts.append(f"{value:.10g}" if np.isfinite(value) else "")
    return texts
