"""How much of an effect do errors hide? An estimate and its interval, corrected for what is wrong with the factor."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from glucolab.intervals import widen
from glucolab.relating.effects.questions import PORTION_CV, Factor
from glucolab.relating.observations.days_and_meals import within_wears
from glucolab.relating.statistics.fixed_effects import RegressionRows
from glucolab.relating.statistics.intercepts import WearIntercepts, partial_out

LOG_ERROR_LOG_SD = 1.0
"""How uncertain the variance of logging errors is: SD of its logarithm [1]; assumed. Too small makes corrected
intervals too narrow, too large too wide."""
LEAST_RELIABILITY = 0.4
"""Reliability below which nothing is corrected further [1]; assumed. Lower lets an effect grow to many times what was
seen, higher leaves badly logged factors attenuated."""

_KINDS = 9
"""Error variances that stand for their distribution [1]; assumed. Fewer miss its tails, and intervals narrow."""


def error_variance(factor: Factor, written: np.ndarray, dish: np.ndarray | None) -> float:
    """Variance of what is wrong with a factor as written, in the square of the coefficient's unit.

    Parameters
    ----------
    factor : Factor
    written : array, shape (n,)
        In the unit of its column.
    dish : array of str, shape (n,), optional
        Names; eatings of one dish stand for it by their mean, whose error is smaller.
    """
    eatings = _eatings_behind(dish) if factor.of_dish and dish is not None else 1.0
    of_column = (factor.error_cv * written) ** 2 / eatings + factor.error_sd**2
    return float(np.mean(of_column)) / factor.step**2


def allow_for_errors(
    estimate: float, low: float, high: float, rows: RegressionRows, error_variance: float, log_sd: float
) -> tuple[float, float, float]:
    """The same coefficient if the factor had been known without error.

    Parameters
    ----------
    estimate, low, high : float
        Of the factor as it is known.
    rows : RegressionRows
        Of the regression.
    error_variance : float
        Of the factor, in the square of its unit.
    log_sd : float
        How far that is from known: SD of its logarithm.

    Returns
    -------
    estimate, low, high : float
        Each further from zero by the inverse of the reliability: the share of the factor's variance, beyond intercepts
        and what is adjusted for, that is no error. How large that is, is not known; it widens the interval.

    Notes
    -----
    Regression calibration (Carroll et al., Measurement Error in Nonlinear Models, 2nd ed., 2006, chapter 4; from
    memory). Limits of validity: errors that have nothing to do with the outcome; what is adjusted for known without
    error.
    """
    own = partial_out(rows.factor, rows.wear, np.column_stack([rows.fixed, rows.adjusted]))
    share = error_variance / (own @ own / (rows.freedom - rows.adjusted.shape[1]))
    possible = share * np.exp(log_sd * ndtri((np.arange(_KINDS) + 0.5) / _KINDS))
    grown = 1 / np.maximum(1 - possible, LEAST_RELIABILITY)
    by = float(grown.mean())
    return widen(estimate * by, low * by, high * by, estimate * float(grown.std()))


def calibrate_log_carbs(
    log_carbs: np.ndarray, carbs_g: np.ndarray, wear: np.ndarray, known: np.ndarray, dish: np.ndarray
) -> np.ndarray:
    """The carbohydrate of each meal as it is to be expected from what was written and from what else is known of it.

    Adjusted for as written, it would leave part of its own work to whatever grows with the portion, protein first.
    Between eatings of one dish, most of what differs may be error; between dishes eaten often little is, and what is
    eaten once stands between: each has a reliability.

    Parameters
    ----------
    log_carbs : array, shape (n,)
        ``log(1 + carbs / 30 g)`` of mean 0 and SD 1 within wears; 0 where not written.
    carbs_g : array, shape (n,)
        [g], NaN where not written.
    wear : array of int, shape (n,)
        Rows sorted by it; each has its own intercept.
    known : array, shape (n, k)
        The factor, and what else is adjusted for beside the intercepts.
    dish : array of str, shape (n,)
        Names; empty: of no dish.

    Returns
    -------
    numpy.ndarray, shape (n,)
        The column drawn toward the mean of its dish, then toward what the others predict.
    """
    written = ~np.isnan(carbs_g)
    as_log = np.log1p(carbs_g[written] / 30)
    spread = np.sqrt(np.mean(within_wears(as_log, wear[written]) ** 2))
    error = PORTION_CV * carbs_g[written] / (30 + carbs_g[written]) / max(float(spread), 1e-9)
    error_variance = float(np.mean(error**2))
    _, code = np.unique(dish, return_inverse=True)
    eatings = _eatings_behind(dish)
    mean = np.where(eatings > 1, (np.bincount(code, log_carbs) / np.bincount(code))[code], log_carbs)
    again = (eatings > 1).sum() - len(np.unique(code[eatings > 1]))
    kept = _reliability(error_variance, float(np.sum((log_carbs - mean) ** 2)) / max(again, 1), 0.0)
    drawn = mean + kept * (log_carbs - mean)
    own = partial_out(drawn, wear, known)
    predicted = drawn - own
    left = error_variance * (1 / eatings + kept**2 * (1 - 1 / eatings))
    spare = max(len(own) - len(WearIntercepts.of(wear).starts) - known.shape[1], 1)
    variance = float(own @ own) / spare
    true = variance * _reliability(float(left.mean()), variance, LEAST_RELIABILITY)
    return predicted + true / np.maximum(true + left, 1e-9) * own


def _reliability(error_variance: float, variance: float, least: float) -> float:
    return max(1 - error_variance / max(variance, 1e-9), least)


def _eatings_behind(dish: np.ndarray) -> np.ndarray:
    """How many eatings each row's value is the mean of, shape (n,)."""
    names, code = np.unique(dish, return_inverse=True)
    return np.where(names[code] == "", 1, np.bincount(code)[code])
