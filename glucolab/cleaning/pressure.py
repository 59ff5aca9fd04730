"""Did someone lie on the sensor? Lows in sleep that the night around them does not explain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import log_ndtr, ndtr

from glucolab.cleaning.quiet_nights import (
    Night,
    estimate_loudness,
    estimate_night_spreads,
    gather_nights,
    night_covariance,
)
from glucolab.cleaning.spans import spans_to_mask
from glucolab.clock import ZoneSpans

CELL_MIN = 5.0
"""Readings within so long are averaged, or within one sampling interval where that is longer; assumed. Longer blurs
where a low begins and ends, shorter costs time. [min]"""
SHORTEST_MIN, LONGEST_MIN, NEAR_MIN = 15.0, 240.0, 30.0
"""Lengths of lows that are tried, and how near readings must lie on both sides; assumed. Too narrow, lows stay in and
pull the overnight mean down; too wide, noise, slow falls and the edges of gaps are taken for lows. [min]"""
LENGTH_STEPS = ((0, 1), (60, 2), (120, 4))
"""From these lengths [min] on, only every so many cells is tried: a low's first and last cell are free anyhow. Coarser
steps are faster, and blur the ends of long lows."""
PARTS_MEAN = np.array([8.0, 8.0, 0.0, 0.0, -18.0])
"""What a low is expected to add: at its first and last cell, tilt, bow, depth; assumed, for no published shapes or
depths were found. Too deep, shallow lows are missed; too shallow, noise is taken for one. [mg/dL]"""
PARTS_SD = np.array([8.0, 8.0, 7.0, 6.0, 12.0])
"""How far each part may lie from that: wide, and chosen on invented nights. Too small, lows of other shapes are missed;
too large, shallow ones are. [mg/dL]"""
PRESSED_MG_DL = 4.0
"""A cell less lowered than this is not called pressed; assumed. Too small, noise is taken out with it; too large,
shallow lows stay in and pull the overnight mean down. [mg/dL]"""
LOWS_PER_NIGHT = 0.25
"""Lows expected a night: Baysal et al. 2014 (PMC4455457, over 1,125 nights, in diabetes) have 3 % of readings pressed,
0.24 lows of an hour in a night of eight. Too large, glucose's own dips are taken out; too small, lows stay in.
[per night]"""
PRESSED_FROM = 0.4
"""From this chance on a cell is called pressed; assumed: a pressed reading left in, which pulls the night down, counts
one and a half times a clean one taken out, which is bridged. On the open recordings a third finds .01 more of planted
lows and flags 13 % more readings. Larger, lows and their ends stay in; smaller, glucose's own dips are taken out.
[0-1]"""
BUMPS_PER_NIGHT, BUMP_SDS = 0.3, 1.5
"""Passing disturbances either way that are no pressure, their parts in multiples of the night's noise; assumed. Too
large, shallow lows pass for them; too small, noise passes for a low. [per night], [times]"""
FALLS_PER_NIGHT, FALL_SD_MG_DL = 0.05, 20.0
"""Falls that stay, and how far they go; assumed. Too large, a low that lasts until waking passes for one; too small, a
true fall is taken out. [per night], [mg/dL]"""
PASSES = 5
"""How often a night is searched at most, each time without the lows already found; assumed. Fewer leave the last lows
in, more cost nothing where none is found. [times]"""
_LEAST_SHARE = 1e-3
"""Spans with a smaller share of the chance are dropped, to save time; assumed. Too large, every low gets the ends of
its likeliest span alone. [0-1]"""


def flag_pressure(
    glucose_mg_dl: pd.Series,
    *,
    interval_min: float,
    zones: ZoneSpans,
    sleep: pd.DataFrame,
    meals: pd.DataFrame,
) -> pd.Series:
    """Readings that lie within a pressure low with a chance of two fifths or more.

    Parameters
    ----------
    glucose_mg_dl : Series, shape (n,)
        Ascending in time. [mg/dL]
    interval_min : float
        Sampling interval. [min]
    zones : ZoneSpans
        For the clock, where no sleep is logged: 23:30-06:30 counts as night.
    sleep, meals : DataFrame
        The wear's tables; either may be empty.

    Notes
    -----
    Each night's readings are a Gaussian process: a level, glucose that wanders within the hour and
    through the night, a smooth way back after food (logged, or seen by its height), slow sensor
    noise, and white noise, their spreads taken from a robust variogram of the wear's own nights.
    Against it stands, for every span of a quarter of an hour to four hours, the same night with
    something added within that span: a depth, a tilt, a bow, and a first and last cell of their
    own, so that boxes, ramps and half-sines are all at home. Where a smaller disturbance of either
    sign, as noise makes them, explains a span as well, it is not called pressure. The likeliest
    low is taken out and the rest of the night looked at again.

    Limits of validity: lows outside sleep are not looked for; one that begins before sleep and
    outlasts it cannot be told from glucose, nor one no deeper than the sensor's noise. About three
    readings in a hundred of many nights were of this kind in Baysal et al. 2014 (PMC4455457).
    """
    flagged = np.zeros(len(glucose_mg_dl), bool)
    known = glucose_mg_dl.notna().to_numpy()
    if known.sum() < 24:
        return pd.Series(flagged, index=glucose_mg_dl.index)
    step = max(interval_min, CELL_MIN)
    nights = gather_nights(glucose_mg_dl[known], zones, sleep, meals, step)
    if not nights:
        return pd.Series(flagged, index=glucose_mg_dl.index)
    spreads = estimate_night_spreads(nights, step)
    inside = [moment for night in nights for moment in _find_lows(night, spreads, step)]
    if inside:
        starts = pd.DatetimeIndex(inside) - pd.Timedelta(minutes=step / 2)
        flagged = known & spans_to_mask(
            pd.DatetimeIndex(glucose_mg_dl.index), starts, starts + pd.Timedelta(minutes=step)
        )
    return pd.Series(flagged, index=glucose_mg_dl.index)


def _find_lows(night: Night, spreads: np.ndarray, step: float) -> list[pd.Timestamp]:
    """Cells of every low of a night, one low after the other."""
    kept = np.ones(len(night.values), bool)
    louder = estimate_loudness(night, spreads, step)
    covariance = night_covariance(night, spreads, louder)
    noise = louder * float(np.hypot(spreads[1], spreads[2]))
    for _ in range(PASSES):
        rows = np.flatnonzero(kept)
        if len(rows) < 6:
            break
        probability = _probability_inside(night, rows, covariance[np.ix_(rows, rows)], noise, step)
        found = probability > PRESSED_FROM
        if not found.any():
            break
        kept[rows[found]] = False
    return list(night.begin + pd.to_timedelta(night.minutes[~kept], unit="min"))


@dataclass(frozen=True, eq=False)
class _Spans:
    """Half-open ranges of cells that could be a low; where each begins and how long it is. [min]"""

    first: np.ndarray
    last: np.ndarray
    begin: np.ndarray
    length: np.ndarray

    def only(self, which: np.ndarray) -> _Spans:
        return _Spans(self.first[which], self.last[which], self.begin[which], self.length[which])


def _probability_inside(
    night: Night, rows: np.ndarray, covariance: np.ndarray, noise: float, step: float
) -> np.ndarray:
    """Posterior probability of each cell to lie in the night's next low, shape (n,)."""
    minutes = night.minutes[rows]
    probability = np.zeros(len(rows))
    spans = _find_spans(minutes, night.asleep[rows], step)
    if not len(spans.first):
        return probability
    precision = np.linalg.inv(covariance)
    weight = precision.sum(axis=0)
    values = night.values[rows]
    pulled = precision @ (values - weight @ values / weight.sum())
    size, pull = _parts(precision, pulled, minutes, spans)
    low, depth, depth_sd = _evidence(size, pull, PARTS_MEAN, PARTS_SD)
    rate = np.log(1 / len(low))
    deep = (-PRESSED_MG_DL - depth) / depth_sd
    low += np.where(deep > 0, log_ndtr(deep), -np.inf) + np.log(LOWS_PER_NIGHT) + rate
    best = max(low.max(), 0.0)
    share = np.exp(low - best)
    share /= np.exp(-best) + share.sum()
    likely = np.flatnonzero(share > max(_LEAST_SHARE, _LEAST_SHARE * share.max()))
    if not len(likely):
        return probability
    size, pull, spans = size[likely], pull[likely], spans.only(likely)
    bump = _evidence(size, pull, np.zeros(5), np.full(5, BUMP_SDS * noise))[0] + np.log(BUMPS_PER_NIGHT) + rate
    fall = _fall_evidence(precision, pulled)[spans.first] + np.log(FALLS_PER_NIGHT / len(rows))
    share = share[likely] / (1 + np.exp(np.clip(np.logaddexp(bump, fall) - low[likely], -50, 50)))
    cov = np.linalg.inv(size + np.diag(PARTS_SD**-2))
    seen = (cov @ (pull + PARTS_MEAN / PARTS_SD**2)[:, :, None])[:, :, 0]
    for i, weight_of_span in enumerate(share):
        within = slice(spans.first[i], spans.last[i])
        basis = _basis((minutes[within] - spans.begin[i]) / spans.length[i])
        sd = np.sqrt(np.einsum("ij,jk,ik->i", basis, cov[i], basis))
        probability[within] += weight_of_span * ndtr((-PRESSED_MG_DL - basis @ seen[i]) / sd)
    return probability


