"""What does a quiet night look like? Nights in cells, and how glucose and noise wander in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri

from glucolab.clock import ZoneSpans, day_starts, to_local
from glucolab.conventions import CLOCK_NIGHT_H, MAY_LIE_H

MARGIN_MIN = 90.0
"""How much of the evening and morning is looked at beside the night itself; assumed. Too short, a low at the edge of
sleep has nothing to stand out from; longer costs time and tells little. [min]"""
MEAL_TAIL_MIN, RISEN_TAIL_MIN = 200.0, 120.0
"""How long glucose is on its way back after a logged meal, and after it stood `RISEN_MG_DL` above the night; chosen on
invented nights. Too short, dinner's tail is taken for a low (without any, 0.61 of what was flagged was one); too long,
lows in the first half of the night are missed. [min]"""
RISEN_MG_DL, RISING_MIN = 20.0, 30.0
"""So far above the night's median, something was eaten that nobody logged, and glucose had risen for so long; assumed.
Too small, a noisy night hides its lows; too large, the tail of a late snack is taken for one. [mg/dL], [min]"""
LEAST_SLEEP = pd.Timedelta(hours=2)
"""Shorter logged sleep is not searched for lows; assumed. Larger, the pieces of a broken night are passed over;
smaller, naps are searched, in which meals move glucose. [h]"""
NOISE_MIN, GLUCOSE_MIN, NIGHT_MIN = 25.0, 60.0, 180.0
"""Time constants of slow sensor noise (as the smoother's), of glucose within the hour and through the night; assumed.
Too short, real lows pass for glucose's own wandering; too long, that wandering is taken out as lows. [min]"""
LEVEL_SD_MG_DL = 40.0
"""How far a night's level may lie from the mean of its readings: wide, to say nothing; assumed. Small, the level is
tied to a mean that the low itself pulls down, and lows look shallower than they are. [mg/dL]"""
RESTLESS_SD_MG_DL, RESTLESS_MIN, SETTLED_MIN = 25.0, 60.0, 30.0
"""How far and how fast glucose moves awake or after food, fully so half an hour from quiet sleep; assumed. Too small or
slow, the way back from dinner is taken for a low; too large or fast, lows near food are missed. [mg/dL], [min]"""
LEAST_SPREADS = np.array([2.5, 1.0, 0.7, 4.0])
"""Floors of what a wear's nights show: glucose within the hour, slow noise, white noise, glucose through the night;
assumed. Too small, a still night's rounding looks like a low; too large, shallow lows are missed. [mg/dL]"""
USUAL_SPREADS = np.array([6.0, 2.5, 1.5, 6.0])
"""The same four where too little quiet sleep was recorded to judge them; assumed. Too small, ordinary wandering is
taken out; too large, lows stay in. [mg/dL]"""
VARIOGRAM_MIN = (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240)
"""Distances over which glucose is compared with itself to judge the four; assumed. Without the short ones noise is not
told from glucose, without the long ones wandering through the night looks like a low. [min]"""
CALM_SHARE = 0.6
"""Spreads are judged by the smaller three fifths of differences: lows, and jumps, are among the others; assumed. Too
large, lows widen the spreads that they are judged by; too small, the spreads rest on few. [0-1]"""


@dataclass(frozen=True, eq=False)
class Night:
    """One night in cells: minutes from its begin, mean of each, whether a low may lie there, how restless."""

    begin: pd.Timestamp
    minutes: np.ndarray
    values: np.ndarray
    asleep: np.ndarray
    restless: np.ndarray

    @staticmethod
    def gather(
        minutes: np.ndarray,
        values: np.ndarray,
        length_min: float,
        step: float,
        begin: pd.Timestamp,
        meals_min: np.ndarray,
    ) -> Night:
        """One night of usable readings, with its margins; all times in minutes from its begin."""
        near = slice(*np.searchsorted(minutes, [-MARGIN_MIN, length_min + MARGIN_MIN]))
        place = np.round(minutes[near] / step).astype(int)
        which, inverse = np.unique(place, return_inverse=True)
        means = np.bincount(inverse, values[near]) / np.maximum(np.bincount(inverse), 1)
        cells = which * step
        asleep = (cells >= 0) & (cells < length_min)
        fed = _within(cells, meals_min, 10.0, MEAL_TAIL_MIN)
        if asleep.any():
            high = cells[means > np.median(means[asleep]) + RISEN_MG_DL]
            fed |= _within(cells, high, RISING_MIN, RISEN_TAIL_MIN)
        return Night(begin, cells, means, asleep, ~asleep | fed)


def _within(cells: np.ndarray, moments: np.ndarray, before: float, after: float) -> np.ndarray:
    """True for cells from `before` minutes before to `after` minutes after any moment."""
    apart = cells[:, None] - moments[None, :]
    return ((apart >= -before) & (apart <= after)).any(axis=1)


def gather_nights(
    glucose: pd.Series, zones: ZoneSpans, sleep: pd.DataFrame, meals: pd.DataFrame, step: float
) -> list[Night]:
    """Every night with six cells or more of usable readings."""
    times = pd.DatetimeIndex(glucose.index)
    minutes, values = times.as_unit("us").asi8 / 60e6, glucose.to_numpy(dtype=float)
    eaten = pd.DatetimeIndex(meals["time"]).as_unit("us").asi8 / 60e6
    nights = []
    for begin, end in find_sleeps(times, zones, sleep):
        start = begin.timestamp() / 60
        length = (end - begin).total_seconds() / 60
        nights.append(Night.gather(minutes - start, values, length, step, begin, eaten - start))
    return [night for night in nights if len(night.values) >= 6]


def find_sleeps(
    times: pd.DatetimeIndex, zones: ZoneSpans, sleep: pd.DataFrame
) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Begin and end of each night: logged sleep, else the clock's. [UTC]"""
    first, last = to_local(pd.DatetimeIndex([times[0], times[-1]]), zones).normalize()
    dates = pd.date_range(first, last, freq="D", unit="us")
    begins = day_starts(dates + pd.Timedelta(hours=CLOCK_NIGHT_H[0] - MAY_LIE_H), zones)
    ends = day_starts(dates + pd.Timedelta(hours=CLOCK_NIGHT_H[1] + MAY_LIE_H), zones)
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
    """Standard deviations as `LEAST_SPREADS` in quiet sleep, from a robust variogram. [mg/dL]"""
    lags = np.unique(np.round(np.array(VARIOGRAM_MIN) / step).astype(int))
    lags = lags[lags > 0]
    seen = np.full(len(lags), np.nan)
    for i, lag in enumerate(lags):
        joined = np.concatenate([_differences(night, lag * step) for night in nights])
        if len(joined) > 20:
            seen[i] = max(_calm_sd(joined) ** 2 / 2, 0.1)
    good = ~np.isnan(seen)
    if good.sum() < 3:
        return USUAL_SPREADS
    h = lags[good] * step
    parts = np.column_stack(
        [1 - _matern(h, GLUCOSE_MIN), 1 - np.exp(-h / NOISE_MIN), np.ones(len(h)), 1 - _matern(h, NIGHT_MIN)]
    )
    return np.maximum(np.sqrt(_not_negative(parts / seen[good][:, None], np.ones(len(h)))), LEAST_SPREADS)


def _calm_sd(values: np.ndarray) -> float:
    """Standard deviation about 0 by the mean of the smallest: steadier on whole numbers than a median."""
    small = np.sort(np.abs(values))[: int(np.ceil(len(values) * CALM_SHARE))]
    bound = ndtri(0.5 + CALM_SHARE / 2)
    return float(small.mean()) * CALM_SHARE / (np.sqrt(2 / np.pi) * (1 - np.exp(-(bound**2) / 2)))


def _differences(night: Night, lag_min: float) -> np.ndarray:
    quiet = ~night.restless
    minutes, values = night.minutes[quiet], night.values[quiet]
    place = np.searchsorted(minutes, minutes + lag_min)
    inside = place < len(minutes)
    match = inside.copy()
    match[inside] = np.abs(minutes[place[inside]] - minutes[inside] - lag_min) < 1e-6
    return values[place[match]] - values[match]


def estimate_loudness(night: Night, spreads: np.ndarray, step: float) -> float:
    """How much noisier than the others a night is, 1-3, from its usual step between neighbours."""
    steps = _differences(night, step)
    if len(steps) < 12:
        return 1.0
    _, slow, white, _ = spreads
    expected = np.sqrt(2 * (slow**2 * (1 - np.exp(-step / NOISE_MIN)) + white**2))
    return float(np.clip(_calm_sd(steps) / expected, 1.0, 3.0))


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


def _smooth_matern(distance: np.ndarray, scale: float) -> np.ndarray:
    """Matérn covariance of order 5/2: it turns no faster than food makes glucose turn."""
    r = np.sqrt(5) * np.abs(distance) / scale
    return (1 + r + r**2 / 3) * np.exp(-r)


def night_covariance(night: Night, spreads: np.ndarray, louder: float) -> np.ndarray:
    """Covariance of a night's cells where nothing presses on the sensor, shape (n, n). [(mg/dL)²]"""
    glucose, slow, white, drift = spreads * np.array([1.0, louder, louder, 1.0])
    apart = night.minutes[:, None] - night.minutes[None, :]
    # apart from the night's own wandering, else a rise after food makes the quiet before it look low
    away = RESTLESS_SD_MG_DL * _away_from_quiet(night)
    return (
        LEVEL_SD_MG_DL**2
        + drift**2 * _matern(apart, NIGHT_MIN)
        + glucose**2 * _matern(apart, GLUCOSE_MIN)
        + away[:, None] * away[None, :] * _smooth_matern(apart, RESTLESS_MIN)
        + slow**2 * np.exp(-np.abs(apart) / NOISE_MIN)
        + white**2 * np.eye(len(apart))
    )


def _away_from_quiet(night: Night) -> np.ndarray:
    """0 in quiet sleep to 1 half an hour from it: a rise after food sets out from where glucose was."""
    quiet = night.minutes[~night.restless]
    if not len(quiet):
        return np.ones(len(night.minutes))
    return np.minimum(np.abs(night.minutes[:, None] - quiet[None, :]).min(axis=1) / SETTLED_MIN, 1.0)
