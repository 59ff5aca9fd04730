"""Are these the readings of one sensor? Two at once run on two courses, and the readings keep changing between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, to_local

JUDGED_HOURS = 12
"""Time that is judged at once; assumed. Longer, an overlap of a day is not seen; shorter, few readings decide.
[hours]"""
LEAST_JUDGED = 80
"""Fewer in a block say nothing: one sensor read every quarter of an hour has 48, two have 96; assumed. More passes over
sparse sensors, fewer takes the noise of one for a second. [readings]"""
FARTHEST_MIN = 40.0
"""Readings further apart on both sides of one show no course; assumed. Longer bends it, shorter passes over sparse
sensors. [min]"""
LONGEST_CYCLE = 16
"""After so many readings at most the same sensor comes again: one read every minute beside one read every quarter of an
hour. Less passes over those, more leaves fewer pairs to judge by. [readings]"""
LEAST_RECURRING, LEAST_TURNING = 0.6, -0.2
"""How alike distances from the course must be one cycle later, and how opposite one reading later; chosen on open
recordings: of 199 sensors alone no block was beyond, of those of 21 pairs worn at once 0.94, 0.81 in the nearest pair;
of pure noise 1 in 10,000 is. Higher passes over sensors that nearly agree, lower refuses noisy ones.
[correlation]"""
LEAST_APART_MG_DL = 2.0
"""Sensors nearer to each other are not told apart: a decimal of mmol/L is 1.8. Smaller, rounding is taken for a second
sensor; larger, sensors that nearly agree are mixed. [mg/dL]"""
BLOCK_PARTS = 4
"""Each quarter of a block counts the same, and in each the two must be apart: a clock set back by an hour mixes a short
while, which is flagged and not refused; assumed. More passes over sensors that meet now and then, fewer refuses such a
wear. [parts]"""
CLIPPED_PERCENT = 5, 95
"""Distances beyond these percentiles count as these: one jump is no course, assumed. Nearer to the middle blurs the
cycle, further out lets one reading decide. [%]"""


@dataclass(frozen=True)
class SecondSensor:
    """From when to when two sensors were read, and two readings that show it.

    Attributes
    ----------
    start, end : Timestamp
        [UTC]
    rows : tuple of int
        Positions of two neighbouring readings that are furthest from each other's course, in the order of time.
    """

    start: pd.Timestamp
    end: pd.Timestamp
    rows: tuple[int, int]

    def word_span(self, zones: ZoneSpans) -> str:
        """From when to when, by the wearer's clocks."""
        local = to_local(pd.DatetimeIndex([self.start, self.end]), zones)
        return f"{local[0]:%Y-%m-%dT%H:%M} to {local[1]:%Y-%m-%dT%H:%M}"


def find_second_sensor(glucose_mg_dl: pd.Series) -> SecondSensor | None:
    """The time over which readings are those of two sensors, None if they are those of one.

    Each reading is set against the line through its neighbours in time. Of one sensor these distances are noise: they
    turn at once and do not come again. Where two sensors are read in turn, those of one lie above the line and those of
    the other below it, and the same distances recur whenever the same sensor is read again.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        Indexed by time [UTC], in any order; readings that stand twice count once. [mg/dL]

    Returns
    -------
    SecondSensor or None

    Notes
    -----
    Limits of validity: judged by halves of a day (UTC), so that an overlap of less than twelve hours may pass; sensors
    nearer to each other than 2 mg/dL are not told apart; nor are two sensors one after the other, which nothing in the
    readings tells.
    """
    values = glucose_mg_dl.to_numpy(dtype=float)
    minutes = pd.DatetimeIndex(glucose_mg_dl.index).as_unit("us").asi8 / 60e6
    order = np.lexsort((values, minutes))
    order = order[np.isfinite(values[order])]
    again = (np.diff(minutes[order], prepend=-np.inf) == 0) & (np.diff(values[order], prepend=-np.inf) == 0)
    order = order[~again]
    if len(order) < 3:
        return None
    distances = _distances(values[order], minutes[order])
    block = (minutes[order][1:-1] // (JUDGED_HOURS * 60)).astype(int)
    firsts = np.flatnonzero(np.diff(block, prepend=block[0] - 1))
    mixed = [block[at] for at, one in zip(firsts, np.split(distances, firsts[1:]), strict=True) if _is_mixed(one)]
    if not mixed:
        return None
    here = np.flatnonzero(np.isin(block, mixed))
    worst = here[np.nanargmax(np.abs(distances[here]))] + 1
    times = pd.DatetimeIndex(glucose_mg_dl.index)
    start, end = times[order[here[0] + 1]], times[order[here[-1] + 1]]
    return SecondSensor(start, end, (int(order[worst - 1]), int(order[worst])))


def _distances(values: np.ndarray, minutes: np.ndarray) -> np.ndarray:
    """Of readings but the outer two, from the line through both neighbours; NaN where these are far, shape (n - 2,)."""
    span = minutes[2:] - minutes[:-2]
    share = np.divide(minutes[1:-1] - minutes[:-2], span, out=np.full(len(span), 0.5), where=span > 0)
    line = values[:-2] * (1 - share) + values[2:] * share
    return np.where(span <= FARTHEST_MIN, values[1:-1] - line, np.nan)


def _is_mixed(distances: np.ndarray) -> bool:
    """True if one block's distances recur with a cycle, and turn from each reading to the next."""
    if np.isfinite(distances).sum() < LEAST_JUDGED:
        return False
    kept = np.clip(distances, *np.nanpercentile(distances, CLIPPED_PERCENT))
    parts = np.array_split(kept, BLOCK_PARTS)
    if not all(np.isfinite(part).any() for part in parts):
        return False
    sizes = [float(np.sqrt(np.nanmean(part**2))) for part in parts]
    if min(sizes) <= LEAST_APART_MG_DL:
        return False
    alike = np.concatenate([part / size for part, size in zip(parts, sizes, strict=True)])
    turning, *recurring = (_mean_product(alike, cycle) for cycle in range(1, min(LONGEST_CYCLE, len(alike) // 3) + 1))
    return turning < LEAST_TURNING and max(recurring) > LEAST_RECURRING


def _mean_product(distances: np.ndarray, later: int) -> float:
    products = distances[:-later] * distances[later:]
    known = products[np.isfinite(products)]
    return float(known.mean()) if len(known) else 0.0
