"""Does a planned experiment's table say what its lot supports, and no more?"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from glucolab.record.study_outputs import TRIAL_RESULTS
from glucolab.relating.trials import results
from glucolab.relating.trials.date_outcomes import find_trial_dates
from glucolab.relating.trials.results import compare_drawn
from tests.hand_made import at, make_table
from tests.relating.planned import drawn, eaten, plan, worn


def compare_trial_arms(wears, planned, worth_noticing_mg_dl):
    return results.compare_trial_arms(find_trial_dates(wears, planned), worth_noticing_mg_dl)


def of_rise(results):
    return results[results["outcome"] == "rise_mg_dl"].iloc[0]


def test_nothing_planned_gives_an_empty_table_with_its_columns():
    results = compare_trial_arms([worn([eaten(at("08:00"))])], make_table("trials"), 3.0)
    assert len(results) == 0
    assert list(results.columns) == TRIAL_RESULTS.names


def test_a_planned_trial_without_any_wear():
    results = compare_trial_arms([], plan(["rest", "walk"] * 4), 3.0)
    assert results["verdict"].tolist() == ["not_enough_data"] * 2
    assert results[["difference", "low", "high", "p_exact"]].isna().all(axis=None)
    assert (results[["n_a", "n_b"]] == 0).all(axis=None)


def test_a_plain_difference_is_found():
    arms = ["rest", "walk", "walk", "rest", "rest", "walk", "walk", "rest"]
    rises = [50, 30, 32, 49, 52, 31, 28, 51]
    row = of_rise(
        compare_trial_arms([worn([eaten(at("08:00", i), rise=r) for i, r in enumerate(rises)])], plan(arms), 3.0)
    )
    assert (row["arm_a"], row["arm_b"], row["n_a"], row["n_b"]) == ("rest", "walk", 4, 4)
    assert row["difference"] == pytest.approx(-20.25)
    assert row["p_exact"] == pytest.approx(2 / 70)
    assert row["low"] < -20.25 < row["high"] < 0
    assert row["verdict"] == "lower"


def test_two_usable_occasions_in_an_arm_are_not_enough():
    arms = ["rest", "walk"] * 3
    meals = [eaten(at("08:00", i), rise=30 + i, reason="gap" if i == 5 else "") for i in range(6)]
    row = of_rise(compare_trial_arms([worn(meals)], plan(arms), 3.0))
    assert (row["n_a"], row["n_b"], row["verdict"]) == (3, 2, "not_enough_data")
    assert np.isnan(row["difference"])
    assert np.isnan(row["p_exact"])


def test_one_eating_on_two_sensors_counts_once():
    meals = [eaten(at("08:00", i), rise=30 + i) for i in range(6)]
    results = compare_trial_arms([worn(meals, "left"), worn(meals, "right")], plan(["rest", "walk"] * 3), 3.0)
    assert results["n_a"].tolist() == [3, 3]


def test_another_wears_level_is_not_taken_for_an_arms():
    """All of one wear's rises are 30 higher; arms alike within each."""
    meals = [eaten(at("08:00", i), rise=(40 if i < 8 else 70) + (i * 7) % 5) for i in range(16)]
    arms = ["rest"] * 6 + ["walk"] * 2 + ["walk"] * 6 + ["rest"] * 2
    row = of_rise(compare_trial_arms([worn(meals[:8], "first"), worn(meals[8:], "second")], plan(arms), 3.0))
    assert abs(row["difference"]) < 3
    assert row["verdict"] in ("cannot_tell_yet", "too_small_to_matter")


def test_one_of_each_arm_in_three_wears_has_too_few_ways():
    """Three pairs can be drawn in eight ways: p is 0.25 at best, so that a 90 % interval has no end."""
    meals = [eaten(at("08:00", i), rise=50 - 20 * (i % 2) + i) for i in range(6)]
    wears = [worn(meals[i : i + 2], f"wear {i}") for i in (0, 2, 4)]
    row = of_rise(compare_trial_arms(wears, plan(["rest", "walk"] * 3), 3.0))
    assert (row["n_a"], row["n_b"], row["verdict"]) == (3, 3, "not_enough_data")
    assert row[["difference", "low", "high", "p_exact"]].isna().all()


def test_every_pair_of_three_arms():
    meals = [eaten(at("08:00", i), rise=30 + i % 4) for i in range(12)]
    results = compare_trial_arms([worn(meals)], plan(["rest", "walk", "fiber"] * 4), 3.0)
    pairs = results.drop_duplicates(["arm_a", "arm_b"])[["arm_a", "arm_b"]]
    assert pairs.to_numpy().tolist() == [["fiber", "rest"], ["fiber", "walk"], ["rest", "walk"]]


