"""Does a question rest on enough? Rows counted by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from glucolab.relating.effects.design import _units, build_regression, rests_on_many
from glucolab.relating.effects.questions import FACTORS, OUTCOMES, Pair
from glucolab.relating.statistics.fixed_effects import RegressionRows
from glucolab.relating.statistics.intercepts import partial_out


def rows(n: int, adjusted: int = 1, units: float = np.inf) -> RegressionRows:
    """Days of one wear."""
    rng = np.random.default_rng(0)
    none = np.empty((n, 0))
    outcome = rng.normal(size=n)
    return RegressionRows(
        outcome - outcome.mean(), (-1.0) ** np.arange(n), none, rng.normal(size=(n, adjusted)), np.zeros(n, int),
        np.arange(n), none, np.zeros(n), np.ones(n), units,
    )  # fmt: skip


@pytest.mark.parametrize(("n", "adjusted", "enough"), [(6, 1, True), (5, 1, False), (8, 3, True), (7, 3, False)])
def test_three_rows_to_spare_beyond_intercept_factor_and_what_is_adjusted_for(n, adjusted, enough):
    assert rests_on_many(rows(n, adjusted)) == enough


@pytest.mark.parametrize(("units", "enough"), [(3.0, True), (2.9, False)])
def test_three_dishes_to_spare(units, enough):
    assert rests_on_many(rows(30, units=units)) == enough


def test_an_outcome_that_never_differs_and_a_factor_of_one_day_answer_nothing():
    assert not rests_on_many(replace(rows(30), outcome=np.zeros(30)))
    assert not rests_on_many(replace(rows(30), factor=np.r_[1.0, np.zeros(29)]))


@pytest.mark.parametrize(
    ("factor", "day", "enough"),
    [
        ([2, -1, -1, -1, 1, 0, 0, 0, 0, 0], range(10), True),  # 4 of 8 on one day: half
        ([2.2, -1, -1, -1, 0.8, 0, 0, 0, 0, 0], range(10), False),  # 4.84 of 8.48: 0.57
        ([1, 1, -1, -1, 0, 0, 0, 0, 0, 0], [0, 0, *range(1, 9)], True),  # both meals of a day: 2 of 4
        ([1.1, 1.1, -0.8, -0.8, -0.6, 0, 0, 0, 0, 0], [0, 0, *range(1, 9)], False),  # 2.42 of 4.06
    ],
)
def test_half_of_what_a_factor_varies_may_lie_on_one_day_and_no_more(factor, day, enough):
    assert rests_on_many(replace(rows(10), factor=np.array(factor, float), day=np.array(day))) == enough


@pytest.mark.parametrize(("sum_of_squares", "enough"), [(1.05e-9, True), (0.95e-9, False)])
def test_what_varies_by_less_than_a_billionth_is_rounding(sum_of_squares, enough):
    factor = np.sqrt(sum_of_squares / 10) * (-1.0) ** np.arange(10)
    assert rests_on_many(replace(rows(10), factor=factor)) == enough


@pytest.mark.parametrize(("within", "enough"), [(1.0, True), (1e-5, False)])
def test_rounding_is_judged_beside_the_size_of_the_factor(within, enough):
    """About 1e4, ten values vary by 10 x within² beside squares of 1e9, a billionth of which is 1."""
    factor = 1e4 + within * (-1.0) ** np.arange(10)
    assert rests_on_many(replace(rows(10), factor=factor)) == enough


class TestUnits:
    """How many dishes carry a factor, counted by hand: three dishes, each eaten twice, and two meals of no dish."""

    dish = np.vstack([np.repeat(np.eye(3), 2, axis=0), np.zeros((2, 3))])
    of_dishes = np.array([1, 1, -2, -2, 0, 0, 1.5, 0.5])
    of_dishes_too = np.array([3, 3, 1, 1, -2, -2, -1, -3.0])
    of_eatings = np.array([1, -1, 2, -2, 1, -1, 0, 0.0])
    wear = np.zeros(8, int)

    def test_dishes_and_meals_alone_less_the_mean_the_factor_and_what_rests_on_dishes_too(self):
        """3 + 2 - 1 of the mean - 1 of the factor; a column that differs between dishes costs one more."""
        for beside, units in (
            ([], 3), ([self.of_eatings], 3), ([self.of_dishes_too], 2), ([self.of_dishes_too, self.of_eatings], 2),
            ([self.of_dishes_too, self.of_dishes_too**2], 1),
        ):  # fmt: skip
            assert _units(np.column_stack([self.of_dishes, *beside]), self.wear, self.dish) == units

    def test_a_factor_of_eatings_has_the_rows(self):
        assert _units(np.column_stack([self.of_eatings, self.of_dishes]), self.wear, self.dish) == np.inf
        assert _units(self.of_dishes[:, None], self.wear, np.empty((8, 0))) == np.inf

    def test_what_differs_between_meals_of_no_dish_differs_between_dishes(self):
        factor = np.array([0.1, -0.1, 0.1, -0.1, 0.1, -0.1, 1, -1])
        assert _units(factor[:, None], self.wear, self.dish) == 3

    @pytest.mark.parametrize(("between", "units"), [(0.54, 0), (0.46, np.inf), (0.33, np.inf)])
    def test_more_than_half_of_it_lies_between_dishes(self, between, units):
        """Two dishes eaten four times: means of ±√between, and ±√(1 - between) about them; 2 - 1 - 1 units."""
        about = np.sqrt(1 - between) * np.tile([1, -1, 1, -1], 2)
        factor = np.sqrt(between) * np.repeat([1.0, -1.0], 4) + about
        assert _units(factor[:, None], np.zeros(8, int), np.repeat(np.eye(2), 4, axis=0)) == units

    def test_each_wears_own_mean_is_no_difference_between_dishes(self):
        """What a dish is more in one wear than in the other is the wears': here all of it."""
        wear = np.repeat([0, 1], 4)
        factor = 10.0 * wear + np.tile([0.5, -0.5], 4)
        assert _units(factor[:, None], wear, np.repeat(np.eye(2), 4, axis=0)) == np.inf


