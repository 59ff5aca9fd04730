"""Is a coefficient averaged over every covariance thought possible, with what is adjusted for drawn to nought?

Each is worked out a second time with the whole matrices: one column a wear, and dishes and what is adjusted for as
random effects in the covariance, with the restricted likelihood (Harville, J Am Stat Assoc 1977;72:320-338, the
residual's variance integrated out). Thought possible are autocorrelations from -0.3 to 0.8 by tenths, about 0.25 ± 0.25
beforehand, and shares of days of 0, 0.1, 0.3, 0.8 and of dishes of 0.1, 0.3, 0.8, 2, 6 times what eatings differ by.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from scipy.linalg import sqrtm
from scipy.optimize import brentq

from glucolab.relating.statistics import fixed_effects
from glucolab.relating.statistics.fixed_effects import (
    RegressionRows,
    estimate_day_coefficient,
    estimate_meal_coefficient,
    mixture_quantiles,
)

TENTHS = np.arange(-3, 9) / 10
DAYS, DISHES = (0.0, 0.1, 0.3, 0.8), (0.1, 0.3, 0.8, 2.0, 6.0)


def one_column_each(labels: np.ndarray) -> np.ndarray:
    return (labels[:, None] == np.unique(labels)).astype(float)


def without_levels(values: np.ndarray, wear: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    levels = np.column_stack([one_column_each(wear), fixed])
    return values - levels @ np.linalg.lstsq(levels, values, rcond=None)[0]


@dataclass
class Believed:
    """What the coefficient may be under one covariance: a Student t, and how likely the covariance is."""

    log_likely: float
    centre: float
    scale: float
    degrees: float

    @classmethod
    def under(cls, covariance: np.ndarray, rows: RegressionRows) -> Believed:
        """Flat on wears, further intercepts and the factor; what is adjusted for is normal of the residual's variance.

        The degrees are what least squares has left with the fitted part of the adjusted columns taken off: trace of
        their part of the hat matrix.
        """
        flat = np.column_stack([one_column_each(rows.wear), rows.fixed, rows.factor])
        drawn = rows.adjusted
        inverse = np.linalg.inv(covariance + drawn @ drawn.T)
        information = flat.T @ inverse @ flat
        residual = inverse - inverse @ flat @ np.linalg.inv(information) @ flat.T @ inverse
        known = len(rows.outcome) - flat.shape[1]
        squares = rows.outcome @ residual @ rows.outcome
        determinants = -np.linalg.slogdet(inverse)[1] + np.linalg.slogdet(information)[1]
        degrees = known - np.trace(drawn.T @ residual @ drawn)
        return cls(
            -0.5 * (determinants + known * np.log(squares)),
            (np.linalg.inv(information) @ flat.T @ inverse @ rows.outcome)[-1],
            np.sqrt(squares / degrees * np.linalg.inv(information)[-1, -1]),
            min(degrees, rows.units),
        )


def average(parts: list[Believed]) -> tuple[np.ndarray, tuple[float, float, float]]:
    """How likely each is, and mean and 90 % interval of all together."""
    log_likely = np.array([part.log_likely for part in parts])
    weight = np.exp(log_likely - log_likely.max())
    weight /= weight.sum()
    centre, scale, degrees = np.array([(part.centre, part.scale, part.degrees) for part in parts]).T

    def beyond(z: float, p: float) -> float:
        return weight @ stats.t.cdf(z, degrees, centre, scale) - p

    mean = float(weight @ centre)
    reach = 50 * scale.max()
    low, high = (brentq(beyond, mean - reach, mean + reach, args=(p,), xtol=1e-14 * reach) for p in (0.05, 0.95))
    return weight, (mean, low, high)


def same_day(rows: RegressionRows) -> np.ndarray:
    return (rows.wear[:, None] == rows.wear) & (rows.day[:, None] == rows.day)


def of_autocorrelation(rho: float, rows: RegressionRows) -> np.ndarray:
    return (rows.wear[:, None] == rows.wear) * float(rho) ** np.abs(rows.day[:, None] - rows.day)


def of_shares(of_days: float, of_dishes: float, rows: RegressionRows) -> np.ndarray:
    own = np.diag(1 / rows.weight + of_dishes * rows.alone**2)
    return own + of_days * same_day(rows) + of_dishes * rows.dish @ rows.dish.T


def days(seed: int = 1, adjusted: int = 2) -> RegressionRows:
    """Three wears of seven to nine days with days missing; a factor, one further intercept, some adjusted for."""
    rng = np.random.default_rng(seed)
    wear = np.repeat(np.arange(3), [7, 9, 8])
    day = np.concatenate([[0, 1, 2, 4, 5, 8, 9], [9, 10, 11, 12, 13, 14, 15, 16, 18], [30, 31, 32, 34, 35, 36, 37, 38]])
    n = len(wear)
    fixed = (rng.random((n, 1)) < 0.4).astype(float)
    beside = stats.zscore(rng.normal(size=(n, adjusted)), axis=0)
    factor = rng.normal(size=n) + 0.4 * beside.sum(axis=1) + wear
    noise = np.convolve(rng.normal(size=n + 1), [1, 0.6], "valid")
    outcome = 100 + 20 * wear + 0.8 * factor + beside @ [1.5, -0.7][:adjusted] + 2 * fixed[:, 0] + 2 * noise
    outcome, none = without_levels(outcome, wear, fixed), np.empty((n, 0))
    return RegressionRows(outcome, factor, fixed, beside, wear, day, none, np.zeros(n), np.ones(n))


def meals(seed: int = 2, adjusted: int = 1) -> RegressionRows:
    """Two wears of seven days with one to four meals each: some of four dishes, some of none, of unequal variance."""
    rng = np.random.default_rng(seed)
    of_day = rng.integers(1, 5, 14)
    wear, day = np.repeat(np.repeat([0, 1], 7), of_day), np.repeat(np.arange(14), of_day)
    n = len(wear)
    of, size = rng.integers(0, 6, n), rng.uniform(0.4, 1.8, n)
    dish, alone = np.where(np.arange(4) == of[:, None], size[:, None], 0.0), np.where(of >= 4, size, 0.0)
    fixed = (rng.random((n, 1)) < 0.3).astype(float)
    beside = stats.zscore(rng.normal(size=(n, adjusted)), axis=0)
    factor = (rng.random(n) < 0.5) + 0.3 * beside.sum(axis=1)
    outcome = 8 * size * rng.normal(1, 0.6, 6)[of] + 3 * rng.normal(size=14)[day] + 4 * rng.normal(size=n) - 3 * factor
    outcome += 2 * beside.sum(axis=1)
    outcome, weight = without_levels(outcome, wear, fixed), rng.uniform(0.4, 1.4, n)
    return RegressionRows(outcome, factor, fixed, beside, wear, day, dish, alone, weight)


def likely_before(rho: float) -> float:
    return stats.norm.logpdf(rho, 0.25, 0.25)


def by_whole_matrices_of_days(rows: RegressionRows) -> tuple[np.ndarray, tuple[float, float, float]]:
    parts = [Believed.under(of_autocorrelation(rho, rows), rows) for rho in TENTHS]
    return average([
        replace(part, log_likely=part.log_likely + likely_before(rho)) for part, rho in zip(parts, TENTHS, strict=True)
    ])  # fmt: skip


def by_whole_matrices_of_meals(rows: RegressionRows) -> tuple[np.ndarray, tuple[float, float, float]]:
    return average([Believed.under(of_shares(*shares, rows), rows) for shares in product(DAYS, DISHES)])


def check(found, expected: tuple[float, float, float]):
    width = expected[2] - expected[1]
    assert (found.estimate, found.low, found.high) == pytest.approx(expected, rel=0, abs=1e-6 * width)


@pytest.mark.parametrize("adjusted", [0, 1, 2])
def test_days_are_averaged_over_the_autocorrelations(adjusted):
    rows = days(adjusted=adjusted)
    weight, expected = by_whole_matrices_of_days(rows)
    assert weight.max() < 0.5, "several must count for the average to show"
    check(estimate_day_coefficient(rows), expected)


@pytest.mark.parametrize("adjusted", [0, 1, 2])
def test_meals_are_averaged_over_the_shares_of_days_and_dishes(adjusted):
    rows = meals(adjusted=adjusted)
    weight, expected = by_whole_matrices_of_meals(rows)
    assert weight.max() < 0.5
    check(estimate_meal_coefficient(rows), expected)


def test_meals_without_any_dish_are_averaged_over_the_shares_of_days_alone():
    """A meal of no dish then has nothing of its own beside its error, whatever its size."""
    rows = replace(meals(seed=5), dish=np.empty((len(meals(seed=5).wear), 0)))
    _, expected = average([Believed.under(of_shares(share, 0.0, rows), rows) for share in DAYS])
    check(estimate_meal_coefficient(rows), expected)


@pytest.mark.parametrize("unit", [1e-6, 1e6])
def test_in_any_unit_of_the_outcome(unit):
    """Four score rows in such a unit have likelihoods beyond all floating numbers: they are taken to the largest."""
    rows, eaten = (repeated(part, 4) for part in (days(), meals()))
    rows, eaten = (replace(part, outcome=unit * part.outcome) for part in (rows, eaten))
    check(estimate_day_coefficient(rows), by_whole_matrices_of_days(rows)[1])
    check(estimate_meal_coefficient(eaten), by_whole_matrices_of_meals(eaten)[1])


def repeated(rows: RegressionRows, times: int) -> RegressionRows:
    """The same wears worn again and again."""
    wears = rows.wear.max() + 1
    stacked = {
        name: np.concatenate([getattr(rows, name)] * times)
        for name in ("outcome", "factor", "fixed", "adjusted", "day", "dish", "alone", "weight")
    }
    return RegressionRows(wear=np.concatenate([rows.wear + wears * i for i in range(times)]), **stacked)


@pytest.mark.parametrize("units", [3.0, 7.0])
def test_what_rests_on_few_units_has_no_more_degrees_than_they_give(units):
    rows = replace(days(), units=units)
    _, expected = by_whole_matrices_of_days(rows)
    check(estimate_day_coefficient(rows), expected)
    assert expected[2] - expected[1] > 1.02 * np.diff(by_whole_matrices_of_days(days())[1][1:])[0]


def test_days_are_permuted_at_the_mean_autocorrelation():
    """Least squares of what is permuted is statsmodels' GLS at the mean of the believed autocorrelations."""
    rows = days(adjusted=0)
    rho = float(by_whole_matrices_of_days(rows)[0] @ TENTHS)
    check_permuted(estimate_day_coefficient(rows), rows, of_autocorrelation(rho, rows))


