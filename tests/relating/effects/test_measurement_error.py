"""Is what wrong portions hide put back, with its own uncertainty? Meals with known truth, drawn here.

That error in a predictor draws its slope toward nil by the reliability is textbook (Fuller, Measurement Error Models,
1987, section 1.1; from memory); the simulation below shows it anew.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

from glucolab.relating.effects.measurement_error import (
    LOG_ERROR_LOG_SD,
    allow_for_errors,
    calibrate_log_carbs,
    error_variance,
)
from glucolab.relating.effects.questions import FACTORS, Factor
from glucolab.relating.statistics.fixed_effects import RegressionRows, estimate_meal_coefficient

SLOPE = 7.0
"""mg/dL per 10 g."""


def meals(rng: np.random.Generator, portion_cv: float, n: int = 60) -> tuple[RegressionRows, np.ndarray]:
    """Meals without dishes; carbohydrate is written with an error of `portion_cv`, protein goes with it."""
    true = np.clip(rng.normal(5.0, 2.2, n), 0.5, None)
    protein = 0.5 * (true - 5) / 2.2 + rng.normal(0, 0.9, n)
    written = true * np.exp(portion_cv * rng.standard_normal(n))
    rise = SLOPE * true + rng.normal(0, 11, n)
    held = ((protein - protein.mean()) / protein.std())[:, None]
    rows = RegressionRows(
        outcome=rise - rise.mean(), factor=written - written.mean(), fixed=np.empty((n, 0)), adjusted=held,
        wear=np.zeros(n, int), day=np.arange(n) // 4, dish=np.empty((n, 0)), alone=np.zeros(n), weight=np.ones(n),
    )  # fmt: skip
    return rows, written


def allow_for_portions(ends, rows, written, dish):
    """As it is done for the carbohydrate of `effects.csv`; `written` in 10 g."""
    return allow_for_errors(*ends, rows, error_variance(FACTORS["carbs_g"], 10 * written, dish), LOG_ERROR_LOG_SD)


@pytest.mark.parametrize("portion_cv", [0.0, 0.15, 0.25])
def test_slope_of_carbohydrate_that_is_written_wrong(portion_cv):
    """Whether a label is weighed or a plate is guessed at is not known: both are held."""
    rng = np.random.default_rng([7, round(100 * portion_cv)])
    no_dish = np.full(60, "", dtype=object)
    plain, put_right = [], []
    for _ in range(300):
        rows, written = meals(rng, portion_cv)
        found = estimate_meal_coefficient(rows)
        ends = found.estimate, found.low, found.high
        plain.append(ends)
        put_right.append(allow_for_portions(ends, rows, written, no_dish))
    before, after = np.array(plain), np.array(put_right)
    held = np.mean((after[:, 1] <= SLOPE) & (after[:, 2] >= SLOPE))
    assert held >= 0.85  # wide for whoever weighs: that the log is exact is not known
    if portion_cv > 0.2:
        assert abs(after[:, 0].mean() - SLOPE) < 0.6 * abs(before[:, 0].mean() - SLOPE)


def test_nil_stays_nil_and_no_sign_changes():
    rows, written = meals(np.random.default_rng(3), 0.2)
    low, high = allow_for_portions((0.0, -2.0, 2.0), rows, written, np.full(60, "", dtype=object))[1:]
    assert low == pytest.approx(-high)
    assert low <= -2.0


def test_a_dish_eaten_often_is_known_better_than_one_portion():
    rows, written = meals(np.random.default_rng(4), 0.2)
    once = allow_for_portions((7.0, 4.0, 10.0), rows, written, np.full(60, "", dtype=object))
    often = allow_for_portions((7.0, 4.0, 10.0), rows, written, np.repeat([f"dish {i}" for i in range(10)], 6))
    assert 7.0 < often[0] < once[0]


def test_what_is_adjusted_for_leaves_nothing_to_protein():
    """Protein does nothing, but comes with carbohydrate: as written it takes part of its work, calibrated less.

    What is written is off by a fifth, as is thought of whoever writes it.
    """
    rng = np.random.default_rng(5)
    left = {"written": [], "calibrated": []}
    for _ in range(200):
        true_g = np.clip(rng.normal(50, 20, 80), 5, None)
        protein = 0.7 * (true_g - 50) / 20 + rng.normal(0, 0.7, 80)
        written_g = true_g * np.exp(0.2 * rng.standard_normal(80))
        rise = 35 * np.log1p(true_g / 30) + rng.normal(0, 5, 80)
        column = np.log1p(written_g / 30)
        column = (column - column.mean()) / column.std()
        one_wear, known = np.zeros(80, int), protein[:, None]
        calibrated = calibrate_log_carbs(column, written_g, one_wear, known, np.full(80, "", dtype=object))
        for name, carbs in (("written", column), ("calibrated", calibrated)):
            left[name].append(np.linalg.lstsq(np.column_stack([np.ones(80), known, carbs]), rise, rcond=None)[0][1])
    assert np.mean(left["written"]) > 0.5
    assert abs(np.mean(left["calibrated"])) < 0.5 * np.mean(left["written"])


def test_between_eatings_of_one_dish_only_error_is_drawn_to_its_mean():
    """The same plate each time: what is written differs by error alone, and the dish's mean is what is known of it."""
    rng = np.random.default_rng(6)
    true_g = np.repeat(rng.uniform(20, 90, 10), 6)
    dish = np.repeat([f"dish {i}" for i in range(10)], 6).astype(object)
    within = []
    for _ in range(50):
        written_g = true_g * np.exp(0.2 * rng.standard_normal(60))
        column = np.log1p(written_g / 30)
        column = (column - column.mean()) / column.std()
        found = calibrate_log_carbs(column, written_g, np.zeros(60, int), np.empty((60, 0)), dish)
        apart = [np.std(values.reshape(10, 6), axis=1).mean() for values in (found, column)]
        within.append(apart[0] / apart[1])
    assert np.mean(within) < 0.25


