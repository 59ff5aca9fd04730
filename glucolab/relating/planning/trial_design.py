"""How is an experiment planned? Repeats for a difference worth finding, and dates whose arms are drawn by lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
import pandas as pd

from glucolab.intervals import CONFIDENCE
from glucolab.relating.effects.dishes import SAME_DISH_SD_MG_DL
from glucolab.relating.observations.meal_weights import grow_with_size
from glucolab.relating.statistics.claims import POWER
from glucolab.relating.trials.results import LEAST_OCCASIONS

OTHERS_DF, PUBLISHED_DF = 6.0, 4.0
"""How many eatings of the dish itself the person's other dishes are worth, and the published spread beside those
[eatings]; assumed. Too small makes the number of repeats follow a few odd eatings, too large ignores the dish's own."""
MOST_REPEATS = 14
"""Repeats an arm up to which a difference is looked for [1]: one a day of a usual wear in each arm; assumed. Fewer give
up on trials of two wears, more plan what nobody finishes."""
SIMULATED = 400
"""Experiments simulated for each number of repeats [1]; assumed: a chance of 0.8 is then known within 0.02 (one SE).
Fewer make the repeats advised jump about, more take longer."""
_MOST_WAYS = 2000
"""Draws of the lot that are gone through one by one [1]: up to six repeats an arm; assumed. Above it as many are drawn
at random: fewer would make p, and the chance, noisier."""
USABLE_PRIOR = 4.0
"""How many eatings of the dish the person's usual share of usable ones is worth [eatings]; assumed. Too small plans
from two or three eatings, too large plans too few dates for a dish that is often disturbed."""


@dataclass(frozen=True, eq=False)
class EatingSpread:
    """How far the rise after one dish differs from eating to eating, measurement counted in.

    Attributes
    ----------
    sd_mg_dl : numpy.ndarray, shape (SIMULATED,)
        Posterior draws. [mg/dL]
    eatings : int
        Of the dish itself.
    """

    sd_mg_dl: np.ndarray
    eatings: int

    @property
    def typical_mg_dl(self) -> float:
        """Median. [mg/dL]"""
        return float(np.median(self.sd_mg_dl))


def estimate_eating_spread(eatings: pd.DataFrame, dish: str, seed: int) -> EatingSpread:
    """Spread of one dish's rises within a wear, from its own eatings, the person's other dishes and published ones.

    Parameters
    ----------
    eatings : DataFrame
        Of :func:`glucolab.relating.effects.dishes.gather_dish_rises`.
    dish : str
    seed : int

    Notes
    -----
    A scaled inverse chi-squared: sums of squares about each dish's mean in each wear. What is known from
    other dishes is brought to this one's size, since larger rises spread more (as in `eating_weights`).
    """
    rng = np.random.default_rng(seed)
    groups = eatings.groupby(["dish", "wear"])["rise_mg_dl"]
    count = groups.transform("size")
    square = ((eatings["rise_mg_dl"] - groups.transform("mean")) ** 2).where(count > 1, 0.0)
    freedom = 1 - 1 / count
    mean = eatings.groupby("dish")["rise_mg_dl"].transform("mean")
    size = grow_with_size(mean / eatings["rise_mg_dl"].mean())
    mine = eatings["dish"] == dish
    own_size = float(size[mine].iloc[0]) if mine.any() else 1.0
    published = SAME_DISH_SD_MG_DL**2 + float(np.nanmedian(eatings["se_mg_dl"])) ** 2
    others = (PUBLISHED_DF * published + (square / size)[~mine].sum()) / (PUBLISHED_DF + freedom[~mine].sum())
    squares = OTHERS_DF * own_size * others + square[mine].sum()
    df = OTHERS_DF + freedom[mine].sum()
    return EatingSpread(np.sqrt(squares / rng.chisquare(df, SIMULATED)), int(mine.sum()))


def plan_repeats(difference_mg_dl: float, spread: EatingSpread, seed: int) -> pd.DataFrame:
    """How often each number of repeats an arm finds a difference, by simulating the experiment and its analysis.

    Parameters
    ----------
    difference_mg_dl : float
        True difference between the arms. [mg/dL]
    spread : EatingSpread
    seed : int

    Returns
    -------
    DataFrame
        ``repeats`` (usable occasions in each arm, from 3 on), ``chance_told`` (0-1): how often the 90 % interval of
        the permutation test excludes zero, each experiment with a spread drawn from the posterior.
    """
    counts = range(LEAST_OCCASIONS, MOST_REPEATS + 1)
    rows = [(n, _chance(difference_mg_dl, n, spread, seed)) for n in counts]
    return pd.DataFrame(rows, columns=["repeats", "chance_told"])