def test_meals_are_permuted_at_the_mean_shares():
    rows = meals(adjusted=0)
    weight, shares = by_whole_matrices_of_meals(rows)[0], np.array(list(product(DAYS, DISHES)))
    check_permuted(estimate_meal_coefficient(rows), rows, of_shares(*(weight @ shares), rows))


def check_permuted(found, rows: RegressionRows, covariance: np.ndarray):
    design = np.column_stack([rows.factor, rows.fixed, one_column_each(rows.wear)])
    fit = sm.GLS(rows.outcome, design, sigma=covariance).fit()
    white = found.whitened
    mine = sm.OLS(white.outcome, np.column_stack([white.factor, white.beside])).fit()
    fewer = np.sqrt((mine.df_resid - len(white.intercepts.starts)) / mine.df_resid)
    assert mine.params[0] == pytest.approx(fit.params[0], rel=1e-8)
    assert mine.tvalues[0] * fewer == pytest.approx(fit.tvalues[0], rel=1e-8)


def test_without_dishes_what_is_permuted_is_each_row_over_its_own_error():
    """Where nothing is shared, a row of weight w is √w its own: the wear's intercept too."""
    rows = replace(meals(adjusted=0), dish=np.empty((len(meals().wear), 0)), day=np.arange(len(meals().wear)))
    white = estimate_meal_coefficient(rows).whitened
    weight, _ = average([Believed.under(of_shares(share, 0.0, rows), rows) for share in DAYS])
    own = 1 / np.sqrt(1 / rows.weight + weight @ DAYS)
    levels = own[:, None] * one_column_each(rows.wear)
    expected = own * rows.factor - levels @ np.linalg.lstsq(levels, own * rows.factor, rcond=None)[0]
    assert white.intercepts.column == pytest.approx(own, rel=1e-9)
    assert white.factor == pytest.approx(expected, abs=1e-9)


