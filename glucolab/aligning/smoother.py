"""What lies under the noise? A smoother for blood glucose seen through tissue, lag and noise.

Blood glucose B has a slope that wanders (second differences are normal); interstitial glucose I
follows it by first-order lag, exact over a step; the sensor's noise is autocorrelated n plus
white w. A reading is I + n + w at its time. All is normal and local in time, so that one banded
Cholesky factor gives the estimate, its likelihood and draws from what is left uncertain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

GRID_MIN = 5.0
"""Step of the trace; the contract's. Longer rounds peaks off, shorter costs time. [min]"""
NOISE_MEMORY_MIN = 50.0
"""Time constant of the autocorrelated sensor noise [min]: what is left between two sensors of one body, level, gain,
drift and hour removed, resembles itself by 0.82, 0.58, 0.28 and 0.09 after 15, 30, 60 and 120 min (medians of 21 open
pairs), which is 47 to 75; Breton & Kovatchev 2008's 0.7 a quarter of an hour is 42. Too short, noise passes for blood
and rises look larger and surer than they are; too long, the mean looks less sure."""
ROUNDING = 1 / 12
"""Variance that rounding to whole mg/dL adds to a reading. [(mg/dL)²]"""
_BAND = 6
"""Diagonals below the main one: the model's own, three steps of two unknowns; any other would be wrong. [1]"""
_LEVEL_PRECISION = 1e-6
"""A level prior of 1000 mg/dL a grid point: it keeps the factor sound over long gaps and says nothing else; larger, it
would pull long gaps to the wear's mean. [1 / (mg/dL)²]"""


@dataclass(frozen=True, eq=False)
class Spreads:
    """How restless each part of the signal is.

    Attributes
    ----------
    wander : numpy.ndarray, shape (g,)
        Intensity of the slope's wandering about each grid point. [(mg/dL)² / min³]
    slow_noise : float
        Standard deviation of the autocorrelated sensor noise. [mg/dL]
    white_noise : float
        Standard deviation of the white sensor noise. [mg/dL]
    trust : numpy.ndarray, shape (n,)
        What that noise's variance is divided by at each reading, 1.25 at most: Student's weight.
    """

    wander: np.ndarray
    slow_noise: float
    white_noise: float
    trust: np.ndarray


@dataclass(frozen=True, eq=False)
class Readings:
    """Usable readings placed on the grid.

    Attributes
    ----------
    cell : numpy.ndarray of int, shape (n,)
        Grid point at or before each reading; the last grid point but one at most.
    part : numpy.ndarray, shape (n,)
        How far towards the next grid point, 0-1.
    value : numpy.ndarray, shape (n,)
        [mg/dL]
    awake : numpy.ndarray of bool, shape (g,)
        For each grid point.
    """

    cell: np.ndarray
    part: np.ndarray
    value: np.ndarray
    awake: np.ndarray

    @property
    def size(self) -> int:
        """Number of grid points."""
        return len(self.awake)


def smooth(
    readings: Readings, spreads: Spreads, lag_min: float, rng: np.random.Generator | None = None, draws: int = 0
) -> tuple[np.ndarray, np.ndarray]:
    """Blood and its uncertainty on the grid, for one lag.

    Parameters
    ----------
    readings : Readings
    spreads : Spreads
    lag_min : float
        Time constant of the interstitial lag. [min]
    rng : numpy.random.Generator, optional
        Needed for draws.
    draws : int
        How many draws from the posterior.

    Returns
    -------
    mean : numpy.ndarray, shape (g - 1,)
        Posterior mean of blood as the sensor scales it. [mg/dL]
    sampled : numpy.ndarray, shape (draws, g - 1)
        Posterior draws. [mg/dL]

    Notes
    -----
    Readings are taken about their own mean. The model has no level or slope of its own: far from
    readings the uncertainty grows without bound, so that long gaps must be filled by other means.
    """
    mean, sampled = (
        held_blood(states[0::2].T, lag_min) for states in solve_states(readings, spreads, lag_min, rng, draws)
    )
    mean = mean + readings.value.mean()
    return _to_grid(mean, lag_min)[0], _to_grid(mean + sampled, lag_min)


