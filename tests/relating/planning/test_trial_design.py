"""Are spread, chances and dates of an experiment what they are on paper? Counted by hand, and statsmodels for power."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.power import TTestIndPower

from glucolab.relating.planning import trial_design
from glucolab.relating.planning.trial_design import (
    EatingSpread,
    choose_repeats,
    draw_trial_dates,
    estimate_eating_spread,
    find_smallest_difference,
    plan_repeats,
    usable_share,
)

EATINGS = pd.DataFrame({
    "dish": ["rice", "rice", "rice", "soup", "soup", "soup"], "wear": [0, 0, 1, 0, 0, 0],
    "rise_mg_dl": [30.0, 40.0, 50.0, 60.0, 80.0, 100.0], "se_mg_dl": [3.0, 3.0, 4.0, np.nan, 7.0, 9.0],
})  # fmt: skip
"""Squares about each dish's mean in each wear: rice 25 + 25 and 0, of one degree of freedom; soup 400 + 0 + 400, of
two. Mean rises are 40 and 80 of 60 over all: of the variance 0.4 stays and 0.6 grows with the square, which makes 2/3
and 22/15 of the usual."""
PUBLISHED = 16.0**2 + 4.0**2
"""Between eatings of a dish, and the median error of a rise. The mean of two hours differs by 10.7 to 11.3 (Hengist et
al., PMC10371100), the highest point by half as much again."""
FROM_SOUP = (4 * PUBLISHED + 800 / (22 / 15)) / (4 + 2)
FROM_RICE = (4 * PUBLISHED + 50 / (2 / 3)) / (4 + 1)
FROM_BOTH = (4 * PUBLISHED + 800 / (22 / 15) + 50 / (2 / 3)) / (4 + 3)


@pytest.mark.parametrize(
    ("dish", "squares", "df", "eaten"),
    [
        ("rice", 6 * (2 / 3) * FROM_SOUP + 50, 6 + 1, 3),
        ("soup", 6 * (22 / 15) * FROM_RICE + 800, 6 + 2, 3),
        ("new", 6 * FROM_BOTH, 6, 0),
    ],
)
def test_the_spread_of_one_dish_by_hand(dish, squares, df, eaten):
    """Inverse chi-squared: the variance times a chi-squared of its degrees of freedom is the sum of squares.

    Published spread counts as four eatings beside other dishes, and these as six beside the dish itself, at its size.
    """
    spread = estimate_eating_spread(EATINGS, dish, 5)
    chi_squared = np.random.default_rng(5).chisquare(df, len(spread.sd_mg_dl))
    assert spread.sd_mg_dl**2 * chi_squared == pytest.approx(np.full(len(chi_squared), squares))
    assert spread.eatings == eaten


def known(sd_mg_dl: float) -> EatingSpread:
    """A spread that is certain, in as many draws as are simulated."""
    return EatingSpread(np.full(len(estimate_eating_spread(EATINGS, "rice", 0).sd_mg_dl), sd_mg_dl), 0)


def test_a_chance_of_four_in_five_is_known_within_a_fiftieth():
    """Standard error of a share of 0.8 among so many simulated experiments: √(0.8 · 0.2 / 400) = 0.02."""
    assert np.sqrt(0.8 * 0.2 / len(known(12.0).sd_mg_dl)) == pytest.approx(0.02)


def p_value(first: list[float], last: list[float]) -> float:
    values = np.array([[*first, *last]], dtype=float)
    return float(trial_design._permutation_p_values(values, len(first), np.random.default_rng(3))[0])


@pytest.mark.parametrize(
    ("first", "last", "as_far"),
    [
        ([0, 1, 2], [3, 4, 5], 2),  # sums of three of 0 to 5: 12, or 3
        ([0, 1, 3], [2, 4, 5], 4),  # 11 or more: 3 + 4 + 5, 2 + 4 + 5; and as many of 4 or less
        ([5, 4, 2], [3, 1, 0], 4),
        ([0, 2, 3], [1, 4, 5], 8),  # 10 or more: also 1 + 4 + 5, 2 + 3 + 5
        ([0, 2, 4], [1, 3, 5], 14),  # 9 or more: also 0 + 4 + 5, 1 + 3 + 5, 2 + 3 + 4
    ],
)
@pytest.mark.parametrize(("scale", "shift"), [(1.0, 0.0), (0.1, 0.0), (0.7, 100.1), (1 / 3, -3.3)])
def test_p_of_three_against_three_is_the_share_of_20_ways_that_are_as_far_apart(first, last, as_far, scale, shift):
    """Whatever the unit and the level: ways as far apart count though rounding leaves a trace of difference."""
    moved = [[scale * value + shift for value in part] for part in (first, last)]
    assert p_value(*moved) == pytest.approx(as_far / 20)


def test_p_of_four_against_four_by_hand():
    """Sums of four of 0 to 7 lie about 14: only one is as high as 22 and one 21, and two are as low in return."""
    assert p_value([0, 1, 2, 3], [4, 5, 6, 7]) == pytest.approx(2 / 70)
    assert p_value([0, 1, 2, 4], [3, 5, 6, 7]) == pytest.approx(4 / 70)


def test_up_to_six_repeats_all_ways_are_gone_through():
    """924 ways of drawing six of twelve, two of them as far apart."""
    assert p_value([0] * 6, [1] * 6) == pytest.approx(2 / 924)


@pytest.mark.parametrize("repeats", [7, 8])
def test_with_more_repeats_ways_are_drawn_and_the_one_that_happened_is_among_them(repeats):
    """Of 2000 ways, so that p is so many two-thousandths: one at least, though 2 of 3432 or 12870 would be fewer."""
    ways = 2000 * p_value([0] * repeats, [1] * repeats)
    assert ways == pytest.approx(round(ways))
    assert 1 <= round(ways) <= 8


def test_repeats_are_looked_at_from_three_to_one_a_day_of_a_usual_wear():
    table = plan_repeats(0.0, known(12.0), 1)
    assert table["repeats"].tolist() == [3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14]
    assert (table["chance_told"] - 0.1).abs().max() < 0.06  # nothing to find: one in ten, four standard errors


@pytest.mark.parametrize("sd_mg_dl", [6.0, 24.0])
def test_a_difference_of_one_spread_is_found_as_often_whatever_the_spread(sd_mg_dl):
    power = TTestIndPower().power(1.0, nobs1=5, alpha=0.10)
    found = trial_design._chance(sd_mg_dl, 5, known(sd_mg_dl), 1)
    assert found == pytest.approx(power, abs=0.08)  # three standard errors are 0.075
    assert found == trial_design._chance(12.0, 5, known(12.0), 1)


def test_three_against_three_find_a_difference_beyond_doubt():
    """Two of the 20 ways are as far apart: p is 0.10 just, which is enough."""
    assert trial_design._chance(1000.0, 3, known(12.0), 1) == 1.0


class Found:
    """A chance that is as told from a difference on; asked too often, a search that does not end."""

    def __init__(self, threshold: float, chance: float = 1.0) -> None:
        self.threshold, self.chance, self.asked = threshold, chance, 0

    def __call__(self, difference_mg_dl: float, n: int, spread: EatingSpread, seed: int) -> float:
        self.asked += 1
        assert self.asked < 50
        return self.chance if difference_mg_dl >= self.threshold else 0.0


@pytest.mark.parametrize("threshold", [0.2, 3.0, 6.61, 7.1, 11.99, 15.0])
@pytest.mark.parametrize("sd_mg_dl", [1.6, 1.76, 2.0])
def test_the_smallest_difference_is_found_to_half_a_mg_dl(monkeypatch, threshold, sd_mg_dl):
    monkeypatch.setattr(trial_design, "_chance", Found(threshold))
    assert 0 <= find_smallest_difference(8, known(sd_mg_dl), 1) - threshold <= 0.5


def test_the_search_halves_ten_spreads_until_half_a_mg_dl_is_left(monkeypatch):
    """16, 8, 4, 2, 1, 0.5 mg/dL: above 7.1 the first multiple of a half is 7.5. What nothing finds is ten spreads."""
    monkeypatch.setattr(trial_design, "_chance", Found(7.1))
    assert find_smallest_difference(8, known(1.6), 1) == 7.5
    monkeypatch.setattr(trial_design, "_chance", Found(np.inf))
    assert find_smallest_difference(8, known(1.6), 1) == 16


def test_four_times_out_of_five_just_is_enough(monkeypatch):
    monkeypatch.setattr(trial_design, "_chance", Found(7.1, 0.8))
    assert find_smallest_difference(8, known(1.6), 1) == 7.5
    table = pd.DataFrame({"repeats": [3, 4, 5], "chance_told": [0.79, 0.8, 0.9]})
    assert choose_repeats(table) == 4
    assert choose_repeats(table.iloc[:1]) is None


def test_usable_share_by_hand():
    """The usual share of all meals is (usable + 1) / (all + 1.5), 2/3 before any; it counts as four of the dish."""
    meals = pd.DataFrame({
        "dish": ["rice"] * 3 + ["soup"] * 5, "name": "lunch", "usable_2h": [True] * 2 + [False] * 4 + [True] * 2,
    })  # fmt: skip
    usual = (4 + 1) / (8 + 1.5)
    assert usable_share(meals, "rice") == pytest.approx((2 + 4 * usual) / (3 + 4))
    assert usable_share(meals, "soup") == pytest.approx((2 + 4 * usual) / (5 + 4))
    assert usable_share(meals, "new") == pytest.approx(usual)
    assert usable_share(meals.iloc[:0], "rice") == pytest.approx(2 / 3)


def test_as_many_dates_as_are_free_can_be_drawn_and_no_more():
    free = pd.date_range("2026-03-01", periods=6)
    plan = draw_trial_dates(free, ("a", "b"), 3, 1)
    assert plan["date"].tolist() == free.tolist()
    assert sorted(plan["arm"]) == ["a", "a", "a", "b", "b", "b"]
    with pytest.raises(ValueError, match="6 dates are asked for and 5 are free"):
        draw_trial_dates(free[:5], ("a", "b"), 3, 1)
    assert draw_trial_dates(free, ("a", "b"), 0, 1).empty


def test_few_dates_lie_from_the_first_free_one_to_the_last():
    """Four among 13: every fourth."""
    free = pd.date_range("2026-03-01", periods=13)
    assert draw_trial_dates(free, ("a", "b"), 2, 1)["date"].dt.day.tolist() == [1, 5, 9, 13]
