"""What must hold between the cells of a row, and of a column? Rules that single cells do not show."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from glucolab.reading.cells import positions
from glucolab.reading.photos import doubt_zones
from glucolab.reading.tables import Fault, ParsedTable
from glucolab.reading.text import show
from glucolab.reading.valid_rows import Rule
from glucolab.units import glucose_from_mg_dl, glucose_to_mg_dl

LIMIT_WORDS = re.compile(r"lo|low|hi|high|([<>])\s*(\d+(?:[.,]\d+)?)", re.IGNORECASE)
"""What sensors write at their floor and ceiling instead of a number."""

LOWEST_CHECK_MG_DL = 30.0
HIGHEST_CHECK_MMOL_L = 35.0
"""A person with less, or with more, is in a hospital: the number is in the other unit. Common practice, no source."""

HIGHEST_MG_DL = 1000.0
"""Beyond what sensors and meters report. Common practice, no source."""

NO_READING = (0.0, 999.0, 9999.0)
"""What devices write instead of a value that they do not have; common practice, no source. In either unit nobody who
wears this has such glucose: 999 mg/dL is beyond every sensor's scale. [as written]"""

_SAME_LIMIT_MG_DL = 2.0
_LONGEST_SLEEP = pd.Timedelta(hours=24)


def other_unit(unit: str) -> str:
    """The unit that was perhaps meant."""
    return "mmol/L" if unit == "mg/dL" else "mg/dL"


def belongs_to_other_unit(values: np.ndarray, unit: str) -> np.ndarray:
    """True where a glucose value in `unit` plainly belongs to the other one, shape (n,)."""
    return values < LOWEST_CHECK_MG_DL if unit == "mg/dL" else values > HIGHEST_CHECK_MMOL_L


def word_no_reading(cell: str) -> str:
    """What is said of such a code."""
    return f'glucose "{show(cell)}" is a code for no reading, and no glucose'


def _refuse_codes(values: np.ndarray, cells: list[str]) -> tuple[np.ndarray, list[Fault]]:
    """The values without codes, and a fault for each of these."""
    codes = np.isin(values, NO_READING)
    return np.where(codes, np.nan, values), [Fault(i, "glucose", word_no_reading(cells[i])) for i in positions(codes)]


