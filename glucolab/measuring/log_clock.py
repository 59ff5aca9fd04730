"""Do the clocks agree? How far the log's is off the sensor's, by its meals, and one sensor's off another's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.clock import Days
from glucolab.conventions import LOGGED_AT
from glucolab.intervals import Estimate, as_estimate, normal_half_width
from glucolab.record import WearPeriod

FURTHEST_MIN = 150.0
"""Clocks further apart are not looked for [min]: meals some hours apart look alike; assumed. A wrong date or a zone
that is farther off shows otherwise (rises without a cause)."""
USUAL_APART_MIN = 60.0
"""SD of how far clocks are apart, beforehand [min]; assumed: an hour for a clock that nobody changed. Smaller draws a
clock that is off toward the right one, larger takes a meal for its neighbour in sparse logs."""
ALIKE = 3.0
"""Variance of a sum of steps over that of independent ones [1]: the trace is smooth; assumed. Smaller lets chance
outweigh what is known beforehand, larger draws clocks that are off toward the right one."""
PEAKS_MIN = (30.0, 45.0, 65.0, 95.0, 135.0)
"""Times to the peak that a person's meals may have [min]: medians of people lie at 40 to 100 and some later (references
9 and A1). The onset tells the clock, so that further early ones matter little; without the last, peaks after two hours
passed for a clock that is slow in three of four invented wearers who digest so."""
RISING = 2.2
"""Shape of a meal's rise, (t / peak)^k exp(k (1 - t / peak)) [1]: between two and three in open recordings; assumed.
Larger begins later, and the clock is found so much earlier."""
USUAL_LATE_MIN, PEOPLE_SD_MIN = 0.0, 7.0
"""Mean and SD of what is found in people whose clocks agree [min]: open recordings of 22 people, the sensor's lag taken
off. Wrong, right clocks are said to be off; too large an SD misses an hour's error in sparse logs."""
SENSORS_SD_MIN = 5.0
"""SD of how far two sensors on one body seem apart though their clocks agree [min], by their lags; assumed."""
WORTH_SAYING_MIN = 20.0
"""A clock that seems less far off is not spoken of [min]: people's meals differ by as much; assumed."""
LATE_FOOD_MIN = 55.0
"""The same of a log whose clock seems slow [min]: food that leaves the stomach late looks like it, by 30 to 45 min in
invented wearers whose responses begin so, their clocks right; glucose that rises before the meal has no such excuse.
Smaller, slow digestion is taken for a slow clock; larger, even an hour's error stays unsaid."""
MOST_G = 120.0
"""Carbohydrate beyond which a meal counts no more [g], and 30 g where none is written; assumed. It weighs alone."""
LEAST_MEALS, LEAST_DAYS = 12, 4
"""Fewer meals or days say nothing of a clock; assumed."""
WORST_SE_MIN = 40.0
"""Standard error beyond which it is not known [min]: resampled days then put it anywhere; assumed."""
_DRAWS, _SEED = 200, 20260311
"""Resampled days, and their fixed seed."""
_REACH = round(FURTHEST_MIN / GRID_MIN)


def estimate_log_clock(trace: Trace, meals: pd.DataFrame, days: Days) -> tuple[Estimate | None, str]:
    """How far the clock of the log is ahead of the sensor's.

    Parameters
    ----------
    trace : Trace
    meals : DataFrame
        Occasions that are not minor: ``time, carbs_g``.
    days : Days

    Returns
    -------
    estimate : dict or None
        Positive: meals are written later than glucose says. [min]
    withheld : str
        Why there is none, else empty.

    Notes
    -----
    The trace's steps are correlated with those of a meal's rise at every shift of the log and time to peak; the best
    one is taken. Its error is that over resampled days, and what people's meals differ by. Limits of validity: a dozen
    meals on four days; a rhythm of eating that follows glucose, or snacks before every meal, are taken for a clock.
    """
    eaten = meals[meals["carbs_g"].fillna(30.0) > 0]
    place = trace.cells(eaten["time"])
    inside = (place > -_REACH) & (place < len(trace.time) + _REACH)
    steps, known = _steps(trace)
    day = np.maximum(days.of(trace.time), 0)
    if inside.sum() < LEAST_MEALS or len(np.unique(day[known])) < LEAST_DAYS:
        return None, "Too few meals are logged within this wear to tell whether its clock agrees with the sensor's."
    size = np.sqrt(np.minimum(eaten["carbs_g"].fillna(30.0).to_numpy(dtype=float), MOST_G))
    products, squares = _correlate(place[inside], size[inside], steps, known, day)
    best, se = _resample(products, squares, ALIKE * float(np.mean(steps[known] ** 2)))
    if se > WORST_SE_MIN:
        return None, "Glucose follows the meals too loosely to tell whether the log's clock agrees with the sensor's."
    ahead, half = USUAL_LATE_MIN - best, normal_half_width(se**2 + PEOPLE_SD_MIN**2)
    return as_estimate(ahead, ahead - half, ahead + half), ""


