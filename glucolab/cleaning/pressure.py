"""Did someone lie on the sensor? Lows in sleep that the night around them does not explain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr

from glucolab.cleaning.spans import spans_to_mask
from glucolab.clock import ZoneSpans, day_starts, to_local

CELL_MIN = 5.0
SHORTEST_MIN, LONGEST_MIN = 15.0, 180.0
MARGIN_MIN = 90.0
"""How much of the evening and morning is looked at beside the night itself. [min]"""
MEAL_TAIL_MIN = 200.0
RESTLESS = 3.5
"""Glucose awake or after food moves this many times as far as in quiet sleep."""
DEPTH_MG_DL, DEPTH_SD_MG_DL, SHAPE_SD_MG_DL, SHAPE_MIN = 18.0, 10.0, 7.0, 30.0
PRESSED_MG_DL = 5.0
LOWS_PER_NIGHT = 0.5
CANDIDATES = 24
STEPS_PER_NIGHT, STEP_SD_MG_DL = 0.05, 20.0
LEAST_SLEEP = pd.Timedelta(hours=2)
CLOCK_NIGHT = (23.0, 7.5)
_NOISE_MIN, _GLUCOSE_MIN = 25.0, 60.0


def flag_pressure(
    glucose_mg_dl: pd.Series,
    *,
    interval_min: float,
    zones: ZoneSpans,
    sleep: pd.DataFrame,
    meals: pd.DataFrame,
) -> pd.Series:
    """Readings that more probably than not lie within a pressure low.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        Ascending in time. [mg/dL]
    interval_min : float
        Sampling interval. [min]
    zones : ZoneSpans
        For the clock, where no sleep is logged: 23:00-07:30 counts as night.
    sleep, meals : DataFrame
        The wear's tables; either may be empty.

    Notes
    -----
    Each night's readings are a Gaussian process: a level, smooth glucose that moves further awake
    and until `MEAL_TAIL_MIN` after food, slow sensor noise, and white noise, their spreads taken
    from a robust variogram of the wear's own nights. Against it stands, for every span of a
    quarter of an hour to three hours, the same night with something added within that span: a
    depth, and a wandering shape, so that boxes, ramps and half-sines are all at home. The Bayes
    factors of all spans, with `LOWS_PER_NIGHT` expected, give each reading's probability of lying
    in a low; the likeliest low is taken out and the rest of the night looked at again.

    Limits of validity: lows outside sleep are not looked for; one that begins before sleep and
    outlasts it cannot be told from glucose. About three readings in a hundred of many nights were
    of this kind in Baysal et al. 2014 (PMC4455457).
    """
    flagged = np.zeros(len(glucose_mg_dl), bool)
    known = glucose_mg_dl.notna().to_numpy()
    if known.sum() < 24:
        return pd.Series(flagged, index=glucose_mg_dl.index)
    times = pd.DatetimeIndex(glucose_mg_dl.index)
    step = max(interval_min, CELL_MIN)
    nights = _nights(times[known], zones, sleep)
    cells = [_Night.gather(glucose_mg_dl[known], a, b, step, zones, sleep, meals) for a, b in nights]
    cells = [night for night in cells if len(night.values) >= 6]
    if not cells:
        return pd.Series(flagged, index=glucose_mg_dl.index)
    spreads = _night_spreads(cells, step)
    inside = [moment for night in cells for moment in _find_lows(night, spreads, step)]
    if inside:
        starts = pd.DatetimeIndex(inside) - pd.Timedelta(minutes=step / 2)
        flagged = known & spans_to_mask(times, starts, starts + pd.Timedelta(minutes=step))
    return pd.Series(flagged, index=glucose_mg_dl.index)


@dataclass(frozen=True, eq=False)
class _Night:
    """One night in cells: minutes from its begin, mean of each, whether a low may lie there, how restless."""

    begin: pd.Timestamp
    minutes: np.ndarray
    values: np.ndarray
    asleep: np.ndarray
    restless: np.ndarray

    @staticmethod
    def gather(glucose: pd.Series, begin, end, step, zones, sleep, meals) -> _Night:
        margin = pd.Timedelta(minutes=MARGIN_MIN)
        near = glucose[(glucose.index >= begin - margin) & (glucose.index < end + margin)]
        place = np.round((near.index - begin).total_seconds().to_numpy() / 60 / step).astype(int)
        which, inverse = np.unique(place, return_inverse=True)
        values = np.bincount(inverse, near.to_numpy()) / np.maximum(np.bincount(inverse), 1)
        minutes = which * step
        times = begin + pd.to_timedelta(minutes, unit="min")
        asleep = np.asarray((times >= begin) & (times < end))
        tail = pd.Timedelta(minutes=MEAL_TAIL_MIN)
        fed = spans_to_mask(pd.DatetimeIndex(times), meals["time"] - pd.Timedelta(minutes=10), meals["time"] + tail)
        return _Night(begin, minutes.astype(float), values, asleep, np.where(asleep & ~fed, 1.0, RESTLESS))


def _nights(times: pd.DatetimeIndex, zones: ZoneSpans, sleep: pd.DataFrame) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
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


def _night_spreads(nights: list[_Night], step: float) -> np.ndarray:
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
    parts = np.column_stack([1 - _matern(h, _GLUCOSE_MIN), 1 - np.exp(-h / _NOISE_MIN), np.ones(len(h))])
    return np.maximum(np.sqrt(_not_negative(parts / seen[good][:, None], np.ones(len(h)))), [2.5, 1.0, 0.7])


def _differences(night: _Night, lag_min: float) -> np.ndarray:
    quiet = (night.restless == 1) & night.asleep
    minutes, values = night.minutes[quiet], night.values[quiet]
    place = np.searchsorted(minutes, minutes + lag_min)
    inside = place < len(minutes)
    match = inside.copy()
    match[inside] = np.abs(minutes[place[inside]] - minutes[inside] - lag_min) < 1e-6
    return values[place[match]] - values[match]


def _loudness(night: _Night, spreads: np.ndarray, step: float) -> float:
    """How much noisier than the others a night is, 1-3, from its median step between neighbours."""
    steps = _differences(night, step)
    if len(steps) < 12:
        return 1.0
    _, slow, white = spreads
    expected = np.sqrt(2 * (slow**2 * (1 - np.exp(-step / _NOISE_MIN)) + white**2))
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


def _covariance(night: _Night, spreads: np.ndarray, louder: float) -> np.ndarray:
    glucose, slow, white = spreads * np.array([1.0, louder, louder])
    apart = night.minutes[:, None] - night.minutes[None, :]
    # apart from the night's own wandering, else a rise after food makes the quiet before it look low
    far = np.sqrt(night.restless**2 - 1) * glucose
    return (
        40.0**2 * _matern(apart, 600.0)
        + (glucose**2 + far[:, None] * far[None, :]) * _matern(apart, _GLUCOSE_MIN)
        + slow**2 * np.exp(-np.abs(apart) / _NOISE_MIN)
        + white**2 * np.eye(len(apart))
    )


def _find_lows(night: _Night, spreads: np.ndarray, step: float) -> list[pd.Timestamp]:
    """Cells of every low of a night, one low after the other."""
    kept = np.ones(len(night.values), bool)
    inside = np.zeros(len(night.values), bool)
    covariance = _covariance(night, spreads, _loudness(night, spreads, step))
    for _ in range(4):
        rows = np.flatnonzero(kept)
        if len(rows) < 6:
            break
        probability = _probability_inside(night, rows, covariance[np.ix_(rows, rows)], step)
        found = probability > 0.5
        if not found.any():
            break
        inside[rows[found]] = True
        kept[rows[found]] = False
    return list(night.begin + pd.to_timedelta(night.minutes[inside], unit="min"))


def _probability_inside(night: _Night, rows: np.ndarray, covariance: np.ndarray, step: float) -> np.ndarray:
    """Posterior probability of each cell to lie in the night's next low, shape (n,)."""
    n = len(rows)
    precision = np.linalg.inv(covariance)
    values = night.values[rows]
    weight = precision @ np.ones(n)
    pulled = precision @ (values - weight @ values / weight.sum())
    first, last = _spans(night.minutes[rows], night.asleep[rows], step)
    if not len(first):
        return np.zeros(n)
    screen = _box_evidence(precision, pulled, first, last)
    log_prior = np.log(LOWS_PER_NIGHT / len(first))
    good = np.argsort(screen)[::-1][:CANDIDATES]
    good = good[screen[good] > screen[good[0]] - 6]
    parts = []
    for i in good:
        parts.append(_evidence(precision, pulled, night.minutes[rows], first[i], last[i]))
        # neighbours of the likeliest span are as likely at best: a quiet night is left at once
        if len(parts) == 3 and max(evidence for evidence, _ in parts) + log_prior + np.log(CANDIDATES) < -2:
            return np.zeros(n)
    logs = np.array([evidence for evidence, _ in parts]) + log_prior
    others = _step_evidence(precision, pulled) + np.log(STEPS_PER_NIGHT / n)
    highest = max(0.0, logs.max(), others.max())
    odds = np.exp(logs - highest)
    share = odds / (np.exp(-highest) + odds.sum() + np.exp(others - highest).sum())
    probability = np.zeros(n)
    for i, weight_of_span, (_, pressed) in zip(good, share, parts, strict=True):
        probability[first[i] : last[i]] += weight_of_span * pressed
    return probability


