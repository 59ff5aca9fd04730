"""How is an experiment planned? Repeats for a difference worth finding, and dates whose arms are drawn by lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.intervals import CONFIDENCE
from glucolab.relating.effects.dishes import SAME_DISH_SD_MG_DL
from glucolab.relating.observations.meal_weights import grow_with_size
from glucolab.relating.statistics.claims import POWER
from glucolab.relating.trials.looks import first_stop
from glucolab.relating.trials.results import LEAST_OCCASIONS

OTHERS_DF, PUBLISHED_DF = 6.0, 4.0
"""How many eatings of the dish itself the person's other dishes are worth, and the published spread beside those
[eatings]; assumed. Too small makes the number of repeats follow a few odd eatings, too large ignores the dish's own."""
LEAST_PAIRS = 5
"""Pairs of dates whose lot can reach a p of 0.10 [1]: computed, 2 of 32 ways. Fewer tell nothing alone."""
MOST_REPEATS = 14
"""Repeats an arm up to which a difference is looked for [1]: one a day of a usual wear in each arm; assumed. Fewer give
up on trials of two wears, more plan what nobody finishes."""
SIMULATED = 400
"""Experiments simulated for each number of repeats [1]; assumed: a chance of 0.8 is then known within 0.02 (one SE).
Fewer make the repeats advised jump about, more take longer."""
MOST_PAIRS_COUNTED = 11
"""Pairs up to which all ways are gone through, 2048 [1]; assumed. With more, as many are drawn at random: fewer would
make p, and the chance, noisier."""
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


def pool_spreads(spreads: Sequence[EatingSpread]) -> EatingSpread:
    """One spread where arms eat different dishes: their variances averaged, eatings those of the rarest."""
    squares = [spread.sd_mg_dl**2 for spread in spreads]
    return EatingSpread(np.sqrt(np.mean(squares, axis=0)), min(spread.eatings for spread in spreads))


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
        ``repeats`` (usable occasions in each arm, from 5 on), ``chance_told``
        (0-1): how often they find it on the way or at the end, each experiment with a spread drawn from the posterior.
    """
    counts = range(LEAST_PAIRS, MOST_REPEATS + 1)
    rows = [(n, simulate_trials(difference_mg_dl, n, 1.0, spread, seed).chance_told) for n in counts]
    return pd.DataFrame(rows, columns=["repeats", "chance_told"])


def find_smallest_difference(each: int, usable: float, spread: EatingSpread, seed: int) -> float:
    """Difference that so many dates an arm find four times out of five, by the same simulation. [mg/dL]

    The chance grows with the difference over the spread: a bisection on it, to half a mg/dL.
    """
    low, high = 0.0, 10 * spread.typical_mg_dl
    while high - low > 0.5:
        middle = (low + high) / 2
        told = simulate_trials(middle, each, usable, spread, seed).chance_told
        low, high = (low, middle) if told >= POWER else (middle, high)
    return high


@dataclass(frozen=True)
class SimulatedTrials:
    """What experiments come to that are looked at after every date.

    Attributes
    ----------
    chance_told : float
        That they find the difference, on the way or at the end, 0-1.
    chance_early : float
        That they are decided before the last pair, 0-1.
    dates_saved : float
        Mean share of the dates that are then not needed, 0-1.
    """

    chance_told: float
    chance_early: float
    dates_saved: float


def simulate_trials(
    difference_mg_dl: float, each: int, usable: float, spread: EatingSpread, seed: int
) -> SimulatedTrials:
    """Live an experiment many times and look at it after every date.

    Parameters
    ----------
    difference_mg_dl : float
        True difference between the arms. [mg/dL]
    each : int
        Dates of each arm, and so pairs.
    usable : float
        Chance that a date can be judged, 0-1.
    spread : EatingSpread
        Each experiment has one drawn from it.
    seed : int
        The same seed gives the same chance deviations.
    """
    rng = np.random.default_rng(seed)
    values = rng.standard_normal((SIMULATED, each, 2)) * spread.sd_mg_dl[:, None, None]
    values[:, :, 1] += difference_mg_dl
    values[rng.random(values.shape) >= usable] = np.nan
    told = judge_pairs(values, rng) <= 1 - CONFIDENCE + 1e-9
    stop = first_stop(toss_values(values).T)
    early = np.where(stop < each, 1 - stop / each, 0.0)
    return SimulatedTrials(float(np.mean(told | (stop <= each))), float(np.mean(stop < each)), float(early.mean()))


def judge_pairs(values: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Two-sided p of each experiment over all ways in which its pairs could have been drawn, or many at random.

    Parameters
    ----------
    values : array, shape (m, pairs, 2)
        Of m experiments the outcome with the one arm and with the other, NaN where a date cannot be judged: what
        :func:`glucolab.relating.trials.results.compare_drawn` tests, of many at once.
    rng : numpy.random.Generator

    Returns
    -------
    numpy.ndarray, shape (m,)
        1 where an arm has fewer than three.
    """
    pairs = values.shape[1]
    if pairs <= MOST_PAIRS_COUNTED:
        turned = (np.arange(2**pairs)[:, None] >> np.arange(pairs) & 1).astype(float)
    else:
        turned = (rng.random((2**MOST_PAIRS_COUNTED, pairs)) < 0.5).astype(float)
        turned[0] = 0.0  # the way that happened
    known = (~np.isnan(values)).astype(float)
    size = known.sum(axis=(1, 2))
    mean = np.nansum(values, axis=(1, 2)) / np.maximum(size, 1)
    centred = np.where(known > 0, values - mean[:, None, None], 0.0)
    sums, counts = (x[:, :, 1].sum(axis=1)[:, None] + (x[:, :, 0] - x[:, :, 1]) @ turned.T for x in (centred, known))
    weight = counts * (size[:, None] - counts) / np.maximum(size, 1)[:, None]
    shown = np.abs(sums / np.where(weight > 0, weight, 1.0))
    p_values = np.mean(shown >= shown[:, :1] - 1e-9 * np.abs(centred).sum(axis=(1, 2))[:, None], axis=1)
    return np.where(known.sum(axis=1).min(axis=1) >= LEAST_OCCASIONS, p_values, 1.0)


