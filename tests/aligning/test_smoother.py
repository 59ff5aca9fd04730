"""Is the smoother the Gaussian process that it says it is? Against whole matrices, for a record of few grid points.

Every matrix is written out here from the model's words: blood held over steps of five minutes, whose second
differences wander; tissue that follows it by first order; noise that fades within 25 min; white noise and rounding.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from scipy.integrate import quad
from scipy.linalg import toeplitz
from scipy.stats import multivariate_normal

from glucolab.aligning import smoother
from glucolab.aligning.smoother import Readings, Spreads, _to_grid, log_likelihood, smooth

LEVEL_VARIANCE = 1e6
"""Of each grid point's tissue, a thousand squared: says nothing. [(mg/dL)²]"""


class Units:
    """Stands in for a random generator: its normals are one after the other a single 1, so that draws are columns of a
    root of the covariance."""

    def standard_normal(self, shape):
        assert shape[0] == shape[1]
        return np.eye(shape[0])


def some_readings(seed=0, size=12, count=30):
    """Readings anywhere between grid points, some steps with none, some with several."""
    rng = np.random.default_rng(seed)
    place = np.sort(rng.uniform(0, size - 1.001, count))
    cell = np.floor(place).astype(int)
    value = 110 + 15 * np.sin(place / 3) + rng.normal(0, 2.5, count)
    return Readings(cell, place - cell, value, np.arange(size) >= size // 3)


def blood_of(size, lag_min):
    """The matrix that takes tissue at the grid points to the blood held between them: tissue moves a share of the
    way, 1 - exp(-5 / lag), to it."""
    moved = 1 - np.exp(-5 / lag_min)
    matrix = np.zeros((size - 1, size))
    for i in range(size - 1):
        matrix[i, i], matrix[i, i + 1] = -(1 - moved) / moved, 1 / moved
    return matrix


def model(readings, spreads, lag_min):
    """Prior precision of tissue, covariance of slow noise, the readings' rows over the grid, their white variance."""
    size = readings.size
    bends = np.diff(np.eye(size - 1), 2, axis=0) @ blood_of(size, lag_min)
    wander = spreads.wander[1 : size - 2] * 5.0**3
    tissue = bends.T @ np.diag(1 / wander) @ bends + np.eye(size) / LEVEL_VARIANCE
    slow = spreads.slow_noise**2 * toeplitz(np.exp(-5 * np.arange(size) / 25))
    rows = np.zeros((len(readings.cell), size))
    for i, (cell, part) in enumerate(zip(readings.cell, readings.part, strict=True)):
        rows[i, cell], rows[i, cell + 1] = 1 - part, part
    return tissue, slow, rows, spreads.white_noise**2 + 1 / 12


SPREADS = Spreads(np.linspace(0.02, 0.1, 12), 2.5, 1.2)


class TestPosterior:
    @pytest.mark.parametrize("lag_min", [3.0, 7.5, 16.0])
    def test_blood_and_its_uncertainty_are_those_of_whole_matrices(self, lag_min):
        readings = some_readings()
        tissue, slow, rows, white = model(readings, SPREADS, lag_min)
        covariance = np.linalg.inv(tissue)
        seen = rows @ (covariance + slow) @ rows.T + white * np.eye(len(rows))
        gain = covariance @ rows.T @ np.linalg.inv(seen)
        blood = blood_of(12, lag_min)
        mean = blood @ gain @ (readings.value - readings.value.mean()) + readings.value.mean()
        left = blood @ (covariance - gain @ rows @ covariance) @ blood.T
        found, drawn = smoother._solve(readings, SPREADS, lag_min, Units(), 48)
        assert found == pytest.approx(mean, rel=1e-5)
        root = drawn[:24] - found
        np.testing.assert_allclose(root.T @ root, left, rtol=1e-4, atol=1e-3)
        np.testing.assert_allclose(drawn[24:], found - root, rtol=1e-9)

    def test_an_odd_number_of_draws_leaves_the_last_one_unpaired(self):
        _, drawn = smoother._solve(some_readings(), SPREADS, 7.5, np.random.default_rng(0), 7)
        mean = smoother._solve(some_readings(), SPREADS, 7.5, None, 0)[0]
        assert drawn.shape == (7, 11)
        np.testing.assert_allclose(drawn[:3] + drawn[4:], 2 * np.tile(mean, (3, 1)), rtol=1e-9)

    @pytest.mark.parametrize("other", [
        Spreads(np.linspace(0.02, 0.1, 12) * 3, 2.5, 1.2), Spreads(np.linspace(0.1, 0.02, 12), 2.5, 1.2),
        Spreads(np.linspace(0.02, 0.1, 12), 4.0, 1.2), Spreads(np.linspace(0.02, 0.1, 12), 2.5, 0.2),
    ])  # fmt: skip
    def test_one_set_of_spreads_is_so_much_likelier_than_another_as_densities_say(self, other):
        """The same readings; the level says next to nothing, so that it matters by less than a thousandth."""
        readings = some_readings()

        def density(spreads):
            tissue, slow, rows, white = model(readings, spreads, 7.5)
            seen = rows @ (np.linalg.inv(tissue) + slow) @ rows.T + white * np.eye(len(rows))
            value = readings.value - readings.value.mean()
            return multivariate_normal(np.zeros(len(value)), seen).logpdf(value)

        found = log_likelihood(readings, other, 7.5) - log_likelihood(readings, SPREADS, 7.5)
        assert found == pytest.approx(density(other) - density(SPREADS), abs=2e-3)

    def test_two_days_without_a_reading_lead_back_to_the_readings_mean(self):
        """Ten readings that climb by 1 each, from 100 on, and nothing after: no line is drawn out to 700."""
        readings = Readings(np.arange(10), np.full(10, 0.3), 100 + np.arange(10.0), np.ones(600, bool))
        mean, _ = smooth(readings, Spreads(np.full(600, 0.02), 2.5, 1.5), 7.5)
        assert mean[-1] == pytest.approx(104.5, abs=0.01)


class TestGrid:
    @pytest.mark.parametrize("lag_min", [2.0, 6.0, 15.0])
    def test_a_cubic_that_tissue_weighs_comes_back_at_the_grid_points(self, lag_min):
        """What a step holds is blood's mean with weights that tissue gives: exp(-time to the step's end / lag). Its
        place, by quadrature of a ramp, is where a cubic through four steps is read; a cubic is read back exactly."""

        def weight(t):
            return np.exp(-(5 - t) / lag_min)

        held_at = quad(lambda t: t * weight(t), 0, 5)[0] / quad(weight, 0, 5)[0]
        curve = Polynomial([100.0, 0.7, -0.02, 0.0004])
        times = np.arange(12) * 5.0
        found = _to_grid(curve(times + held_at)[None, :], lag_min)[0]
        assert found[2:-1] == pytest.approx(curve(times)[2:-1], rel=1e-9)

    def test_of_a_lag_of_six_minutes_a_ramp_is_held_2_84_after_the_grid_point(self):
        keep = np.exp(-5 / 6)
        found = _to_grid(np.arange(10.0)[None, :] * 5, 6.0)[0]
        assert found[2:-1] == pytest.approx(np.arange(10.0)[2:-1] * 5 - (5 - 6 + 5 * keep / (1 - keep)))

    def test_smoothing_hands_over_the_grids_values(self):
        """Readings of a steady climb of 1 mg/dL per min that tissue trails by the lag: blood is a lag ahead."""
        place = np.arange(0, 59.5, 0.25)
        cell = np.floor(place).astype(int)
        readings = Readings(cell, place - cell, 60 + place * 5, np.ones(61, bool))
        mean, none = smooth(readings, Spreads(np.full(61, 1e-4), 0.5, 0.3), 7.5)
        assert mean[20:40] == pytest.approx(60 + np.arange(20, 40) * 5 + 7.5, abs=0.1)
        assert none.shape == (0, 60)


def searched(monkeypatch, likelihood, readings=None):
    """What the search finds where the readings' likelihood is a known function of the spreads."""
    monkeypatch.setattr(smoother, "log_likelihood", lambda window, spreads, lag: likelihood(spreads, window))
    monkeypatch.setattr(smoother, "_adapt", lambda readings, spreads, lag: spreads)
    return smoother.estimate_spreads(some_readings() if readings is None else readings, 7.5)


def of_spreads(found):
    """Wandering awake, of sleep over it, slow noise, white noise."""
    return [found.wander[-1], found.wander[0] / found.wander[-1], found.slow_noise, found.white_noise]


USUAL, LOOSE = np.array([0.02, 0.1, 2.5, 1.5]), np.array([1.2, 0.8, 0.35, 0.5])
"""Usual spreads and how far their logarithms lie from them, as stated."""


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
        found = smoother._best_window(readings, 450)
        assert found.value.tolist() == [v for v in cell if 288 <= v < 288 + 449]
        assert found.cell.tolist() == [v - 288 for v in cell if 288 <= v < 288 + 449]
        assert (found.part == 0.5).all()
        assert found.awake.tolist() == (np.arange(288, 288 + 450) % 2 == 0).tolist()

    def test_the_last_window_ends_with_the_record(self):
        cell = np.r_[np.arange(0, 500, 10), np.arange(500, 599)]
        readings = Readings(cell, np.zeros(len(cell)), cell * 1.0, np.ones(600, bool))
        found = smoother._best_window(readings, 101)
        assert found.value.tolist() == list(range(499 + 1, 599))
        assert found.size == 101

    @pytest.mark.parametrize(("most", "whole"), [(300, True), (299, False)])
    def test_a_short_record_is_taken_whole(self, most, whole):
        readings = Readings(np.arange(299), np.zeros(299), np.arange(299.0), np.ones(300, bool))
        assert (smoother._best_window(readings, most) is readings) == whole


class TestAdapting:
    def bending(self, monkeypatch, bends_of):
        """A posterior whose mean squared bends are a known function of the wandering, [(mg/dL)² / min³] x 5³."""

        def solve(readings, spreads, lag_min, rng, draws):
            size = np.sqrt(bends_of(spreads.wander) * 125)
            slope = np.cumsum(np.r_[0.0, size[1:-2]])
            path = np.cumsum(np.r_[0.0, slope])
            return path, np.vstack([path, -path])

        monkeypatch.setattr(smoother, "_solve", solve)
        return smoother._adapt(some_readings(), Spreads(np.full(12, 0.02), 2.5, 1.5), 7.5)

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
