"""Which readings cannot be believed? One small function a flag: glucose in, True where suspect out.

Every function takes readings as a Series of glucose [mg/dL] indexed by time [UTC], missing where
another flag already took the reading out, and returns a boolean Series on the same index: True is
suspect, a missing reading is never suspect.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.cleaning.spans import spans_to_mask
from glucolab.clock import ZoneSpans, local_hours

DISORDERED_SHARE = 0.02
"""Steps back among the rows, of all steps, from which a file is in no order; assumed. A clock goes back once or twice,
scans and downloads follow each other a few times, shuffled rows go back at every second step. More lets disorder pass
for witness, less lets a set-back clock pass. [0-1]"""
MISSING_STEPS = 1.5
"""So many usual steps between two readings leave room for one more. More passes over wrong times, less takes jitter for
a hole; assumed. [steps]"""
AS_DENSE = 0.5
"""A clock that ran twice through a time left at least so many readings again; assumed. More passes over a stretch with
a gap, less takes scans by hand for a second run. [0-1]"""
LEAST_TWICE = 3
"""Fewer readings on either side are rows that were moved; assumed. At one a quarter of an hour an hour holds four, and
clocks are set by hours. [readings]"""
EXCLUDING_NOTES = ("pressure", "heat", "knock")


def flag_clock(glucose_mg_dl: pd.Series, *, start: pd.Timestamp, end: pd.Timestamp) -> pd.Series:
    """Readings before insertion, after removal, or whose time the order of the rows contradicts.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        In the order of the file. [mg/dL]
    start, end : Timestamp
        Insertion and removal. [UTC]

    Notes
    -----
    A reading is where its time says, wherever its row stands: files are sorted anew, shuffled, put together. The order
    of the rows is a witness against a time only where it shows what the times alone cannot:

    - *A clock set back.* The rows go on in the order in which they were read, while their times start again some way
      back, as densely as before, and run on beyond where they had been. What both stretches cover happened once by the
      clock and twice in truth, and which is which nobody knows: those readings are flagged, of both.
    - *One time that was written wrongly.* A single row lies outside the times of both its neighbours in the file, and
      between these a reading is missing: it is the one, and not where its time says. A row that was only moved leaves
      no such hole.

    A file most of whose rows are in no order witnesses nothing. Scans listed below the automatic history, two downloads
    with the same readings in both, and a file that runs newest first are orders. Limits of validity: in a file that was
    sorted after a clock was set back the two stretches are mixed, and nothing tells (a sensor reads twice as often for
    a while); from twelve hours on :func:`glucolab.reading.second_sensor.find_second_sensor` refuses it.
    """
    index = pd.DatetimeIndex(glucose_mg_dl.index)
    times = index.as_unit("us").asi8
    suspect = np.asarray((index < start) | (index > end))
    once = np.flatnonzero(~pd.DataFrame({"time": times, "value": glucose_mg_dl.to_numpy()}).duplicated().to_numpy())
    if np.count_nonzero(np.diff(times[once]) < 0) > len(once) / 2:
        once = once[::-1]  # a file that runs newest first is read from its end
    if np.count_nonzero(np.diff(times[once]) < 0) <= max(1, DISORDERED_SHARE * len(once)):
        wrong = _written_wrongly(times[once])
        suspect[once[wrong]] = True
        in_step = once[~wrong]
        suspect[in_step[_read_twice(times[in_step])]] = True
    return pd.Series(suspect & glucose_mg_dl.notna().to_numpy(), index=glucose_mg_dl.index)


def _written_wrongly(times: np.ndarray) -> np.ndarray:
    """True for a row outside the times of both its neighbours, between which a reading is missing, shape (n,)."""
    wrong = np.zeros(len(times), bool)
    if len(times) > 2:
        before, here, after = times[:-2], times[1:-1], times[2:]
        known = np.unique(times)
        nothing_between = np.searchsorted(known, after) <= np.searchsorted(known, before, side="right")
        missing = after - before > MISSING_STEPS * np.median(np.diff(known)) if len(known) > 1 else False
        wrong[1:-1] = (before <= after) & ((here < before) | (here > after)) & nothing_between & missing
        wrong[1:] &= ~wrong[:-1]  # the row beside one that is out of step is not
    return wrong


def _read_twice(times: np.ndarray) -> np.ndarray:
    """True for rows within a time that the clock ran through twice, shape (n,)."""
    twice = np.zeros(len(times), bool)
    edges = [0, *(np.flatnonzero(np.diff(times) < 0) + 1).tolist(), len(times)]
    for first, again, last in zip(edges[:-2], edges[1:-1], edges[2:], strict=True):
        back, until = times[again], times[again - 1]
        if times[first] < back and times[last - 1] > until:
            earlier, later = (slice(a, b) for a, b in ((first, again), (again, last)))
            both = [(part, (times[part] >= back) & (times[part] <= until)) for part in (earlier, later)]
            counts = [np.count_nonzero(inside) for _, inside in both]
            if min(counts) >= max(LEAST_TWICE, AS_DENSE * max(counts)):
                for part, inside in both:
                    twice[part] |= inside
    return twice


def flag_duplicate(glucose_mg_dl: pd.Series, *, interval_min: float, by_hand: np.ndarray) -> pd.Series:
    """Readings that stand for a moment another reading already stands for.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        Ascending in time. [mg/dL]
    interval_min : float
        Sampling interval of the automatic history. [min]
    by_hand : numpy.ndarray of bool, shape (n,)
        Scanned by hand; such a reading gives way to an automatic one within half an interval.
    """
    minutes = pd.DatetimeIndex(glucose_mg_dl.index).as_unit("us").asi8 / 60e6
    present = glucose_mg_dl.notna().to_numpy()
    suspect = np.zeros(len(minutes), bool)
    rows = np.flatnonzero(present & ~by_hand)
    close = np.diff(minutes[rows], prepend=-np.inf) < 0.4 * interval_min
    if close.any():
        suspect[rows] = _crowded(minutes[rows], 0.4 * interval_min)
    scans = np.flatnonzero(present & by_hand)
    kept = minutes[rows[~suspect[rows]]]
    if len(scans):
        suspect[scans] = _nearest(minutes[scans], kept) < interval_min / 2
        free = scans[~suspect[scans]]
        suspect[free] = _crowded(minutes[free], 1.0)
    return pd.Series(suspect, index=glucose_mg_dl.index)


def _crowded(minutes: np.ndarray, spacing: float) -> np.ndarray:
    """True for each moment nearer than `spacing` to the last one kept."""
    crowded = np.zeros(len(minutes), bool)
    last = -np.inf
    for i, moment in enumerate(minutes.tolist()):
        if moment - last < spacing:
            crowded[i] = True
        else:
            last = moment
    return crowded


def _nearest(minutes: np.ndarray, others: np.ndarray) -> np.ndarray:
    if not len(others):
        return np.full(len(minutes), np.inf)
    place = np.searchsorted(others, minutes)
    left = np.abs(minutes - others[np.maximum(place - 1, 0)])
    return np.minimum(left, np.abs(others[np.minimum(place, len(others) - 1)] - minutes))


def flag_warm_up(glucose_mg_dl: pd.Series, *, start: pd.Timestamp, warm_up_hours: float) -> pd.Series:
    """Readings of the first hours after insertion."""
    early = pd.DatetimeIndex(glucose_mg_dl.index) < start + pd.Timedelta(hours=warm_up_hours)
    return glucose_mg_dl.notna() & early


def flag_limit(glucose_mg_dl: pd.Series, *, floor_mg_dl: float, ceiling_mg_dl: float) -> pd.Series:
    """Readings at or beyond the sensor's floor or ceiling: censored, not measured."""
    return (glucose_mg_dl <= floor_mg_dl) | (glucose_mg_dl >= ceiling_mg_dl)