def _find_spans(minutes: np.ndarray, asleep: np.ndarray, step: float) -> _Spans:
    """Every span that could be a low, its whole length in sleep and bordered by readings."""
    n = len(minutes)
    asleep_at = np.flatnonzero(asleep)
    low, high = (asleep_at[0], asleep_at[-1] + 1) if len(asleep_at) else (0, 0)
    first, last = np.triu_indices(high - low + 1, 1)
    first, last = first + low, last + low
    length = minutes[last - 1] - minutes[first] + step
    awake = np.r_[0, np.cumsum(~asleep)]
    ok = (first > 0) & (last < n) & (length >= SHORTEST_MIN) & (length <= LONGEST_MIN) & (awake[last] == awake[first])
    for least, every in LENGTH_STEPS:
        ok &= (length <= least) | (np.round(length / step) % every == 0)
    first, last, length = first[ok], last[ok], length[ok]
    # the border readings must be near, or the edges are anyone's guess
    near = (minutes[first] - minutes[first - 1] <= NEAR_MIN) & (minutes[last] - minutes[last - 1] <= NEAR_MIN)
    first, last = first[near], last[near]
    return _Spans(first, last, minutes[first] - step / 2, length[near])


def _basis(u: np.ndarray) -> np.ndarray:
    """Parts of a low at shares u of its length: its ends, Legendre's tilt and bow, its level, shape (n, 5)."""
    basis = np.zeros((len(u), 5))
    basis[0, 0] = basis[-1, 1] = 1
    basis[:, 2], basis[:, 3], basis[:, 4] = np.sqrt(3) * (2 * u - 1), np.sqrt(5) * (6 * u**2 - 6 * u + 1), 1
    return basis


