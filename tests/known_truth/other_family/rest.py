"""What does blood do besides meals? Level, days, rhythm, wander, movement, and snacks that nobody wrote down."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.special import expit

from tests.known_truth.other_family.curves import FULL_MIN
from tests.known_truth.other_family.living import DAY_MIN, DAYS, HOUR_MIN, Life
from tests.known_truth.other_family.traits import STEPS, Traits

MINUTES = DAYS * DAY_MIN
"""Of a wear's local days, first and last whole. [min]"""
PASSES_OVER_MIN = 15.0
"""Width of the logistic by which one day's level passes over into the next about midnight; assumed. [min]"""
STEP_WIDTH_MIN = 60.0
"""Width of the logistic by which a step of several days comes; assumed, some hours in all. [min]"""
WAVES, SINES = 80, 6
"""How many waves make a Matern process, and how many a wander of sines; assumed, more look alike."""
SINE_PERIODS = (2.0, 9.0)
"""Periods of those sines, in times of how long the wander stays alike; assumed."""
FALL_MG_DL, RISE_MG_DL = (3.0, 10.0), (3.0, 12.0)
"""What a walk takes off and hard exercise adds at most, times the wearer's scale; assumed. [mg/dL]"""
AFTER_HARD = 0.5
"""How far blood falls after hard exercise beside its rise before; assumed."""
NIBBLE_MG_DL, NIBBLE_PEAK_MIN, NIBBLE_POWER = (3.0, 12.0), (25.0, 60.0), 2.5
"""Height [mg/dL], peak [min] and power of a snack that nobody wrote down; assumed, of 5 to 15 g."""
STAY_DAYS = (2, 6)
"""Shortest stay on a level, or length of a ramp, and one more than the longest; assumed. [days]"""
DAWN_H, DAWN_WIDTH_H = 6.5, 1.3
"""When the bump at dawn is highest, and its width; assumed, within the 03-08 h that are called so. [h]"""


def make_rest(rng: np.random.Generator, traits: Traits, life: Life) -> np.ndarray:
    """All but the responses to meals, by the minute, shape (MINUTES,). [mg/dL]"""
    grid = np.arange(MINUTES, dtype=float)
    days = _step_days(rng, traits, grid) if traits.kind == STEPS else _smooth_days(rng, traits, grid)
    return (
        traits.level_mg_dl + days + follow_sleep(traits, life, grid) + _rhythm(traits, grid)
        + _wander(rng, traits, grid) + _move(rng, traits, life, grid) + _nibble(rng, traits, life, grid)
    )  # fmt: skip


def draw_t(rng: np.random.Generator, tails: float) -> float:
    """Student's t of variance 1."""
    return float(rng.standard_t(tails) / np.sqrt(tails / (tails - 2)))


def follow_sleep(traits: Traits, life: Life, grid: np.ndarray) -> np.ndarray:
    """What last night's sleep and the day's stress do to the whole local day, shape (n,)."""
    level = -traits.effects.less_sleep * (life.asleep_h - traits.asleep_h) + traits.stress_mg_dl * (life.stress - 4.5)
    midnights = np.arange(1, DAYS) * float(DAY_MIN)
    return level[0] + expit((grid[:, None] - midnights) / PASSES_OVER_MIN) @ np.diff(level)


def _smooth_days(rng: np.random.Generator, traits: Traits, grid: np.ndarray) -> np.ndarray:
    """Day effects that resemble the day before, passing over from noon to noon."""
    value = np.empty(DAYS + 2)
    value[0] = draw_t(rng, traits.tails)
    for i in range(1, len(value)):
        value[i] = traits.day_similar * value[i - 1] + np.sqrt(1 - traits.day_similar**2) * draw_t(rng, traits.tails)
    noons = (np.arange(-1, DAYS + 1) + 0.5) * DAY_MIN
    return traits.day_sd_mg_dl * PchipInterpolator(noons, np.clip(value, -4, 4))(grid)


