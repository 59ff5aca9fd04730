"""Are spread, chances and dates of an experiment what they are on paper? Counted by hand, and statsmodels for power."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.power import TTestPower

from glucolab.relating.planning import trial_design
from glucolab.relating.planning.trial_design import (
    EatingSpread,
    SimulatedTrials,
    choose_repeats,
    draw_trial_dates,
    estimate_eating_spread,
    find_smallest_difference,
    judge_pairs,
    plan_repeats,
    simulate_trials,
    toss_values,
    usable_share,
)
from glucolab.relating.trials.results import compare_drawn

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


def p_value(*pairs: tuple[float, float]) -> float:
    return float(judge_pairs(np.array([pairs], dtype=float), np.random.default_rng(3))[0])


@pytest.mark.parametrize(("scale", "shift"), [(1.0, 0.0), (0.1, 0.0), (0.7, 100.1), (1 / 3, -3.3)])
@pytest.mark.parametrize(
    ("differences", "as_far"),
    [
        ([1, 2, 4, 8, 16], 2),  # all one way: no other signs add up to 31
        ([-1, 2, 4, 8, 16], 4),  # 29, or 31
        ([1, 2, 4, 8, -16], 32),  # one or more: all
        ([5, 5, 5, 5, -5], 12),  # 15 or more: one of five against, or none; both ways
        ([3, 3, 1, 1, -1], 8),  # 7 or more: one of the three ones against, or none; both ways
    ],
)
def test_p_of_five_pairs_is_the_share_of_32_signs_that_are_as_far_apart(differences, as_far, scale, shift):
    """Whatever the unit and the level: ways as far apart count though rounding leaves a trace of difference."""
    levels = [30.0, 44.0, 35.0, 61.0, 28.0]
    pairs = [(scale * a + shift, scale * (a + d) + shift) for a, d in zip(levels, differences, strict=True)]
    assert p_value(*pairs) == pytest.approx(as_far / 32)


def test_a_date_that_cannot_be_judged_leaves_its_partner_to_the_same_coin():
    """Five whole pairs and one date alone: 64 ways, and the p that the analysis itself gives."""
    pairs = [(30, 41), (44, 47), (35, 52), (61, 60), (28, 33), (np.nan, 70)]
    values, in_b = np.array(pairs, float).ravel(), np.tile([False, True], 6)
    expected = compare_drawn(values, in_b, np.zeros(12, int), np.repeat(np.arange(6), 2))[3]
    assert 64 * expected == pytest.approx(round(64 * expected))
    assert p_value(*pairs) == pytest.approx(expected)


def test_with_many_pairs_ways_are_drawn_and_the_one_that_happened_is_among_them():
    """Of 2048 ways, so that p is so many of them: one at least, though 2 of 16384 would be fewer."""
    ways = 2048 * p_value(*[(0, 1)] * 14)
    assert ways == pytest.approx(round(ways))
    assert 1 <= round(ways) <= 8
    assert p_value(*[(0, 1)] * 11) == pytest.approx(2 / 2048)


def test_repeats_are_looked_at_from_five_to_one_a_day_of_a_usual_wear():
    table = plan_repeats(0.0, known(12.0), 1)
    assert table["repeats"].tolist() == [5, 6, 7, 8, 9, 10, 11, 12, 13, 14]
    assert (table["chance_told"] - 0.1).abs().max() < 0.06  # nothing to find: one in ten, four standard errors


@pytest.mark.parametrize("sd_mg_dl", [6.0, 24.0])
def test_a_difference_of_one_spread_is_found_as_often_whatever_the_spread(sd_mg_dl):
    """Differences of pairs spread √2 times as far as eatings: the power of the paired t test."""
    power = TTestPower().power(1 / np.sqrt(2), nobs=9, alpha=0.10)
    found = simulate_trials(sd_mg_dl, 9, 1.0, known(sd_mg_dl), 1).chance_told
    assert found == pytest.approx(power, abs=0.08)  # three standard errors are 0.075
    assert found == simulate_trials(12.0, 9, 1.0, known(12.0), 1).chance_told


def test_five_pairs_find_a_difference_beyond_doubt_and_seven_stop_no_sooner_than_the_last():
    sure = simulate_trials(1000.0, 5, 1.0, known(12.0), 1)
    assert (sure.chance_told, sure.chance_early, sure.dates_saved) == (1.0, 0.0, 0.0)
    sure = simulate_trials(1000.0, 7, 1.0, known(12.0), 1)
    assert (sure.chance_told, sure.chance_early, sure.dates_saved) == (1.0, 0.0, 0.0)
    sure = simulate_trials(1000.0, 10, 1.0, known(12.0), 1)
    assert (sure.chance_told, sure.chance_early) == (1.0, 1.0)
    assert sure.dates_saved == pytest.approx(0.3), "seven of ten pairs"


def test_one_date_alone_is_set_against_those_before_it():
    """The mean of 30, 40 and 20 is 30; nothing came before the first, and a pair of two missed dates says nothing."""
    values = np.array([[[np.nan, 30], [40, 20], [np.nan, np.nan], [36, np.nan], [np.nan, 41]]])
    assert toss_values(values)[0] == pytest.approx(
        [np.nan, -20, np.nan, 30 - 36, 41 - (30 + 40 + 20 + 36) / 4], nan_ok=True
    )


def test_dates_that_are_lost_lower_the_chance():
    whole, half = (simulate_trials(15.0, 10, usable, known(12.0), 1).chance_told for usable in (1.0, 0.5))
    assert half < whole - 0.2


class Found:
    """A chance that is as told from a difference on; asked too often, a search that does not end."""

    def __init__(self, threshold: float, chance: float = 1.0) -> None:
        self.threshold, self.chance, self.asked = threshold, chance, 0

    def __call__(self, difference_mg_dl, each, usable, spread, seed) -> SimulatedTrials:
        self.asked += 1
        assert self.asked < 50
        return SimulatedTrials(self.chance if difference_mg_dl >= self.threshold else 0.0, 0.0, 0.0)


@pytest.mark.parametrize("threshold", [0.2, 3.0, 6.61, 7.1, 11.99, 15.0])
@pytest.mark.parametrize("sd_mg_dl", [1.6, 1.76, 2.0])
def test_the_smallest_difference_is_found_to_half_a_mg_dl(monkeypatch, threshold, sd_mg_dl):
    monkeypatch.setattr(trial_design, "simulate_trials", Found(threshold))
    assert 0 <= find_smallest_difference(8, 0.9, known(sd_mg_dl), 1) - threshold <= 0.5


def test_the_search_halves_ten_spreads_until_half_a_mg_dl_is_left(monkeypatch):
    """16, 8, 4, 2, 1, 0.5 mg/dL: above 7.1 the first multiple of a half is 7.5. What nothing finds is ten spreads."""
    monkeypatch.setattr(trial_design, "simulate_trials", Found(7.1))
    assert find_smallest_difference(8, 0.9, known(1.6), 1) == 7.5
    monkeypatch.setattr(trial_design, "simulate_trials", Found(np.inf))
    assert find_smallest_difference(8, 0.9, known(1.6), 1) == 16


def test_four_times_out_of_five_just_is_enough(monkeypatch):
    monkeypatch.setattr(trial_design, "simulate_trials", Found(7.1, 0.8))
    assert find_smallest_difference(8, 0.9, known(1.6), 1) == 7.5
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