def _parts(
    precision: np.ndarray, pulled: np.ndarray, minutes: np.ndarray, spans: _Spans
) -> tuple[np.ndarray, np.ndarray]:
    """What the readings say of each span's parts: precision, shape (s, 5, 5), and pull, shape (s, 5).

    Sums over a span of powers of time come from running sums, so that all spans cost as much as one.
    """
    low, high = spans.first.min(), spans.last.max()
    precision, pulled = precision[low:high, low:high], pulled[low:high]
    first, last = spans.first - low, spans.last - low
    centre = minutes.mean()
    hours = (minutes[low:high] - centre) / 60
    powers = [np.ones_like(hours), hours, hours**2]
    size, pull = np.empty((5, 5, len(first))), np.empty((5, len(first)))
    sums = np.zeros((len(hours) + 1, len(hours) + 1))
    width = len(hours) + 1
    corners = [a * width + b for a, b in ((last, last), (first, first), (first, last), (last, first))]
    for i, power in enumerate(powers):
        line = np.r_[0, (pulled * power).cumsum()]
        pull[2 + i] = line[last] - line[first]
        along = np.c_[np.zeros(len(hours)), (precision * power).cumsum(axis=1)]
        for edge, at in enumerate((first, last - 1)):
            size[edge, 2 + i] = size[2 + i, edge] = along[at, last] - along[at, first]
        for j in range(i + 1):
            sums[1:] = (along * powers[j][:, None]).cumsum(axis=0)
            whole, none, *sides = (sums.ravel()[corner] for corner in corners)
            size[2 + i, 2 + j] = size[2 + j, 2 + i] = whole + none - sides[0] - sides[1]
    for edge, at in enumerate((first, last - 1)):
        size[edge, edge], pull[edge] = precision[at, at], pulled[at]
    size[0, 1] = size[1, 0] = precision[first, last - 1]
    begin, length = (spans.begin - centre) / 60, spans.length / 60
    for table in (size, size.transpose(1, 0, 2), pull):
        _from_powers(table, begin, length)
    return np.ascontiguousarray(size.transpose(2, 0, 1)), pull.T


def _from_powers(table: np.ndarray, begin: np.ndarray, length: np.ndarray) -> None:
    """Rows first, last, 1, t, t² into those of :func:`_basis`, in place; shape (5, ..., s)."""
    u = begin / length
    one, t, squared = table[2].copy(), table[3] / length, table[4] / length**2
    table[2] = np.sqrt(3) * (2 * t - (2 * u + 1) * one)
    table[3] = np.sqrt(5) * (6 * squared - (12 * u + 6) * t + (6 * u**2 + 6 * u + 1) * one)
    table[4] = one


def _fall_evidence(precision: np.ndarray, pulled: np.ndarray) -> np.ndarray:
    """Log Bayes factor of a fall at each cell that stays down to the end: no pressure low, shape (n,)."""
    size = precision[::-1, ::-1].cumsum(axis=0).cumsum(axis=1).diagonal()[::-1]
    return 0.5 * (pulled[::-1].cumsum()[::-1] ** 2 / (size + FALL_SD_MG_DL**-2) - np.log1p(FALL_SD_MG_DL**2 * size))


def _evidence(
    size: np.ndarray, pull: np.ndarray, mean: np.ndarray, sd: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Log Bayes factor of each span with independent normal parts; mean and SD of its depth, shape (s,) each."""
    k = len(mean)
    right = pull + mean / sd**2
    # with the right-hand side as one row more, the factor's last row is the solved side
    joined = np.empty((len(size), k + 1, k + 1))
    joined[:, :k, :k] = size + np.diag(sd**-2)
    joined[:, k, :k] = joined[:, :k, k] = right
    joined[:, k, k] = 1e12
    factor = np.linalg.cholesky(joined)
    solved, pivots = factor[:, k, :k], np.einsum("sii->si", factor)[:, :k]
    log_det = 2 * np.log(pivots).sum(axis=1) + 2 * np.log(sd).sum()
    evidence = 0.5 * ((solved**2).sum(axis=1) - (mean**2 / sd**2).sum() - log_det)
    return evidence, solved[:, -1] / pivots[:, -1], 1 / pivots[:, -1]
