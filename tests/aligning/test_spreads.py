"""Do a wear's readings choose its spreads as stated? Against known likelihoods, sums by hand, Student's weights."""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.aligning import spreads as room
from glucolab.aligning.smoother import Readings, Spreads, smooth
from tests.aligning.test_smoother import blood_of, some_readings


def searched(monkeypatch, likelihood, readings=None):
    """What the search finds where the readings' likelihood is a known function of the spreads."""
    monkeypatch.setattr(room, "log_likelihood", lambda window, spreads, lag: likelihood(spreads, window))
    monkeypatch.setattr(room, "_adapt", lambda readings, spreads, lag: spreads)
    monkeypatch.setattr(room, "_weigh", lambda readings, spreads, lag: np.ones(len(readings.value)))
    return room.estimate_spreads(some_readings() if readings is None else readings, 7.5)


def of_spreads(found):
    """Wandering awake, of sleep over it, slow noise, white noise."""
    return [found.wander[-1], found.wander[0] / found.wander[-1], found.slow_noise, found.white_noise]


LEVEL = some_readings().value.mean()
USUAL, LOOSE = np.array([0.02, 0.1, 0.045 * LEVEL, 1.5]), np.array([1.2, 0.8, 0.25, 0.5])
"""Usual spreads, the slow noise a share of the level, and how far their logarithms lie from them, as stated."""


class TestSearch:
    def test_readings_that_tell_nothing_leave_the_usual_spreads(self, monkeypatch):
        assert of_spreads(searched(monkeypatch, lambda spreads, _: 0.0)) == pytest.approx(USUAL.tolist())

    @pytest.mark.parametrize("axis", range(4))
    @pytest.mark.parametrize(("pull", "steps"), [(2.3, 2.5), (-2.3, -2.5), (1.1, 1.0), (-1.9, -2.0), (0.26, 0.5)])
    def test_each_goes_as_far_as_what_it_gains_outweighs_the_prior(self, monkeypatch, axis, pull, steps):
        """A likelihood that rises by `pull` for each SD of the prior: best at as many SDs, here to the nearest half."""

        def likelihood(spreads, _):
            return pull * (np.log(of_spreads(spreads)[axis] / USUAL[axis])) / LOOSE[axis]

        expected = USUAL.copy()
        expected[axis] *= np.exp(steps * LOOSE[axis])
        found = of_spreads(searched(monkeypatch, likelihood))
        assert found == pytest.approx(expected.tolist())

    def test_sleep_never_wanders_more_than_waking(self, monkeypatch):
        found = searched(monkeypatch, lambda spreads, _: 50 * np.log(spreads.wander[0]))
        assert found.wander[0] == found.wander[-1]

    def test_the_likelihood_is_taken_over_four_days(self, monkeypatch):
        sizes = []
        place = np.arange(1399)
        readings = Readings(place, np.zeros(1399), np.full(1399, 100.0), np.ones(1400, bool))
        searched(monkeypatch, lambda _, window: sizes.append(window.size) or 0.0, readings)
        assert set(sizes) == {4 * 288}


class TestBestWindow:
    def test_it_is_the_one_with_most_readings(self):
        """Half-days are tried, and the last window: here the third half-day begins what is best covered."""
        cell = np.r_[np.arange(0, 300, 10), np.arange(300, 760), np.arange(760, 999, 10)]
        readings = Readings(cell, np.full(len(cell), 0.5), cell * 1.0, np.arange(1000) % 2 == 0)
        found = room._best_window(readings, 450)
        assert found.value.tolist() == [v for v in cell if 288 <= v < 288 + 449]
        assert found.cell.tolist() == [v - 288 for v in cell if 288 <= v < 288 + 449]
        assert (found.part == 0.5).all()
        assert found.awake.tolist() == (np.arange(288, 288 + 450) % 2 == 0).tolist()

    def test_the_last_window_ends_with_the_record(self):
        cell = np.r_[np.arange(0, 500, 10), np.arange(500, 599)]
        readings = Readings(cell, np.zeros(len(cell)), cell * 1.0, np.ones(600, bool))
        found = room._best_window(readings, 101)
        assert found.value.tolist() == list(range(499 + 1, 599))
        assert found.size == 101

    @pytest.mark.parametrize(("most", "whole"), [(300, True), (299, False)])
    def test_a_short_record_is_taken_whole(self, most, whole):
        readings = Readings(np.arange(299), np.zeros(299), np.arange(299.0), np.ones(300, bool))
        assert (room._best_window(readings, most) is readings) == whole


