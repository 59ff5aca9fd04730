"""How does a sensor's bias differ by the hour? Shapes over the day, of mean nil, and what is known of them beforehand.

Two sensors on one body drift apart at night and together by day, night after night: lying, warmth and how the skin is
supplied with blood differ. The departure from a sensor's own mean bias is taken as

    h(t) = a cos ωt + b sin ωt + c cos 2ωt + d sin 2ωt,   ω = 2π / 24 h,

normal beforehand, part of it shared by the sensors of one model. Most of what they share is one shape: the night.
"""

from __future__ import annotations

import numpy as np

HOUR_PARTS = 4
"""Cosine and sine of a whole and of half a day: the model's own. In 21 open pairs of two sensors a third of a day adds
less than what chance leaves of it. [1]"""
NIGHT_MIDDLE_H, NIGHT_LONG_H = 2.5, 8.0
"""Where the shape of the night lies, in the same recordings [h]; wrong, a sensor's night is told by other hours."""
NIGHT_FRACTION = 0.06
"""SD between models of the bias from midnight to six, over the day's [of the level]: two models differ by 0.064, 21 of
21 people alike, over sqrt 2 and for one pair of models alone. Too small, a night looks surer than it is; too large,
nothing is known of it without finger-sticks on waking."""
MODEL_HOUR_FRACTION = 0.01
"""SD between models of each part beyond the night [of the level], from the same pair; too small makes mornings and
evenings look surer than they are, too large less sure."""
SENSOR_HOUR_FRACTION = 0.018
"""SD between sensors of one model of each part [of the level]: 0.024 to 0.030 between two, over sqrt 2. Too small or
large as above."""
_NIGHT_UNTIL_H = 6.0
"""Hours that `NIGHT_FRACTION` speaks of, from midnight: the night by the clock. [h]"""


def hour_shapes(hours: np.ndarray) -> np.ndarray:
    """The four shapes at local times of day, shape (n, 4).

    Parameters
    ----------
    hours : numpy.ndarray, shape (n,)
        [h]
    """
    turn = np.asarray(hours, dtype=float) * (2 * np.pi / 24)
    return np.column_stack([np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn)])


def mean_shapes(first_h: float, last_h: float) -> np.ndarray:
    """Mean of each shape from one hour to a later one, shape (4,)."""
    ends = np.array([first_h, last_h]) * (2 * np.pi / 24)
    whole = np.array([[np.sin(ends), -np.cos(ends)], [np.sin(2 * ends) / 2, -np.cos(2 * ends) / 2]]).reshape(4, 2)
    return np.diff(whole)[:, 0] / np.diff(ends)


def night_direction() -> np.ndarray:
    """Size of each shape in a night of eight hours whose mean from midnight to six is one, shape (4,)."""
    # mean of a shape over the night is half its Fourier coefficient, but for a factor common to all
    night = mean_shapes(NIGHT_MIDDLE_H - NIGHT_LONG_H / 2, NIGHT_MIDDLE_H + NIGHT_LONG_H / 2)
    return night / (night @ mean_shapes(0.0, _NIGHT_UNTIL_H))


def shared_hour_variance() -> np.ndarray:
    """Covariance of the four parts between models, relative to the level, shape (4, 4)."""
    night = night_direction()
    return NIGHT_FRACTION**2 * np.outer(night, night) + MODEL_HOUR_FRACTION**2 * np.eye(HOUR_PARTS)


def own_hour_variance() -> np.ndarray:
    """Covariance of the four parts between sensors of one model, relative to the level, shape (4, 4)."""
    return SENSOR_HOUR_FRACTION**2 * np.eye(HOUR_PARTS)
