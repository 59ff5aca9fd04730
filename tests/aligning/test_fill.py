"""Are missing hours filled so that lost nights do not raise the mean?"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.aligning.fill import Eaten, day_slots, fill_draws
from glucolab.clock import days_between, local_hours
from tests.hand_made import UTC, make_times

DAYS, SLOTS, DRAWS = 14, 288, 40
NOTHING = Eaten(np.empty(0, int), np.empty(0))
"""Nothing was eaten, or nothing written."""


def days_with_low_nights(seed=0):
    """Nights at 85, days at 105, each day a little different; what is true and draws about it."""
    rng = np.random.default_rng(seed)
    hours = np.tile(np.arange(SLOTS) / 12, DAYS)
    true = np.where(hours < 7, 85.0, 105.0) + np.repeat(rng.normal(0, 4, DAYS), SLOTS)
    draws = true + rng.normal(0, 1, (DRAWS, 1))
    return hours, true, draws, np.tile(np.arange(SLOTS), DAYS), np.repeat(np.arange(DAYS), SLOTS)


def test_lost_nights_raise_the_raw_mean_and_not_the_filled_one():
    raw_errors, filled_errors = [], []
    for seed in range(6):
        hours, true, draws, slot, day = days_with_low_nights(seed)
        lost = (hours < 6) & (day % 2 == 0)
        filled, missing = fill_draws(draws, np.where(lost, 360.0, 0.0), slot, day, NOTHING, np.random.default_rng(seed))
        assert not missing.any()
        assert not np.isnan(filled).any()
        raw_errors.append(true[~lost].mean() - true.mean())
        filled_errors.append(filled.mean() - true.mean())
    assert np.mean(raw_errors) > 1.5
    assert abs(np.mean(filled_errors)) < 0.5
    assert np.sqrt(np.mean(np.square(filled_errors))) < 0.5 * np.sqrt(np.mean(np.square(raw_errors)))


def test_filling_is_uncertain_and_what_was_recorded_is_kept():
    hours, _, draws, slot, day = days_with_low_nights()
    lost = (hours < 6) & (day % 2 == 0)
    filled, _ = fill_draws(draws, np.where(lost, 360.0, 0.0), slot, day, NOTHING, np.random.default_rng(0))
    assert np.array_equal(filled[:, ~lost], draws[:, ~lost])
    assert filled[:, lost].mean(axis=1).std() > draws[:, lost].mean(axis=1).std()


def test_gaps_up_to_90_min_keep_the_smoothers_draws():
    _, _, draws, slot, day = days_with_low_nights()
    gap = np.zeros(len(day))
    gap[100:118] = 90.0
    filled, _ = fill_draws(draws, gap, slot, day, NOTHING, np.random.default_rng(0))
    assert np.array_equal(filled, draws)


def test_an_hour_that_was_never_recorded_is_told_and_left_open():
    hours, _, draws, slot, day = days_with_low_nights()
    lost = (hours >= 2) & (hours < 4)
    filled, missing = fill_draws(draws, np.where(lost, 120.0, 0.0), slot, day, NOTHING, np.random.default_rng(0))
    assert missing.tolist() == lost.tolist()
    assert np.isnan(filled[:, lost]).all()
    assert not np.isnan(filled[:, ~lost]).any()


def test_the_same_seed_gives_the_same():
    hours, _, draws, slot, day = days_with_low_nights()
    gap = np.where((hours < 6) & (day % 2 == 0), 360.0, 0.0)
    one, other = (fill_draws(draws, gap, slot, day, NOTHING, np.random.default_rng(5))[0] for _ in range(2))
    assert np.array_equal(one, other)
    assert draws.std() == pytest.approx(days_with_low_nights()[2].std()), "the draws handed in are left as they were"


class Weighed:
    """A random generator that weighs the days as told."""

    def __init__(self, *weights):
        self.weights, self.rng = np.array(weights, dtype=float), np.random.default_rng(1)

    def standard_exponential(self, shape):
        if not shape[1]:
            return np.empty(shape)  # of the meals, of which there are none
        assert shape[1] == len(self.weights)
        return np.broadcast_to(self.weights, shape)

    def gumbel(self, size):
        return self.rng.gumbel(size=size)


def of_days(days, points, gaps, draws=1, first=0):
    """Draws that are the number of their day times a hundred plus the place in it; gaps by (day, from, to)."""
    slot, day = np.tile(np.arange(points), days) + first, np.repeat(np.arange(days), points)
    gap = np.zeros(len(day))
    for number, begin, end in gaps:
        gap[(day == number) & (slot >= begin) & (slot < end)] = 120.0
    return np.tile(day * 100.0 + slot, (draws, 1)), gap, slot, day


class TestDonors:
    def test_the_only_other_day_lends_its_own_draws(self):
        """Whichever of the two, from the very first point on."""
        for gone, lent in ((1, 0), (0, 1)):
            drawn, gap, slot, day = of_days(2, 10, [(gone, 0, 4)], draws=3)
            drawn = drawn + np.arange(3)[:, None] * 1000
            filled, missing = fill_draws(drawn, gap, slot, day, NOTHING, np.random.default_rng(0))
            expected = drawn.copy()
            expected[:, (day == gone) & (slot < 4)] = drawn[:, (day == lent) & (slot < 4)]
            assert filled.tolist() == expected.tolist()
            assert not missing.any()

    @pytest.mark.parametrize(("gap_min", "kept"), [(90.0, True), (91.0, False)])
    def test_gaps_over_an_hour_and_a_half_are_filled(self, gap_min, kept):
        drawn, gap, slot, day = of_days(2, 10, [(1, 2, 6)])
        filled, _ = fill_draws(drawn, np.where(gap > 0, gap_min, 0.0), slot, day, NOTHING, np.random.default_rng(0))
        assert np.array_equal(filled, drawn) == kept

    def test_a_day_is_taken_as_often_as_it_weighs(self):
        """Three days that weigh 1, 2 and 7: a tenth, a fifth and seven tenths of 20 000 draws, give or take 3 SE."""
        drawn, gap, slot, day = of_days(4, 2, [(3, 0, 2)], draws=20_000)
        filled, _ = fill_draws(drawn, gap, slot, day, NOTHING, Weighed(1, 2, 7, 50))
        lent = filled[:, -1] // 100
        assert [(lent == d).mean() for d in range(4)] == pytest.approx([0.1, 0.2, 0.7, 0.0], abs=0.01)

    def test_days_are_weighed_anew_in_every_draw(self):
        """Two gaps of a day with three others: the same one fills both as often as two from Dirichlet's weights are
        the same, 2 / (3 + 1); of equal weights it would be a third."""
        drawn, gap, slot, day = of_days(4, 5, [(3, 0, 2), (3, 3, 5)], draws=20_000)
        filled, _ = fill_draws(drawn, gap, slot, day, NOTHING, np.random.default_rng(2))
        first, second = filled[:, 15] // 100, filled[:, 19] // 100
        assert (first == second).mean() == pytest.approx(0.5, abs=0.011)
        assert [(first == d).mean() for d in range(3)] == pytest.approx([1 / 3] * 3, abs=0.011)

    def test_three_hours_come_from_one_day(self):
        """Six hours are gone, and then two: 36 points, 36 and 24, each with one day's number."""
        drawn, gap, slot, day = of_days(4, 120, [(3, 10, 82), (3, 90, 114)], draws=200)
        filled, _ = fill_draws(drawn, gap, slot, day, NOTHING, np.random.default_rng(3))
        lent = (filled[:, 360:] - slot[360:]) / 100
        for begin, end in ((10, 46), (46, 82), (90, 114)):
            assert (lent[:, begin:end] == lent[:, [begin]]).all()
        for end in (46, 82, 90):
            assert (lent[:, end - 1] != lent[:, end]).any()
        assert {0, 1, 2} == set(lent[:, 10:82].ravel())

    def test_a_day_that_has_all_of_it_goes_before_one_that_lacks_a_point(self):
        drawn, gap, slot, day = of_days(3, 8, [(2, 2, 6), (0, 3, 4)], draws=50)
        filled, _ = fill_draws(drawn, gap, slot, day, NOTHING, np.random.default_rng(0))
        assert (filled[:, 18:22] == 100 + np.arange(2, 6)).all()

    def test_a_point_that_the_chosen_day_lacks_takes_the_draws_mean(self):
        """Of four points one day has three, another the fourth: what is known and lent is averaged."""
        drawn, gap, slot, day = of_days(3, 8, [(2, 2, 6), (0, 3, 4), (1, 2, 3), (1, 4, 6)])
        filled, missing = fill_draws(drawn, gap, slot, day, NOTHING, np.random.default_rng(0))
        assert not missing.any()
        own = [2, 4, 5]
        assert filled[0, 18 + np.array([0, 2, 3])].tolist() == own
        lent = [103.0, 2.0, 4.0, 5.0]  # what the other two took for what they lack, where they could
        known = drawn[0][gap == 0].tolist()
        assert filled[0, 19] == pytest.approx(np.mean(known + own + lent))

    def test_what_no_day_has_is_missing_and_the_rest_is_not(self):
        """The piece's first two points are nowhere; the other two are lent."""
        drawn, gap, slot, day = of_days(2, 8, [(1, 2, 6), (0, 2, 4)])
        filled, missing = fill_draws(drawn, gap, slot, day, NOTHING, np.random.default_rng(0))
        assert np.flatnonzero(missing).tolist() == [2, 3, 10, 11]
        assert np.isnan(filled[0, [2, 3, 10, 11]]).all()
        assert filled[0, [12, 13]].tolist() == [4, 5]