class TestAdapting:
    def bending(self, monkeypatch, bends_of):
        """A posterior whose mean squared bends are a known function of the wandering, [(mg/dL)² / min³] x 5³."""
        tissue_of = np.linalg.pinv(blood_of(12, 7.5))

        def draw(readings, spreads, lag_min, rng):
            size = np.sqrt(bends_of(spreads.wander) * 125)
            slope = np.cumsum(np.r_[0.0, size[1:-2]])
            tissue = tissue_of @ np.cumsum(np.r_[0.0, slope])
            return np.column_stack([tissue, np.zeros(12)]).ravel() * np.array([[1.0], [-1.0]])

        monkeypatch.setattr(room, "_draw_states", draw)
        return room._adapt(some_readings(), Spreads(np.full(12, 0.02), 2.5, 1.5, np.ones(30)), 7.5)

    def test_nine_points_about_each_and_one_of_the_whole_wears_five_times(self, monkeypatch):
        """Bends half of what wandering lets expect: w becomes (n w / 2 + usual) / (n + 1), n points within 20 min."""
        found = self.bending(monkeypatch, lambda wander: wander / 2)
        wander = np.full(12, 0.02)
        for _ in range(5):
            # the first and the last two points have no bend of their own: their neighbour's stands for it
            bends = wander[np.clip(np.arange(12), 1, 9)] / 2
            near = [np.arange(max(i - 4, 0), min(i + 5, 12)) for i in range(12)]
            wander = np.array([(bends[n].sum() + 0.02) / (len(n) + 1) for n in near])
        assert found.wander == pytest.approx(wander, rel=1e-9)
        assert (found.slow_noise, found.white_noise) == (2.5, 1.5)

    def test_it_wanders_where_it_bends(self, monkeypatch):
        """One bend alone, of 9 (mg/dL)²: shared with the nine points about it, each with one of the usual."""
        found = self.bending(monkeypatch, lambda wander: np.eye(12)[5] * 9 / 125)
        near = np.array([len(range(max(i - 4, 0), min(i + 5, 12))) for i in range(12)])
        shared = np.where(np.abs(np.arange(12) - 5) <= 4, 9 / 125, 0.0)
        assert found.wander == pytest.approx((shared + 0.02) / (near + 1))

    def test_fifty_times_the_usual_is_the_most(self, monkeypatch):
        assert self.bending(monkeypatch, lambda wander: np.full(12, 7.0)).wander == pytest.approx(np.full(12, 1.0))


class TestTrust:
    def test_a_reading_weighs_five_over_four_and_its_squared_error(self, monkeypatch):
        """Two draws that show 100 and 104 beside a reading of 110: squares of 10 and 6, 68 in the mean, over 1.5² and
        the twelfth that rounding adds."""
        readings = Readings(np.array([3, 5]), np.array([0.25, 0.0]), np.array([110.0, 90.0]), np.ones(12, bool))
        states = np.zeros((2, 24))
        states[:, [6, 8]] = [[-2.0, -2.0], [1.0, 1.0]]  # about the readings' mean of 100
        states[:, [7, 9]] = [[2.0, 2.0], [3.0, 3.0]]
        states[:, 10] = -10.0
        found = room._weigh_by(states, readings, Spreads(np.ones(12), 2.5, 1.5, np.ones(2)))
        assert found == pytest.approx([5 / (4 + 68 / (2.25 + 1 / 12)), 5 / 4])

    def test_one_reading_far_off_hardly_bends_the_trace(self):
        """A quiet hour about 100, and one reading of 130 that no cleaning found."""
        rng = np.random.default_rng(2)
        value = 100 + rng.normal(0, 1.5, 288)
        value[150] = 130.0
        readings = Readings(np.arange(288), np.zeros(288), value, np.ones(289, bool))
        mean, _ = smooth(readings, room.estimate_spreads(readings, 7.5), 7.5)
        assert np.abs(mean[130:170] - 100).max() < 6
