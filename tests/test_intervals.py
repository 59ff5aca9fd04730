"""Are intervals as wide as they say? Each against scipy's own distributions, or a closed form written out beside it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab import intervals

SHARES = (np.arange(2000) + 0.5) / 2000
REL = 1e-9


def test_the_level_is_nine_in_ten_two_sided():
    assert intervals.CONFIDENCE == 0.9
    assert stats.norm.cdf(intervals.Z) - stats.norm.cdf(-intervals.Z) == pytest.approx(0.9, rel=REL)
    assert pytest.approx(stats.uniform.interval(0.9), rel=REL) == intervals.TAILS
    assert intervals.as_estimate(3.0, 1.0, 5.0) == {"estimate": 3.0, "low": 1.0, "high": 5.0, "level": 0.9}


class TestHalfWidth:
    def test_of_two_samples_is_welchs(self):
        """scipy's Welch interval of the difference of two means."""
        a, b = np.array([4.1, 5.9, 7.2, 4.4, 6.0]), np.array([3.0, 9.5, 2.2, 7.7, 8.1, 1.0, 6.4])
        parts = [a.var(ddof=1) / len(a), b.var(ddof=1) / len(b)]
        welch = stats.ttest_ind(a, b, equal_var=False)
        assert intervals.effective_df(parts, [len(a) - 1, len(b) - 1]) == pytest.approx(welch.df, rel=REL)
        low, high = welch.confidence_interval(0.9)
        assert intervals.half_width(parts, [len(a) - 1, len(b) - 1]) == pytest.approx((high - low) / 2, rel=REL)

    def test_of_a_known_variance_is_normal(self):
        low, high = stats.norm.interval(0.9, scale=3.0)
        assert intervals.half_width([4.0, 5.0], [np.inf, np.inf]) == pytest.approx((high - low) / 2, rel=1e-5)
        assert intervals.normal_half_width(9.0) == pytest.approx((high - low) / 2, rel=REL)

    def test_a_known_part_adds_degrees(self):
        """Total² over the estimated part's variance² / df: (4 + 5)² / (16 / 3)."""
        assert intervals.effective_df([4.0, 5.0], [3.0, np.inf]) == pytest.approx(81 / (16 / 3), rel=REL)
        expected = stats.t.ppf(0.95, 81 / (16 / 3)) * 3.0
        assert intervals.half_width([4.0, 5.0], [3.0, np.inf]) == pytest.approx(expected, rel=REL)

    def test_of_one_estimated_variance_is_students(self):
        assert intervals.half_width([4.0], [3.0]) == pytest.approx(2 * stats.t.ppf(0.95, 3), rel=REL)

    def test_of_an_unknown_variance_is_unknown(self):
        assert np.isnan(intervals.half_width([np.nan, 1.0], [3.0, np.inf]))

    def test_of_nothing_is_nothing(self):
        assert intervals.half_width([0.0, 0.0], [3.0, np.inf]) == 0.0


def test_the_largest_of_four_is_judged_by_a_quarter_of_the_tail():
    assert intervals.t_quantile(9, tests=4) == pytest.approx(stats.t.ppf(1 - 0.05 / 4, 9), rel=REL)
    assert intervals.t_quantile(9) == pytest.approx(stats.t.ppf(0.95, 9), rel=REL)


class TestWiden:
    def test_errors_add_as_variances(self):
        """A standard error of 3 and one of 4 are one of 5."""
        low, high = stats.norm.interval(0.9, loc=10.0, scale=3.0)
        expected = stats.norm.interval(0.9, loc=10.0, scale=5.0)
        assert intervals.widen(10.0, low, high, 4.0) == pytest.approx((10.0, *expected), rel=REL)

    def test_a_lopsided_interval_stays_lopsided(self):
        estimate, low, high = intervals.widen(10.0, 9.0, 14.0, 2.0 / intervals.Z)
        assert (estimate, low, high) == pytest.approx((10.0, 10 - np.sqrt(5), 10 + np.sqrt(20)), rel=REL)


class TestDrawToward:
    def test_two_normals_agree_by_the_inverse_of_their_variances(self):
        """10 with a standard error of 2, where 4 +- 1 was expected: (10/4 + 4/1) / (1/4 + 1) = 5.2, variance 0.8."""
        low, high = stats.norm.interval(0.9, loc=10.0, scale=2.0)
        expected = stats.norm.interval(0.9, loc=5.2, scale=np.sqrt(0.8))
        assert intervals.draw_toward(10.0, low, high, 4.0, 1.0) == pytest.approx((5.2, *expected), rel=REL)

    def test_a_lopsided_interval_stays_lopsided(self):
        middle, low, high = intervals.draw_toward(10.0, 9.0, 13.0, 0.0, 2.0)
        assert (high - middle) / (middle - low) == pytest.approx(3.0)


