"""How does the sensor, as measured, agree with the finger-stick? Mean difference and limits of agreement, a row a wear.

Bland & Altman, Lancet 1986;i:307-310.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import nctdtrit, stdtr

from glucolab.intervals import TAILS, t_quantile
from glucolab.record.study_outputs import CHECK_AGREEMENT
from glucolab.relating.comparing.periods import Measured

LEAST_FOR_MEAN = 3
"""Finger-sticks that a mean difference needs [1]; assumed. The half-width of two is 3.2 times their distance, of three
1.7 SD: a lower number prints intervals without meaning, a higher one leaves short records without a figure."""
LEAST_FOR_LIMITS = 8
"""Finger-sticks that limits of agreement need [1]; assumed. At 8 a limit lies, 19 times in 20, less than 1.90 times
as far out as estimated, at 7 2.03 (computed): fewer give limits that mislead, more leave most wears without."""
WITHIN = 1.96
"""Limits of agreement on either side of the mean [SD]: 95 of 100 normal differences (Bland & Altman 1986, who round to
2). A smaller number makes sensor and meter seem to agree better than they do."""


@dataclass(frozen=True)
class Agreement:
    """How two methods agree, first minus second, in their unit.

    Attributes
    ----------
    n : int
        Pairs.
    difference, low, high : float
        Mean difference and its 90 % interval.
    sd : float
        Standard deviation of single differences.
    limit_low, limit_high : float
        Limits of agreement.
    limit_low_ends, limit_high_ends : tuple of float
        90 % interval of each limit.
    limit_se : float
        Standard error of a limit, the paper's approximation.
    """

    n: int
    difference: float
    low: float
    high: float
    sd: float
    limit_low: float
    limit_high: float
    limit_low_ends: tuple[float, float]
    limit_high_ends: tuple[float, float]
    limit_se: float


def measure_agreement(first: np.ndarray, second: np.ndarray) -> Agreement:
    """Mean difference of two methods and the limits that 95 of 100 single differences lie between.

    Parameters
    ----------
    first, second : numpy.ndarray, shape (n,)
        Both methods on the same n occasions, in one unit.

    Returns
    -------
    Agreement

    Raises
    ------
    ValueError
        With fewer than two pairs.

    Notes
    -----
    Mean difference d, standard deviation s, limits d ± 1.96 s, interval of d by Student's t, standard error of a limit
    sqrt(3 s² / n): Bland & Altman 1986. The interval of a limit is not made of that error: symmetric, it holds 85 times
    in 100 at three pairs and 88 at eight (computed). It is the exact one of a normal quantile, by the non-central t
    (Carkeet, Optom Vis Sci 2015;92:e71-e80, from memory), which is longer outwards.

    Limits of validity: pairs independent, differences normal and of one size at all levels. The limits themselves are
    estimates: of few pairs they hold fewer than 95 of 100 further ones (87 at six, 91 at twelve, computed).

    References
    ----------
    .. [1] Bland & Altman, Lancet 1986;327:307-310, doi 10.1016/S0140-6736(86)90837-8.
    .. [2] Carkeet, Optom Vis Sci 2015;92:e71-e80, doi 10.1097/OPX.0000000000000513.

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> sensor, meter = np.array([101.0, 96, 118, 93]), np.array([95.0, 94, 110, 91])
    >>> found = gl.measure_agreement(sensor, meter)
    >>> found.n, found.difference, round(found.limit_high, 1)
    (4, 4.5, 10.4)
    """
    differences = np.asarray(first, dtype=float) - np.asarray(second, dtype=float)
    n = len(differences)
    if n < 2:
        raise ValueError(f"agreement needs two pairs or more, not {n}")
    mean, sd = float(differences.mean()), float(differences.std(ddof=1))
    half = float(t_quantile(n - 1)) * sd / np.sqrt(n)
    near, far = (float(nctdtrit(n - 1, WITHIN * np.sqrt(n), p)) * sd / np.sqrt(n) for p in TAILS)
    return Agreement(
        n, mean, mean - half, mean + half, sd, mean - WITHIN * sd, mean + WITHIN * sd,
        (mean - far, mean - near), (mean + near, mean + far), float(np.sqrt(3 * sd**2 / n)),
    )  # fmt: skip


def compare_sensor_with_checks(wears: Sequence[Measured]) -> pd.DataFrame:
    """``check_agreement.csv``: each wear's readings as measured beside its finger-sticks.

    Parameters
    ----------
    wears : sequence of Measured

    Returns
    -------
    DataFrame
        A row a wear. Without three finger-sticks it has no mean difference, without eight no limits and no slope.

    Notes
    -----
    A finger-stick is set beside the nearest usable reading within 15 min; flagged readings take no part. Venous values
    are left aside: they share no error with the meter, and ``lab_checks.csv`` sets them beside the sensor one by one.
    Finger-sticks that hardly count for the bias are in: a meter's slips belong to how far two readings lie apart.

    What the figures are not:

    * A meter's own error is in all its finger-sticks alike, so the mean difference is sensor minus *meter*, and its
      interval does not hold the meter's error. `bias_mg_dl` of ``summary.json`` is the figure that does.
    * The sensor runs behind blood. Finger-sticks taken while glucose moves widen the limits, and shift the mean
      difference if they were mostly taken on a rise, or mostly on a fall.
    * Several finger-sticks within minutes count as if independent; the interval is then too narrow.

    The slope is that of the difference on the mean of both, as the paper advises. If the sensor is noisier than the
    meter a slope appears too, without the sensor stretching anything: with 15 mg/dL between levels and a noise of 10
    that alone was claimed in a third of invented studies of three wears. So `slope_told` asks for more: a rising slope
    must show on the finger-stick alone, whose errors pull it down, a falling one on the reading alone, whose errors
    pull it up. It shares one false claim in ten over the wears of the study (Bonferroni).
    """
    rows = [_compare_one(one) for one in wears]
    table = pd.DataFrame(rows, columns=[*CHECK_AGREEMENT.names, "p_value"])
    asked = table["p_value"].notna()
    claimed = (table["p_value"].astype(float) * asked.sum() < 0.1).astype("boolean").where(asked)
    return table.assign(slope_told=claimed)[CHECK_AGREEMENT.names]


def _compare_one(measured: Measured) -> dict[str, object]:
    """The row of one wear, and the p-value of its slope."""
    wear, checks = measured.wear, measured.trace.checks
    pairs = checks[checks["source"].ne("venous").fillna(True).astype(bool)]
    reading, check = (pairs[name].to_numpy(dtype=float) for name in ("reading_mg_dl", "check_mg_dl"))
    row = {"wear": wear.name, "sensor_model": wear.sensor_model, "meter": wear.meter, "n": len(pairs)}
    if len(pairs) < LEAST_FOR_MEAN:
        return row
    found = measure_agreement(reading, check)
    row |= {
        "difference_mg_dl": found.difference, "low_mg_dl": found.low, "high_mg_dl": found.high, "sd_mg_dl": found.sd,
    }  # fmt: skip
    if len(pairs) < LEAST_FOR_LIMITS:
        return row
    (low_low, low_high), (high_low, high_high) = found.limit_low_ends, found.limit_high_ends
    return row | _slope(reading, check) | {
        "limit_low_mg_dl": found.limit_low, "limit_low_low_mg_dl": low_low, "limit_low_high_mg_dl": low_high,
        "limit_high_mg_dl": found.limit_high, "limit_high_low_mg_dl": high_low, "limit_high_high_mg_dl": high_high,
    }  # fmt: skip


def _slope(reading: np.ndarray, check: np.ndarray) -> dict[str, float]:
    """Least-squares slope of the difference on the mean of both with its 90 % interval, and a p-value.

    Nothing if all pairs have one mean, or lie on one line so exactly that only rounding can be why.
    """
    difference = reading - check
    slope, error = _fit_line((reading + check) / 2, difference)
    if not error > 0:
        return {}
    half = float(t_quantile(len(check) - 2)) * error
    # the errors of the finger-stick pull a slope on it down, those of the reading one on it up: each the safe way
    safe, error = _fit_line(check if slope > 0 else reading, difference)
    away = safe / error * np.sign(slope) if error > 0 else 0.0
    p_value = min(1.0, 2 * float(stdtr(len(check) - 2, -away)))
    return {"slope": slope, "slope_low": slope - half, "slope_high": slope + half, "p_value": p_value}


def _fit_line(level: np.ndarray, difference: np.ndarray) -> tuple[float, float]:
    """Least-squares slope and its standard error, NaN where the level never changes."""
    away = level - level.mean()
    squares = float(away @ away)
    if squares == 0:
        return np.nan, np.nan
    slope = float(away @ difference) / squares
    rest = difference - difference.mean() - slope * away
    rest[np.abs(rest) < 1e-9 * np.abs(level).max()] = 0.0  # rounding
    return slope, float(np.sqrt(rest @ rest / (len(level) - 2) / squares))