CARBS = np.tile([20.0, 40.0, 60.0, 80.0], 3)
SIZE = np.tile([20.0, 30.0, 40.0, 50.0], 3) / 35
DISH = np.tile(np.array(["oats", "rice", "", "pasta"], object), 3)
FIBER = np.array([2.0, 4, 7, 8, 4, 6, 5, 8, 6, 8, 9, 11])
WALKED = np.tile([0.0, 0, 0, 1, 1, 1], 2)


def asked(factor: str, adjusted: dict[str, np.ndarray] | None = None) -> RegressionRows:
    """Twelve meals whose rise is 10 + carbohydrate / 2: 35 on average, so that each one's size is its rise over 35."""
    meals = {
        "wear": np.zeros(12, int), "day": np.arange(12) // 3, "dish": DISH, "carbs_g": CARBS, "fiber_g": FIBER,
        "walk_after": WALKED, "eaten_out": np.repeat([0.0, 1.0, 0.0], 4), "rise_mg_dl": 10 + CARBS / 2,
        "rise_se_mg_dl": np.full(12, 3.5),
    }  # fmt: skip
    return build_regression(Pair(factor, "rise", ""), OUTCOMES["rise"], FACTORS[factor], meals, adjusted or {})


class TestBuildRegression:
    def test_what_takes_a_part_of_a_rise_grows_with_it(self):
        found = asked("walk_after")
        assert found.factor == pytest.approx((WALKED - 0.5) * SIZE)
        assert found.outcome == pytest.approx(35 * (SIZE - 1))

    def test_a_dish_and_a_meal_of_none_count_by_their_size(self):
        found = asked("walk_after")
        assert found.dish == pytest.approx(SIZE[:, None] * (DISH[:, None] == np.array(["oats", "pasta", "rice"])))
        assert found.alone == pytest.approx(np.where(DISH == "", 40 / 35, 0))

    def test_what_is_known_of_a_dish_is_its_mean_and_per_step(self):
        """Fibre of oats 2, 4 and 6: 4; of rice 6, of pasta 9, of what is no dish 7, 5 and 9; all 6.5; per 10 g."""
        found = asked("fiber_g", {"protein_g": FIBER - 6.5, "walk_after": WALKED - 0.5})
        by_dish = np.array([4.0, 6, 7, 9, 4, 6, 5, 9, 4, 6, 9, 9])
        assert found.factor == pytest.approx((by_dish - 6.5) / 10)
        assert found.adjusted == pytest.approx(np.column_stack([by_dish - 6.5, WALKED - 0.5]))

    def test_the_same_dish_out_and_at_home_is_told_by_an_intercept_of_each(self):
        found = asked("eaten_out")
        assert found.dish.shape == (12, 0)
        assert found.fixed.shape == (12, 3)  # four labels, one of them told by the wear's own
        assert partial_out((DISH == "rice").astype(float), found.wear, found.fixed) == pytest.approx(0, abs=1e-12)

    def test_days_are_of_one_size_and_have_no_dish(self):
        """Caffeine 50, 150, 250 ... mg, about its mean; per 100 mg."""
        days = {"wear": np.zeros(6, int), "day": np.arange(6), "caffeine_mg": 50 + 100.0 * np.arange(6)}
        days["mean_mg_dl"] = np.array([90.0, 95, 92, 99, 97, 94])
        factor = FACTORS["caffeine_mg"]
        found = build_regression(Pair("caffeine_mg", "mean", ""), OUTCOMES["mean"], factor, days, {})
        assert np.diff(found.factor) == pytest.approx(1)
        assert (found.weight.tolist(), found.alone.tolist(), found.units) == ([1.0] * 6, [0.0] * 6, np.inf)
