"""How restless are blood and sensor? Spreads that a wear's own readings suggest, and which of them to trust less."""

from __future__ import annotations

import numpy as np

from glucolab.aligning.smoother import GRID_MIN, ROUNDING, Readings, Spreads, held_blood, log_likelihood, solve_states

SLOW_FRACTION = 0.045
"""Usual standard deviation of that noise [of the level]: a sensor's share of the difference is 0.054 in the same pairs,
0.040 to 0.080. Too small or large as above."""
NOISE_TAIL = 4.0
"""Degrees of freedom of the white noise; assumed. Larger, one odd reading bends the trace; smaller, sound ones that lie
a little off count for less. [1]"""
ADAPT_MIN, ADAPT_POINTS, ADAPT_ROUNDS = 40.0, 1.0, 5
"""Window in which the slope's wandering is learnt [min], weight of the whole wear's in it [grid points], repetitions;
assumed. Too wide or heavy shaves the peaks of meals off, too narrow or light follows noise."""
ADAPT_MOST = 50.0
"""Steep meals reach 20 to 40 times the whole wear's wandering, beyond is a sensor that peels; assumed. Too small, steep
peaks are shaved off; too large, a peeling sensor's noise passes for blood. [times]"""


def estimate_spreads(readings: Readings, lag_min: float, most_points: int = 1152) -> Spreads:
    """Spreads that the readings themselves suggest, held near usual ones by a weak prior.

    Parameters
    ----------
    readings : Readings
    lag_min : float
        [min]
    most_points : int
        The likelihood is taken over the best-covered window of this many grid points: four days
        tell the spreads well enough and cost little (assumed; fewer leave them to the weak prior).

    Returns
    -------
    Spreads
        Maximum a posteriori by coordinate search on the logarithms.
    """
    window = _best_window(readings, most_points)
    slow = SLOW_FRACTION * float(readings.value.mean())
    usual = np.log([0.02, 0.1, slow, 1.5])  # awake, asleep / awake, slow, white
    loose = np.array([1.2, 0.8, 0.25, 0.5])
    best, place = -np.inf, usual.copy()

    # readings far off are not to pass for restless noise
    trust = _weigh(window, _spreads_of(usual, window, np.ones(len(window.value))), lag_min)

    def score(logs: np.ndarray) -> float:
        penalty = 0.5 * (((logs - usual) / loose) ** 2).sum()
        return log_likelihood(window, _spreads_of(logs, window, trust), lag_min) - penalty

    best = score(place)
    for size in (1.0, 0.5):
        for axis in (0, 1, 3, 2):
            for direction in (1, -1):
                trial, moved = place.copy(), False
                while True:
                    trial = trial.copy()
                    trial[axis] += direction * size * loose[axis]
                    value = score(trial)
                    if value <= best:
                        break
                    best, place, moved = value, trial, True
                if moved:
                    break
    return _adapt(readings, _spreads_of(place, readings, np.ones(len(readings.value))), lag_min)


def _spreads_of(logs: np.ndarray, readings: Readings, trust: np.ndarray) -> Spreads:
    awake, ratio, slow, white = np.exp(logs)
    return Spreads(np.where(readings.awake, awake, awake * min(ratio, 1.0)), slow, white, trust)


def _adapt(readings: Readings, spreads: Spreads, lag_min: float) -> Spreads:
    """Let the slope wander more where the readings show it does, and trust those less that lie far off.

    Expectation-maximisation. The intensity's prior is the whole wear's, worth `ADAPT_POINTS` grid points, and the
    squared bends of the `ADAPT_MIN` around each point count: meals come in bursts, and the one intensity of the whole
    day shaves their peaks off. White noise is Student's with `NOISE_TAIL` degrees of freedom.
    """
    usual, rng = spreads.wander, np.random.default_rng(0)
    window = np.ones(int(ADAPT_MIN / GRID_MIN) | 1)
    for _ in range(ADAPT_ROUNDS):
        states = _draw_states(readings, spreads, lag_min, rng)
        bent = np.diff(held_blood(states[:, 0::2], lag_min), 2, axis=1)
        bends = np.pad((bent**2).mean(axis=0) / GRID_MIN**3, (1, 2), mode="edge")
        total = np.convolve(bends, window, "same") + ADAPT_POINTS * usual
        wander = total / (np.convolve(np.ones(len(bends)), window, "same") + ADAPT_POINTS)
        trust = _weigh_by(states, readings, spreads)
        spreads = Spreads(np.minimum(wander, ADAPT_MOST * usual), spreads.slow_noise, spreads.white_noise, trust)
    return spreads


def _weigh(readings: Readings, spreads: Spreads, lag_min: float) -> np.ndarray:
    """Student's weight of each reading, as these spreads have it, shape (n,)."""
    return _weigh_by(_draw_states(readings, spreads, lag_min, np.random.default_rng(0)), readings, spreads)


def _weigh_by(states: np.ndarray, readings: Readings, spreads: Spreads) -> np.ndarray:
    shown = states[:, 0::2] + states[:, 1::2]
    at = shown[:, readings.cell] * (1 - readings.part) + shown[:, readings.cell + 1] * readings.part
    squared = ((readings.value - readings.value.mean() - at) ** 2).mean(axis=0) / (spreads.white_noise**2 + ROUNDING)
    return (NOISE_TAIL + 1) / (NOISE_TAIL + squared)


def _draw_states(readings: Readings, spreads: Spreads, lag_min: float, rng: np.random.Generator) -> np.ndarray:
    """A few draws of the states, shape (16, 2 g)."""
    mean, drawn = solve_states(readings, spreads, lag_min, rng, 16)
    return (mean + drawn).T


def _best_window(readings: Readings, most: int) -> Readings:
    if readings.size <= most:
        return readings
    count = np.bincount(readings.cell, minlength=readings.size).cumsum()
    starts = np.r_[np.arange(0, readings.size - most, 144), readings.size - most]
    first = int(starts[np.argmax(count[starts + most - 1] - count[starts])])
    mine = (readings.cell >= first) & (readings.cell < first + most - 1)
    return Readings(
        readings.cell[mine] - first, readings.part[mine], readings.value[mine], readings.awake[first : first + most]
    )
