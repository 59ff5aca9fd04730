"""Is the smoother the Gaussian process that it says it is? Against whole matrices, for a record of few grid points.

Every matrix is written out here from the model's words: blood held over steps of five minutes, whose second
differences wander; tissue that follows it by first order; noise that fades within 50 min; white noise and rounding.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from scipy.integrate import quad
from scipy.linalg import toeplitz
from scipy.stats import multivariate_normal

from glucolab.aligning.smoother import Readings, Spreads, _to_grid, log_likelihood, smooth, solve_states

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
    slow = spreads.slow_noise**2 * toeplitz(np.exp(-5 * np.arange(size) / 50))
    rows = np.zeros((len(readings.cell), size))
    for i, (cell, part) in enumerate(zip(readings.cell, readings.part, strict=True)):
        rows[i, cell], rows[i, cell + 1] = 1 - part, part
    return tissue, slow, rows, np.diag((spreads.white_noise**2 + 1 / 12) / spreads.trust)


TRUST = np.linspace(0.2, 1.25, 30)
"""Of each reading: some lie far off."""
SPREADS = Spreads(np.linspace(0.02, 0.1, 12), 2.5, 1.2, TRUST)


class TestPosterior:
    @pytest.mark.parametrize("lag_min", [3.0, 7.5, 16.0])
    def test_blood_and_its_uncertainty_are_those_of_whole_matrices(self, lag_min):
        readings = some_readings()
        tissue, slow, rows, white = model(readings, SPREADS, lag_min)
        covariance = np.linalg.inv(tissue)
        seen = rows @ (covariance + slow) @ rows.T + white
        gain = covariance @ rows.T @ np.linalg.inv(seen)
        blood = blood_of(12, lag_min)
        mean = blood @ gain @ (readings.value - readings.value.mean()) + readings.value.mean()
        left = blood @ (covariance - gain @ rows @ covariance) @ blood.T
        found, drawn = solve_states(readings, SPREADS, lag_min, Units(), 48)
        held = blood_of(12, lag_min)
        assert held @ found[0::2, 0] + readings.value.mean() == pytest.approx(mean, rel=1e-5)
        root = held @ drawn[0::2, :24]
        np.testing.assert_allclose(root @ root.T, left, rtol=1e-4, atol=1e-3)
        np.testing.assert_allclose(drawn[:, 24:], -drawn[:, :24], rtol=1e-9)

    def test_slow_noise_is_that_of_whole_matrices(self):
        readings = some_readings()
        tissue, slow, rows, white = model(readings, SPREADS, 7.5)
        seen = rows @ (np.linalg.inv(tissue) + slow) @ rows.T + white
        expected = slow @ rows.T @ np.linalg.solve(seen, readings.value - readings.value.mean())
        assert solve_states(readings, SPREADS, 7.5, None, 0)[0][1::2, 0] == pytest.approx(expected, abs=1e-3)

    def test_an_odd_number_of_draws_leaves_the_last_one_unpaired(self):
        _, drawn = solve_states(some_readings(), SPREADS, 7.5, np.random.default_rng(0), 7)
        assert drawn.shape == (24, 7)
        np.testing.assert_allclose(drawn[:, :3] + drawn[:, 4:], np.zeros((24, 3)), atol=1e-9)

    @pytest.mark.parametrize("other", [
        Spreads(np.linspace(0.02, 0.1, 12) * 3, 2.5, 1.2, TRUST), Spreads(np.linspace(0.1, 0.02, 12), 2.5, 1.2, TRUST),
        Spreads(np.linspace(0.02, 0.1, 12), 4.0, 1.2, TRUST), Spreads(np.linspace(0.02, 0.1, 12), 2.5, 0.2, TRUST),
        Spreads(np.linspace(0.02, 0.1, 12), 2.5, 1.2, TRUST[::-1]),
    ])  # fmt: skip
    def test_one_set_of_spreads_is_so_much_likelier_than_another_as_densities_say(self, other):
        """The same readings; the level says next to nothing, so that it matters by less than a thousandth."""
        readings = some_readings()

        def density(spreads):
            tissue, slow, rows, white = model(readings, spreads, 7.5)
            seen = rows @ (np.linalg.inv(tissue) + slow) @ rows.T + white
            value = readings.value - readings.value.mean()
            return multivariate_normal(np.zeros(len(value)), seen).logpdf(value)

        found = log_likelihood(readings, other, 7.5) - log_likelihood(readings, SPREADS, 7.5)
        assert found == pytest.approx(density(other) - density(SPREADS), abs=2e-3)

    def test_two_days_without_a_reading_lead_back_to_the_readings_mean(self):
        """Ten readings that climb by 1 each, from 100 on, and nothing after: no line is drawn out to 700."""
        readings = Readings(np.arange(10), np.full(10, 0.3), 100 + np.arange(10.0), np.ones(600, bool))
        mean, _ = smooth(readings, Spreads(np.full(600, 0.02), 2.5, 1.5, np.ones(10)), 7.5)
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
        mean, none = smooth(readings, Spreads(np.full(61, 1e-4), 0.5, 0.3, np.ones(len(cell))), 7.5)
        assert mean[20:40] == pytest.approx(60 + np.arange(20, 40) * 5 + 7.5, abs=0.1)
        assert none.shape == (0, 60)
