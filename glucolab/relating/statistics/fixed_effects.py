"""How strongly does a factor go with an outcome within wears? One coefficient and its interval."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr

from glucolab.intervals import TAILS
from glucolab.relating.statistics.intercepts import WearIntercepts, first_rows_of_days

AUTOCORRELATIONS = np.linspace(-0.3, 0.8, 12)
"""Autocorrelations of days thought possible [1]; assumed. A grid that ends too low makes intervals too narrow for days
that resemble each other; more points hardly change them."""
AUTOCORRELATION_PRIOR = (0.25, 0.25)
"""Prior mean and SD of it [1]; assumed: about 0.3 in invented and real wearers (0.35 by methods 7), which 14 days
barely determine. Too low makes intervals of day effects too narrow, too high too wide."""

DAY_RATIOS = np.array([0.0, 0.1, 0.3, 0.8])
"""Variance that meals of a day share, over that between eatings of one dish: values thought possible [1]; assumed. Too
small makes intervals too narrow for what varies from day to day, too large too wide."""
DISH_RATIOS = np.array([0.1, 0.3, 0.8, 2.0, 6.0])
"""The same of dishes [1]; assumed. Too small makes intervals too narrow for what varies from dish to dish, too large
leaves little to learn from dishes that differ."""


@dataclass(frozen=True, eq=False)
class RegressionRows:
    """The rows of one question, sorted by wear and then by day. Each wear has an intercept of its own, without prior.

    Attributes
    ----------
    outcome, factor : numpy.ndarray, shape (n,)
        The outcome less its fit on the intercepts.
    fixed : numpy.ndarray, shape (n, f)
        Further intercepts without prior, none a sum of the wears' and the others.
    adjusted : numpy.ndarray, shape (n, r)
        Adjusted for: columns of mean 0 and SD 1, each with a coefficient of N(0, residual variance) beforehand.
    wear, day : numpy.ndarray of int, shape (n,)
        Which wear; which day, counted on.
    dish : numpy.ndarray, shape (n, g)
        Expected size of the meal in the column of its dish, 0 in the others: dishes differ by a part of what is to be
        expected, and are drawn toward each other. No columns for days.
    alone : numpy.ndarray, shape (n,)
        Expected size of a meal that is no eating of a dish, else 0.
    weight : numpy.ndarray, shape (n,)
        Inverse of the variance, 1 where nothing is known.
    units : float
        At most so many degrees of freedom: what the factor rests on is fewer than the rows.
    """

    outcome: np.ndarray
    factor: np.ndarray
    fixed: np.ndarray
    adjusted: np.ndarray
    wear: np.ndarray
    day: np.ndarray
    dish: np.ndarray
    alone: np.ndarray
    weight: np.ndarray
    units: float = np.inf

    @property
    def freedom(self) -> int:
        """Rows beyond what the intercepts take up."""
        return len(self.outcome) - len(WearIntercepts.of(self.wear).starts) - self.fixed.shape[1]


@dataclass(frozen=True, eq=False)
class Whitened:
    """Rows in units in which errors are independent and of one variance: least squares of them is exact.

    Attributes
    ----------
    intercepts : WearIntercepts
        The wears' own, in these units.
    outcome, factor : numpy.ndarray, shape (n,)
        What the intercepts leave of them.
    beside : numpy.ndarray, shape (n, q)
        What they leave of further intercepts and of what is adjusted for.
    """

    intercepts: WearIntercepts
    outcome: np.ndarray
    factor: np.ndarray
    beside: np.ndarray


@dataclass(frozen=True, eq=False)
class Coefficient:
    """What one unit of the factor goes with.

    Attributes
    ----------
    estimate, low, high : float
        Posterior mean and central 90 % interval.
    whitened : Whitened
        The rows at the posterior mean covariance: what is permuted.
    """

    estimate: float
    low: float
    high: float
    whitened: Whitened


def estimate_day_coefficient(rows: RegressionRows) -> Coefficient:
    """The coefficient of a factor of days; days of one wear are autocorrelated.

    Normal errors, first-order autoregression over the calendar, flat priors on the intercepts and on the
    coefficient; the autocorrelation is averaged over what the days leave possible, so that
    few days give a wide interval and not a lucky one.
    """
    whitened, log_det = _whiten_days(_columns(rows), rows.wear, rows.day, AUTOCORRELATIONS)
    mean, sd = AUTOCORRELATION_PRIOR
    log_prior = -0.5 * ((AUTOCORRELATIONS - mean) / sd) ** 2 - 0.5 * log_det
    mixture = _mix(whitened, log_prior, np.zeros(len(AUTOCORRELATIONS)), rows)
    rho = float(mixture.weight @ AUTOCORRELATIONS)
    final, _ = _whiten_days(_columns(rows), rows.wear, rows.day, np.array([rho]))
    return Coefficient(mixture.mean, *mixture.interval(), _as_permuted(final[0], rows, 0.0))


def estimate_meal_coefficient(rows: RegressionRows) -> Coefficient:
    """The coefficient of a factor of meals; meals of one day share it, eatings of one dish share that.

    Normal errors; variances of days and dishes, relative to that between eatings, are averaged
    over what the meals leave possible. A meal without a dish is the only eating of its own.
    """
    day_ratio, dish_ratio = (
        grid.ravel() for grid in np.meshgrid(DAY_RATIOS, DISH_RATIOS if rows.dish.shape[1] else [0.0])
    )
    variance = 1 / rows.weight + dish_ratio[:, None] * rows.alone**2
    whitened, log_det = _whiten_meals(_columns(rows), first_rows_of_days(rows.wear, rows.day), variance, day_ratio)
    mixture = _mix(whitened, -0.5 * log_det, dish_ratio, rows)
    day, dish = float(mixture.weight @ day_ratio), float(mixture.weight @ dish_ratio)
    variance = (1 / rows.weight + dish * rows.alone**2)[None]
    final, _ = _whiten_meals(_columns(rows), first_rows_of_days(rows.wear, rows.day), variance, np.array([day]))
    return Coefficient(mixture.mean, *mixture.interval(), _as_permuted(final[0], rows, dish))


def _columns(rows: RegressionRows) -> np.ndarray:
    """The wears' intercepts, further ones, dishes, what is adjusted for, factor and outcome, shape (n, p + 1)."""
    ones = np.ones(len(rows.outcome))
    return np.column_stack([ones, rows.fixed, rows.dish, rows.adjusted, rows.factor, rows.outcome])