def test_a_standard_error_comes_back_from_its_interval():
    low, high = stats.norm.interval(0.9, loc=-3.0, scale=2.5)
    assert intervals.standard_errors(low, high) == pytest.approx(2.5, rel=REL)


@pytest.mark.parametrize("p", [0.2, 0.1, 0.004])
def test_two_sided_p_values_become_standard_errors(p):
    assert intervals.z_two_sided(p) == pytest.approx(stats.norm.isf(p / 2), rel=REL)
    assert intervals.z_two_sided(np.array([1.7])) == 0.0


class TestOfDraws:
    def test_central_is_between_a_twentieth_and_the_rest(self):
        draws = stats.norm.ppf(SHARES, loc=50, scale=4)
        found = intervals.interval_of_draws(draws)
        assert (found["low"], found["high"]) == pytest.approx(stats.norm.interval(0.9, 50, 4), abs=0.01)
        assert found["estimate"] == pytest.approx(50, abs=1e-6)
        low, high = intervals.central_interval(np.vstack([draws, draws + 1]), axis=1)
        assert np.column_stack([low, high]) == pytest.approx(
            np.vstack([stats.norm.interval(0.9, 50, 4), stats.norm.interval(0.9, 51, 4)]), abs=0.01
        )

    def test_a_mean_beyond_the_ends_is_held(self):
        """One draw of a hundred carries the mean past nineteen in twenty."""
        found = intervals.interval_of_draws(np.r_[np.zeros(99), 1e4])
        assert (found["low"], found["estimate"], found["high"]) == (0.0, 100.0, 100.0)
        found = intervals.interval_of_draws(np.r_[np.zeros(99), -1e4])
        assert (found["low"], found["estimate"], found["high"]) == (-100.0, -100.0, 0.0)

    def test_normal_is_the_mean_and_its_spread(self):
        draws = np.array([1.0, 2.0, 4.0, 9.0])
        found = intervals.normal_interval_of_draws(draws)
        expected = stats.norm.interval(0.9, loc=4.0, scale=draws.std(ddof=1))
        assert (found["low"], found["high"]) == pytest.approx(expected, rel=REL)
        assert found["estimate"] == 4.0

    def test_shortest_of_what_piles_up_at_nothing_begins_there(self):
        """Exponential of mean 10: the shortest nine tenths lie from 0 to 10 ln 10, by its falling density."""
        found = intervals.shortest_interval_of_draws(-10 * np.log(1 - SHARES))
        assert found["low"] == pytest.approx(0, abs=0.01)
        assert found["high"] == pytest.approx(10 * np.log(10), rel=0.02)
        assert found["estimate"] == pytest.approx(10, rel=0.01)

    def test_shortest_of_what_piles_up_at_all_ends_there(self):
        found = intervals.shortest_interval_of_draws(1440 + 10 * np.log(1 - SHARES))
        assert found["high"] == pytest.approx(1440, abs=0.01)
        assert found["low"] == pytest.approx(1440 - 10 * np.log(10), abs=0.5)

    def test_shortest_of_few_holds_two_more_than_nine_in_ten(self):
        """Of 0 … 19, the shortest span of twenty less two ones, 18 + 2 of 20: all of them; of 0 … 39, 38."""
        found = intervals.shortest_interval_of_draws(np.arange(20.0))
        assert (found["low"], found["high"]) == (0.0, 19.0)
        found = intervals.shortest_interval_of_draws(np.r_[np.arange(39.0), 100.0])
        assert (found["low"], found["high"]) == (0.0, 37.0)


class TestOfARate:
    @pytest.mark.parametrize(("count", "days"), [(1, 7.0), (12, 13.5), (40, 14.0)])
    def test_it_is_jeffreys(self, count, days):
        """The posterior of a Poisson rate under Jeffreys' prior is gamma of shape count + 1/2."""
        found = intervals.interval_of_rate(count, days)
        expected = stats.gamma.ppf([0.05, 0.95], count + 0.5) / days
        assert (found["low"], found["high"]) == pytest.approx(tuple(expected), rel=1e-6)
        assert found["estimate"] == pytest.approx(count / days)

    def test_of_nothing_seen_it_begins_at_nothing(self):
        found = intervals.interval_of_rate(0, 10.0)
        assert found["low"] == found["estimate"] == 0.0
        assert found["high"] == pytest.approx(stats.gamma.ppf(0.95, 0.5) / 10, rel=1e-6)