class TestCalibratedCarbohydrate:
    """Regression calibration written out: residuals and their mean square by statsmodels.

    One eating is written down with an error of a fifth.
    """

    cv = 0.2

    def spread(self, grams, wear=0):
        """SD of log(1 + c / 30) within wears: of a regression on them, by statsmodels."""
        fit = sm.OLS(np.log1p(grams / 30), pd.get_dummies(np.broadcast_to(wear, len(grams)), dtype=float)).fit()
        return np.sqrt(np.mean(fit.resid**2)), fit.resid

    def column(self, grams, wear=0):
        sd, apart = self.spread(grams, wear)
        return np.asarray(apart) / sd

    def error_variance(self, grams, wear=0):
        """Delta method of log(1 + c / 30), in units of its standard deviation within wears."""
        return float(np.mean((self.cv * grams / (30 + grams) / self.spread(grams, wear)[0]) ** 2))

    def drawn_toward(self, column, known, left):
        fit = sm.OLS(column, sm.add_constant(known)).fit()
        true = fit.mse_resid * max(1 - left.mean() / fit.mse_resid, 0.4)
        return fit.fittedvalues + true / (true + left) * fit.resid

    def test_meals_eaten_once(self):
        rng = np.random.default_rng(8)
        grams, known = rng.uniform(20, 90, 40), rng.normal(size=(40, 2))
        column = self.column(grams)
        found = calibrate_log_carbs(column, grams, np.zeros(40, int), known, np.full(40, "", dtype=object))
        assert found == pytest.approx(self.drawn_toward(column, known, np.full(40, self.error_variance(grams))))

    def test_dishes_eaten_again(self):
        """Between eatings of a dish what is no error stays; its mean has a share of the error by number of eatings."""
        rng = np.random.default_rng(9)
        dish = np.repeat([f"dish {i}" for i in range(8)], 5).astype(object)
        grams, known = (
            np.repeat(rng.uniform(20, 90, 8), 5) * np.exp(0.4 * rng.standard_normal(40)),
            rng.normal(size=(40, 1)),
        )
        column, error = self.column(grams), self.error_variance(grams)
        mean = np.repeat(column.reshape(8, 5).mean(axis=1), 5)
        kept = max(1 - error / (np.sum((column - mean) ** 2) / (40 - 8)), 0)
        left = np.full(40, error * (1 / 5 + kept**2 * (1 - 1 / 5)))
        found = calibrate_log_carbs(column, grams, np.zeros(40, int), known, dish)
        assert 0.2 < kept < 0.95
        assert found == pytest.approx(self.drawn_toward(mean + kept * (column - mean), known, left))

    def test_eaten_often_and_once_and_of_no_dish_in_two_wears(self):
        """A label alone is its own mean, however many are of no dish; error is told from dishes eaten again alone."""
        rng = np.random.default_rng(10)
        often = np.repeat(["bread", "rice", "soup"], [6, 4, 3])
        dish = rng.permutation(np.array([*often, *(f"once {i}" for i in range(9)), *[""] * 18], object))
        usual = {name: rng.uniform(25, 85) for name in dict.fromkeys(dish)}
        grams = np.array([usual[d] if d else rng.uniform(20, 90) for d in dish]) * np.exp(0.4 * rng.standard_normal(40))
        wear, known = np.repeat([0, 1], [23, 17]), rng.normal(size=(40, 2))
        grams = grams * np.where(wear == 1, 2.0, 1.0)  # more is eaten in the second wear: no part of the spread within
        column, error = self.column(grams, wear), self.error_variance(grams, wear)
        eatings = np.array([np.sum(dish == d) if d else 1 for d in dish])
        mean = np.array([column[dish == d].mean() if d else own for d, own in zip(dish, column, strict=True)])
        kept = 1 - error / (np.sum((column - mean) ** 2) / (13 - 3))
        left = error / eatings + error * kept**2 * (1 - 1 / eatings)
        found = calibrate_log_carbs(column, grams, wear, known, dish)
        levels = np.column_stack([wear, known])
        assert 0.2 < kept < 0.95
        assert found == pytest.approx(self.drawn_toward(mean + kept * (column - mean), levels, left))

    def test_what_is_not_written_has_no_part_in_the_error(self):
        rng = np.random.default_rng(11)
        grams, known = rng.uniform(20, 90, 40), rng.normal(size=(40, 1))
        grams[[3, 17, 30]] = np.nan
        written = ~np.isnan(grams)
        column = np.where(written, 0, 0.0)
        column[written] = self.column(grams[written])
        left = np.full(40, self.error_variance(grams[written]))
        found = calibrate_log_carbs(column, grams, np.zeros(40, int), known, np.full(40, "", object))
        assert found == pytest.approx(self.drawn_toward(column, known, left))

    def test_where_nearly_all_would_be_error_two_fifths_are_believed(self):
        """Portions of 48 to 52 g written with an error of ten: true variance is taken as 0.4 of what is seen."""
        rng = np.random.default_rng(12)
        grams, known = rng.uniform(48, 52, 40), rng.normal(size=(40, 1))
        column, error = self.column(grams), self.error_variance(grams)
        fit = sm.OLS(column, sm.add_constant(known)).fit()
        share = 0.4 * fit.mse_resid / (0.4 * fit.mse_resid + error)
        found = calibrate_log_carbs(column, grams, np.zeros(40, int), known, np.full(40, "", object))
        assert error > fit.mse_resid
        assert found == pytest.approx(fit.fittedvalues + share * fit.resid)


