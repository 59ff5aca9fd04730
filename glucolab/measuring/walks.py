"""Where were walks that nobody logged? Found by their steps, beside those that were."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.conventions import WALK_LEAST_MIN, WALK_WITHIN_MIN, is_walk
from glucolab.measuring.movement import Worn, fill_days, find_worn
from glucolab.record import WearPeriod, empty_table
from glucolab.record.outputs import ALL_WALKS

WALK_CADENCE, PAUSE_MIN = 80.0, 1.0
"""Steps a minute from which a minute is walked, and the longest pause within a walk [1/min], [min]: 80-99 is called
medium walking, 100 or more moderate effort (Tudor-Locke et al. 2011, doi 10.1016/j.ypmed.2011.06.004, and 2018, doi
10.1136/bjsports-2017-097628, both from memory); the pause assumed, a crossing. A lower cadence finds housework, a
higher one loses strolls; a longer pause joins errands."""
MODERATE_CADENCE, RUN_CADENCE = 100.0, 140.0
"""Cadences of moderate effort, and from which it is no walk but a run [1/min]: 100 by Tudor-Locke et al. 2018, people
break into a run at about 140 (PMC8629136). The first moves a word alone; a lower second loses brisk walks, a higher one
calls runs walks."""
VIGOROUS_METS = 6.0
"""Mean energy use from which it is no walk [MET]: vigorous, by definition. Lower loses climbs, higher counts runs."""
FINE_MIN, COARSE_MIN = 5.0, 20.0
"""Longest rows that show a walk minute by minute, and at all [min]; assumed. Longer fine rows lose walks at their
edges, longer coarse ones hide any walk among errands."""
COARSE_WALKS, COARSE_JOINS = 50.0, 25.0
"""Steps a minute over a quarter of an hour from which it holds a walk, and from which its neighbour is its beginning or
end [1/min]; assumed: 750 steps are seven and a half minutes of walking, and 40-59 is called purposeful (Tudor-Locke et
al. 2011). Lower finds errands, higher loses walks of ten minutes that two quarters share."""
BESIDE_LOG_MIN = 10.0
"""A walk found so near to a logged activity is that activity [min], and of longer rows one row; assumed: people write
times to the five or ten minutes. Shorter counts one walk twice, longer loses the way home from the gym."""
SEEN_SHARE = 0.9
"""Share of the 45 min after a meal that must be worn before "no walk" is believed [0-1]; assumed. Lower calls a bare
arm a rest, higher leaves meals unknown for a minute without a signal."""
FOUND = "found in movement.csv"
_ROUNDED_MIN = 0.02
"""Times that differ by less are one [min]: a second of rounding. Larger joins what does not touch."""


def add_movement(wear: WearPeriod) -> WearPeriod:
    """The wear with its days filled and its unlogged walks found, as far as movement.csv carries it.

    Parameters
    ----------
    wear : WearPeriod
        As read.

    Returns
    -------
    WearPeriod
        With `days` as :func:`glucolab.measuring.movement.fill_days` gives them, and `found_walks`; as it was, if it has
        no movement. Once more changes nothing.

    Notes
    -----
    :func:`analyse_wear` begins with this; whoever calls the stages one by one does too, or walks that nobody logged are
    missed by :func:`measure_meal_responses` and steps by :func:`measure_daily`.
    Walks from rows of up to five minutes: 80 steps a minute or more, over five minutes or more. Rows of up to twenty
    minutes miss most walks of less than ten.

    References
    ----------
    .. [1] Tudor-Locke et al., Prev Med 2011, doi 10.1016/j.ypmed.2011.06.004.

    Examples
    --------
    >>> import pandas as pd, glucolab as gl
    >>> times = pd.date_range("2026-02-03 08:00", periods=576, freq="5min", tz="Europe/Lisbon")
    >>> steps = pd.DataFrame({"time": times, "steps": 0})
    >>> steps.loc[100:103, "steps"] = 550
    >>> wear = gl.wear_from_frame(pd.Series(100.0, times), unit="mg/dL", movement=steps)
    >>> gl.add_movement(wear).found_walks[["minutes", "steps"]].to_numpy().tolist()
    [[20.0, 2200.0]]
    """
    if not wear.has("movement"):
        return wear
    worn = find_worn(wear.movement)
    days = fill_days(wear, worn)
    return replace(wear, tables={**wear.tables, "days": days}, found_walks=find_walks(worn, wear.activity))


def shows_walks(worn: Worn) -> bool:
    """True if a device's rows are short enough for walks to be found."""
    return worn.step_min <= COARSE_MIN and bool(np.isfinite(worn.steps).any())


def tabulate_walks(wear: WearPeriod) -> pd.DataFrame:
    """``walks.csv``: what was logged as a walk, and what was found, by their start."""
    logged = wear.activity[is_walk(wear.activity)].assign(source="logged")
    both = pd.concat([logged, wear.found_walks.assign(source="found")])
    file = both["source"].map({"logged": "activity.csv", "found": "movement.csv"})
    both["row"] = file.str.cat(both.index.astype(str), sep=":")
    return both.sort_values("start", kind="stable", ignore_index=True)[ALL_WALKS.names]


