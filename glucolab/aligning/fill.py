"""What happened where nothing was recorded? Long gaps filled from the same hours of other days."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.clock import Days

SMOOTHED_MIN = 90.0
"""Gaps up to this length keep the smoother's draws, longer ones are filled from other days; tried on invented wears.
Too long, draws run astray and widen the spread of glucose; too short, what readings nearby say is given up. [min]"""
_PIECE = 36
"""Filled from one day at a time: three hours; assumed. Too short, days mix, a gap's mean varies too little between
draws and its interval is too narrow; too long, fewer days have the whole of it. [grid points]"""


def fill_draws(
    draws: np.ndarray, gap_min: np.ndarray, slot: np.ndarray, day: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Fill each draw's long gaps with what other days showed at that time of day.

    Parameters
    ----------
    draws : numpy.ndarray, shape (k, g)
        Draws of blood; values in gaps over `SMOOTHED_MIN` are replaced. [mg/dL]
    gap_min : numpy.ndarray, shape (g,)
        Length of the gap each grid point lies in. [min]
    slot, day : numpy.ndarray of int, shape (g,)
        Five-minute place in the local day (0-287) and number of the local day.
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
    that the donors are few (Rubin & Schenker, J Am Stat Assoc 1986;81:366). It assumes that a
    missing hour was like the same hour on other days; hours missing because something unusual
    happened then are not told by anything here.
    """
    known = gap_min <= SMOOTHED_MIN
    filled = draws.copy()
    missing = np.zeros(len(known), bool)
    if known.all():
        return filled, missing
    place = np.full((day.max() + 1, 288), -1)
    place[day[known], slot[known]] = np.flatnonzero(known)
    log_weight = np.log(rng.standard_exponential((len(draws), len(place))))
    rows = np.arange(len(draws))[:, None]
    for piece in _pieces(known):
        source = place[:, slot[piece]]
        share = (source >= 0).mean(axis=1)
        usable = share >= min(0.999, share.max())
        missing_here = (source < 0).all(axis=0)
        chance = np.where(usable & (share > 0), 0.0, -np.inf)
        if not np.isfinite(chance).any():
            missing[piece] = True
            continue
        donor = np.argmax(log_weight + rng.gumbel(size=log_weight.shape) + chance, axis=1)
        cells = source[donor]
        filled[:, piece] = np.where(cells >= 0, draws[rows, cells], np.nan)
        missing[piece] |= missing_here
    return _patch(filled, missing), missing


def _pieces(known: np.ndarray) -> list[np.ndarray]:
    """Grid points of the long gaps, in runs of at most three hours."""
    gone = np.flatnonzero(~known)
    cuts = np.flatnonzero(np.diff(gone) > 1) + 1
    runs = np.split(gone, cuts)
    return [run[i : i + _PIECE] for run in runs for i in range(0, len(run), _PIECE)]


def _patch(filled: np.ndarray, missing: np.ndarray) -> np.ndarray:
    """Single points that the chosen day lacked take the draw's mean; times never recorded stay NaN."""
    holes = np.isnan(filled) & ~missing
    if holes.any():
        filled = np.where(holes, np.nanmean(np.where(missing, np.nan, filled), axis=1, keepdims=True), filled)
    return np.where(missing, np.nan, filled)


def day_slots(local_hours: np.ndarray, days: Days, times: pd.DatetimeIndex) -> tuple[np.ndarray, np.ndarray]:
    """Five-minute place in the local day and number of the day, each shape (g,)."""
    return np.floor(local_hours * 12 + 1e-6).astype(int) % 288, days.of(times)