def _step_days(rng: np.random.Generator, traits: Traits, grid: np.ndarray) -> np.ndarray:
    """Levels that stay for days, some of them sloping, with steps between at any hour."""
    out, begin = np.zeros(MINUTES), 0.0
    level = 0.0
    while begin < MINUTES:
        length = float(rng.integers(*STAY_DAYS)) * DAY_MIN + rng.uniform(-0.4, 0.4) * DAY_MIN
        target = traits.day_sd_mg_dl * rng.standard_normal()
        slope = rng.choice([0.0, 1.0]) * traits.day_sd_mg_dl * rng.standard_normal()
        inside = np.clip((grid - begin) / length, 0, 1)
        ends = target + slope
        out += (target - level) * (expit((grid - begin) / STEP_WIDTH_MIN) if begin else 1.0) + slope * inside
        level, begin = ends, begin + length
    return out - out.mean()


def _rhythm(traits: Traits, grid: np.ndarray) -> np.ndarray:
    hour = (grid / HOUR_MIN) % 24
    angle = 2 * np.pi * hour / 24
    a, b, c, d, dawn = traits.rhythm_mg_dl
    bump = dawn * np.exp(-0.5 * ((hour - DAWN_H) / DAWN_WIDTH_H) ** 2)
    return a * np.sin(angle) + b * np.cos(angle) + c * np.sin(2 * angle) + d * np.cos(2 * angle) + bump


def _wander(rng: np.random.Generator, traits: Traits, grid: np.ndarray) -> np.ndarray:
    """A Matern process of 3/2 by random waves, or a few sines whose size comes and goes."""
    if not traits.wander_sd_mg_dl:
        return np.zeros(len(grid))
    scale = traits.wander_min
    if traits.wander_is_sines:
        speed = 2 * np.pi / (scale * rng.uniform(*SINE_PERIODS, SINES))
    else:  # the spectral density of a Matern process of 3/2 is Student's t with 3 degrees of freedom
        speed = rng.standard_t(3, WAVES) / scale
    phase, swell = rng.uniform(0, 2 * np.pi, (2, len(speed)))
    waves = np.cos(grid[:, None] * speed + phase)
    if traits.wander_is_sines:
        waves *= np.sqrt(2) * np.cos(np.pi * grid[:, None] / DAY_MIN * rng.uniform(0.3, 1.0, len(speed)) + swell)
    return traits.wander_sd_mg_dl * np.sqrt(2 / len(speed)) * waves.sum(axis=1)


def _move(rng: np.random.Generator, traits: Traits, life: Life, grid: np.ndarray) -> np.ndarray:
    """Falls during walks that follow no meal; a rise in hard exercise, and a fall after."""
    out = np.zeros(len(grid))
    for begin, minutes in life.walks:
        out -= traits.movement * rng.uniform(*FALL_MG_DL) * _bump(grid - begin, minutes)
    for begin, minutes in life.workouts:
        height = traits.movement * rng.uniform(*RISE_MG_DL)
        out += height * (_bump(grid - begin, minutes) - AFTER_HARD * _bump(grid - begin - minutes, 1.5 * minutes))
    return out


def _bump(since: np.ndarray, minutes: float) -> np.ndarray:
    """Of unit height at the end of a movement, then fading as long as it took."""
    place = np.clip(since / minutes, 0, 30)
    return place**2 * np.exp(2 * (1 - place))


def _nibble(rng: np.random.Generator, traits: Traits, life: Life, grid: np.ndarray) -> np.ndarray:
    out = np.zeros(len(grid))
    for wake in life.wake:
        for begin in wake + rng.uniform(60, 15 * HOUR_MIN, rng.poisson(traits.nibbles)):
            peak = rng.uniform(*NIBBLE_PEAK_MIN)
            place = np.clip((grid - begin) / peak, 0, FULL_MIN / peak)
            out += rng.uniform(*NIBBLE_MG_DL) * place**NIBBLE_POWER * np.exp(NIBBLE_POWER * (1 - place))
    return out