class TestMeals:
    """Four days at 100, meals at 8, 13 and 19 of 40 g, each 50 high and back after two hours: a triangle."""

    MEALS = Eaten(np.array([d * SLOTS + h * 12 for d in range(4) for h in (8, 13, 19)]), np.full(12, 40.0))

    def live(self, level=100.0):
        values = np.full(4 * SLOTS, level)
        for cell in self.MEALS.cell:
            values[cell : cell + 25] += 50 - np.abs(np.arange(25) - 12) * 50 / 12
        return values

    def fill(self, values, lost, eaten=MEALS, seed=0):
        known = np.tile(values, (DRAWS, 1)) + np.random.default_rng(1).normal(0, 2, (DRAWS, 1))
        known[:, lost] = 0.0
        gap = np.where(lost, 130.0, 0.0)
        slot, day = np.tile(np.arange(SLOTS), 4), np.repeat(np.arange(4), SLOTS)
        return fill_draws(known, gap, slot, day, eaten, np.random.default_rng(seed))

    def lose(self, *cells, count=26):
        lost = np.zeros(4 * SLOTS, bool)
        for cell in cells:
            lost[cell + 3 : cell + 3 + count] = True
        return lost

    def test_what_follows_a_meal_is_lent_by_others_at_whatever_hour(self):
        """All that followed the four breakfasts is lost: no other day has it, lunches and dinners do."""
        lost = self.lose(*self.MEALS.cell[::3])
        filled, missing = self.fill(self.live(), lost)
        assert not missing.any()
        assert filled[:, lost].mean(axis=0) == pytest.approx(self.live()[lost], abs=1.0)

    def test_without_a_log_they_stay_open(self):
        lost = self.lose(*self.MEALS.cell[::3])
        filled, missing = self.fill(self.live(), lost, NOTHING)
        assert missing.tolist() == lost.tolist()
        assert np.isnan(filled[:, lost]).all()

    def test_it_begins_where_glucose_stood_and_forgets_that_within_half_an_hour(self):
        """The second day runs 20 higher: of that, exp(-15 / 30) are left at the first lost point, and so on."""
        values = self.live()
        values[SLOTS : 2 * SLOTS] += 20
        cell = SLOTS + 13 * 12
        lost = self.lose(cell)
        filled, _ = self.fill(values, lost)
        since = np.arange(3, 29) * 5
        expected = self.live()[lost] + 20 * np.exp(-since / 30)
        # a third of the meals that may lend are those of that day, where nothing is to be moved
        assert (filled[:, lost].mean(axis=0) - expected)[:12] == pytest.approx(np.zeros(12), abs=7)
        donors = Eaten(np.delete(self.MEALS.cell, [3, 5]), np.full(10, 40.0))
        filled, _ = self.fill(values, lost, donors)
        assert filled[:, lost].mean(axis=0) == pytest.approx(expected, abs=1.0)

    def test_meals_of_like_carbohydrate_lend(self):
        """Six of 40 g rise by 50, six of 400 g are written and rise by nothing: none of those lends to a meal of 40."""
        carbs = np.tile([40.0, 400.0], 6)
        values = np.full(4 * SLOTS, 100.0)
        for cell in self.MEALS.cell[::2]:
            values[cell : cell + 25] += 50 - np.abs(np.arange(25) - 12) * 50 / 12
        lost = self.lose(self.MEALS.cell[4])
        filled, _ = self.fill(values, lost, Eaten(self.MEALS.cell, carbs))
        assert filled[:, lost].mean(axis=0) == pytest.approx(values[lost], abs=1.0)

    @pytest.mark.parametrize(("left", "by_meals"), [(3, True), (2, False)])
    def test_three_meals_are_enough_to_lend_and_two_are_not(self, left, by_meals):
        """Of the first breakfast's hours, where every other day is flat; lunches and dinners may lend."""
        lenders = self.MEALS.cell[[1, 2, 4]][:left]
        values = np.full(4 * SLOTS, 100.0)
        for cell in lenders:
            values[cell : cell + 25] += 50 - np.abs(np.arange(25) - 12) * 50 / 12
        lost = self.lose(self.MEALS.cell[0])
        filled, _ = self.fill(values, lost, Eaten(np.append(self.MEALS.cell[0], lenders), np.full(left + 1, 40.0)))
        assert filled[:, lost].max(axis=1).mean() == pytest.approx(150 if by_meals else 100, abs=1)


def test_places_in_the_day_are_five_minutes_each():
    """Every grid point of three days, the second's number one."""
    times = make_times(3 * 288)
    days = days_between(times[0], times[-1], UTC)
    slot, day = day_slots(local_hours(times, UTC), days, times)
    assert slot.tolist() == list(range(288)) * 3
    assert day.tolist() == np.repeat([0, 1, 2], 288).tolist()
