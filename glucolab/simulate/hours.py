"""How does a sensor depart from itself by the hour? Smooth hills over the day, a model's own and a sensor's own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_DAY_H = np.arange(0.0, 24.0, 0.1)
"""Hours at which a hill's mean and size are found [h]; coarser moves them by less than a thousandth."""
_NIGHT_UNTIL_H = 6.0
"""The night that was measured, from midnight [h]; another would be of other hours than the published difference."""
NIGHT_SD = 0.06
"""SD between models of the departure from midnight to six, over the day's [of the level]: two sensors of two models
differ by 0.068 ± 0.035 there, the same way in 29 of 29 people, and two normal models of this SD by 0.068
on average. Smaller makes nights look easier than they are, larger harder."""
MODEL_RMS = 0.014
"""SD of the size over the day of what else a model's sensors share [of the level]: in the same pairs of sensors, two
hundredths beyond the night, over sqrt 2. Smaller makes other hours look easier, larger harder."""
OWN_RMS = 0.0255
"""SD of the size over the day of a sensor's own departure [of the level]: people's pairs differ by ± 0.035 at night,
over sqrt 2. Smaller makes it look as though a model's night told each sensor's, larger as though it told nothing."""
_EDGES = (0.06, 0.5)
"""How soft edges are, from a plateau with sides of an hour to a round hill [1]; assumed, and not the two waves that a
plain model of the day would be. Softer edges would spare the tool what waves cannot follow."""
_DEGREES = 5.0
"""Degrees of freedom of the sizes [1]: tails as of the differences between sensors. More would spare
the tool the sensors that depart most."""


@dataclass(frozen=True)
class Hill:
    """A smooth departure over the day, as wide as `long_h`, from cosine-like (`edge` 1) to a plateau (0.05).

    Attributes
    ----------
    middle_h, long_h : float
        Where it lies, and from half its height to half its height. [local h]
    edge : float
        How soft its edges are. [1]
    height : float
        Of the hill before its mean over the day is taken off; below 0 for a hollow. [of the level]
    """

    middle_h: float
    long_h: float
    edge: float
    height: float


def departure(hills: tuple[Hill, ...], hours: np.ndarray) -> np.ndarray:
    """What the hills add at local hours, of mean nil over the day, shape as given. [of the level]"""
    total = np.zeros(np.shape(hours))
    for hill in hills:
        total += hill.height * (_plain(hill, np.asarray(hours, float)) - _plain(hill, _DAY_H).mean())
    return total


def night_departure(hills: tuple[Hill, ...]) -> float:
    """Mean from midnight to six, over the day's mean. [of the level]"""
    return float(departure(hills, _DAY_H[_DAY_H < _NIGHT_UNTIL_H]).mean())


def draw_model_hills(rng: np.random.Generator) -> tuple[Hill, ...]:
    """What the sensors of one model share: a hill or hollow of the night, and one at any hour."""
    night = Hill(float(rng.normal(2.5, 1.2)), float(rng.uniform(5, 11)), float(rng.uniform(*_EDGES)), 1.0)
    size = NIGHT_SD * _heavy(rng) / night_departure((night,))
    return (Hill(night.middle_h, night.long_h, night.edge, size), _anywhere(rng, MODEL_RMS))


def draw_own_hills(rng: np.random.Generator) -> tuple[Hill, ...]:
    """What one sensor has beside its model: two hills or hollows at any hour."""
    return tuple(_anywhere(rng, OWN_RMS / np.sqrt(2)) for _ in range(2))


def _anywhere(rng: np.random.Generator, rms: float) -> Hill:
    plain = Hill(float(rng.uniform(0, 24)), float(rng.uniform(2.5, 9)), float(rng.uniform(*_EDGES)), 1.0)
    size = rms * _heavy(rng) / float(departure((plain,), _DAY_H).std())
    return Hill(plain.middle_h, plain.long_h, plain.edge, size)


def _heavy(rng: np.random.Generator) -> float:
    """A Student t of SD one."""
    return float(rng.standard_t(_DEGREES) * np.sqrt((_DEGREES - 2) / _DEGREES))


def _plain(hill: Hill, hours: np.ndarray) -> np.ndarray:
    """The hill of height one, between 0 and 1."""
    turn = 2 * np.pi / 24
    above = np.cos(turn * (hours - hill.middle_h)) - np.cos(turn * hill.long_h / 2)
    return 1 / (1 + np.exp(-above / hill.edge))