def solve_states(
    readings: Readings, spreads: Spreads, lag_min: float, rng: np.random.Generator | None, draws: int
) -> tuple[np.ndarray, np.ndarray]:
    """Mean of tissue and slow noise in turn, about the readings' mean, and draws about it, shape (2 g, 1 and draws)."""
    band, right, _ = _precision(readings, spreads, lag_min)
    factor = _factorise(band)
    mean = lapack.dpbtrs(factor, right, lower=1)[0]
    if rng is None or not draws:
        return mean, np.empty((len(mean), 0))
    half = rng.standard_normal((band.shape[1], (draws + 1) // 2))
    spread = lapack.dtbtrs(factor, np.asfortranarray(half), uplo="L", trans="T")[0]
    # pairs of opposite draws: their mean is the estimate itself
    return mean, np.hstack([spread, -spread])[:, :draws]


def log_likelihood(readings: Readings, spreads: Spreads, lag_min: float) -> float:
    """Log marginal likelihood of the readings, up to a constant that depends on the lag only."""
    band, right, prior = _precision(readings, spreads, lag_min)
    factor = _factorise(band)
    solution = lapack.dpbtrs(factor, right, lower=1)[0]
    weight = 1 / _white_variance(spreads)
    value = readings.value - readings.value.mean()
    fit = float(weight @ value**2 - right[:, 0] @ solution[:, 0])
    return 0.5 * prior + 0.5 * np.log(weight).sum() - np.log(factor[0]).sum() - 0.5 * fit


def _white_variance(spreads: Spreads) -> np.ndarray:
    """Of each reading, shape (n,)."""
    return (spreads.white_noise**2 + ROUNDING) / spreads.trust


def held_blood(tissue: np.ndarray, lag_min: float) -> np.ndarray:
    """Blood over each step from interstitial glucose at the grid points, shape (k, g - 1)."""
    keep = np.exp(-GRID_MIN / lag_min)
    return (tissue[:, 1:] - keep * tissue[:, :-1]) / (1 - keep)


def _to_grid(held: np.ndarray, lag_min: float) -> np.ndarray:
    """Blood at the grid points from blood held over the steps after them, shape (k, g - 1).

    What a step holds is a mean that tissue weighs towards the step's end: of a ramp it is the
    value 2.8 min after the grid point at a lag of 6. A cubic through four steps moves it back.
    """
    keep = np.exp(-GRID_MIN / lag_min)
    u = lag_min / GRID_MIN - keep / (1 - keep)  # the grid point's place from the step before to its own
    weights = (
        -u * (u - 1) * (u - 2) / 6,
        (u + 1) * (u - 1) * (u - 2) / 2,
        -(u + 1) * u * (u - 2) / 2,
        (u + 1) * u * (u - 1) / 6,
    )
    padded, g = np.pad(held, ((0, 0), (2, 1)), mode="edge"), held.shape[1]
    return sum(weight * padded[:, i : i + g] for i, weight in enumerate(weights))


def _factorise(band: np.ndarray) -> np.ndarray:
    factor, info = lapack.dpbtrf(band, lower=1)
    if info:
        raise np.linalg.LinAlgError("the readings do not determine a trace")
    return factor


def _precision(readings: Readings, spreads: Spreads, lag_min: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Banded precision (lower form), right-hand side, and twice the prior's log determinant."""
    g = readings.size
    band = np.zeros((_BAND + 1, 2 * g))
    keep = np.exp(-GRID_MIN / lag_min)
    bend = np.array([-keep, 1 + 2 * keep, -(2 + keep), 1.0]) / (1 - keep)
    wander = spreads.wander[1 : g - 2] * GRID_MIN**3
    for i in range(4):
        for j in range(i, 4):
            columns = np.arange(i, i + g - 3) * 2
            band[2 * (j - i), columns] += bend[i] * bend[j] / wander
    log_prior = -np.log(wander).sum() + _add_slow_noise(band, spreads.slow_noise, g)
    weight = 1 / _white_variance(spreads)
    right = _add_readings(band, readings, weight, g)
    return band, right, log_prior


def _add_slow_noise(band: np.ndarray, deviation: float, g: int) -> float:
    memory = np.exp(-GRID_MIN / NOISE_MEMORY_MIN)
    step = deviation**2 * (1 - memory**2)
    own = np.full(g, (1 + memory**2) / step)
    own[[0, -1]] = 1 / step
    band[0, 1::2] += own
    band[2, 1:-2:2] -= memory / step
    return -2 * np.log(deviation) - (g - 1) * np.log(step)


def _add_readings(band: np.ndarray, readings: Readings, weight: np.ndarray, g: int) -> np.ndarray:
    cell, part, value = readings.cell, readings.part, readings.value - readings.value.mean()
    here, there = 1 - part, part

    def gather(values: np.ndarray, cells: np.ndarray = cell) -> np.ndarray:
        return np.bincount(cells, values * weight, minlength=g)

    at_here, at_there, between = gather(here**2), gather(there**2, cell + 1), gather(here * there)[:-1]
    own = at_here + at_there
    band[0, 0::2] += own + _LEVEL_PRECISION
    band[0, 1::2] += own
    band[1, 0::2] += own
    band[2, 0:-2:2] += between  # I here, I there
    band[3, 0:-2:2] += between  # I here, n there
    band[1, 1:-2:2] += between  # n here, I there
    band[2, 1:-2:2] += between  # n here, n there
    pull = gather(here * value) + gather(there * value, cell + 1)
    return np.repeat(pull, 2)[:, None]