def _spans(minutes: np.ndarray, asleep: np.ndarray, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Every half-open range of cells that could be a low, its whole length in sleep and bordered by readings."""
    n = len(minutes)
    first, last = np.triu_indices(n + 1, 1)
    ok = (first > 0) & (last < n)
    first, last = first[ok], last[ok]
    length = minutes[last - 1] - minutes[first] + step
    awake = np.r_[0, np.cumsum(~asleep)]
    ok = (length >= SHORTEST_MIN) & (length <= LONGEST_MIN) & (awake[last] == awake[first])
    # the border readings must be near, or the edges are anyone's guess
    ok &= (minutes[first] - minutes[first - 1] <= 30) & (minutes[last] - minutes[last - 1] <= 30)
    return first[ok], last[ok]


def _box_evidence(precision: np.ndarray, pulled: np.ndarray, first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """Log Bayes factor of a plain box of unknown depth in each span: quick, to choose where to look."""
    sums = np.zeros((len(pulled) + 1, len(pulled) + 1))
    sums[1:, 1:] = precision.cumsum(0).cumsum(1)
    a = sums[last, last] - sums[first, last] - sums[last, first] + sums[first, first]
    line = np.r_[0, pulled.cumsum()]
    b = line[last] - line[first]
    variance = DEPTH_SD_MG_DL**2 + SHAPE_SD_MG_DL**2
    mean = -DEPTH_MG_DL
    return -0.5 * np.log1p(variance * a) + 0.5 * (b + mean / variance) ** 2 / (a + 1 / variance) - 0.5 * mean**2 / variance


def _step_evidence(precision: np.ndarray, pulled: np.ndarray) -> np.ndarray:
    """Log Bayes factor of a step that stays, at each cell: a fall without recovery is no pressure low."""
    a = np.cumsum(np.cumsum(precision[::-1, ::-1], 0), 1).diagonal()[::-1]
    b = pulled[::-1].cumsum()[::-1]
    return -0.5 * np.log1p(STEP_SD_MG_DL**2 * a) + 0.5 * b**2 / (a + STEP_SD_MG_DL**-2)


def _evidence(precision: np.ndarray, pulled: np.ndarray, minutes: np.ndarray, first: int, last: int) -> tuple[float, np.ndarray]:
    """Log Bayes factor of a low in one span, and the probability of each of its cells to be pressed down.

    What is added in the span has a depth and a wandering shape. Spans that would be explained as
    well by something added upward, or by noise about nothing, are held down by the probability
    that the added part lies below `PRESSED_MG_DL` on average.
    """
    within = slice(first, last)
    part, line = precision[within, within], pulled[within]
    size = last - first
    apart = minutes[within, None] - minutes[None, within]
    added = DEPTH_SD_MG_DL**2 + SHAPE_SD_MG_DL**2 * np.exp(-np.abs(apart) / SHAPE_MIN) + 1e-6 * np.eye(size)
    mean = np.full(size, -DEPTH_MG_DL)
    inner = np.eye(size) + added @ part
    log_det = np.linalg.slogdet(inner)[1]
    left = np.linalg.solve(inner, added)  # covariance of what was added, given the readings
    moved = line - part @ mean
    evidence = -0.5 * log_det + mean @ line - 0.5 * mean @ part @ mean + 0.5 * moved @ left @ moved
    seen = mean + left @ moved
    deep = ndtr((-PRESSED_MG_DL - seen.mean()) / np.sqrt(max(left.mean(), 1e-9)))
    expected = ndtr((-PRESSED_MG_DL + DEPTH_MG_DL) / np.sqrt(added.mean()))
    pressed = ndtr((-PRESSED_MG_DL - seen) / np.sqrt(np.maximum(np.diag(left), 1e-9)))
    return float(evidence + np.log(max(deep, 1e-12) / expected)), pressed
