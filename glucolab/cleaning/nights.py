"""What does a quiet night look like? Nights in cells, and how glucose and noise wander in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.cleaning.spans import spans_to_mask
from glucolab.clock import ZoneSpans, day_starts, to_local

MARGIN_MIN = 90.0
"""How much of the evening and morning is looked at beside the night itself. [min]"""
MEAL_TAIL_MIN = 200.0
RESTLESS, SETTLED_MIN = 7.0, 30.0
"""Glucose awake or after food moves this many times as far as in quiet sleep, once it has moved away so long. [min]"""
CLOCK_NIGHT = (24.0, 6.0)
LEAST_SLEEP = pd.Timedelta(hours=2)
NOISE_MIN, GLUCOSE_MIN = 25.0, 60.0
"""Time constants of slow sensor noise and of glucose. [min]"""


@dataclass(frozen=True, eq=False)
class Night:
    """One night in cells: minutes from its begin, mean of each, whether a low may lie there, how restless."""

    begin: pd.Timestamp
    minutes: np.ndarray
    values: np.ndarray
    asleep: np.ndarray
    restless: np.ndarray

    @staticmethod
    def gather(glucose: pd.Series, begin: pd.Timestamp, end: pd.Timestamp, step: float, meals: pd.DataFrame) -> Night:
        """One night of usable readings, with its margins."""
        margin = pd.Timedelta(minutes=MARGIN_MIN)
        near = glucose[(glucose.index >= begin - margin) & (glucose.index < end + margin)]
        place = np.round((pd.DatetimeIndex(near.index) - begin).total_seconds().to_numpy() / 60 / step).astype(int)
        which, inverse = np.unique(place, return_inverse=True)
        values = np.bincount(inverse, near.to_numpy()) / np.maximum(np.bincount(inverse), 1)
        minutes = which * step
        times = begin + pd.to_timedelta(minutes, unit="min")
        asleep = np.asarray((times >= begin) & (times < end))
        tail = pd.Timedelta(minutes=MEAL_TAIL_MIN)
        fed = spans_to_mask(pd.DatetimeIndex(times), meals["time"] - pd.Timedelta(minutes=10), meals["time"] + tail)
        return Night(begin, minutes.astype(float), values, asleep, np.where(asleep & ~fed, 1.0, RESTLESS))


def find_sleeps(
    times: pd.DatetimeIndex, zones: ZoneSpans, sleep: pd.DataFrame
) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Begin and end of each night: logged sleep, else the clock's. [UTC]"""
    first, last = to_local(pd.DatetimeIndex([times[0], times[-1]]), zones).normalize()
    dates = pd.date_range(first, last, freq="D", unit="us")
    begins = day_starts(dates - pd.Timedelta(hours=24 - CLOCK_NIGHT[0]), zones)
    ends = day_starts(dates + pd.Timedelta(hours=CLOCK_NIGHT[1]), zones)
    logged = sleep[sleep["end"] - sleep["start"] >= LEAST_SLEEP].sort_values("start")
    nights = _joined(logged["start"], logged["end"])
    near = pd.Timedelta(hours=8)
    for begin, end in zip(begins, ends, strict=True):
        if not any(a < end + near and b > begin - near for a, b in nights):
            nights.append((begin, end))
    return sorted(nights)