def convert_readings(unit: str, floor_mg_dl: float, ceiling_mg_dl: float) -> Rule:
    """Sensor readings to mg/dL; words become the floor or the ceiling, named in `limit`."""

    def rule(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
        cells = parsed.cells["glucose"]
        written, faults = _refuse_codes(np.asarray(columns["glucose"], dtype=float), cells)
        values = glucose_to_mg_dl(written, unit)
        limits: list[str | None] = [None] * len(cells)
        faults += _refuse_impossible(values, cells)
        for i in positions(np.isnan(written)):
            word = LIMIT_WORDS.fullmatch(cells[i])
            if word:
                low = word[0][0] in "lL<"
                values[i], limits[i] = (floor_mg_dl, "low") if low else (ceiling_mg_dl, "high")
                faults += _refuse_other_limit(i, cells[i], word[2], values[i], unit, low)
        columns["glucose"], columns["limit"] = values, limits
        return faults

    return rule


def _refuse_other_limit(
    row: int, cell: str, number: str | None, limit_mg_dl: float, unit: str, low: bool
) -> list[Fault]:
    """A fault where a reading such as ``<54`` names another limit than wear.toml does."""
    if (
        number is None
        or abs(glucose_to_mg_dl(float(number.replace(",", ".")), unit) - limit_mg_dl) <= _SAME_LIMIT_MG_DL
    ):
        return []
    key = "reads_from_mg_dl" if low else "reads_to_mg_dl"
    known = f"{glucose_from_mg_dl(limit_mg_dl, unit):.3g} {unit}"
    return [Fault(row, "glucose", f'glucose "{show(cell)}" names another limit than {key} in wear.toml, {known}')]


def convert_checks(unit: str) -> Rule:
    """Blood values to mg/dL; one that plainly belongs to the other unit is left out."""

    def rule(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
        cells = parsed.cells["glucose"]
        values, codes = _refuse_codes(np.asarray(columns["glucose"], dtype=float), cells)
        strange = belongs_to_other_unit(values, unit) & (values > 0)
        faults = codes + [
            Fault(i, "glucose", f'glucose "{show(cells[i])}" plainly is not in {unit}: is it in {other_unit(unit)}?')
            for i in positions(strange)
        ]
        columns["glucose"] = glucose_to_mg_dl(values, unit)
        return faults + _refuse_impossible(np.where(strange, np.nan, columns["glucose"]), cells)

    return rule


def _refuse_impossible(mg_dl: np.ndarray, cells: list[str]) -> list[Fault]:
    impossible = positions((mg_dl <= 0) | (mg_dl > HIGHEST_MG_DL))
    return [Fault(i, "glucose", f'glucose "{show(cells[i])}" cannot be a glucose value') for i in impossible]


def want_time(has_trips: bool) -> Rule:
    """A meal has a time, or a photo that tells it; with trips, one without the camera's offset is in doubt."""

    def rule(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
        count = len(parsed.lines)
        times = parsed.cells.get("time", [""] * count)
        sources = parsed.photo_times or ("",) * count
        columns["time_source"] = ["photo" if source else "written" for source in sources]
        columns["time_uncertain"] = doubt_zones(sources, has_trips)
        reported = {fault.row for fault in parsed.faults if fault.column == "time"}
        return [
            Fault(i, "time", "neither time nor photo") for i, time in enumerate(times) if not time and i not in reported
        ]

    return rule


KCAL_PER_G = {"carbs_g": 4.0, "fiber_g": 2.0, "protein_g": 4.0, "fat_g": 9.0, "alcohol_g": 7.0}
"""Energy of each nutrient [kcal/g]: Regulation (EU) 1169/2011, annex XIV."""
ENERGY_OFF, ENERGY_OFF_KCAL = 1.5, 100.0
"""One nutrient alone may have so many times the energy that is written, and so much more; assumed. Less refuses labels
that round or leave sugar alcohols out, more lets a misplaced decimal point pass."""


SPOILT_SHARE, SPOILT_LEAST = 0.1, 3
"""Share and number of cells that cannot be, from which a whole column is doubted [0-1], [cells]; assumed. Fewer throws
good columns away for a slip, more lets a column in another unit tell of meals."""


def want_possible_nutrients(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
    """One nutrient cannot have more energy than its whole row; a column with many such cells is no column of grams."""
    faults = _refuse_more_than_the_row(parsed, columns)
    for name in KCAL_PER_G:
        if name not in columns:
            continue
        wrong = [fault.row for fault in (*parsed.faults, *faults) if fault.column == name]
        written = sum(bool(cell) for cell in parsed.cells[name])
        if len(wrong) >= max(SPOILT_LEAST, SPOILT_SHARE * written):
            columns[name] = np.full(len(columns[name]), np.nan)
            text = f"{len(wrong)} of {written} cells of {name} cannot be right: the whole column is left out"
            faults.append(Fault(min(wrong), name, text))
    return faults


def _refuse_more_than_the_row(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
    """Where the other nutrients fit the energy that is written, and one alone has more."""
    if "energy_kcal" not in columns:
        return []
    written = np.asarray(columns["energy_kcal"], dtype=float)
    energy = {name: KCAL_PER_G[name] * np.asarray(columns[name], float) for name in KCAL_PER_G if name in columns}
    faults = []
    for name, own in energy.items():
        others = sum((np.nan_to_num(other) for key, other in energy.items() if key != name), np.zeros(len(written)))
        limit = ENERGY_OFF * written + ENERGY_OFF_KCAL
        impossible = (own > limit) & (others <= limit)
        faults += [
            Fault(i, name, f'{name} "{show(parsed.cells[name][i])}" alone has {own[i]:.0f} kcal, but energy_kcal is '
                           f"{written[i]:g}")
            for i in positions(impossible)
        ]  # fmt: skip
        columns[name] = np.where(impossible, np.nan, columns[name])
    return faults


def want_sleep_in_order(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
    """A sleep ends after it begins, within a day."""
    length = columns["end"] - columns["start"]
    ends = parsed.cells["end"]
    backwards = positions(length <= pd.Timedelta(0))
    long = positions(length > _LONGEST_SLEEP)
    return [Fault(i, None, f'end "{show(ends[i])}" is not after start') for i in backwards] + [
        Fault(i, None, f'end "{show(ends[i])}" is more than 24 hours after start') for i in long
    ]


def want_notes_in_order(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
    """A noted event does not end before it begins; an end that does is emptied."""
    if "end" not in columns:
        return []
    backwards = columns["end"] < columns["start"]
    columns["end"] = columns["end"].where(~backwards)
    return [Fault(i, "end", f'end "{show(parsed.cells["end"][i])}" lies before start') for i in positions(backwards)]


def want_days_once(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
    """A day stands in one row; the first counts."""
    faults = []
    first: dict[np.datetime64, int] = {}
    for i, date in enumerate(columns["date"]):
        if np.isnat(date):
            continue
        if date in first:
            text = f'date "{parsed.cells["date"][i]}" stands twice, first on line {parsed.lines[first[date]]}'
            faults.append(Fault(i, "date", text))
        first.setdefault(date, i)
    return faults