def flag_stuck(glucose_mg_dl: pd.Series, *, interval_min: float, zones: ZoneSpans, chance: float = 0.02) -> pd.Series:
    """Runs of one value longer than chance allows.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        Ascending in time. [mg/dL]
    interval_min : float
        Sampling interval. [min]
    zones : ZoneSpans
        For the quarter of the day: glucose is stiller at night.
    chance : float
        Accepted chance of one false run in the whole wear. The default is assumed: larger, quiet
        nights are taken out; smaller, short stuck runs stay in and make a wear look calm. [0-1]

    Notes
    -----
    With p the chance that neighbours are equal, in the quarter of the day where it is highest, a
    run of L equal readings has the chance p**(L-1); L is set so that n such chances reach
    `chance`. Runs are capped at four when p is counted, so that a stuck run does not hide itself.
    Runs under 20 min never count; readings nearer than 5 min are no neighbours. At intervals over
    10 min a run long enough to tell would last hours of plausible quiet, so nothing is flagged.
    """
    values = glucose_mg_dl.to_numpy(dtype=float)
    suspect = np.zeros(len(values), bool)
    if len(values) < 20 or interval_min > 10:
        return pd.Series(suspect, index=glucose_mg_dl.index)
    minutes = pd.DatetimeIndex(glucose_mg_dl.index).as_unit("us").asi8 / 60e6
    # a minute later glucose is hardly another: equality is judged between readings five minutes apart
    apart = max(1, round(5 / interval_min))
    p = _chance_of_equals(glucose_mg_dl.iloc[::apart], interval_min * apart, zones)
    count = len(values) / apart
    longest = apart * max(np.log(chance / count) / np.log(p), 20 / (interval_min * apart)) + 1
    equal = _equal_to_the_last(values, minutes, interval_min)
    run = _run_position(equal)
    ends = np.flatnonzero((run + 1 >= longest) & ~np.r_[equal[1:], False])
    for end in ends:
        suspect[end - run[end] : end + 1] = True
    return pd.Series(suspect, index=glucose_mg_dl.index)


