"""What does blood do after a meal? Curves of unit height, in five families."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

FAST, SLOW, TWO_HUMPS, LATE, USUAL = "fast", "slow", "two humps", "late", "usual"
FAMILIES = (FAST, SLOW, TWO_HUMPS, LATE, USUAL)
"""Of curves, one for all dishes of a wearer; between them they cover what trials of single meals draw."""
FULL_MIN = 600
"""How long a meal is followed [min]; assumed. The slowest curve has by then less than a twentieth of its height."""
FAST_PEAK_MIN, FAST_WIDTH = (25.0, 35.0), (0.38, 0.46)
"""Peak [min] and width in log time of a log-normal that is back by 90 min; assumed, of drinks and white bread."""
SLOW_UP_MIN, SLOW_UP_WIDTH_MIN = (45.0, 65.0), (12.0, 18.0)
"""Middle and width of the logistic that climbs [min]; assumed, of meals rich in fat and fibre."""
SLOW_DOWN_MIN, SLOW_DOWN_WIDTH_MIN = (190.0, 260.0), (35.0, 55.0)
"""Middle and width of the logistic that falls [min]; assumed: the peak is at 90-150 min, with a long tail."""
FIRST_PEAK_MIN, FIRST_WIDTH = (30.0, 40.0), (0.30, 0.40)
"""Peak [min] and width in log time of the first of two humps; assumed."""
SECOND_PEAK_MIN, SECOND_POWER, SECOND_HEIGHT = (100.0, 140.0), (10.0, 16.0), (0.5, 1.1)
"""Peak [min], power and height beside the first of the second hump; assumed."""
LATE_PEAK_MIN, LATE_POWER = (100.0, 150.0), (4.0, 7.0)
"""Peak [min] and power of a late gamma curve; assumed."""
USUAL_PEAK_MIN, USUAL_POWER = (40.0, 70.0), (2.0, 3.5)
"""Peak [min] and power of the usual gamma curve; peaks at 46-50 min on average were published of healthy adults."""
DIP_PEAK_MIN, DIP_POWER, DIP_DEPTH = (140.0, 200.0), (6.0, 9.0), (0.04, 0.16)
"""Time [min], power and depth beside the peak of the dip that follows the usual curve; assumed."""


@dataclass(frozen=True, eq=False)
class Shape:
    """The course that one dish takes.

    Attributes
    ----------
    family : str
        One of `FAMILIES`.
    height : float
        Of `raw` at its peak: what it is divided by.
    raw : callable
        Minutes since the climb began, all positive, to height in any unit.
    """

    family: str
    height: float
    raw: Callable[[np.ndarray], np.ndarray]

    def at(self, minutes: np.ndarray, onset_min: float = 0.0, stretch: float = 1.0) -> np.ndarray:
        """Height at minutes since eating, 0 before the climb and 1 at its peak, shape (n,)."""
        since = (minutes - onset_min) / stretch
        out = np.zeros(len(since))
        climbing = since > 0
        out[climbing] = self.raw(since[climbing]) / self.height
        return out


def draw_shape(rng: np.random.Generator, family: str) -> Shape:
    """A dish of that family."""
    raw = _DRAWERS[family](rng)
    return Shape(family, float(raw(np.arange(1.0, FULL_MIN)).max()), raw)


def _draw_fast(rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    return _log_normal(rng.uniform(*FAST_PEAK_MIN), rng.uniform(*FAST_WIDTH))


def _draw_slow(rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    up, up_width = rng.uniform(*SLOW_UP_MIN), rng.uniform(*SLOW_UP_WIDTH_MIN)
    down, down_width = rng.uniform(*SLOW_DOWN_MIN), rng.uniform(*SLOW_DOWN_WIDTH_MIN)

    def between(t: np.ndarray) -> np.ndarray:
        return expit((t - up) / up_width) - expit((t - down) / down_width)

    at_start = between(np.zeros(1))
    return lambda t: np.maximum(between(t) - at_start * np.exp(-t / up_width), 0.0)


def _draw_two_humps(rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    first = _log_normal(rng.uniform(*FIRST_PEAK_MIN), rng.uniform(*FIRST_WIDTH))
    second = _gamma(rng.uniform(*SECOND_PEAK_MIN), rng.uniform(*SECOND_POWER))
    height = rng.uniform(*SECOND_HEIGHT)
    return lambda t: first(t) + height * second(t)


def _draw_late(rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    return _gamma(rng.uniform(*LATE_PEAK_MIN), rng.uniform(*LATE_POWER))


def _draw_usual(rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    main = _gamma(rng.uniform(*USUAL_PEAK_MIN), rng.uniform(*USUAL_POWER))
    dip = _gamma(rng.uniform(*DIP_PEAK_MIN), rng.uniform(*DIP_POWER))
    depth = rng.uniform(*DIP_DEPTH)
    return lambda t: main(t) - depth * dip(t)


def _log_normal(peak: float, width: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda t: np.exp(-0.5 * (np.log(t / peak) / width) ** 2)


def _gamma(peak: float, power: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda t: (t / peak) ** power * np.exp(power * (1 - t / peak))


_DRAWERS = {
    FAST: _draw_fast, SLOW: _draw_slow, TWO_HUMPS: _draw_two_humps, LATE: _draw_late, USUAL: _draw_usual,
}  # fmt: skip