def toss_values(values: np.ndarray) -> np.ndarray:
    """What each pair says, the second arm minus the first, shape (m, pairs).

    As :func:`glucolab.relating.trials.looks.toss_pairs` has it: one date alone is set against those before.

    Parameters
    ----------
    values : array, shape (m, pairs, 2)
        As for :func:`judge_pairs`.
    """
    known = ~np.isnan(values)
    count, total = (x.sum(axis=2).cumsum(axis=1) for x in (known, np.nan_to_num(values)))
    earlier = np.full(count.shape, np.nan)
    np.divide(total[:, :-1], count[:, :-1], out=earlier[:, 1:], where=count[:, :-1] > 0)
    first, second = (np.where(known[:, :, i], values[:, :, i], earlier) for i in (0, 1))
    return np.where(known.any(axis=2), second - first, np.nan)


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
    """Dates spread evenly over the free ones, one of each arm in a block, their order in it drawn by lot.

    Parameters
    ----------
    free : DatetimeIndex
        Local dates that may be used, in order.
    arms : sequence of str
    each : int
        Dates of each arm, and so blocks.
    seed : int
        What the lot is drawn with.

    Returns
    -------
    DataFrame
        ``date, arm, block``; a block is named by its first date. Every order within a block is as likely as any other,
        whatever the other blocks drew: this is the lot that the analysis goes through. No arm comes more than twice
        running, and neither has the wear's beginning or end to itself.

    Raises
    ------
    ValueError
        If there are too few free dates.

    References
    ----------
    .. [1] Kratochwill & Levin, Psychol Methods 2010;15:124, doi 10.1037/a0017736.

    Examples
    --------
    >>> import glucolab as gl, pandas as pd
    >>> free = pd.date_range("2026-09-01", periods=12)
    >>> dates = gl.draw_trial_dates(free, ["walk", "rest"], each=4, seed=1)
    >>> dates.groupby("block")["arm"].nunique().eq(2).all(), len(dates)
    (np.True_, 8)
    """
    total = each * len(arms)
    if total > len(free):
        raise ValueError(f"{total} dates are asked for and {len(free)} are free")
    place = np.unique(np.rint(np.linspace(0, len(free) - 1, total)).astype(int)) if total else np.empty(0, int)
    order = np.random.default_rng(seed).permuted(np.tile(np.arange(len(arms)), (each, 1)), axis=1)
    dates = free[place]
    block = np.repeat(dates[:: len(arms)].strftime("%Y-%m-%d"), len(arms))
    return pd.DataFrame({"date": dates, "arm": np.array(arms, dtype=object)[order.ravel()], "block": block})
