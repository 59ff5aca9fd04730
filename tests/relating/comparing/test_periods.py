"""Are means of wears and of stretches, and the goal's chance, what their parts make them? Written out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab.relating.comparing.periods import build_periods, find_overlaps, find_stretches, tabulate_periods
from tests.relating.comparing.measured import make_bias, measured

Z = stats.norm.ppf(0.95)


def tabulated(wears, bias, goal=95.0):
    periods = build_periods(wears, bias)
    return tabulate_periods(periods, wears, bias, goal).set_index(["level", "name"])


class TestOneWear:
    def row(self, **changes):
        wear = measured("a", 0, **({"usual": 93.0, "mean": 92.0, "offset": 2.0} | changes))
        return tabulated([wear], make_bias([5.0], [[7.0]])).loc[("wear", "a")]

    def test_the_joint_bias_takes_the_own_ones_place(self):
        """The wear's own page took 2 off, all wears together say 5: three lower."""
        row = self.row()
        assert row["mean_mg_dl"] == pytest.approx(89)
        assert (row["usual_low_mg_dl"] + row["usual_high_mg_dl"]) / 2 == pytest.approx(90)
        assert row["bias_mg_dl"] == 5

    def test_intervals_of_mean_usual_mean_and_bias(self):
        row = self.row()
        assert row["mean_high_mg_dl"] - row["mean_mg_dl"] == pytest.approx(Z * np.sqrt(7 + 0.5))
        assert row["mean_mg_dl"] - row["mean_low_mg_dl"] == pytest.approx(Z * np.sqrt(7 + 0.5))
        df = (1 + 7.5) ** 2 / (1 / 9)
        assert row["usual_high_mg_dl"] - 90 == pytest.approx(stats.t.ppf(0.95, df) * np.sqrt(8.5))
        assert row["bias_high_mg_dl"] - 5 == pytest.approx(Z * np.sqrt(7))
        assert 5 - row["bias_low_mg_dl"] == pytest.approx(Z * np.sqrt(7))

    def test_the_chance_that_the_goal_was_met(self):
        """Mean 89 with a standard error of √7.5, the goal 95: below it in 986 of 1,000."""
        assert self.row()["probability_goal_met"] == pytest.approx(stats.norm.cdf((95 - 89) / np.sqrt(7.5)))
        assert self.row(mean=101.0)["probability_goal_met"] == pytest.approx(stats.norm.cdf(-3 / np.sqrt(7.5)))

    def test_spread_days_and_coverage(self):
        row = self.row(coverage=0.8)
        assert row["sd_mg_dl"] == 15
        assert row["cv_percent"] == pytest.approx(100 * 15 / 89)
        assert row["days"] == 4
        assert row["coverage"] == pytest.approx(0.8)
        assert str(row["start"].date()) == "2026-02-03"
        assert str(row["end"].date()) == "2026-02-06", "the last day worn, not the midnight at which it ended"


class TestStretch:
    wears = (
        measured("a", 0, 90.0, days=4, days_var=1.0, hours_var=0.5, df=9.0, sd=10.0, coverage=0.6),
        measured("b", 10, 100.0, days=12, days_var=0.4, hours_var=0.2, df=12.0, sd=20.0),
    )
    bias = make_bias([0.0, 0.0], [[7.0, 3.0], [3.0, 5.0]])

    def row(self):
        return tabulated(self.wears, self.bias).loc[("stretch", "a … b")]

    def test_days_weigh_alike(self):
        """Four days at 90 and twelve at 100."""
        row = self.row()
        assert row["mean_mg_dl"] == pytest.approx(97.5)
        assert row["sd_mg_dl"] == pytest.approx(np.sqrt((100 + 3 * 400) / 4))
        assert row["days"] == 16
        assert row["coverage"] == pytest.approx((4 * 0.6 + 12) / 16, abs=1e-6)

    def test_its_errors_are_the_parts_weighed(self):
        """w = (1/4, 3/4): w'Cw of the sensors, w² of days and hours, degrees of freedom added."""
        sensor = 7 / 16 + 2 * 3 * 3 / 16 + 5 * 9 / 16
        hours = 0.5 / 16 + 0.2 * 9 / 16
        days = 1.0 / 16 + 0.4 * 9 / 16
        row = self.row()
        assert row["mean_high_mg_dl"] - 97.5 == pytest.approx(Z * np.sqrt(sensor + hours))
        total = sensor + hours + days
        half = stats.t.ppf(0.95, total**2 / (days**2 / 21)) * np.sqrt(total)
        assert row["usual_high_mg_dl"] - 97.5 == pytest.approx(half)

    def test_wears_nearer_than_fourteen_days_belong_together(self):
        wears = [measured("a", 0), measured("b", 4 + 13.9), measured("c", 4 + 13.9 + 4 + 14)]
        assert find_stretches(wears) == [(0, 1), (2,)]

    def test_a_wear_within_another_ends_nothing(self):
        wears = [measured("a", 0, days=30), measured("b", 2), measured("c", 40)]
        assert find_stretches(wears) == [(0, 1, 2)]

    def test_days_seen_by_two_sensors_count_once(self):
        """Two sensors over the same four days know four days, not eight: the days' variance does not halve."""
        apart = [measured("a", 0), measured("b", 4)]
        together = [measured("a", 0), measured("b", 0)]
        bias = make_bias([0.0, 0.0], np.zeros((2, 2)))
        halves = []
        for wears in (apart, together):
            stretch = next(p for p in build_periods(wears, bias) if p.level == "stretch")
            halves.append(stretch.days_var)
        assert halves == pytest.approx([0.5, 1.0])
        row = tabulated(together, bias).xs("stretch", level="level").iloc[0]
        assert row["days"] == 4

    def test_a_wear_without_figures_is_left_aside(self):
        wears = [measured("a", 0, 90.0), measured("b", 4, np.nan, values=np.full(4 * 288, 100.0))]
        row = tabulated(wears, make_bias([0.0, 0.0], np.eye(2))).xs("stretch", level="level").iloc[0]
        assert row["mean_mg_dl"] == pytest.approx(90)


class TestSideBySide:
    def overlaps(self, hours):
        first = measured("a", 0, 100.0, days=4)
        second = measured("b", 4 - hours / 24, 110.0, days=4)
        return find_overlaps([first, second])

    def test_two_sensors_at_once_differ_by_what_their_readings_do(self):
        (pair,) = self.overlaps(12)
        assert (pair.first, pair.second, pair.difference_mg_dl) == (0, 1, -10)
        assert pair.se_mg_dl == pytest.approx(0.02 * 105), "two in a hundred of the level"

    def test_six_hours_at_once_are_enough(self):
        assert len(self.overlaps(6)) == 1
        assert len(self.overlaps(6 - 5 / 60)) == 0, "a reading less"
        assert len(self.overlaps(0)) == 0
