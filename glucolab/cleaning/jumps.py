"""Which readings leave the course of those around them faster than glucose can? One or two, there and back."""

from __future__ import annotations

import numpy as np
import pandas as pd

LEAST_MG_DL = 15.0
"""Smallest distance from the course that counts; assumed: of sensors at 15 minutes 997 readings in 1,000 lie within 9,
in half of the open recordings. Larger, jumps stay in and raise maxima; smaller, the top of a steep rise is taken for
one. [mg/dL]"""
FASTEST_MG_DL_MIN = 3.0
"""Two readings in a row must leave it by so much a minute of the interval: in healthy people 98 in 100 quarter-hours
stay within 2 (doi 10.1177/15209156251390822, abstract). Larger, pairs stay in; smaller, a short rise read every quarter
of an hour is taken for one. [mg/dL per min]"""
LIMIT_SDS = 5.0
"""How many robust deviations of all readings from their courses are too many; chosen on half of the open recordings.
Larger, a noisy sensor's jumps stay in; smaller, its noise is taken out. [times]"""
MOVING_SHARE = 0.3
"""How much of the usual step between the readings around joins that deviation: where glucose moves, it also bends.
Chosen on half of the open recordings. Larger, jumps at meals stay in; smaller, tops of meals are taken out. [0-1]"""
ROBUST = 1.4826
"""Standard deviation of normal values over their median distance from the median."""
TRIMMED_SDS, FITS = 3.0, 4
"""Readings further off than so many deviations say nothing of how far courses bend, judged anew so many times; assumed.
More deviations let jumps bend the course, fewer leave it to few readings. [times]"""


def flag_jump(glucose_mg_dl: pd.Series, *, interval_min: float) -> pd.Series:
    """One or two readings far off the course of those around them, with a step in and a step out.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        Ascending in time. [mg/dL]
    interval_min : float
        Sampling interval. [min]

    Notes
    -----
    The course at a reading lies between the line through its two neighbours and the cubic through its four: the
    nearer the cubic, the less of the wear's readings is noise, which least squares over all of them tell. Where
    the four are not near, it is the line. The limit is the larger of a fixed distance and five robust standard
    deviations of all such distances, more where the readings around move, so that neither a noisy sensor is
    flagged for its noise nor a meal for its top. Of readings side by side only those furthest beyond it are jumps:
    beside a jump the course itself is off.

    Limits of validity: three or more in a row are no jump, and one within three readings of a larger one may stay
    in; at 15-minute sampling a reading that is off by less than about 20 mg/dL cannot be told from a meal's top.
    """
    known = np.flatnonzero(glucose_mg_dl.notna().to_numpy())
    marks = np.zeros(len(glucose_mg_dl), bool)
    if len(known) >= 5:
        values = glucose_mg_dl.to_numpy(dtype=float)[known]
        minutes = pd.DatetimeIndex(glucose_mg_dl.index).as_unit("us").asi8[known] / 60e6
        # positions, since a moment may occur twice in the index
        marks[known] = _furthest(values, minutes, interval_min)
    return pd.Series(marks, index=glucose_mg_dl.index)


def _furthest(values: np.ndarray, minutes: np.ndarray, interval_min: float) -> np.ndarray:
    """Marks the runs of one or two that lie beyond their limits, the furthest first, none beside another."""
    beyond = np.zeros((2, len(values)))
    for width in range(1, min(2, len(values) - 2) + 1):
        least = max(LEAST_MG_DL, FASTEST_MG_DL_MIN * interval_min) if width > 1 else LEAST_MG_DL
        beyond[width - 1, 1:-width] = _beyond(values, minutes, width, interval_min, least)
    marks = np.zeros(len(values), bool)
    for flat in np.argsort(-beyond, axis=None, kind="stable")[: np.count_nonzero(beyond)]:
        width, first = flat // len(values) + 1, flat % len(values)
        if not marks[first - 1 : first + width + 1].any():
            marks[first : first + width] = True
    return marks


