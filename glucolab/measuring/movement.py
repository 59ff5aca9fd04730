"""What did the wrist write? When it was worn, and the sums of the days on which it was."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.clock import day_starts, days_between, local_hours
from glucolab.record import WearPeriod

PULSE_WITHIN_MIN = 30.0
"""Where a device writes a heart rate, it is worn only with one so near [min]; assumed: some write one every ten min.
Shorter takes rare writing for an arm that is bare, longer counts the charger as a quiet hour."""
DAY_BLOCKS_FROM_H = (6.0, 12.0, 18.0)
"""Where the blocks begin that a day's sums need, the last to midnight [local hours]: steps of the night are few, and
many charge then; assumed. Earlier empties the days of those who do, later lets a morning without it pass."""
LEAST_OF_DAY, LEAST_OF_BLOCK = 0.8, 0.5
"""Share of those hours, and of each six of them, that a day with a sum was worn [0-1]: 14.4 h, where surveys ask 10 h
of the waking day (Troiano et al. 2008, doi 10.1249/mss.0b013e31815a51b3, from memory) and lack the steps of the rest;
half a block is the contract's of a day. Less lets a bare wrist pass for an idle day, more empties whole ones."""


@dataclass(frozen=True, eq=False)
class Worn:
    """What one device wrote, in order of time; a row stands for its usual step, or less where the next comes sooner.

    Attributes
    ----------
    begin, minutes : numpy.ndarray, shape (n,)
        Start of each row since 1970, and how long it stands for; 0 where the device was not worn. [min]
    steps, mets : numpy.ndarray, shape (n,)
        NaN where nothing was recorded. [1], [MET]
    line : numpy.ndarray of int, shape (n,)
        Of movement.csv.
    step_min : float
        The usual distance of two rows; 0 of a single row. [min]
    source : str
        The device's name, "movement" where it has none.
    """

    begin: np.ndarray
    minutes: np.ndarray
    steps: np.ndarray
    mets: np.ndarray
    line: np.ndarray
    step_min: float
    source: str

    def covered_min(self, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """Minutes worn between two moments since 1970, in the shape of either. [min]"""
        edges = np.column_stack([self.begin, self.begin + self.minutes]).ravel()
        reached = np.repeat(np.append(0.0, np.cumsum(self.minutes)), 2)[1:-1]
        return np.interp(end, edges, reached) - np.interp(begin, edges, reached)


def find_worn(movement: pd.DataFrame) -> Worn:
    """Rows of the device that was worn longest.

    Parameters
    ----------
    movement : DataFrame
        ``movement.csv`` as read, a row or more.
    """
    devices = [_of_device(rows, name) for name, rows in movement.groupby(movement["source"].fillna(""), sort=False)]
    return max(devices, key=lambda one: one.minutes.sum())


def _of_device(rows: pd.DataFrame, name: object) -> Worn:
    rows = rows.sort_values("time", kind="stable")
    begin = pd.DatetimeIndex(rows["time"]).as_unit("us").asi8 / 60e6
    apart = np.diff(begin)
    usual = float(np.median(apart)) if len(apart) else 0.0
    steps, mets = (rows[column].to_numpy(float) for column in ("steps", "mets"))
    stands_for = np.minimum(np.append(apart, usual), usual)
    known = np.isfinite(steps if np.isfinite(steps).any() else mets)
    if rows["heart_rate_bpm"].notna().any():
        known &= (steps > 0) | _is_near(begin, begin[rows["heart_rate_bpm"].notna()])
    minutes = np.where(known, stands_for, 0.0)
    return Worn(begin, minutes, steps, mets, rows.index.to_numpy(), usual, str(name) or "movement")


def _is_near(begin: np.ndarray, beats: np.ndarray) -> np.ndarray:
    """True where a heart rate was written within half an hour, shape (n,)."""
    ends = (begin - PULSE_WITHIN_MIN, begin + PULSE_WITHIN_MIN)
    return np.searchsorted(beats, ends[1], side="right") > np.searchsorted(beats, ends[0])


def fill_days(wear: WearPeriod, worn: Worn) -> pd.DataFrame:
    """``days`` with sums of whole days where it is silent.

    Parameters
    ----------
    wear : WearPeriod
    worn : Worn

    Returns
    -------
    DataFrame
        As read, without lines, and with the day's `steps` where nobody wrote them (`steps_source` says who did); where
        the device writes no steps, with `met_h`, the energy use from six to midnight [MET h].

    Notes
    -----
    A day's sum needs 0.8 of the time from 06:00 to midnight, and half of each six hours: a day that was worn less has
    none, and nothing is scaled up. Limits of validity: where no heart rate is written, a device that lies on a table
    and writes nil is taken for a wrist at rest.
    """
    written = wear.days.set_index("date")
    name, sums = _sum_days(wear, worn)
    table = written.reindex(written.index.union(sums.index)).rename_axis("date")
    own = table[name] if name in table else pd.Series(np.nan, table.index)
    table[name] = own.fillna(sums)
    if name == "steps":
        counted = pd.Series(worn.source, table.index).where(own.isna(), "days")
        table["steps_source"] = counted.where(table[name].notna())
    return table.reset_index()


def _sum_days(wear: WearPeriod, worn: Worn) -> tuple[str, pd.Series]:
    """Steps of each local day that was worn, or its energy use where no steps were written [MET h]; and which it is."""
    times = pd.DatetimeIndex(pd.to_datetime(np.round(worn.begin * 60e6).astype("int64"), unit="us", utc=True))
    days = days_between(times.min(), times.max() + pd.Timedelta(minutes=1), wear.zones)
    edges = [day_starts(days.dates + pd.Timedelta(hours=hour), wear.zones) for hour in DAY_BLOCKS_FROM_H]
    blocks = np.column_stack([edge.as_unit("us").asi8 / 60e6 for edge in (*edges, days.edges[1:])])
    covered, possible = worn.covered_min(blocks[:, :-1], blocks[:, 1:]), np.diff(blocks, axis=1)
    enough = (covered >= LEAST_OF_BLOCK * possible).all(axis=1)
    enough &= covered.sum(axis=1) >= LEAST_OF_DAY * possible.sum(axis=1)
    if np.isfinite(worn.steps).any():
        name, amount = "steps", worn.steps
    else:
        by_day = local_hours(times, wear.zones) >= DAY_BLOCKS_FROM_H[0]
        name, amount = "met_h", np.where(by_day, worn.mets * worn.minutes / 60, 0.0)
    known, day = np.isfinite(amount), days.of(times)
    sums = np.bincount(day[known], amount[known], minlength=len(days.dates))
    return name, pd.Series(sums, days.dates)[enough]
