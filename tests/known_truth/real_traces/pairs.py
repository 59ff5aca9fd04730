"""Which two sensors saw the same days, by the same clock? Their wears cut to what both lived through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.record import Study, WearPeriod
from tests.known_truth.real_traces.blood import Curve, draw_curve
from tests.known_truth.real_traces.recordings import LEAST_DAYS, Recorded, cut

MOST_CLOCK_MIN, STEP_MIN = 90, 5
LEAST_CLOCK_MIN = 15
"""Less is as well how sensors of two models lag behind each other."""


@dataclass(frozen=True, eq=False)
class Pair:
    """Two sensors of one person over the same days, after both warmed up.

    Attributes
    ----------
    name : str
    study : Study
        For the range and the person.
    wears : tuple of WearPeriod
    curves : tuple of Curve
        What each showed; longer than the wears, so that blood can be read ahead.
    wearer : bool
    ahead_min : float
        How far the second clock is ahead of the first, 0 for less than a quarter of an hour. [min]
    """

    name: str
    study: Study
    wears: tuple[WearPeriod, WearPeriod]
    curves: tuple[Curve, Curve]
    wearer: bool
    ahead_min: float


def pair_all(people: list[Recorded]) -> list[Pair]:
    """Everybody with two sensors that shared days enough."""
    pairs = [_pair(one) for one in people if len(one.wears) == 2]
    return [pair for pair in pairs if pair is not None]


def pair_sensors(people: list[Recorded]) -> list[Pair]:
    """Those whose two clocks agree: of the others nobody knows which one the log and the nights go by."""
    return [pair for pair in pair_all(people) if pair.ahead_min == 0]


def _pair(one: Recorded) -> Pair | None:
    first, second = one.wears
    starts = [wear.start + pd.Timedelta(hours=wear.warm_up_hours) for wear in (first, second)]
    ends = [min(wear.end, wear.glucose["time"].max()) for wear in (first, second)]
    days = (min(ends) - max(starts)) // pd.Timedelta(days=1)
    if days < LEAST_DAYS:
        return None
    span = max(starts), max(starts) + days * pd.Timedelta(days=1)
    wears = cut(first, *span), cut(second, *span)
    curves = draw_curve(first), draw_curve(second)
    return Pair(one.name, one.study, wears, curves, one.wearer, find_ahead_min(*curves))


def find_ahead_min(first: Curve, second: Curve) -> float:
    """How far the second clock is ahead, if both curves move together; 0 for less than a quarter of an hour.

    Notes
    -----
    The shift with the highest correlation of both, each less its own mean over six hours.
    """
    grid = first.time[(first.time >= second.time[0]) & (first.time <= second.time[-1])]
    fast = _without_level(first.at(grid))
    shifts = np.arange(-MOST_CLOCK_MIN, MOST_CLOCK_MIN + 1, STEP_MIN)
    likeness = []
    for shift in shifts:
        other = _without_level(second.at(grid + pd.Timedelta(minutes=int(shift))))
        both = np.isfinite(fast) & np.isfinite(other)
        likeness.append(np.corrcoef(fast[both], other[both])[0, 1])
    best = float(shifts[int(np.argmax(likeness))])
    return best if abs(best) >= LEAST_CLOCK_MIN else 0.0


def _without_level(values: np.ndarray) -> np.ndarray:
    series = pd.Series(values)
    return (series - series.rolling(72, center=True, min_periods=36).mean()).to_numpy()