def _chance_of_equals(glucose_mg_dl: pd.Series, interval_min: float, zones: ZoneSpans) -> float:
    """Chance that neighbours are equal in the quarter of the day where they most often are, 0.02-0.9."""
    times = pd.DatetimeIndex(glucose_mg_dl.index)
    equal = _equal_to_the_last(glucose_mg_dl.to_numpy(dtype=float), times.as_unit("us").asi8 / 60e6, interval_min)
    counted = _run_position(equal) <= 3
    quarter = (local_hours(times, zones) // 6).astype(int)
    pairs = np.bincount(quarter[counted], minlength=4)
    hits = np.bincount(quarter[counted], weights=equal[counted], minlength=4)
    return float(np.clip(((hits + 1) / (pairs + 4)).max(), 0.02, 0.9))


def _equal_to_the_last(values: np.ndarray, minutes: np.ndarray, interval_min: float) -> np.ndarray:
    return np.r_[False, (np.diff(values) == 0) & (np.diff(minutes) < 2.5 * interval_min)]


def _run_position(equal: np.ndarray) -> np.ndarray:
    """How many equal steps lead up to each reading, shape (n,)."""
    place = np.arange(len(equal))
    return place - np.maximum.accumulate(np.where(equal, 0, place))


def flag_loosening(glucose_mg_dl: pd.Series, *, interval_min: float, ratio: float = 2.5) -> pd.Series:
    """The last stretch of a wear whose noise has grown and stays grown to the end.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        Ascending in time. [mg/dL]
    interval_min : float
        Sampling interval. [min]
    ratio : float
        How much rougher than the wear's own median six hours. The default is assumed: larger, a
        peeling sensor goes unnoted; smaller, a restless last day is noted, and excursions in it are
        put down to the sensor. [times]

    Notes
    -----
    Roughness is the robust spread of second differences over six-hour blocks. Looked for in the
    last fifth of the wear only. Noted, never excluded: peeling and a restless day look alike.
    """
    present = glucose_mg_dl.dropna()
    result = pd.Series(False, index=glucose_mg_dl.index)
    if len(present) < 200:
        return result
    times = pd.DatetimeIndex(present.index)
    bend = np.abs(np.diff(present.to_numpy(), 2, prepend=np.nan, append=np.nan))
    block = ((times - times[0]).total_seconds() // (6 * 3600)).to_numpy().astype(int)
    rough = pd.Series(bend).groupby(block).median()
    rough = rough[pd.Series(bend).groupby(block).count() >= 60 / interval_min]
    usual = rough.median()
    if len(rough) < 8 or not usual > 0:
        return result
    is_rough = rough > ratio * usual
    last_calm = is_rough[~is_rough].index.max()
    first_bad = last_calm + 1
    if first_bad > rough.index.max() or first_bad < 0.8 * rough.index.max():
        return result
    late = glucose_mg_dl.index >= times[0] + pd.Timedelta(hours=6 * int(first_bad))
    return glucose_mg_dl.notna() & late


def flag_noted(glucose_mg_dl: pd.Series, *, notes: pd.DataFrame, kinds: tuple[str, ...] = EXCLUDING_NOTES) -> pd.Series:
    """Readings within a span that the wearer noted.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
    notes : DataFrame
        ``start, end, kind``; a note without an end stands for one hour (assumed).
    kinds : tuple of str
        Which kinds of note; the contract's by default.
    """
    mine = notes[notes["kind"].isin(kinds)]
    end = mine["end"].fillna(mine["start"] + pd.Timedelta(hours=1))
    inside = spans_to_mask(pd.DatetimeIndex(glucose_mg_dl.index), mine["start"], end)
    return glucose_mg_dl.notna() & inside