def find_walks(worn: Worn, activity: pd.DataFrame) -> pd.DataFrame:
    """Walks by their steps that no activity stands beside.

    Parameters
    ----------
    worn : Worn
    activity : DataFrame
        What was logged, which goes before what is found.

    Returns
    -------
    DataFrame
        Columns of `activity` and ``steps``, indexed by the first line of movement.csv.

    Notes
    -----
    By the minute: rows of 80 steps a minute or more, a pause of a minute allowed, over five minutes or more. By the
    quarter of an hour: rows of 50 a minute or more with a neighbour of 25 or more on either side; each lasts as long as
    its steps at 100 a minute, and where in the quarter it lies is guessed from the neighbours. Such rows miss most
    walks of less than ten minutes, know a start to within some ten minutes, and cannot tell a short run from a walk.
    From 140 a minute, or 6 MET, it is no walk, and nothing is made of it: what else was done is not guessed, from a
    heart rate neither.
    """
    step = worn.step_min
    pace = np.nan_to_num(worn.steps / np.where(worn.minutes > 0, worn.minutes, np.nan))
    if step <= FINE_MIN:
        bouts = _runs(worn, pace >= WALK_CADENCE, PAUSE_MIN)
    else:
        bouts = _runs(worn, _walks_in_part(worn, pace), 0.0)
    rows = [_as_walk(worn, pace, first, last) for first, last in bouts] if shows_walks(worn) else []
    found = pd.DataFrame(rows, columns=["begin", "minutes", "pace", "mets", "steps", "line"]).astype({"line": "int64"})
    walked = (found["minutes"] >= WALK_LEAST_MIN) & (found["pace"] < RUN_CADENCE) & ~(found["mets"] >= VIGOROUS_METS)
    found = found[walked & ~_stand_beside(found, activity, max(BESIDE_LOG_MIN, step))]
    start = pd.DatetimeIndex(np.round(found["begin"] * 60e6).astype("datetime64[us]"), tz="UTC")
    effort = pd.Series("light", found.index).where(found["pace"] < MODERATE_CADENCE, "moderate")
    if step > FINE_MIN:  # a long row tells how many steps, not how fast
        effort = pd.Series(None, found.index, dtype="str")
    walks = found.assign(start=start, kind="walk", effort=effort, note=FOUND).set_index("line")
    walks = walks[["start", "minutes", "kind", "effort", "note", "steps"]]
    return walks.astype({name: kind for name, kind in empty_table("activity").dtypes.items()})


def _runs(worn: Worn, walking: np.ndarray, pause_min: float) -> np.ndarray:
    """First and last row of each stretch that is walked but for short pauses, shape (k, 2)."""
    at = np.flatnonzero(walking)
    if not len(at):
        return np.zeros((0, 2), dtype=int)
    still = worn.begin[at[1:]] - (worn.begin + worn.minutes)[at[:-1]]
    breaks = np.flatnonzero(still > pause_min + _ROUNDED_MIN)
    return np.column_stack([at[np.append(0, breaks + 1)], at[np.append(breaks, len(at) - 1)]])


def _walks_in_part(worn: Worn, pace: np.ndarray) -> np.ndarray:
    """True for long rows that hold a walk, or touch one and may hold its beginning or end, shape (n,)."""
    whole = pace >= COARSE_WALKS
    touches = np.abs(worn.begin[1:] - (worn.begin + worn.minutes)[:-1]) <= _ROUNDED_MIN
    beside = np.append(False, whole[:-1] & touches) | np.append(whole[1:] & touches, False)
    return whole | (beside & (pace >= COARSE_JOINS))


def _as_walk(worn: Worn, pace: np.ndarray, first: int, last: int) -> tuple[float, ...]:
    """Begin, minutes, cadence, METs, steps and line of a stretch of rows."""
    rows = slice(first, last + 1)
    steps, minutes = worn.steps[rows], worn.minutes[rows]
    total = float(np.nansum(steps))
    known = np.isfinite(worn.mets[rows])
    mets = float(np.average(worn.mets[rows][known], weights=minutes[known])) if minutes[known].sum() else np.nan
    line = float(worn.line[first])
    if worn.step_min <= FINE_MIN:
        length = float(worn.begin[last] + worn.minutes[last] - worn.begin[first])
        return worn.begin[first], length, float(np.median(pace[rows])), mets, total, line
    walked = np.minimum(np.nan_to_num(steps) / MODERATE_CADENCE, minutes)
    # a walk of several rows ends the first and begins the last; of one row it lies in the middle
    spare = (minutes[0] - walked[0]) * (1.0 if last > first else 0.5)
    return round(worn.begin[first] + spare), float(round(walked.sum())), float(pace[rows].max()), mets, total, line


def _stand_beside(found: pd.DataFrame, activity: pd.DataFrame, margin_min: float) -> np.ndarray:
    """True for walks that overlap a logged activity, or nearly, shape (k,)."""
    start = pd.DatetimeIndex(activity["start"]).as_unit("us").asi8 / 60e6
    end = start + activity["minutes"].to_numpy(float)
    begin, stop = (side.to_numpy(float)[:, None] for side in (found["begin"], found["begin"] + found["minutes"]))
    return np.asarray(((begin < end + margin_min) & (stop > start - margin_min)).any(axis=1))


def is_seen_after(wear: WearPeriod, times: pd.Series) -> np.ndarray:
    """True where the wrist would have shown a walk that began within 45 min, shape (m,)."""
    worn = find_worn(wear.movement) if wear.has("movement") else None
    if worn is None or not shows_walks(worn):
        return np.zeros(len(times), dtype=bool)
    begin = pd.DatetimeIndex(times).as_unit("us").asi8 / 60e6
    return worn.covered_min(begin, begin + WALK_WITHIN_MIN) >= SEEN_SHARE * WALK_WITHIN_MIN