def _chance(difference_mg_dl: float, n: int, spread: EatingSpread, seed: int) -> float:
    """How often n repeats an arm find the difference; the same seed gives the same chance deviations."""
    rng = np.random.default_rng(seed)
    values = rng.standard_normal((SIMULATED, 2 * n)) * spread.sd_mg_dl[:, None]
    values[:, n:] += difference_mg_dl
    return float(np.mean(_permutation_p_values(values, n, rng) <= 1 - CONFIDENCE + 1e-9))


def _permutation_p_values(values: np.ndarray, n: int, rng: np.random.Generator) -> np.ndarray:
    """Two-sided p of each row's last n against its first n, shape (rows,): over all ways, or many drawn by lot."""
    if comb(2 * n, n) <= _MOST_WAYS:
        ways = np.zeros((comb(2 * n, n), 2 * n))
        np.put_along_axis(ways, np.array(list(combinations(range(2 * n), n))), 1.0, axis=1)
    else:
        ways = (rng.random((_MOST_WAYS, 2 * n)).argsort(axis=1) < n).astype(float)
        ways[0] = np.arange(2 * n) >= n  # the way that happened
    centred = values - values.mean(axis=1, keepdims=True)
    shown, seen = np.abs(centred @ ways.T), np.abs(centred[:, n:].sum(axis=1))
    return np.mean(shown >= seen[:, None] - 1e-9 * np.abs(centred).sum(axis=1, keepdims=True), axis=1)


def find_smallest_difference(repeats: int, spread: EatingSpread, seed: int) -> float:
    """Difference that so many repeats an arm find four times out of five, by the same simulation. [mg/dL]

    The chance grows with the difference over the spread: a bisection on it, to half a mg/dL.
    """
    low, high = 0.0, 10 * spread.typical_mg_dl
    while high - low > 0.5:
        middle = (low + high) / 2
        low, high = (low, middle) if _chance(middle, repeats, spread, seed) >= POWER else (middle, high)
    return high


def choose_repeats(table: pd.DataFrame) -> int | None:
    """The fewest repeats that succeed four times out of five; None where none looked at does."""
    enough = table.loc[table["chance_told"] >= POWER, "repeats"]
    return int(enough.iloc[0]) if len(enough) else None


def usable_share(meals: pd.DataFrame, dish: str) -> float:
    """Share of a dish's eatings whose two hours can be judged, drawn toward that of all the person's meals.

    Parameters
    ----------
    meals : DataFrame
        ``dish`` and ``usable_2h`` of every wear's meal responses.
    dish : str
    """
    usable = meals["usable_2h"].fillna(False).astype(float)
    usual = (usable.sum() + 1) / (len(usable) + 1.5)
    mine = usable[(meals["dish"] == dish).fillna(False)]
    return float((mine.sum() + USABLE_PRIOR * usual) / (len(mine) + USABLE_PRIOR))


def draw_trial_dates(free: pd.DatetimeIndex, arms: Sequence[str], each: int, seed: int) -> pd.DataFrame:
    """Dates spread evenly over the free ones, and the arm of each drawn by lot.

    Parameters
    ----------
    free : DatetimeIndex
        Local dates that may be used, in order.
    arms : sequence of str
    each : int
        Dates of each arm.
    seed : int
        What the lot is drawn with.

    Returns
    -------
    DataFrame
        ``date, arm``. Every way of giving each arm its number of dates is as likely as any other: this
        is the lot that the analysis goes through.

    Raises
    ------
    ValueError
        If there are too few free dates.
    """
    total = each * len(arms)
    if total > len(free):
        raise ValueError(f"{total} dates are asked for and {len(free)} are free")
    place = np.unique(np.rint(np.linspace(0, len(free) - 1, total)).astype(int)) if total else np.empty(0, int)
    drawn = np.random.default_rng(seed).permutation(np.repeat(list(arms), each))
    return pd.DataFrame({"date": free[place], "arm": drawn})