@pytest.mark.parametrize("n", [2, 3])
def test_three_of_each_arm_are_the_fewest_that_can_tell(n):
    """Of 20 ways only the one seen and its mirror image are as extreme while the arms lie apart, which is 1 in 10. So
    the interval holds the shifts at which they touch: from 28 - 52 to 30 - 50."""
    rises = {2: [50, 30, 52, 28], 3: [50, 30, 51, 29, 52, 28]}[n]
    meals = [eaten(at("08:00", i), rise=r) for i, r in enumerate(rises)]
    row = of_rise(compare_trial_arms([worn(meals)], plan(["rest", "walk"] * n), 3.0))
    assert (row["n_a"], row["n_b"]) == (n, n)
    if n == 2:
        assert (row["verdict"], row[["difference", "low", "high", "p_exact"]].isna().all()) == ("not_enough_data", True)
    else:
        figures = tuple(row[["difference", "low", "high", "p_exact"]])
        assert figures == pytest.approx((-22, 28 - 52, 30 - 50, 0.1))
        assert row["verdict"] == "lower"


def all_ways(values, in_b, stratum):
    """Differences, strata weighed by n_a n_b / n, of each way in which the lot could have fallen, in fractions."""
    weight, sums = 0, [0]
    for s in sorted(set(stratum)):
        mine = [Fraction(v) for v, t in zip(values, stratum, strict=True) if t == s]
        k = sum(b for b, t in zip(in_b, stratum, strict=True) if t == s)
        share = Fraction(k * (len(mine) - k), len(mine))
        weight += share
        apart = [share * (Fraction(sum(way), k) - Fraction(sum(mine) - sum(way), len(mine) - k))
                 for way in combinations(mine, k)]  # fmt: skip
        sums = [one + two for one in sums for two in apart]
    return [one / weight for one in sums]


def exact_p(values, in_b, stratum, shift=0):
    """Two-sided p of a shift of the second arm."""
    left = [Fraction(v) - shift * int(b) for v, b in zip(values, in_b, strict=True)]
    ways = all_ways(left, in_b, stratum)
    seen = abs(seen_difference(left, in_b, stratum))
    return Fraction(sum(abs(way) >= seen for way in ways), len(ways))


def seen_difference(values, in_b, stratum):
    weight = total = Fraction(0)
    for s in set(stratum):
        a, b = ([v for v, arm, t in zip(values, in_b, stratum, strict=True) if t == s and arm == of] for of in (0, 1))
        share = Fraction(len(a) * len(b), len(a) + len(b))
        weight += share
        total += share * (Fraction(sum(b), len(b)) - Fraction(sum(a), len(a)))
    return total / weight


UNEVEN = [
    ([10, 20, 40, 55, 0, 6, 9, 12, 3, 7], [0, 0, 1, 1, 0, 1, 1, 1, 0, 0], [0, 0, 0, 0, 1, 1, 1, 1, 1, 1]),
    ([30, 41, 28, 35, 52, 49, 33, 61, 44], [1, 0, 1, 0, 0, 0, 1, 0, 1], [2, 2, 2, 2, 2, 5, 5, 5, 5]),
]
"""Values, arms and strata of unequal size and share."""


@pytest.mark.parametrize(("values", "in_b", "stratum"), UNEVEN)
def test_strata_weigh_by_what_they_tell_and_every_way_counts_once(values, in_b, stratum):
    """Difference and p in fractions; the interval ends where that p passes its level, just inside and outside."""
    arrays = np.array(values, float), np.array(in_b, bool), np.array(stratum)
    difference, low, high, p_value = compare_drawn(*arrays)
    assert difference == pytest.approx(float(seen_difference(values, in_b, stratum)))
    assert p_value == pytest.approx(float(exact_p(values, in_b, stratum)), abs=1e-12)
    for level in (0.9, 0.8):
        _, low, high, _ = compare_drawn(*arrays, level=level)
        for inside, outside in ((low + 1e-6, low - 1e-6), (high - 1e-6, high + 1e-6)):
            assert exact_p(values, in_b, stratum, Fraction(inside)) > 1 - Fraction(str(level))
            assert exact_p(values, in_b, stratum, Fraction(outside)) <= 1 - Fraction(str(level))


def test_where_the_level_asks_for_a_smaller_p_than_there_is_the_interval_has_no_end():
    """Three against three: p is 2/20 at best, enough for 90 in a hundred and not for 91."""
    values, in_b = np.array([0.0, 1, 2, 10, 11, 14]), np.repeat([False, True], 3)
    assert compare_drawn(values, in_b, np.zeros(6, int), level=0.9)[1:3] == pytest.approx((8, 14))
    assert compare_drawn(values, in_b, np.zeros(6, int), level=0.91)[1:3] == (-np.inf, np.inf)


def test_where_all_are_alike_every_way_is_as_extreme():
    in_b = np.tile([False, True], 4)
    for value in (0.0, 40.1):
        difference, low, high, p_value = compare_drawn(np.full(8, value), in_b, np.zeros(8, int))
        assert (difference, low, high, p_value) == pytest.approx((0.0, 0.0, 0.0, 1.0), abs=1e-12)


