"""How do the hours of the day differ? Means of six-hour blocks, and each against its own day."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.aligning.bias_posterior import OF_HOURS, Bias
from glucolab.aligning.hour_bias import mean_shapes
from glucolab.aligning.trace_record import Trace
from glucolab.clock import ZoneSpans, local_hours, to_local
from glucolab.intervals import t_quantile, widen

USUAL_DAY_RHO = 0.35
"""Correlation of one day's mean with the next's, from invented and open recordings (no published value was found); a
wear of two weeks cannot tell its own. Too small, intervals over days are too narrow; too large, too wide. [-1 to 1]"""
BLOCKS = ("night", "morning", "afternoon", "evening")
"""Of six hours each; the first is the night by the clock."""
_HALF_HOUR_POINTS = 6
"""Points of the five-minute trace that an hour of a day needs [1]; assumed. Fewer let a few minutes speak for an hour,
more lose hours that were half recorded."""


def measure_blocks(glucose: np.ndarray, hours: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Mean of each six-hour block of each day, NaN where less than half is known.

    Parameters
    ----------
    glucose : numpy.ndarray, shape (g,)
        The trace, NaN in gaps. [mg/dL]
    hours : numpy.ndarray, shape (g,)
        Local time of day. [h]
    day : numpy.ndarray of int, shape (g,)

    Returns
    -------
    numpy.ndarray, shape (days, 4)
        Night 0-6, morning 6-12, afternoon 12-18, evening 18-24. [mg/dL]
    """
    block = np.minimum((hours // 6).astype(int), 3)
    n = day.max() + 1
    known = ~np.isnan(glucose)
    key = (day * 4 + block)[known]
    count = np.bincount(key, minlength=4 * n)
    total = np.bincount(key, glucose[known], minlength=4 * n)
    return np.where(count >= 36, total / np.maximum(count, 1), np.nan).reshape(n, 4)


def block_shapes() -> np.ndarray:
    """Mean of each shape of a sensor's bias by the hour over each block, shape (4, 4)."""
    return np.array([mean_shapes(6.0 * i, 6.0 * (i + 1)) for i in range(len(BLOCKS))])


def measure_block_means(blocks: np.ndarray, bias: Bias) -> pd.DataFrame:
    """Each six-hour block's mean, and how it differs from the day it belongs to.

    Parameters
    ----------
    blocks : numpy.ndarray, shape (days, 4)
        From :func:`measure_blocks`. [mg/dL]
    bias : Bias
        Of the wear alone.

    Returns
    -------
    DataFrame
        ``block, n_days, mean_mg_dl, low_mg_dl, high_mg_dl`` with the sensor in the interval, and
        ``difference_mg_dl, difference_low_mg_dl, difference_high_mg_dl`` from the mean of the same
        days' four blocks, in which the sensor's bias drops out but for how it differs by the hour. 90 %, days
        autocorrelated. Fewer than three days give no interval and so no figure.
    """
    whole_bias, by_hour = _sensor_variances(bias, block_shapes())
    spread = _grow_for_days()
    whole = blocks[~np.isnan(blocks).any(axis=1)]
    apart = whole - whole.mean(axis=1, keepdims=True)
    rows = []
    for i, name in enumerate(BLOCKS):
        values, differs = blocks[~np.isnan(blocks[:, i]), i], apart[:, i]
        rows.append(
            {
                "block": name,
                "n_days": len(values),
                **_t_interval(values, spread, whole_bias[i], ("mean_mg_dl", "low_mg_dl", "high_mg_dl")),
                **_t_interval(
                    differs, spread, by_hour[i], ("difference_mg_dl", "difference_low_mg_dl", "difference_high_mg_dl")
                ),
            }
        )
    return pd.DataFrame(rows)


def measure_hour_means(trace: Trace, zones: ZoneSpans) -> pd.DataFrame:
    """Mean glucose of each hour of the local day, and how well the wear determines it.

    Parameters
    ----------
    trace : Trace
        Of the wear alone.
    zones : ZoneSpans

    Returns
    -------
    DataFrame
        ``hour`` (0 to 23), ``n_days`` of which half of that hour or more is known, ``mean_mg_dl, low_mg_dl,
        high_mg_dl``: 90 %, days autocorrelated, the sensor's bias at that hour counted in. Fewer than three days give
        no interval and so no figure. Hours that were not recorded are missing from it, not guessed.

    Notes
    -----
    The mean over days of each hour's mean, with Student's t, widened by sqrt((1 + r) / (1 - r)) for days that resemble
    each other, r = 0.35, and by the sensor's bias at that hour.

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> trace = gl.estimate_trace(wear, clean)
    >>> hours = gl.measure_hour_means(trace, wear.zones)
    >>> len(hours), list(hours)[:3]
    (24, ['hour', 'n_days', 'mean_mg_dl'])
    """
    known = np.isfinite(trace.glucose_mg_dl)
    times = trace.time[known]
    hour = np.floor(local_hours(times, zones)).astype(int)
    table = pd.DataFrame({"hour": hour, "day": to_local(times, zones).normalize(), "value": trace.glucose_mg_dl[known]})
    groups = table.groupby(["hour", "day"])["value"]
    per_day = groups.mean()[groups.size() >= _HALF_HOUR_POINTS]
    shapes = np.array([mean_shapes(float(one), one + 1.0) for one in range(24)])
    whole, _ = _sensor_variances(trace.bias, shapes)
    rows = []
    for one in range(24):
        values = per_day[per_day.index.get_level_values("hour") == one].to_numpy(float)
        figures = _t_interval(values, _grow_for_days(), whole[one], ("mean_mg_dl", "low_mg_dl", "high_mg_dl"))
        rows.append({"hour": one, "n_days": len(values), **figures})
    return pd.DataFrame(rows)


def _sensor_variances(bias: Bias, shapes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of a wear's bias at some hours: of the whole of it, and of what differs by the hour alone. [(mg/dL)²]"""
    by_hour = bias.hour_variances_of(np.ones(1), shapes)
    crossed = 2 * shapes @ bias.covariance[0, OF_HOURS, 0, 0]
    return bias.offset_covariance[0, 0] + crossed + by_hour, by_hour


def _grow_for_days() -> float:
    """What an interval over days grows by since they resemble each other."""
    return float(np.sqrt((1 + USUAL_DAY_RHO) / (1 - USUAL_DAY_RHO)))


def _t_interval(
    values: np.ndarray, grown: float, extra_variance: float, names: tuple[str, str, str]
) -> dict[str, float]:
    n = len(values)
    if n < 3:
        return dict.fromkeys(names, np.nan)
    half = float(t_quantile(n - 1)) * grown * float(np.std(values, ddof=1)) / np.sqrt(n)
    centre = float(np.mean(values))
    ends = widen(centre, centre - half, centre + half, float(np.sqrt(extra_variance)))
    return dict(zip(names, ends, strict=True))