def _joined(starts: pd.Series, ends: pd.Series) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Spans in order, those that overlap (two trackers of one night) taken together."""
    spans: list[tuple[pd.Timestamp, pd.Timestamp]] = []
    for start, end in zip(starts, ends, strict=True):
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(end, spans[-1][1]))
        else:
            spans.append((start, end))
    return spans


def estimate_night_spreads(nights: list[Night], step: float) -> np.ndarray:
    """Standard deviations of glucose, slow noise and white noise in quiet sleep, from a robust variogram. [mg/dL]"""
    lags = np.unique(np.round(np.array([5, 10, 15, 20, 30, 45, 60, 90]) / step).astype(int))
    lags = lags[lags > 0]
    seen = np.full(len(lags), np.nan)
    for i, lag in enumerate(lags):
        jumps = [_differences(night, lag * step) for night in nights]
        joined = np.concatenate(jumps)
        if len(joined) > 20:
            seen[i] = max((np.median(np.abs(joined)) / 0.6745) ** 2 / 2, 0.1)
    good = ~np.isnan(seen)
    if good.sum() < 3:
        return np.array([6.0, 2.5, 1.5])
    h = lags[good] * step
    parts = np.column_stack([1 - _matern(h, GLUCOSE_MIN), 1 - np.exp(-h / NOISE_MIN), np.ones(len(h))])
    return np.maximum(np.sqrt(_not_negative(parts / seen[good][:, None], np.ones(len(h)))), [2.5, 1.0, 0.7])


def _differences(night: Night, lag_min: float) -> np.ndarray:
    quiet = (night.restless == 1) & night.asleep
    minutes, values = night.minutes[quiet], night.values[quiet]
    place = np.searchsorted(minutes, minutes + lag_min)
    inside = place < len(minutes)
    match = inside.copy()
    match[inside] = np.abs(minutes[place[inside]] - minutes[inside] - lag_min) < 1e-6
    return values[place[match]] - values[match]


def estimate_loudness(night: Night, spreads: np.ndarray, step: float) -> float:
    """How much noisier than the others a night is, 1-3, from its median step between neighbours."""
    steps = _differences(night, step)
    if len(steps) < 12:
        return 1.0
    _, slow, white = spreads
    expected = np.sqrt(2 * (slow**2 * (1 - np.exp(-step / NOISE_MIN)) + white**2))
    return float(np.clip(np.median(np.abs(steps)) / 0.6745 / expected, 1.0, 3.0))


def _not_negative(design: np.ndarray, seen: np.ndarray) -> np.ndarray:
    """Least squares with coefficients of zero or more, over every subset of the few columns."""
    best, found = np.inf, np.zeros(design.shape[1])
    for subset in range(1, 2 ** design.shape[1]):
        used = [i for i in range(design.shape[1]) if subset >> i & 1]
        fit = np.linalg.lstsq(design[:, used], seen, rcond=None)[0]
        left = ((design[:, used] @ fit - seen) ** 2).sum()
        if (fit >= 0).all() and left < best:
            best, found = left, np.zeros(design.shape[1])
            found[used] = fit
    return found


def _matern(distance: np.ndarray, scale: float) -> np.ndarray:
    """Matérn covariance of order 3/2: smooth, once differentiable."""
    r = np.sqrt(3) * np.abs(distance) / scale
    return (1 + r) * np.exp(-r)


def night_covariance(night: Night, spreads: np.ndarray, louder: float) -> np.ndarray:
    """Covariance of a night's cells where nothing presses on the sensor, shape (n, n). [(mg/dL)²]"""
    glucose, slow, white = spreads * np.array([1.0, louder, louder])
    apart = night.minutes[:, None] - night.minutes[None, :]
    # apart from the night's own wandering, else a rise after food makes the quiet before it look low
    far = np.sqrt(night.restless**2 - 1) * glucose * _away_from_quiet(night)
    return (
        40.0**2 * _matern(apart, 600.0)
        + (glucose**2 + far[:, None] * far[None, :]) * _matern(apart, GLUCOSE_MIN)
        + slow**2 * np.exp(-np.abs(apart) / NOISE_MIN)
        + white**2 * np.eye(len(apart))
    )


def _away_from_quiet(night: Night) -> np.ndarray:
    """0 in quiet sleep to 1 half an hour from it: a rise after food sets out from where glucose was."""
    quiet = night.minutes[night.restless == 1]
    if not len(quiet):
        return np.ones(len(night.minutes))
    return np.minimum(np.abs(night.minutes[:, None] - quiet[None, :]).min(axis=1) / SETTLED_MIN, 1.0)
