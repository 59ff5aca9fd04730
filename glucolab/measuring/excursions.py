"""When did glucose stand well above the wear's own middle, and what was logged then?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.cleaning.clean import CleanRecord
from glucolab.cleaning.flags import EXCLUDING_NOTES
from glucolab.clock import local_hours
from glucolab.measuring.meals import exercise_spans
from glucolab.record import WearPeriod
from glucolab.record.outputs import EXCURSIONS

ABOVE_MEDIAN_MG_DL = 20.0
"""So far above the wear's own median an excursion begins; the contract's. Lower, noise and a restless night make some;
higher, the rises of ordinary meals are not counted. [mg/dL]"""
LEAST_POINTS = 3
"""How long an excursion lasts at least, and how long it must be over: 15 min, the contract's. Fewer count noise and cut
one meal's in two, more miss short ones and run neighbours together. [grid points]"""
STRESSED = 5.0
"""From here on a timed feeling counts as stress; assumed, the contract names no limit. Lower, a calm entry is set
beside an excursion; higher, more of them stay unexplained. [0-10]"""
_MINUTE = pd.Timedelta(minutes=1)
"""What a note without an end is counted in: a unit, no limit. [min]"""


def find_runs(glucose_mg_dl: np.ndarray, level_mg_dl: float) -> tuple[np.ndarray, np.ndarray]:
    """Grid points at which excursions begin, and the first after each.

    Parameters
    ----------
    glucose_mg_dl : numpy.ndarray, shape (g,)
        The trace, NaN in gaps; a gap ends an excursion. [mg/dL]
    level_mg_dl : float
        Values at or above count. [mg/dL]

    Returns
    -------
    first, last : numpy.ndarray of int
        Half-open; each begins with 15 min above and ends once 15 min lie below, so that those
        nearer than 15 min are one.
    """
    above = np.nan_to_num(glucose_mg_dl, nan=-np.inf) >= level_mg_dl
    first, last = _runs(above)
    gaps = np.r_[0, np.cumsum(np.isnan(glucose_mg_dl))]
    joined = (first[1:] - last[:-1] < LEAST_POINTS) & (gaps[first[1:]] == gaps[last[:-1]])
    group = np.cumsum(np.r_[False, ~joined])[: len(first)]
    long = np.flatnonzero(last - first >= LEAST_POINTS)
    found, opens = np.unique(group[long], return_index=True)
    return first[long[opens]], last[np.searchsorted(group, found, side="right") - 1]


def _runs(mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    edge = np.diff(np.r_[0, mask.astype(np.int8), 0])
    return np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)


def measure_excursions(wear: WearPeriod, clean: CleanRecord, trace: Trace) -> pd.DataFrame:
    """Excursions of the trace with what each is linked to.

    Parameters
    ----------
    wear : WearPeriod
    clean : CleanRecord
    trace : Trace

    Returns
    -------
    DataFrame
        Columns of ``excursions.csv``. A link says what was logged at the time, not what caused it.

    Notes
    -----
    At least 15 min at 20 mg/dL or more above the wear's own median; it ends after 15 min back below, and nearer than
    15 min two are one. Limits of validity: a gap ends an excursion.

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> trace = gl.estimate_trace(wear, clean)
    >>> found = gl.measure_excursions(wear, clean, trace)
    >>> found["minutes"].min() >= 15
    np.True_
    """
    known = trace.glucose_mg_dl[~np.isnan(trace.glucose_mg_dl)]
    median = float(np.median(known)) if len(known) else np.nan
    first, last = find_runs(trace.glucose_mg_dl, median + ABOVE_MEDIAN_MG_DL)
    peak = np.array([a + int(np.argmax(trace.glucose_mg_dl[a:b])) for a, b in zip(first, last, strict=True)], dtype=int)
    step = pd.Timedelta(minutes=GRID_MIN)
    out = pd.DataFrame({"start": trace.time[first], "peak_time": trace.time[peak], "end": trace.time[last - 1] + step})
    out["minutes"] = (out["end"] - out["start"]).dt.total_seconds() / 60
    out["peak_mg_dl"] = trace.glucose_mg_dl[peak]
    out["rise_mg_dl"] = out["peak_mg_dl"] - median
    links = _link(out, wear, clean)
    out["linked_to"] = pd.Series([";".join(names) or "unexplained" for names, _ in links], index=out.index, dtype="str")
    out["linked_row"] = pd.Series([";".join(filter(None, rows)) for _, rows in links], index=out.index, dtype="str")
    return out[EXCURSIONS.names]


def _link(out: pd.DataFrame, wear: WearPeriod, clean: CleanRecord) -> list[tuple[list[str], list[str]]]:
    """Names and rows of everything that matches each excursion, in the contract's order."""
    start, peak, end = (pd.DatetimeIndex(out[name]).as_unit("us").asi8 / 60e6 for name in ("start", "peak_time", "end"))
    doubtful = clean.spans[~clean.spans["flag"].isin(["duplicate", "warm_up", "clock"])]
    doubtful = doubtful[(doubtful["action"] == "exclude") | (doubtful["flag"] == "loosening")]
    notes = wear.notes[wear.notes["kind"].isin(EXCLUDING_NOTES)]
    noted_end = notes["end"].fillna(notes["start"] + 60 * _MINUTE)
    exercise = exercise_spans(wear.activity)
    stress = wear.feelings[wear.feelings["stress"] >= STRESSED]
    meals = wear.meals
    sensor = _first_overlap(start, end, doubtful["start"], doubtful["end"], np.zeros(len(doubtful), int))
    noted = _first_overlap(start, end, notes["start"], noted_end, notes.index)
    found = {
        "sensor": ("notes.csv", np.where(sensor >= 0, np.maximum(noted, 0), -1)),
        "exercise": (
            "activity.csv",
            _first_overlap(start - 30, peak + 1e-6, exercise["start"], exercise["end"], exercise["line"]),
        ),
        "meal": ("meals.csv", _first_overlap(start - 60, start + 15 + 1e-6, meals["time"], meals["time"], meals.index)),
        "stress": (
            "feelings.csv",
            _first_overlap(start - 60, start + 60 + 1e-6, stress["time"], stress["time"], stress.index),
        ),
    }
    hour = local_hours(pd.DatetimeIndex(out["start"]), wear.zones)
    eaten = _first_overlap(start - (hour - 3) * 60, start + 1e-6, meals["time"], meals["time"], meals.index) >= 0
    early = (hour >= 3) & (hour < 8) & ~eaten
    links = []
    for i in range(len(out)):
        mine = [
            (name, f"{file}:{lines[i]}" if lines[i] > 0 else "")
            for name, (file, lines) in found.items()
            if lines[i] >= 0
        ]
        if early[i]:
            mine.append(("early_morning", ""))
        links.append(([name for name, _ in mine], [row for _, row in mine]))
    return links


def _first_overlap(
    begin: np.ndarray, stop: np.ndarray, starts: pd.Series, ends: pd.Series, lines: np.ndarray | pd.Index | pd.Series
) -> np.ndarray:
    """Line of the first span that meets each window, -1 where none does, shape (n,). [min]"""
    first, last = (pd.DatetimeIndex(side).as_unit("us").asi8 / 60e6 for side in (starts, ends))
    meets = (first[None, :] < stop[:, None]) & (np.maximum(last, first)[None, :] >= begin[:, None])
    if not meets.shape[1]:
        return np.full(len(begin), -1)
    return np.where(meets.any(axis=1), np.asarray(lines)[meets.argmax(axis=1)], -1)
