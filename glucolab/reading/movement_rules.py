"""Can a wrist have written this? Rows of movement.csv that stand in each other's time, and columns in another unit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from glucolab.errors import Problem
from glucolab.reading.cells import positions
from glucolab.reading.tables import Fault, ParsedTable
from glucolab.reading.text import show
from glucolab.record import WearPeriod

_MOST_STEPS_A_MIN = 300.0
"""Sprinters make five steps a second. Common practice, no source."""
_SHORTEST_MIN, _LONGEST_MIN = 0.9, 61.0
"""A row a second, or a day, is another table. By the contract rows are of a minute to a quarter of an hour."""
_OVERLAPS = 0.75
"""A row nearer to the one before than this share of the usual step stands in its time: two devices, or a clock."""
_RESTS_BELOW_MET = 3.0
"""Half of anybody's minutes are spent below moderate effort; more is another unit, such as tenths."""
_IRREGULAR = 0.1
_LONG_GAP_MIN = 60.0


def want_possible_movement(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
    """Rows stand beside each other, each for a minute to an hour, with steps and energy that a body can make."""
    times = pd.DatetimeIndex(columns["time"])
    minutes = np.where(times.isna(), np.nan, times.as_unit("us").asi8 / 60e6)
    devices = pd.Series(columns.get("source", [""] * len(minutes)), dtype=object).fillna("").to_numpy()
    faults: list[Fault] = []
    for device in dict.fromkeys(devices.tolist()):
        mine = np.flatnonzero((devices == device) & np.isfinite(minutes))
        mine = mine[np.argsort(minutes[mine], kind="stable")]
        faults += _of_device(parsed, columns, mine, minutes[mine])
    return faults + _doubt_mets(parsed, columns)


def _of_device(parsed: ParsedTable, columns: dict[str, Any], rows: np.ndarray, minutes: np.ndarray) -> list[Fault]:
    """Faults of one device's rows, in order of time."""
    apart = np.diff(minutes)
    apart = apart[apart > 0]
    if not len(apart):
        return [] if len(rows) < 2 else [_overlap(parsed, row, rows[0]) for row in rows[1:]]
    usual = float(np.median(apart))
    if not _SHORTEST_MIN <= usual <= _LONGEST_MIN:
        for name in ("steps", "heart_rate_bpm", "mets"):
            _blank(columns, name, rows)
        how = f"{usual * 60:.0f} s" if usual < 1 else f"{usual / 60:.0f} h"
        what = "sum them to minutes" if usual < 1 else "the sum of a day belongs in days.csv"
        text = f"a row every {how} is neither a minute nor a quarter of an hour, and none is used: {what}"
        return [Fault(int(rows[0]), "steps", text)]
    return [*_find_overlaps(parsed, rows, minutes, _OVERLAPS * usual), *_refuse_too_many(parsed, columns, rows, usual)]


def _blank(columns: dict[str, Any], name: str, rows: np.ndarray) -> None:
    """Empty the cells of some rows of a column of numbers."""
    if name in columns:
        columns[name] = np.array(columns[name], dtype=float)
        columns[name][rows] = np.nan


def _find_overlaps(parsed: ParsedTable, rows: np.ndarray, minutes: np.ndarray, least_min: float) -> list[Fault]:
    """Rows that begin before the one before them, in order of time, is over."""
    faults, last = [], 0
    for i in range(1, len(rows)):
        if minutes[i] - minutes[last] < least_min:
            faults.append(_overlap(parsed, rows[i], rows[last]))
        else:
            last = i
    return faults


def _refuse_too_many(parsed: ParsedTable, columns: dict[str, Any], rows: np.ndarray, usual_min: float) -> list[Fault]:
    """More steps than anybody makes in the time of a row."""
    if "steps" not in columns:
        return []
    many = rows[np.asarray(columns["steps"], dtype=float)[rows] > _MOST_STEPS_A_MIN * usual_min]
    _blank(columns, "steps", many)
    cells, than = parsed.cells["steps"], f"are more than anybody makes in {usual_min:g} min"
    return [Fault(int(i), "steps", f'steps "{show(cells[i])}" {than}') for i in many]


def _overlap(parsed: ParsedTable, row: int, before: int) -> Fault:
    text = (
        f'time "{show(parsed.cells["time"][row])}" lies within the row of line {parsed.lines[before]}: '
        "if two devices wrote it, name them in source"
    )
    return Fault(int(row), None, text)


def _doubt_mets(parsed: ParsedTable, columns: dict[str, Any]) -> list[Fault]:
    """A column of energy use in which nobody ever rests is in another unit, and is left out."""
    mets = np.asarray(columns.get("mets", []), dtype=float)
    read = mets[np.isfinite(mets)]
    beyond = [fault.row for fault in parsed.faults if fault.column == "mets"]
    written = len(read) + len(beyond)
    resting = np.count_nonzero(read < _RESTS_BELOW_MET)
    if not written or resting >= written / 2:
        return []
    columns["mets"] = np.full(len(mets), np.nan)
    first = min([*beyond, *positions(np.isfinite(mets))])
    text = (
        f"{resting} of {written} cells of mets are under {_RESTS_BELOW_MET:g}, but any body rests half of the time: it "
        "is in another unit, such as tenths, and the whole column is left out"
    )
    return [Fault(first, "mets", text)]


def doubt_movement(wear: WearPeriod, folder: str) -> list[Problem]:
    """Times that keep no step, and hours that are missing: notes, for nothing is left out."""
    movement, file = wear.movement, f"{folder}/movement.csv"
    notes = []
    for device, rows in movement.groupby(movement["source"].fillna(""), sort=False):
        times = pd.DatetimeIndex(rows["time"]).as_unit("us").asi8 / 60e6
        apart = np.diff(np.sort(times))
        if not len(apart):
            continue
        usual, of = float(np.median(apart)), f" of {show(str(device))}" if device else ""
        uneven = int((np.abs(apart - usual * np.round(apart / usual)) > 0.1 * usual).sum())
        if uneven > _IRREGULAR * len(apart):
            text = (
                f"{uneven} of {len(rows)} rows{of} do not keep the step of {usual:g} min, which each stands for at most"
            )
            notes.append(Problem(file, text, left_out=False))
        long = apart[apart > max(_LONG_GAP_MIN, 1.5 * usual)]
        if len(long):
            gaps = "1 gap" if len(long) == 1 else f"{len(long)} gaps"
            text = f"{gaps} of more than an hour{of}, {long.sum() / 60:.0f} h in all: not worn, or not written"
            notes.append(Problem(file, text, left_out=False))
    return notes
