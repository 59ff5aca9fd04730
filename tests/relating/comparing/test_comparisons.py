"""Is a difference of two periods as wide as its three errors? Each figure written out by hand, quantiles by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab.aligning.bias_posterior import OF_HOURS
from glucolab.relating.comparing.comparisons import compare_blocks, compare_periods
from glucolab.relating.comparing.periods import build_periods
from tests.relating.comparing.measured import make_bias, measured

COV = [[7.0, 3.0], [3.0, 5.0]]
SENSOR = 7 + 5 - 2 * 3
DAYS, HOURS = 1.0 + 0.4, 0.5 + 0.2


def compared(first=None, second=None, *, worth=3.0, cov=COV, check_error=6.0, gap=30.0, cosines=None):
    """Two wears; `cosines`: covariance of how their sensors' biases depart by the day's cosine."""
    wears = [
        measured("a", 0, **({"usual": 100.0} | (first or {}))),
        measured("b", gap, **({"usual": 92.0, "days_var": 0.4, "hours_var": 0.2, "df": 12.0} | (second or {}))),
    ]
    bias = make_bias([0.0, 0.0], cov, check_error)
    if cosines is not None:
        bias.joint[:, OF_HOURS.start, :, OF_HOURS.start] = cosines
    table = compare_periods(build_periods(wears, bias), wears, bias, worth)
    return table[table["level"] == "wear"].iloc[0]


def degrees():
    days_df = DAYS**2 / (1.0 / 9 + 0.4**2 / 12)
    return (DAYS + HOURS + SENSOR) ** 2 / (DAYS**2 / days_df)


class TestDifference:
    def test_it_is_the_later_minus_the_earlier_with_all_errors(self):
        row = compared()
        assert (row["period_a"], row["period_b"], row["difference_mg_dl"]) == ("a", "b", -8)
        half = stats.t.ppf(0.95, degrees()) * np.sqrt(DAYS + HOURS + SENSOR)
        assert row["high_mg_dl"] - -8 == pytest.approx(half)
        assert -8 - row["low_mg_dl"] == pytest.approx(half)

    def test_the_chance_that_it_is_lower(self):
        total = np.sqrt(DAYS + HOURS + SENSOR)
        assert compared()["probability_lower"] == pytest.approx(stats.t.cdf(8 / total, degrees()))
        assert compared(second={"usual": 103.0})["probability_lower"] == pytest.approx(
            stats.t.cdf(-3 / total, degrees())
        )

    def test_shares_of_the_variance(self):
        row, total = compared(), DAYS + HOURS + SENSOR
        shares = row[["share_days", "share_hours", "share_sensor"]].astype(float).tolist()
        assert shares == pytest.approx([DAYS / total, HOURS / total, SENSOR / total])

    @pytest.mark.parametrize(("usual", "verdict"), [(92.0, "lower"), (108.0, "higher"), (98.0, "cannot_tell_yet")])
    def test_verdicts(self, usual, verdict):
        assert compared(second={"usual": usual})["verdict"] == verdict

    def test_what_is_surely_small(self):
        assert compared(second={"usual": 100.0}, worth=6.0)["verdict"] == "too_small_to_matter"

    def test_without_a_mean_nothing_is_said(self):
        row = compared(second={"usual": np.nan, "values": np.full(4 * 288, 100.0)})
        assert row["verdict"] == "not_enough_data"
        assert np.isnan(row["probability_lower"])


class TestWhatElseChanged:
    def test_circumstances_are_named(self):
        row = compared(
            {"sensor_model": "A", "site": "left arm"}, {"sensor_model": "B", "site": "left arm", "meter": "m"}
        )
        assert row["changed"] == "sensor model;meter"

    def test_nothing(self):
        assert compared()["changed"] == ""


class TestWornAtOnce:
    def test_no_change_is_claimed(self):
        row = compared(gap=2.0)
        assert (row["relation"], row["verdict"], row["largest_block"]) == ("overlapping", "cannot_tell_yet", "unclear")
        assert np.isnan(row["checks_needed"])

    def test_one_that_ends_as_the_other_begins_is_later(self):
        assert compared(gap=4.0)["relation"] == "later"


class TestLargestBlock:
    rng = np.random.default_rng(3)

    def blocks(self, n, night):
        base = np.array([90.0, 100.0, 105.0, 105.0]) + self.rng.normal(0, 3, (n, 4))
        return base + np.array([night, 0, 0, 0])

    def find(self, night, n=12):
        first, second = self.blocks(n, 0.0), self.blocks(n, night)
        row = compared({"blocks": first, "days": float(n)}, {"blocks": second, "days": float(n)}, gap=60.0)
        moved = [b - b.mean(axis=1, keepdims=True) for b in (first, second)]
        difference = (moved[1].mean(axis=0) - moved[0].mean(axis=0)) * np.sign(row["difference_mg_dl"])
        se = np.sqrt(sum(b.var(axis=0, ddof=1) / n for b in moved))
        best = int(np.argmax(difference))
        clear = difference[best] / se[best] > stats.t.ppf(1 - 0.05 / 4, n - 1)
        expected = ("night", "morning", "afternoon", "evening")[best] if clear else "unclear"
        assert row["largest_block"] == expected
        return row["largest_block"]

    def test_a_night_that_fell_most(self):
        assert self.find(-15.0) == "night"

    def test_borderline_blocks_follow_the_limit_of_four_looks(self):
        found = [self.find(night) for night in np.linspace(-6, 0, 40)]
        assert {"night", "unclear"} <= set(found)

    def test_three_days_are_too_few(self):
        assert self.find(-30.0, n=4) == "night"
        first, second = self.blocks(3, 0.0), self.blocks(3, -30.0)
        row = compared({"blocks": first, "days": 3.0}, {"blocks": second, "days": 3.0})
        assert row["largest_block"] == "unclear"


class TestLimitOfFourLooks:
    """Four days each whose night lies 1 above and below its mean in turn, the other blocks a third the other way.

    Deviations of a day's blocks from its mean are then the night's own; their mean has the variance (4 / 3) / 4 in
    either period, so that a night that falls by m has fallen √(3 / 2) m standard errors. Student's t of 3 degrees
    leaves an eightieth beyond 4.1765 (of 4 it would be 3.495, of 5 3.163).
    """

    def find(self, ratio, cosines=None, sensors=0.0):
        apart = np.array([1.0, -1.0, 1.0, -1.0])
        fall = ratio * np.sqrt(1 / 1.5 + sensors)
        first, second = (100 + np.outer(apart - m, [1, -1 / 3, -1 / 3, -1 / 3]) for m in (0.0, fall))
        return compared({"blocks": first}, {"blocks": second}, gap=60.0, cosines=cosines)["largest_block"]

    def test_beyond_it_a_block_is_named_and_below_it_not(self):
        limit = stats.t.ppf(1 - 0.05 / 4, 3)
        assert limit == pytest.approx(4.1765, abs=1e-4)
        assert self.find(limit + 1e-6) == "night"
        assert self.find(limit - 1e-6) == "unclear"

    def test_what_sensors_show_by_the_hour_counts_as_far_as_they_do_not_share_it(self):
        """Of the day's cosine a night from midnight to six keeps 2/π. Variances 3 and 2 of which 1.5 is shared leave
        3 + 2 - 2 · 1.5 = 2 between them."""
        limit = stats.t.ppf(1 - 0.05 / 4, 3)
        for cosines, left in (([[3.0, 1.5], [1.5, 2.0]], 2.0), ([[3.0, 3.0], [3.0, 3.0]], 0.0)):
            sensors = left * (2 / np.pi) ** 2
            assert self.find(limit + 1e-6, cosines, sensors) == "night"
            assert self.find(limit - 1e-6, cosines, sensors) == "unclear"


class TestChecksNeeded:
    """Two biases of variance 25, drift and meter known: n checks of error 6 leave 1 / (1/25 + n/36) of each."""

    cov = ((25.0, 0.0), (0.0, 25.0))

    def expected(self, worth, other):
        for n in range(1, 41):
            if stats.norm.ppf(0.95) * np.sqrt(2 / (1 / 25 + n / 36) + other) <= worth:
                return n
        return np.nan

    @pytest.mark.parametrize("worth", [9.0, 6.0, 4.5])
    def test_the_fewest_with_which_it_could_be_told(self, worth):
        row = compared(worth=worth, cov=self.cov)
        assert row["checks_needed"] == self.expected(worth, DAYS + HOURS)
        assert row["checks_needed"] > 0

    def test_none_where_days_alone_are_too_much_or_it_is_narrow_already(self):
        assert np.isnan(compared(worth=2.2, cov=self.cov)["checks_needed"])
        assert np.isnan(compared(worth=20.0, cov=self.cov)["checks_needed"])

    @pytest.mark.parametrize(("checks", "told"), [(39, 39), (40, 40), (41, np.nan)])
    def test_forty_are_the_most_that_are_looked_for(self, checks, told):
        """What is worth noticing lies just above the half-width with so many checks."""
        half = stats.norm.ppf(0.95) * np.sqrt(2 / (1 / 25 + checks / 36) + DAYS + HOURS)
        np.testing.assert_equal(compared(worth=half + 1e-6, cov=self.cov)["checks_needed"], told)


class TestBlockChanges:
    """Six days in each wear whose night lies 3 and then 9 below the other blocks, alternating by 1."""

    def changes(self, gap=60.0, days=6, cosines=None):
        turn = np.where(np.arange(days) % 2, 1.0, -1.0)
        wears = [
            measured(name, at, usual, days=6.0, days_var=var, hours_var=hours, df=df,
                     blocks=usual + np.outer(turn - deep, [1.0, 0.0, 0.0, 0.0]))
            for name, at, usual, var, hours, df, deep in (
                ("a", 0.0, 100.0, 1.0, 0.5, 9.0, 3.0), ("b", gap, 92.0, 0.4, 0.2, 12.0, 9.0))
        ]  # fmt: skip
        bias = make_bias([0.0, 0.0], COV)
        if cosines is not None:
            bias.joint[:, OF_HOURS.start, :, OF_HOURS.start] = cosines
        return compare_blocks(build_periods(wears, bias), wears, bias).set_index("block")

    def test_each_block_moves_with_the_whole_and_by_its_own(self):
        """From 3 to 9 below the others, a night goes from -9/4 to -27/4 of its day's mean: 4.5 further down."""
        table = self.changes()
        np.testing.assert_allclose(table["change_mg_dl"], [-8 - 4.5, -8 + 1.5, -8 + 1.5, -8 + 1.5])

    def test_the_interval_adds_days_hours_and_sensors(self):
        """A night departs from its day by 3/4 of ±1 about the mean: variance 6/5 (3/4)², a sixth of it for six days."""
        apart = 6 / 5 * (3 / 4) ** 2 / 6
        parts = np.array([1.0, 0.4, apart, apart, HOURS + SENSOR])
        total = parts.sum()
        df = total**2 / (1.0 / 9 + 0.4**2 / 12 + 2 * apart**2 / 5)
        night = self.changes().loc["night"]
        assert night["high_mg_dl"] - night["change_mg_dl"] == pytest.approx(stats.t.ppf(0.95, df) * np.sqrt(total))
        assert night["change_mg_dl"] - night["low_mg_dl"] == pytest.approx(stats.t.ppf(0.95, df) * np.sqrt(total))

    def test_what_sensors_differ_by_at_these_hours_widens_it(self):
        """Of the day's cosine a night keeps 2/π; 2 is what two sensors of 3 and 2 with 1.5 shared leave."""
        apart = 6 / 5 * (3 / 4) ** 2 / 6
        total = 1.4 + 2 * apart + HOURS + SENSOR + 2 * (2 / np.pi) ** 2
        df = total**2 / (1.0 / 9 + 0.4**2 / 12 + 2 * apart**2 / 5)
        night = self.changes(cosines=[[3.0, 1.5], [1.5, 2.0]]).loc["night"]
        assert night["high_mg_dl"] - night["change_mg_dl"] == pytest.approx(stats.t.ppf(0.95, df) * np.sqrt(total))

    def test_none_of_wears_worn_at_once_or_with_too_few_whole_days(self):
        assert self.changes(gap=2.0).empty
        assert self.changes(days=3).empty