def test_dishes_are_brought_in_by_the_root_that_moves_each_row_least(monkeypatch):
    """The symmetric one: the inverse square root of I + ratio D D', D being what wears leave of the dishes' columns.

    A turned or mirrored one gives least squares the same, but what is dealt anew would be mixtures of rows.
    """
    monkeypatch.setattr(fixed_effects, "DAY_RATIOS", np.array([0.0]))
    monkeypatch.setattr(fixed_effects, "DISH_RATIOS", np.array([0.7]))
    rows = meals(adjusted=2)
    n = len(rows.wear)
    rows = replace(rows, weight=np.ones(n), alone=np.zeros(n))
    none = np.empty((n, 0))
    dish, factor, outcome, fixed = (
        without_levels(part, rows.wear, none) for part in (rows.dish, rows.factor, rows.outcome, rows.fixed)
    )
    root = np.linalg.inv(sqrtm(np.eye(n) + 0.7 * dish @ dish.T))
    white = estimate_meal_coefficient(rows).whitened
    assert white.factor == pytest.approx(root @ factor, abs=1e-9)
    assert white.outcome == pytest.approx(root @ outcome, abs=1e-9)
    assert white.beside[:, :1] == pytest.approx(root @ fixed, abs=1e-9)
    assert white.beside.shape == (n, 3)


