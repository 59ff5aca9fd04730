"""In which unit is a length of time? By its cells and header, by start and end, or by what alone can be; else asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from glucolab.reading.bringing.cells.amounts import clean_number, find_unit, is_clocked, read_amounts
from glucolab.reading.bringing.cells.moments import SERIAL
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.units import UNIT_FACTORS
from glucolab.reading.text import plain, show

_HOUR = 60.0
_UNITS = (("min", "minutes"), ("s", "seconds"), ("h", "hours"))
_NIGHT_MIN = (150.0, 840.0)
"""Between these lies the median of what people sleep a night: in each of hours, minutes and seconds other numbers.
Assumed. [min]"""
_MOVE_MIN, _LONGEST_MOVE_MIN = (5.0, 240.0), 600.0
"""Between these lies the median of how long people move or relax, and under the third all of it, or the number is not
one of minutes. Assumed. [min]"""
_ALIKE = 0.2
"""A length is as long as from start to end if most differ by no more than this share: breaks are less. Assumed."""
_LEAST_SEXAGESIMAL = 4
"""So many numbers whose two decimals all lie below 60 may be hours and minutes with a point. Assumed."""


def settle_length(
    source: Source, f: Facts, spans: dict[int, float], is_sleep: bool, mark: str, answers: Answers, said: list[str]
) -> Source:
    """The source of a length of time with the unit of its plain numbers, and how one in parts is read.

    Parameters
    ----------
    source : Source
    f : Facts
        Its column.
    spans : dict of int to float
        Minutes from start to end of rows that have both. [min]
    is_sleep : bool
        It is how long somebody slept.
    mark : {".", ","}
        The decimal mark.
    answers : Answers
    said : list of str
        Grows by what was found.
    """
    source = settle_parts(source, f, is_sleep, answers)
    stated = _stated_unit(f)
    if not f.is_number:
        return replace(source, unit=stated) if stated else source
    found = _settle_one(f, spans, is_sleep, mark)
    if _is_sexagesimal(f, mark) and (UNIT_FACTORS["min"].get(stated) == _HOUR or (not stated and found in ("h", ""))):
        text = f'"{show(f.name)}" holds numbers such as {show(f.filled[0])}, which may be hours or hours and minutes'
        choices = (("h", "hours: 7.30 is 7 hours 18 minutes"), ("h:m", "hours and minutes: 7.30 is 7 hours 30 minutes"))
        answer = answers.ask(Question("parts", text, choices))
        return replace(source, unit="h", parts="h.mm" if answer == "h:m" else "")
    if stated:
        if stated != "min":
            said.append(f'"{show(f.name)}" is turned from {stated} into min')
        if found and spans and UNIT_FACTORS["min"][stated] != UNIT_FACTORS["min"][found]:
            text = f'"{show(f.name)}" says {stated}, but from start to end it looks like {found}'
            return replace(source, unit=answers.ask(Question("length", text, _UNITS)))
        return replace(source, unit=stated)
    if found:
        said.append(f'"{show(f.name)}" is read as {dict(_UNITS).get(found, found)}')
        return replace(source, unit=found)
    text = f'"{show(f.name)}" says no unit, and numbers such as {show(f.filled[0])} fit more than one'
    return replace(source, unit=answers.ask(Question("length", text, _UNITS)))


def _stated_unit(f: Facts) -> str:
    """The unit that a header states; "" for none."""
    known = UNIT_FACTORS["min"]
    for text in (*f.inside, f.name.replace("_", " "), plain(f.bare)):
        short = text in f.inside or " " in text or len(text) > 2
        if short and (found := find_unit(text, known)):
            return found
    return ""


def _settle_one(f: Facts, spans: dict[int, float], is_sleep: bool, mark: str) -> str:
    """The only unit in which the numbers can be such lengths; "" if none or several are."""
    values = read_amounts(f.filled, mark).values
    ends = np.array([spans.get(row, np.nan) for row in f.rows], dtype=float)
    both = np.isfinite(values) & np.isfinite(ends) & (values > 0) & (ends > 0)
    if both.any():
        ratio = float(np.median(ends[both] / values[both]))
        if is_sleep:
            ratio *= 1 - _ALIKE / 2
        near = [unit for unit, _ in _UNITS if abs(ratio / UNIT_FACTORS["min"][unit] - 1) <= _ALIKE + 0.2 * is_sleep]
        if near:
            return near[0]
    known = values[np.isfinite(values) & (values > 0)]
    if not known.size:
        return "min"
    median = float(np.median(known))
    if is_sleep:
        low, high = _NIGHT_MIN
        fitting = [unit for unit, _ in _UNITS if low <= median * UNIT_FACTORS["min"][unit] <= high]
        return fitting[0] if len(fitting) == 1 else ""
    low, high = _MOVE_MIN
    return "min" if low <= median <= high and float(known.max()) <= _LONGEST_MOVE_MIN else ""


def _is_sexagesimal(f: Facts, mark: str) -> bool:
    """True if all numbers have two decimals that are minutes, not all of them none."""
    found = [re.fullmatch(rf"\d+\{mark}(\d\d)", clean_number(cell)) for cell in f.filled]
    parts = [int(match[1]) for match in found if match]
    return len(parts) == len(f.filled) >= _LEAST_SEXAGESIMAL and max(parts) < 60 and max(parts) > 0


def settle_parts(source: Source, f: Facts, is_sleep: bool, answers: Answers) -> Source:
    """What 1:20 means as a length of time."""
    parted = [cell for cell in f.filled if is_clocked(cell)]
    if not parted or any(cell.count(":") == 2 for cell in parted) or is_sleep:
        return source
    inside = " ".join(f.inside).lower()
    if re.search(r"\bh+:m+|\bhh?\b|:mm:ss", inside):
        return replace(source, parts="h:m")
    if re.search(r"m+:s+", inside):
        return replace(source, parts="m:s")
    longest = max(int(cell.split(":")[0]) for cell in parted)
    if longest > 24:
        return replace(source, parts="m:s")
    if any(re.fullmatch(r"0?0:\d\d", cell) for cell in parted):
        return replace(source, parts="h:m")
    text = f'"{show(parted[0])}" as a length has two readings'
    choices = (("h:m", "hours and minutes"), ("m:s", "minutes and seconds"))
    return replace(source, parts=answers.ask(Question("parts", text, choices)))


def clock_spans(starts: Sequence[Facts], ends: Sequence[Facts]) -> dict[int, float]:
    """Minutes between two clock times of each row, past midnight if need be. [min]"""
    if not starts or not ends:
        return {}
    first, last = (_clock_minutes(columns[-1]) for columns in (starts, ends))
    return {row: (last[row] - first[row]) % 1440 for row in first if row in last}


def _clock_minutes(f: Facts) -> dict[int, float]:
    if f.epoch == SERIAL:
        return {row: float(cell.replace(",", ".")) * 1440 for row, cell in zip(f.rows, f.filled, strict=True)}
    if f.epoch:
        scale = 60e3 if f.epoch.startswith("milli") else 60
        return {row: float(cell) / scale for row, cell in zip(f.rows, f.filled, strict=True)}
    return {
        row: 60 * one.clock[0] + one.clock[1] + one.clock[2] / 60
        for row, one in zip(f.rows, f.written, strict=True)
        if one and one.clock
    }