def _as_permuted(columns: np.ndarray, rows: RegressionRows, dish_ratio: float) -> Whitened:
    """What is permuted, at one covariance, of columns in whose units errors but the dishes' are independent.

    The wears' intercepts are taken off first, so that they keep to their own rows; then the dishes' few columns are
    brought in by the symmetric root, which moves each row least from its own. A thousand meals cost a thousand times
    one, and not the cube.
    """
    intercepts = WearIntercepts(columns[:, 0], WearIntercepts.of(rows.wear).starts)
    first, dishes = rows.fixed.shape[1], rows.dish.shape[1]
    left = intercepts.partial_out(columns[:, 1:])
    along, size, _ = np.linalg.svd(left[:, first : first + dishes], full_matrices=False)
    own = np.delete(left, np.s_[first : first + dishes], axis=1)
    own -= along @ ((1 - 1 / np.sqrt(1 + dish_ratio * size**2))[:, None] * (along.T @ own))
    return Whitened(intercepts, own[:, -1], own[:, -2], own[:, :-2])


@dataclass(frozen=True, eq=False)
class _Mixture:
    """Student t distributions of one coefficient, one for each covariance thought possible, shape (m,)."""

    weight: np.ndarray
    centre: np.ndarray
    scale: np.ndarray
    degrees: np.ndarray

    @property
    def mean(self) -> float:
        return float(np.sum(self.weight * self.centre))

    def interval(self) -> tuple[float, float]:
        ends = mixture_quantiles(
            self.weight, self.centre, self.scale, np.array(TAILS), lambda z: stdtr(self.degrees, z)
        )
        return float(ends[0]), float(ends[1])


def mixture_quantiles(
    weight: np.ndarray,
    centre: np.ndarray,
    scale: np.ndarray,
    probability: np.ndarray,
    cdf: Callable[[np.ndarray], np.ndarray],
) -> np.ndarray:
    """Quantiles of a mixture of shifted and scaled copies of one distribution.

    Parameters
    ----------
    weight, centre, scale : array, shape (m,)
        Of each part; weights add to 1.
    probability : array, shape (q,)
    cdf : callable
        Distribution function of the unscaled part.

    Returns
    -------
    numpy.ndarray, shape (q,)
    """
    low = np.full(len(probability), np.min(centre - 60 * scale))
    high = np.full(len(probability), np.max(centre + 60 * scale))
    for _ in range(32):
        middle = (low + high) / 2
        below = cdf((middle[:, None] - centre) / scale) @ weight < probability
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return (low + high) / 2