def _beyond(values: np.ndarray, minutes: np.ndarray, width: int, interval_min: float, least: float) -> np.ndarray:
    """Distance over limit of each run of `width` with a reading on both sides, 0 where it is no jump, shape (m,)."""
    left = np.arange(len(values) - width - 1)
    right = left + width + 1
    inside = left + np.arange(1, width + 1)[:, None]
    span = minutes[right] - minutes[left]
    near = span < (width + 2.5) * interval_min
    off, spread = _off_course(values, minutes, inside, (width + 4.5) * interval_min)
    limit = np.maximum(least, LIMIT_SDS * np.hypot(spread, MOVING_SHARE * _moving(values, left, right)))
    limit *= np.maximum(span / ((width + 1) * interval_min), 1.0) ** 2  # a wider gap lets a course bend more
    step_in, step_out = values[left + 1] - values[left], values[right - 1] - values[right]
    there_and_back = (step_in * step_out > 0) & (np.minimum(np.abs(step_in), np.abs(step_out)) > limit / 2)
    together = np.abs(off.sum(axis=0)) > width * limit
    ratio = np.abs(off).min(axis=0) / limit
    # of one reading and two equally far off, two are the simpler reading of it
    return np.where(near & there_and_back & together & (ratio > 1), ratio * np.sqrt(width), 0.0)


def _off_course(
    values: np.ndarray, minutes: np.ndarray, inside: np.ndarray, reach_min: float
) -> tuple[np.ndarray, np.ndarray]:
    """How far each of a run lies off its course, shape (width, m), and how far readings usually do, shape (m,)."""
    left, right = inside[0] - 1, inside[-1] + 1
    off = values[inside] - _through((left, right), values, minutes, inside)
    spread = np.full(off.shape[1], _robust_sd(off))
    knots = np.maximum(left - 1, 0), left, right, np.minimum(right + 1, len(values) - 1)
    apart = np.diff(minutes[np.array(knots)], axis=0)
    four = (apart > 0).all(axis=0) & (apart.sum(axis=0) < reach_min)
    if not four.any():
        return off, spread
    line = values[inside[:, four]] - off[:, four]
    bend = _through(tuple(knot[four] for knot in knots), values, minutes, inside[:, four]) - line
    off[:, four] -= _share_of(bend, off[:, four]) * bend
    spread[four] = _robust_sd(off[:, four])
    return off, spread


def _through(knots: tuple[np.ndarray, ...], values: np.ndarray, minutes: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Lagrange's polynomial through the readings `knots`, at the times of the readings `at`; as `at` in shape."""
    course = np.zeros(at.shape)
    for knot in knots:
        others = [other for other in knots if other is not knot]
        # two readings of one moment have no line: they lie far off any
        weights = [
            (minutes[at] - minutes[other])
            / np.where(minutes[knot] == minutes[other], 1e-9, minutes[knot] - minutes[other])
            for other in others
        ]
        course += values[knot] * np.prod(weights, axis=0)
    return course


def _share_of(bend: np.ndarray, off: np.ndarray) -> float:
    """How much of the bend that the four show readings follow, 0-1: trimmed least squares."""
    share = 0.0
    for _ in range(FITS):
        rest = off - share * bend
        usual = np.abs(rest) <= TRIMMED_SDS * _robust_sd(rest)
        size = (bend[usual] ** 2).sum()
        share = float(np.clip((bend[usual] * off[usual]).sum() / size, 0.0, 1.0)) if size > 0 else 0.0
    return share


def _robust_sd(distances: np.ndarray) -> float:
    return ROBUST * float(np.median(np.abs(distances - np.median(distances))))


def _moving(values: np.ndarray, left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Usual step between the readings around each run, the run itself passed over, shape (m,). [mg/dL]"""
    before, after = np.maximum(left - 1, 0), np.minimum(right + 1, len(values) - 1)
    across = (values[right] - values[left]) / (right - left)
    return np.sqrt(((values[left] - values[before]) ** 2 + across**2 + (values[after] - values[right]) ** 2) / 3)
