"""What happened where nothing was recorded? Long gaps filled from the same hours of other days, and other meals."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.clock import Days

SMOOTHED_MIN = 90.0
"""Gaps up to this length keep the smoother's draws, longer ones are filled from other days; tried on invented wears.
Too long, draws run astray and widen the spread of glucose; too short, what readings nearby say is given up. [min]"""
_PIECE = 36
"""Filled from one day at a time: three hours; assumed. Too short, days mix, a gap's mean varies too little between
draws and its interval is too narrow; too long, fewer days have the whole of it. [grid points]"""
_BEFORE = 6
"""Half an hour before a meal, which what follows it is taken over: that of a rise. [grid points]"""
LEAST_MEALS_TO_LEND = 3
"""Meals that can lend what followed them [1]; assumed. With fewer one odd meal stands for all; asking for more leaves
hours after meals to other days, whose meals were at other times."""
FADES_MIN = 30.0
"""How soon glucose forgets where it stood before the meal [min]; assumed. Longer, a meal on top of another stays too
high; shorter, it jumps where the gap begins."""
LIKE_SIZE = 0.5
"""How alike meals are that lend to each other, of log(1 + carbohydrate / 30 g) [1]: 15 g beside 40; assumed. Smaller
leaves too few, larger lends a snack's curve to a dinner."""


class Eaten(NamedTuple):
    """What was eaten when, in the order of time.

    Attributes
    ----------
    cell : numpy.ndarray of int, shape (m,)
        Grid point at or after each eating.
    carbs_g : numpy.ndarray, shape (m,)
        [g], NaN where not written.
    """

    cell: np.ndarray
    carbs_g: np.ndarray