def _mix(whitened: np.ndarray, log_prior: np.ndarray, dish_ratio: np.ndarray, rows: RegressionRows) -> _Mixture:
    """Posterior of the last but one column's coefficient on the last, under each covariance thought possible.

    The wears' intercepts are taken off; one Cholesky factor of the augmented normal equations holds the rest: in its
    last rows stand the coefficient, its variance and the residual sum of squares. What is adjusted for costs the
    degrees of freedom that its columns take up, as if its coefficients were zero: the dearer of the two.
    """
    intercepts = WearIntercepts(whitened[..., 0], WearIntercepts.of(rows.wear).starts)
    left = intercepts.partial_out(whitened[..., 1:])
    gram, penalty = np.swapaxes(left, 1, 2) @ left, _penalties(rows, dish_ratio)
    gram[:, -1, -1] *= 1 + 1e-9  # an outcome without any error of its own is still a positive one
    root = np.linalg.cholesky(gram + penalty[:, :, None] * np.eye(penalty.shape[1]))
    diagonal = np.diagonal(root, axis1=1, axis2=2)
    known = rows.freedom - 1
    adjusted = slice(-2 - rows.adjusted.shape[1], -1)
    inverse = np.linalg.inv(root[:, adjusted, adjusted])[:, :, :-1]
    degrees = known - rows.adjusted.shape[1] + np.sum(inverse**2, axis=(1, 2))
    log_penalty = 0.5 * np.sum(np.log(np.where(penalty > 0, penalty, 1.0)), axis=1)
    log_intercepts = 0.5 * np.sum(np.log(intercepts.sizes), axis=1) + np.log(diagonal[:, :-1]).sum(axis=1)
    log_weight = log_prior + log_penalty - log_intercepts - known * np.log(diagonal[:, -1])
    weight = np.exp(log_weight - log_weight.max())
    centre = root[:, -1, -2] / diagonal[:, -2]
    scale = diagonal[:, -1] / np.sqrt(degrees) / diagonal[:, -2]
    return _Mixture(weight / weight.sum(), centre, scale, np.minimum(degrees, rows.units))


def _penalties(rows: RegressionRows, dish_ratio: np.ndarray) -> np.ndarray:
    """Prior precision of each column's coefficient, over the residual's, for each dish ratio, shape (m, p)."""
    fixed, dishes, adjusted = (np.ones(columns.shape[1]) for columns in (rows.fixed, rows.dish, rows.adjusted))
    with np.errstate(divide="ignore"):
        return np.array([np.concatenate([0 * fixed, dishes / ratio, adjusted, [0.0, 0.0]]) for ratio in dish_ratio])


def _whiten_days(
    columns: np.ndarray, wear: np.ndarray, day: np.ndarray, rho: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Columns less what the day before predicts, and the log determinant, for each autocorrelation."""
    follows = np.concatenate([[False], wear[1:] == wear[:-1]])
    steps = np.where(follows, np.diff(day, prepend=day[0]), 1)
    carried = np.where(follows, np.power.outer(rho, steps), 0.0)
    scale = 1 - carried**2
    before = np.vstack([np.zeros((1, columns.shape[1])), columns[:-1]])
    whitened = (columns - carried[..., None] * before) / np.sqrt(scale)[..., None]
    return whitened, np.log(scale).sum(axis=1)


def _whiten_meals(
    columns: np.ndarray, starts: np.ndarray, variance: np.ndarray, ratio: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Columns with each day's shared part shrunk, and the log determinant, for each covariance thought possible.

    Rows of one day have covariance diag(variance) + ratio, whose root has a closed form.
    """
    code = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(columns)))
    root = 1 / np.sqrt(variance)
    scaled = columns * root[..., None]
    total = np.add.reduceat(root**2, starts, axis=1)
    shared = np.add.reduceat(scaled * root[..., None], starts, axis=1) / total[..., None]
    grown = 1 + ratio[:, None] * total
    shrink = (1 - 1 / np.sqrt(grown))[:, code] * root
    return scaled - shrink[..., None] * shared[:, code], np.log(grown).sum(axis=1) + np.log(variance).sum(axis=1)
