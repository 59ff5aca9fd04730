"""Did someone lie on the sensor? Lows in sleep that the night around them does not explain."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import ndtr

from glucolab.cleaning.nights import Night, estimate_loudness, estimate_night_spreads, find_sleeps, night_covariance
from glucolab.cleaning.spans import spans_to_mask
from glucolab.clock import ZoneSpans

CELL_MIN = 5.0
SHORTEST_MIN, LONGEST_MIN = 15.0, 180.0
DEPTH_MG_DL, DEPTH_SD_MG_DL, SHAPE_SD_MG_DL, SHAPE_MIN = 18.0, 10.0, 7.0, 30.0
PRESSED_MG_DL = 5.0
LOWS_PER_NIGHT = 0.5
CANDIDATES = 24
STEPS_PER_NIGHT, STEP_SD_MG_DL = 0.05, 20.0


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
        For the clock, where no sleep is logged: 00:00-06:00 counts as night.
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
    nights = find_sleeps(times[known], zones, sleep)
    cells = [Night.gather(glucose_mg_dl[known], a, b, step, meals) for a, b in nights]
    cells = [night for night in cells if len(night.values) >= 6]
    if not cells:
        return pd.Series(flagged, index=glucose_mg_dl.index)
    spreads = estimate_night_spreads(cells, step)
    inside = [moment for night in cells for moment in _find_lows(night, spreads, step)]
    if inside:
        starts = pd.DatetimeIndex(inside) - pd.Timedelta(minutes=step / 2)
        flagged = known & spans_to_mask(times, starts, starts + pd.Timedelta(minutes=step))
    return pd.Series(flagged, index=glucose_mg_dl.index)


def _find_lows(night: Night, spreads: np.ndarray, step: float) -> list[pd.Timestamp]:
    """Cells of every low of a night, one low after the other."""
    kept = np.ones(len(night.values), bool)
    inside = np.zeros(len(night.values), bool)
    covariance = night_covariance(night, spreads, estimate_loudness(night, spreads, step))
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


def _probability_inside(night: Night, rows: np.ndarray, covariance: np.ndarray, step: float) -> np.ndarray:
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
    return (
        -0.5 * np.log1p(variance * a) + 0.5 * (b + mean / variance) ** 2 / (a + 1 / variance) - 0.5 * mean**2 / variance
    )


def _step_evidence(precision: np.ndarray, pulled: np.ndarray) -> np.ndarray:
    """Log Bayes factor of a step that stays, at each cell: a fall without recovery is no pressure low."""
    a = np.cumsum(np.cumsum(precision[::-1, ::-1], 0), 1).diagonal()[::-1]
    b = pulled[::-1].cumsum()[::-1]
    return -0.5 * np.log1p(STEP_SD_MG_DL**2 * a) + 0.5 * b**2 / (a + STEP_SD_MG_DL**-2)


def _evidence(
    precision: np.ndarray, pulled: np.ndarray, minutes: np.ndarray, first: int, last: int
) -> tuple[float, np.ndarray]:
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