class TestErrorVariance:
    """Of what is written: a relative part, less for the mean of several eatings, and one of its own; per step."""

    written = np.array([10.0, 20.0, 30.0, 40.0])
    dish = np.array(["rice", "rice", "", "tart"], object)

    @pytest.mark.parametrize(
        ("factor", "expected"),
        [
            (Factor("", error_cv=0.1), (1 + 4 + 9 + 16) / 4),
            (Factor("", error_cv=0.1, step=10.0), (1 + 4 + 9 + 16) / 400),
            (Factor("", error_cv=0.1, of_dish=True), (0.5 + 2 + 9 + 16) / 4),  # rice was eaten twice
            (Factor("", error_sd=3.0), 9),
            (Factor("", error_cv=0.1, error_sd=3.0, step=2.0, of_dish=True), (27.5 / 4 + 9) / 4),
        ],
    )
    def test_by_hand(self, factor, expected):
        assert error_variance(factor, self.written, self.dish) == pytest.approx(expected)

    def test_days_are_of_no_dish(self):
        assert error_variance(Factor("", error_cv=0.1, of_dish=True), self.written, None) == pytest.approx(7.5)


class TestAllowForErrors:
    """The share of error among what a factor varies, its uncertainty, and what both do to an estimate and its ends."""

    wear = np.repeat([0, 1], 6)
    factor = np.array([1.0, 4, 2, 6, 3, 5, 9, 7, 12, 8, 11, 9])
    beside = np.array([2.0, -1, 0, 1, -2, 0, 1, 1, -1, -1, 2, -2])

    def rows(self) -> RegressionRows:
        none = np.empty((12, 0))
        return RegressionRows(
            self.factor, self.factor, none, self.beside[:, None], self.wear, np.arange(12), none, np.zeros(12),
            np.ones(12),
        )  # fmt: skip

    def left(self) -> float:
        """Mean square of what wears and the column beside leave, by statsmodels: 12 - 2 - 1 degrees of freedom."""
        return sm.OLS(self.factor, sm.add_constant(np.column_stack([self.wear, self.beside]))).fit().mse_resid

    @pytest.mark.parametrize(("share", "log_sd"), [(0.2, 0.0), (0.2, 0.5), (0.1, 1.0), (0.5, 1.0)])
    def test_an_effect_grows_by_the_inverse_of_the_reliability(self, share, log_sd):
        """At the middles of nine equal parts of a lognormal error variance; under 0.4 nothing is corrected further."""
        possible = share * (stats.lognorm.ppf((np.arange(9) + 0.5) / 9, log_sd) if log_sd else np.ones(9))
        grown = 1 / np.maximum(1 - possible, 0.4)
        found = allow_for_errors(3.0, 1.0, 6.0, self.rows(), share * self.left(), log_sd)
        more = stats.norm.ppf(0.95) * 3 * grown.std()
        expected = (
            3 * grown.mean() - np.hypot(2 * grown.mean(), more),
            3 * grown.mean() + np.hypot(3 * grown.mean(), more),
        )
        assert found == pytest.approx((3 * grown.mean(), *expected))

    def test_of_all_error_two_and_a_half_times_is_the_most(self):
        assert allow_for_errors(3.0, 1.0, 6.0, self.rows(), 5 * self.left(), 0.0) == pytest.approx((7.5, 2.5, 15.0))
