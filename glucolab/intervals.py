"""How sure is it? The one confidence level, and intervals from variances, degrees of freedom, draws and counts."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri, ndtri, stdtrit

from glucolab.units import Values

Estimate = dict[str, float]
"""Its `estimate`, `low`, `high` and `level`."""

CONFIDENCE = 0.90
"""Of every interval: the contract's choice, no finding. At 0.95 all would be a fifth wider, and fewer claims made."""
TAILS = (0.05, 0.95)
"""Where a central interval of that confidence begins and ends."""
Z = float(ndtri(TAILS[1]))
"""Half-width of a normal interval, in standard errors: 1.645."""

_MOST_DF = 1e6
"""From here on Student's t is the normal to six digits; beyond it, its inverse loses them again."""


def as_estimate(estimate: float, low: float, high: float) -> Estimate:
    """An estimate as ``summary.json`` writes it."""
    return {"estimate": estimate, "low": low, "high": high, "level": CONFIDENCE}


def effective_df(variances: npt.ArrayLike, degrees: npt.ArrayLike) -> float:
    """Degrees of freedom of a sum of variances, each known with degrees of its own (infinite: known exactly).

    References
    ----------
    Welch, Biometrika 1947;34:28; Satterthwaite, Biometrics Bulletin 1946;2:110.
    """
    known, of = np.asarray(variances, float), np.asarray(degrees, float)
    unknown = float(np.sum(known**2 / of))
    return min(float(known.sum()) ** 2 / unknown, _MOST_DF) if unknown > 0 else _MOST_DF


def t_quantile(df: Values, tests: int = 1) -> Values:
    """Half-width of a t interval in standard errors; the limit on one side where the largest of several is looked at.

    Parameters
    ----------
    df : float or array
    tests : int
        Bonferroni: the tail beyond is shared between so many.
    """
    return stdtrit(df, 1 - TAILS[0] / tests)


def half_width(variances: npt.ArrayLike, degrees: npt.ArrayLike) -> float:
    """Half-width of the interval of a mean whose error is a sum of parts, some of whose variances are estimated.

    Parameters
    ----------
    variances : array, shape (n,)
    degrees : array, shape (n,)
        Of each; infinite where the variance is known.

    Returns
    -------
    float
        NaN where a variance is.
    """
    total = float(np.sum(variances))
    if not np.isfinite(total):
        return np.nan
    return float(t_quantile(effective_df(variances, degrees)) * np.sqrt(total))


def normal_half_width(variance: float) -> float:
    """Half-width of the interval of a normal estimate whose variance is known."""
    return Z * float(np.sqrt(variance))


def draw_toward(estimate: float, low: float, high: float, mean: float, sd: float) -> tuple[float, float, float]:
    """An estimate with its interval, drawn toward what was to be expected beforehand (normal, of that mean and SD).

    Each counts by the inverse of its variance; both ends draw near by the same share, so that a lopsided interval stays
    so.
    """
    kept = 1 / (1 + (standard_errors(low, high) / sd) ** 2)
    middle = mean + kept * (estimate - mean)
    root = np.sqrt(kept)
    return middle, middle + root * (low - estimate), middle + root * (high - estimate)


def widen(estimate: Values, low: Values, high: Values, sd: float) -> tuple[Values, Values, Values]:
    """The same estimate, its interval holding one more independent normal error of that SD, on each side alike."""
    more = Z * sd
    return estimate, estimate - np.hypot(estimate - low, more), estimate + np.hypot(high - estimate, more)


def standard_errors(low: Values, high: Values) -> Values:
    """Standard errors behind intervals, as if they were normal; any shape."""
    return (high - low) / (2 * Z)


def z_two_sided(p: np.ndarray) -> np.ndarray:
    """How many standard errors from nil a normal estimate has these two-sided p-values, in the shape of p."""
    return np.asarray(-ndtri(np.minimum(p, 1.0) / 2))


def central_interval(draws: np.ndarray, axis: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Low and high ends of the central interval of draws along an axis."""
    low, high = np.quantile(draws, TAILS, axis=axis)
    return low, high


def interval_of_draws(draws: np.ndarray) -> Estimate:
    """Mean and central interval of draws, shape (n,), as an estimate."""
    low, high = central_interval(draws)
    return _with_mean_inside(draws, float(low), float(high))


def shortest_interval_of_draws(draws: np.ndarray) -> Estimate:
    """Mean and shortest interval of draws, shape (n,): for minutes in a range, which pile up at all or nothing.

    Glucose mostly lies in range, so that the truth is near the most that any bias would leave
    there; an interval with a twentieth cut off at either side would miss it.
    """
    ordered = np.sort(draws)
    # two more than nine in ten, since the shortest of a sample is too short
    size = min(int(np.ceil(CONFIDENCE * len(ordered))) + 2, len(ordered))
    first = int(np.argmin(ordered[size - 1 :] - ordered[: len(ordered) - size + 1]))
    return _with_mean_inside(draws, float(ordered[first]), float(ordered[first + size - 1]))


def _with_mean_inside(draws: np.ndarray, low: float, high: float) -> Estimate:
    """Where a few draws carry all of it, the mean lies beyond the ends."""
    mean = float(np.mean(draws))
    return as_estimate(mean, min(low, mean), max(high, mean))


def normal_interval_of_draws(draws: np.ndarray) -> Estimate:
    """The same for a figure whose draws are close to normal: steadier from few draws."""
    mean, half = float(np.mean(draws)), normal_half_width(float(np.var(draws, ddof=1)))
    return as_estimate(mean, mean - half, mean + half)


def interval_of_rate(count: float, days: float, doubt: float = 0.0) -> Estimate:
    """A rate a day with Jeffreys' interval for a Poisson count.

    Parameters
    ----------
    count : float
        Expected, where what is counted is not sure.
    days : float
    doubt : float
        Variance of the count for not being sure; taken into the gamma distribution's own.

    References
    ----------
    Cai, J Stat Plan Inference 2005;131:63-88 (the Jeffreys interval).
    """
    grown = 1 + doubt / (count + 0.5)
    low, high = (float(chdtri((2 * count + 1) / grown, 1 - tail) / 2 * grown / days) for tail in TAILS)
    return as_estimate(count / days, low if count > 0 else 0.0, high)
