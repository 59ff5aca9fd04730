"""How much do days differ, and so the mean of those worn from that of living like this?"""

from __future__ import annotations

import numpy as np

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.measuring.time_of_day import USUAL_DAY_RHO

RHO_DAYS = 30
"""A wear's own correlation of days counts as n against this many days of the usual one; assumed. Too few, chance in two
weeks sets the width of the usual mean; too many, a long wear's own days hardly count. [days]"""
DAY_FRACTION, DAY_PRIOR_DF = 0.06, 10.0
"""SD of daily means expected before seeing any [of the level], worth so many days: of 14 people of the open recordings
whose wears the judge does not cut in two, 0.061 worth 10 days (`tests.known_truth.real_traces.day_prior`); of all 29,
0.063 worth 7. Too small, a short wear's usual mean looks surer than it is; too large, less sure."""


def variance_of_days(trace: Trace, hour: np.ndarray, day: np.ndarray, days_used: float) -> tuple[float, float]:
    """Variance of the mean that comes from which days were worn, and its degrees of freedom."""
    level = levels_of_days(trace, hour, day)
    n = len(level)
    rho = resemblance_of_days(level)
    prior = (DAY_FRACTION * trace.level_mg_dl) ** 2
    squares = (level**2).sum() * (n - 1) / degrees_of_days(n, rho) if n > 1 else 0.0
    df = DAY_PRIOR_DF + max(n - 1, 0)
    variance = (DAY_PRIOR_DF * prior + squares) / df
    return float(variance * (1 + rho) / (1 - rho) / max(days_used, 1.0)), df


def levels_of_days(trace: Trace, hour: np.ndarray, day: np.ndarray) -> np.ndarray:
    """How far each day with twelve hours or more lay from the others at the same hours, shape (n,). [mg/dL]

    Parameters
    ----------
    trace : Trace
        Of g points.
    hour, day : array of int, shape (g,)
        Local hour of each point, 0-23, and position of its day.
    """
    known = ~np.isnan(trace.glucose_mg_dl)
    values = trace.glucose_mg_dl[known]
    profile = np.bincount(hour[known], values, minlength=24) / np.maximum(np.bincount(hour[known], minlength=24), 1)
    left = values - profile[hour[known]]
    count = np.bincount(day[known])
    level = np.bincount(day[known], left) / np.maximum(count, 1)
    used = count >= 12 * 60 / GRID_MIN
    return level[used] - level[used].mean() if used.any() else np.empty(0)


def degrees_of_days(n: int, rho: float) -> float:
    """Expected sum of squares about the mean of n days with correlation rho, over their variance."""
    lags = np.arange(1, n)
    return n - (1 + 2 * float(((1 - lags / n) * rho**lags).sum()))


def resemblance_of_days(level: np.ndarray) -> float:
    """Correlation of a day with the next: the usual one, moved toward the wear's own as far as its length can tell."""
    n = len(level)
    if n < 4 or not (level**2).sum() > 0:
        return USUAL_DAY_RHO
    # a short series' own estimate is low by about (1 + 3 rho) / n
    own = float((level[1:] * level[:-1]).sum() / (level**2).sum())
    own = np.clip(own + (1 + 3 * own) / n, 0.0, 0.7)
    return float((n * own + RHO_DAYS * USUAL_DAY_RHO) / (n + RHO_DAYS))