def estimate_clocks_apart(first: Trace, second: Trace) -> Estimate | None:
    """How far the clock of the second of two sensors worn at once is ahead of the first's.

    Returns
    -------
    dict or None
        [min]; None where they share fewer than four days, or do not move alike.

    Notes
    -----
    As :func:`estimate_log_clock`, with the first sensor's steps in the place of a meal's rise.
    """
    (a, known_a), (b, known_b) = _steps(first), _steps(second)
    place = round(float(first.cells(second.time[:1])[0])) + np.arange(len(b))
    shared = known_b & (place >= 0) & (place < len(a)) & known_a[np.clip(place, 0, len(a) - 1)]
    a_day = round(1440 / GRID_MIN)
    if shared.sum() < LEAST_DAYS * a_day:
        return None
    # the second is ahead by `shift` if what it shows now the first showed so long ago
    from_place = place - np.arange(-_REACH, _REACH + 1)[:, None]
    inside = shared & (from_place >= 0) & (from_place < len(a))
    moved = np.where(inside, a[np.clip(from_place, 0, len(a) - 1)], 0.0)
    begins = np.arange(0, len(b), a_day)
    products, squares = (np.add.reduceat(part, begins, axis=1).T[:, None, :] for part in (moved * b, moved**2))
    best, se = _resample(products, squares, ALIKE * float(np.mean(b[shared] ** 2)))
    if se > WORST_SE_MIN:
        return None
    half = normal_half_width(se**2 + SENSORS_SD_MIN**2)
    return as_estimate(best, best - half, best + half)


def is_off(ahead: Estimate | None) -> bool:
    """True for a clock that is said to be off: twenty minutes or more, and surely not right."""
    return ahead is not None and abs(ahead["estimate"]) >= WORTH_SAYING_MIN and ahead["low"] * ahead["high"] > 0


def is_log_off(ahead: Estimate | None) -> bool:
    """The same of a log's clock, which is not called slow for what slow digestion may do."""
    return ahead is not None and is_off(ahead) and (ahead["estimate"] > 0 or ahead["estimate"] <= -LATE_FOOD_MIN)


def move_log(wear: WearPeriod, ahead_min: float) -> WearPeriod:
    """The wear with all that was logged by the log's clock earlier by so much. [min]"""
    by = pd.Timedelta(minutes=ahead_min)
    moved = {
        name: table.assign(**{LOGGED_AT[name]: table[LOGGED_AT[name]] - by}) if name in LOGGED_AT else table
        for name, table in wear.tables.items()
    }
    return replace(wear, tables=moved)


def word_log_clock(ahead: Estimate) -> str:
    """What is said of a log whose clock is off: the minutes, their interval, and which way."""
    size, low, high = _sizes(ahead)
    way, clock = ("later", "fast") if ahead["estimate"] > 0 else ("earlier", "slow")
    return (
        f"meals are logged about {size:.0f} min ({low:.0f} to {high:.0f}) {way} than glucose suggests they were eaten: "
        f"the clock of the log may be {clock}"
    )


def word_clocks_apart(ahead: Estimate, other: str) -> str:
    """What is said of a sensor whose clock is off another's."""
    size, low, high = _sizes(ahead)
    way = "later" if ahead["estimate"] > 0 else "earlier"
    return (
        f"the same rises come about {size:.0f} min ({low:.0f} to {high:.0f}) {way} than in {other}, worn at the same "
        f"time: one of the two clocks is off"
    )


def _sizes(ahead: Estimate) -> tuple[float, float, float]:
    """Estimate and interval without their sign, the smaller end first."""
    low, high = sorted((abs(ahead["low"]), abs(ahead["high"])))
    return abs(ahead["estimate"]), low, high


def _steps(trace: Trace) -> tuple[np.ndarray, np.ndarray]:
    """What glucose does from one grid point to the next [mg/dL], nil where not known, and where it is, shape (g,)."""
    steps = np.diff(trace.glucose_mg_dl, prepend=np.nan)
    known = ~np.isnan(steps)
    return np.where(known, steps, 0.0), known


def _correlate(
    place: np.ndarray, size: np.ndarray, steps: np.ndarray, known: np.ndarray, day: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Products of steps seen and expected, and squares of those expected, shape (days, peaks, shifts) each."""
    n, shifts = len(steps), np.arange(-_REACH, _REACH + 1)
    at = np.bincount(np.round(place).astype(int) + _REACH, size, minlength=n + 2 * _REACH + 1)
    begins = np.searchsorted(day, np.arange(day[-1] + 1))
    parts = []
    for peak in PEAKS_MIN:
        expected = np.convolve(at, _rise_steps(peak))[: len(at)]
        # a log that is written later by `shift` says that glucose moved before what is written
        moved = np.lib.stride_tricks.sliding_window_view(expected, n)[_REACH - shifts] * known
        parts.append([np.add.reduceat(rows, begins, axis=1).T for rows in (moved * steps, moved**2)])
    products, squares = np.array(parts).transpose(1, 2, 0, 3)
    return products, squares


def _rise_steps(peak_min: float) -> np.ndarray:
    """What a meal's rise of height one does in each grid step, until it is all but over."""
    times = (np.arange(round(5 * peak_min / GRID_MIN)) + 0.5) * GRID_MIN / peak_min
    return np.diff(times**RISING * np.exp(RISING * (1 - times)), prepend=0.0)


def _resample(products: np.ndarray, squares: np.ndarray, noise: float) -> tuple[float, float]:
    """The best shift of all days, and its standard error over resampled ones. [min]"""
    best = float(_best_shifts(products.sum(axis=0), squares.sum(axis=0), noise))
    days = len(products)
    drawn = np.random.default_rng(_SEED).multinomial(days, np.full(days, 1 / days), _DRAWS)
    again = _best_shifts(np.tensordot(drawn, products, 1), np.tensordot(drawn, squares, 1), noise)
    return best, float(np.sqrt(np.mean((again - best) ** 2)))


def _best_shifts(products: np.ndarray, squares: np.ndarray, noise: float) -> np.ndarray:
    """The shift at which the log tells most of what glucose did, shape (...) of (..., peaks, shifts). [min]"""
    shifts = np.arange(-_REACH, _REACH + 1) * GRID_MIN
    told = np.maximum(products, 0.0) ** 2 / np.maximum(squares, 1e-12) / noise - (shifts / USUAL_APART_MIN) ** 2
    return shifts[told.max(axis=-2).argmax(axis=-1)]