@pytest.mark.parametrize("slope", [2.0, -0.1])
def test_an_outcome_without_any_error_is_told_as_it_is(slope):
    """Nothing is left over; still no negative square appears, and the interval is as good as a point."""
    wear, day = np.repeat([0, 1], 6), np.tile(np.arange(6), 2)
    factor = np.tile([-5.0, -3.0, -1.0, 1.0, 3.0, 5.0], 2)
    none, nil, one = np.empty((12, 0)), np.zeros(12), np.ones(12)
    rows = RegressionRows(slope * factor, factor, none, none, wear, day, none, nil, one)
    for estimate in (estimate_day_coefficient, estimate_meal_coefficient):
        found = estimate(rows)
        assert found.estimate == pytest.approx(slope, abs=1e-6)
        assert found.low <= found.estimate <= found.high
        assert found.high - found.low < 1e-3


class TestQuantilesOfAMixture:
    def quantile(self, weight, centre, scale, p):
        def beyond(z):
            return sum(w * stats.norm.cdf(z, c, s) for w, c, s in zip(weight, centre, scale, strict=True)) - p

        return brentq(beyond, -500, 500, xtol=1e-12)

    @pytest.mark.parametrize(
        ("weight", "centre", "scale"),
        [
            ([1.0], [3.0], [2.0]),
            ([0.3, 0.7], [-5.0, 4.0], [1.0, 2.0]),
            ([0.9, 0.1], [50.0, -60.0], [0.5, 3.0]),
            ([0.97, 0.03], [0.0, 0.0], [1.0, 40.0]),
        ],
    )
    def test_they_are_where_the_distribution_says(self, weight, centre, scale):
        p = np.array([0.01, 0.05, 0.5, 0.95, 0.999])
        found = mixture_quantiles(*(np.array(part) for part in (weight, centre, scale)), p, stats.norm.cdf)
        assert found == pytest.approx([self.quantile(weight, centre, scale, q) for q in p], abs=2e-6)

    def test_far_tails_of_few_degrees_lie_within_reach(self):
        """Student's t of three degrees at 0.0005: 12.9 scales away, on either side."""
        found = mixture_quantiles(
            np.array([1.0]), np.array([7.0]), np.array([0.5]), np.array([0.0005, 0.9995]), lambda z: stats.t.cdf(z, 3)
        )
        assert found == pytest.approx(stats.t.ppf([0.0005, 0.9995], 3, 7, 0.5), abs=1e-6)