class TestHowManyWaysAreGoneThrough:
    def test_two_hundred_thousand_one_by_one(self):
        """One of each of five strata of five and three of four: 200,000 ways, and p built up one by one."""
        sizes = [5] * 5 + [4] * 3
        values = np.concatenate([np.array([0.0, 1, 3, 7, 12])[:n] * (1 + i % 3) for i, n in enumerate(sizes)])
        stratum = np.repeat(np.arange(8), sizes)
        in_b = np.concatenate([np.arange(n) == n - 1 - (i % 2) for i, n in enumerate(sizes)])
        ways = Counter({0: 1})
        for s in range(8):
            mine = values[stratum == s].astype(int)
            apart = [int(20 * v - 20 // len(mine) * mine.sum()) for v in mine]  # 20 times each less their mean
            ways = sum((Counter({total + one: n for total, n in ways.items()}) for one in apart), Counter())
        seen = sum(20 * int(v) - 20 // sizes[s] * int(values[stratum == s].sum())
                   for v, s in zip(values[in_b], stratum[in_b], strict=True))  # fmt: skip
        assert ways.total() == 200_000
        as_extreme = sum(n for total, n in ways.items() if abs(total) >= abs(seen))
        assert as_extreme % 10, "no share of 20,000"
        assert compare_drawn(values, in_b, stratum)[3] == pytest.approx(as_extreme / 200_000, abs=1e-12)

    def test_of_more_twenty_thousand_are_drawn(self):
        """C(13, 6) C(9, 4) = 216,216: p is then a whole number of twenty-thousandths."""
        rng = np.random.default_rng(9)
        stratum = np.repeat([0, 1], [13, 9])
        in_b = np.concatenate([np.arange(13) < 6, np.arange(9) < 4])
        p_value = compare_drawn(rng.normal(size=22), in_b, stratum)[3]
        assert 0.001 < p_value < 0.999
        assert 20_000 * p_value == pytest.approx(round(20_000 * p_value), abs=1e-6)

    def test_the_way_that_happened_is_among_those_drawn(self):
        """Twelve against twelve that lie wholly apart: 2 of 2.7 million ways are as extreme, one of them is seen."""
        values, in_b = np.concatenate([np.arange(12.0), 100 + np.arange(12.0)]), np.repeat([False, True], 12)
        difference, low, high, p_value = compare_drawn(values, in_b, np.zeros(24, int))
        assert p_value == pytest.approx(1 / 20_000)
        assert low < difference == 100 < high


def draw_trial(rng, factor):
    """6 v 6 drawn by lot: rises autocorrelated and skewed, walking multiplies them. The interval, and the truth."""
    in_b = drawn(rng, 12)
    noise = rng.standard_normal(12)
    for i in range(1, 12):
        noise[i] = 0.4 * noise[i - 1] + np.sqrt(1 - 0.4**2) * noise[i]
    rest = 40 * np.exp(0.28 * noise)
    _, low, high, _ = compare_drawn(np.where(in_b, factor * rest, rest), in_b, np.zeros(12, int))
    return low, high, ((factor - 1) * rest).mean()


@pytest.mark.parametrize("factor", [1.0, 0.75])
def test_intervals_hold_the_truth(factor):
    """2000 trials: held 85-95 in a hundred; with nothing true, claimed at most 10 (and 2 SE of 2000 trials)."""
    rng = np.random.default_rng(int(100 * factor))
    low, high, truth = np.array([draw_trial(rng, factor) for _ in range(2000)]).T
    assert 0.85 <= np.mean((low <= truth) & (truth <= high)) <= 0.95
    claimed = np.mean((low > 0) | (high < 0))
    if factor == 1.0:
        assert claimed <= 0.10 + 2 * np.sqrt(0.09 / 2000)
    else:
        assert claimed > 0.3  # it is not held by being wide


@pytest.mark.parametrize("scale", ["0.1", "0.7", "1.3"])
def test_ways_that_tie_count_whatever_rounding_does_to_them(scale):
    """p over all ways, in fractions: decimals have no exact binary, so that equal sums differ by a bit."""
    rng = np.random.default_rng(1)
    for _ in range(40):
        numbers = [Fraction(int(n)) * Fraction(scale) for n in rng.integers(0, 6, 8)]
        in_b = np.zeros(8, bool)
        in_b[rng.permutation(8)[:4]] = True
        total = sum(numbers)
        apart = [abs(2 * sum(numbers[i] for i in way) - total) for way in combinations(range(8), 4)]
        seen = abs(2 * sum(n for n, b in zip(numbers, in_b, strict=True) if b) - total)
        exact = sum(one >= seen for one in apart) / len(apart)
        values = np.array([float(n) for n in numbers])
        if np.ptp(values) > 0:
            assert compare_drawn(values, in_b, np.zeros(8, int))[3] == pytest.approx(exact)