def fill_draws(
    draws: np.ndarray, gap_min: np.ndarray, slot: np.ndarray, day: np.ndarray, eaten: Eaten, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Fill each draw's long gaps with what other days showed at that time of day, and other meals after meals.

    Parameters
    ----------
    draws : numpy.ndarray, shape (k, g)
        Draws of blood; values in gaps over `SMOOTHED_MIN` are replaced. [mg/dL]
    gap_min : numpy.ndarray, shape (g,)
        Length of the gap each grid point lies in. [min]
    slot, day : numpy.ndarray of int, shape (g,)
        Five-minute place in the local day (0-287) and number of the local day.
    eaten : Eaten
    rng : numpy.random.Generator

    Returns
    -------
    filled : numpy.ndarray, shape (k, g)
        [mg/dL]
    missing : numpy.ndarray of bool, shape (g,)
        Grid points that no day could fill: that time of day was never recorded.

    Notes
    -----
    An approximate Bayesian bootstrap: every draw weighs the days anew (Dirichlet), then takes each
    three hours of a gap from one day that has them. Weighing makes the spread between draws count
    that the donors are few (Rubin & Schenker, J Am Stat Assoc 1986;81:366). For three hours after something eaten the
    donors are the person's other meals, those of like carbohydrate first, moved to where this one began. It assumes
    that a missing hour was like the same hour on other days, or after other meals; hours missing because something
    else happened then are not told by anything here.
    """
    known = gap_min <= SMOOTHED_MIN
    filled = draws.copy()
    missing = np.zeros(len(known), bool)
    if known.all():
        return filled, missing
    place = np.full((day.max() + 1, 288), -1)
    place[day[known], slot[known]] = np.flatnonzero(known)
    of_days, of_meals = (np.log(rng.standard_exponential((len(draws), n))) for n in (len(place), len(eaten.cell)))
    meals = _Meals(eaten, known)
    rows = np.arange(len(draws))[:, None]
    for piece, meal in _pieces(known, eaten.cell):
        chance = meals.choose(meal, piece)
        if chance is not None:
            donor = np.argmax(of_meals + rng.gumbel(size=of_meals.shape) + chance, axis=1)
            here, there, since = eaten.cell[meal], eaten.cell[donor][:, None], piece - eaten.cell[meal]
            apart = _level_before(filled, np.full_like(there, here)) - _level_before(draws, there)
            filled[:, piece] = draws[rows, there + since] + apart * np.exp(-since * GRID_MIN / FADES_MIN)
            continue
        source = place[:, slot[piece]]
        share = (source >= 0).mean(axis=1)
        usable = share >= min(0.999, share.max())
        missing_here = (source < 0).all(axis=0)
        chance = np.where(usable & (share > 0), 0.0, -np.inf)
        if not np.isfinite(chance).any():
            missing[piece] = True
            continue
        donor = np.argmax(of_days + rng.gumbel(size=of_days.shape) + chance, axis=1)
        cells = source[donor]
        filled[:, piece] = np.where(cells >= 0, draws[rows, cells], np.nan)
        missing[piece] |= missing_here
    return _patch(filled, missing), missing


class _Meals:
    """Which meals may lend what followed them."""

    def __init__(self, eaten: Eaten, known: np.ndarray) -> None:
        self.eaten, self.size = eaten, np.log1p(eaten.carbs_g / 30)
        # how many points from half an hour before on are known: the first that is not ends what may be lent
        lost = np.append(np.flatnonzero(~known), len(known))
        begins = eaten.cell - _BEFORE
        unbroken = lost[np.searchsorted(lost, np.maximum(begins, 0))]
        ends = np.minimum(unbroken, np.append(eaten.cell[1:], len(known)))
        self.lends = np.where(begins >= 0, ends - eaten.cell, 0)

    def choose(self, meal: int, piece: np.ndarray) -> np.ndarray | None:
        """Logarithm of how apt each meal is for a piece after that one, shape (m,); None where too few are."""
        if meal < 0 or self.eaten.cell[meal] < _BEFORE:
            return None
        apt = self.lends > piece[-1] - self.eaten.cell[meal]
        if apt.sum() < LEAST_MEALS_TO_LEND:
            return None
        unlike = np.nan_to_num((self.size - self.size[meal]) / LIKE_SIZE)
        return np.where(apt, -0.5 * unlike**2, -np.inf)


def _level_before(draws: np.ndarray, cell: np.ndarray) -> np.ndarray:
    """Mean of each draw over the half hour before its own cell, shape (k, 1)."""
    return draws[np.arange(len(draws))[:, None], cell - np.arange(1, _BEFORE + 1)].mean(axis=1, keepdims=True)


def _pieces(known: np.ndarray, eaten: np.ndarray) -> list[tuple[np.ndarray, int]]:
    """Grid points of the long gaps in runs of at most three hours, each with the eating it follows, or -1."""
    gone = np.flatnonzero(~known)
    last = np.searchsorted(eaten, gone, side="right") - 1
    follows = np.where((last >= 0) & (gone - eaten[last] < _PIECE), last, -1) if len(eaten) else np.full(len(gone), -1)
    cuts = np.flatnonzero((np.diff(gone) > 1) | (np.diff(follows) != 0)) + 1
    runs = zip(np.split(gone, cuts), np.split(follows, cuts), strict=True)
    return [(run[i : i + _PIECE], int(of[0])) for run, of in runs for i in range(0, len(run), _PIECE)]


def _patch(filled: np.ndarray, missing: np.ndarray) -> np.ndarray:
    """Single points that the chosen day lacked take the draw's mean; times never recorded stay NaN."""
    holes = np.isnan(filled) & ~missing
    if holes.any():
        filled = np.where(holes, np.nanmean(np.where(missing, np.nan, filled), axis=1, keepdims=True), filled)
    return np.where(missing, np.nan, filled)


def day_slots(local_hours: np.ndarray, days: Days, times: pd.DatetimeIndex) -> tuple[np.ndarray, np.ndarray]:
    """Five-minute place in the local day and number of the day, each shape (g,)."""
    return np.floor(local_hours * 12 + 1e-6).astype(int) % 288, days.of(times)
