"""Which dish raises glucose more? Rises pooled toward the person's own average, and pairs of dishes.

Every eating's rise is the dish's own rise plus what differs from one eating to the next plus
measurement; dishes differ about the person's average. Both spreads are unknown and integrated over,
so that a dish eaten twice is pulled toward the average as far as the data say and no further.
Every recorded eating counts; what was eaten or exercised within its two hours is adjusted for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.intervals import central_interval
from glucolab.measuring.meals import SHARED_RISE_SD_MG_DL
from glucolab.record.study_outputs import DISH_PAIRS, DISHES
from glucolab.relating.observations.days_and_meals import gather_recorded
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import decide_verdict, worth_noticing

SAME_DISH_SD_MG_DL, SAME_DISH_LOG_SD = 16.0, 0.5
"""Prior median and log SD of the spread between eatings of one dish [mg/dL], [1]: the mean of two hours differs by
10.7-11.3 in 30 people (Hengist et al., PMC10371100), the highest point by 1.5 times that in invented wearers of that
spread; 0.5 is assumed. Too small finds differences between dishes too readily and plans too few repeats, too large
pools dishes too far."""
BETWEEN_SD_MG_DL = 12.0
"""Scale of the half-normal prior for the spread between dishes [mg/dL]: repeats beside all meals of the same people
leave 4-5 for the mean of two hours, times 1.6, on diets given to them; one's own differ more. Too large hardly shrinks
chance differences, too small shrinks true ones."""
_WITHIN_GRID, _BETWEEN_GRID = np.exp(np.linspace(np.log(2.5), np.log(50.0), 32)), (np.arange(40) + 0.5) * 1.5
"""Spreads that are integrated over, between eatings and between dishes [mg/dL]: middles of equal steps of the logarithm
and of the spread itself; assumed. Coarser, a difference of dishes jumps from step to step; a first step at nil counts
twice."""
AFTER = {"carbs_after_g": (0.9 / 30, 3.6 / 30), "exercised": (0.0, 6.0)}
"""What is adjusted for, and what each gram eaten, or exercise, within the two hours does to the rise beforehand: mean
and SD over people [mg/dL]. Of food as 14 open recordings have it, of exercise assumed: nothing either way. Tighter, a
second helping passes for the dish's own rise; looser, dishes that are seldom eaten alone become unsure."""
FEWEST_FOR_PAIRS = 2
"""Eatings that a dish needs to be paired [1]; assumed. One would compare single eatings, more leave fewer pairs."""
_DRAWS = 4000
"""Posterior draws [1]: the ends of 90 % intervals are then off by about 0.03 of the SD. Fewer make them noisier."""
_SEED = 20260211
"""Fixed, so that a report made twice says the same; another moves figures within that error. [1]"""


@dataclass(frozen=True, eq=False)
class PooledDishes:
    """Posterior of each dish's expected rise.

    Attributes
    ----------
    names : list of str
        The d dishes with one recorded eating or more, most often eaten first. A meal without a `dish`
        goes by its name.
    counts, alone : numpy.ndarray of int, shape (d,)
        Recorded eatings of each, and those of them with no other food or exercise within two hours.
    draws : numpy.ndarray, shape (_DRAWS, d)
        From the joint posterior. [mg/dL]
    """

    names: list[str]
    counts: np.ndarray
    alone: np.ndarray
    draws: np.ndarray


def pool_dishes(wears: Sequence[WearTables]) -> PooledDishes:
    """Pool all dishes at once: the two tables below are read off the same draws.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person; without a recorded eating there are no dishes.
    """
    eatings = gather_dish_rises(wears)
    names, counts, alone = _dishes_of(eatings)
    if not names:
        return PooledDishes(names, counts, alone, np.empty((_DRAWS, 0)))
    adjusted, errors = adjust_for_after(eatings, names)
    draws = draw_dish_rises(adjusted, names, np.array([wear.gain_errors for wear in wears]))
    together = np.random.default_rng(_SEED + 2).standard_normal((_DRAWS, errors.shape[1])) @ errors.T
    return PooledDishes(names, counts, alone, draws + together)


def estimate_dishes(pooled: PooledDishes) -> pd.DataFrame:
    """``dishes.csv``: each dish's expected rise, a row a dish."""
    low, high = central_interval(pooled.draws)
    counts = {"n": pooled.counts, "n_alone": pooled.alone}
    rises = {"rise_mg_dl": pooled.draws.mean(axis=0), "low_mg_dl": low, "high_mg_dl": high}
    return pd.DataFrame({"dish": pooled.names} | counts | rises, columns=DISHES.names)


def compare_dishes(pooled: PooledDishes, worth_noticing_mg_dl: float) -> pd.DataFrame:
    """``dish_pairs.csv``: every two dishes that were each eaten twice or more.

    Parameters
    ----------
    pooled : PooledDishes
    worth_noticing_mg_dl : float
        Smallest difference of a mean that matters. [mg/dL]

    Notes
    -----
    Pooling shrinks chance differences, so that many pairs may be looked at without a further
    adjustment (Gelman, Hill & Yajima, J Res Educ Eff 2012;5:189).
    """
    worth = worth_noticing("rise_mg_dl", worth_noticing_mg_dl)
    often = np.flatnonzero(pooled.counts >= FEWEST_FOR_PAIRS)
    names, draws = [pooled.names[i] for i in often], np.ascontiguousarray(pooled.draws[:, often].T)
    rows: list[tuple[object, ...]] = []
    for i, name in enumerate(names[:-1]):
        apart = draws[i] - draws[i + 1 :]
        low, high = central_interval(apart, axis=1)
        found = zip(names[i + 1 :], apart.mean(axis=1), low, high, (apart > 0).mean(axis=1), strict=True)
        rows.extend((name, *pair, decide_verdict(pair[2], pair[3], worth)) for pair in found)
    return pd.DataFrame(rows, columns=DISH_PAIRS.names)


def gather_dish_rises(wears: Sequence[WearTables]) -> pd.DataFrame:
    """Recorded eatings: ``time, dish, rise_mg_dl, se_mg_dl, wear, alone`` and the columns of `AFTER`.

    What two sensors saw at once counts once. The standard error is that of the eating alone, without what the sensor's
    gain does to all of a wear's rises alike.
    """
    columns = ["time", "dish", "rise_mg_dl", "se_mg_dl", "wear", "alone", *AFTER]
    meals = gather_recorded(wears)
    if not len(meals):
        return pd.DataFrame({name: [] for name in columns})
    meals = meals.assign(time=meals["written"], se_mg_dl=meals["rise_se_mg_dl"])
    return meals.loc[meals["rise_mg_dl"].notna() & meals["dish"].ne(""), columns].reset_index(drop=True)


def _dishes_of(eatings: pd.DataFrame) -> tuple[list[str], np.ndarray, np.ndarray]:
    """Names and counts, most often eaten first, then longest known: what a dish is called must not move its draws."""
    found = eatings.groupby("dish").agg(
        n=("time", "size"), alone=("alone", "sum"), first=("time", "min"), total=("rise_mg_dl", "sum")
    )
    ordered = found.sort_values(["n", "first", "total"], ascending=[False, True, True])
    return [str(name) for name in ordered.index], ordered["n"].to_numpy(), ordered["alone"].to_numpy(int)


def adjust_for_after(eatings: pd.DataFrame, names: Sequence[str]) -> tuple[pd.DataFrame, np.ndarray]:
    """Eatings as if nothing had followed within the two hours, and what their dishes may be off by for that.

    Told from eatings of one dish with and without, drawn toward what is known of people (`AFTER`).

    Parameters
    ----------
    eatings : DataFrame
        From :func:`gather_dish_rises`.
    names : sequence of str
        Dishes, d of them.

    Returns
    -------
    adjusted : DataFrame
    errors : numpy.ndarray, shape (d, 2)
        Of each dish one SD along two directions that are independent. [mg/dL]
    """
    which = pd.Categorical(eatings["dish"], categories=list(names)).codes
    member = np.eye(len(names))[which]
    of_dish = member / member.sum(axis=0)
    after, (mean, spread) = eatings[list(AFTER)].to_numpy(float), np.array(list(AFTER.values())).T
    rises = eatings["rise_mg_dl"].to_numpy(float) - after @ mean
    own_after, own_rises = (values - member @ (of_dish.T @ values) for values in (after, rises))
    weighted = own_after / (SAME_DISH_SD_MG_DL**2 + eatings["se_mg_dl"].to_numpy(float)[:, None] ** 2)
    covariance = np.linalg.inv(weighted.T @ own_after + np.diag(spread**-2.0))
    adjusted = eatings.assign(rise_mg_dl=rises - after @ (covariance @ (weighted.T @ own_rises)))
    return adjusted, of_dish.T @ after @ np.linalg.cholesky(covariance)


def draw_dish_rises(eatings: pd.DataFrame, names: Sequence[str], gain_errors: np.ndarray) -> np.ndarray:
    """Posterior draws of each dish's expected rise.

    Parameters
    ----------
    eatings : DataFrame
        From :func:`gather_dish_rises`.
    names : sequence of str
        Dishes, d of them.
    gain_errors : numpy.ndarray, shape (w, k)
        Of each wear, see :class:`~glucolab.relating.observations.wear_tables.WearTables`.

    Returns
    -------
    numpy.ndarray, shape (_DRAWS, d)
        [mg/dL]

    Notes
    -----
    A grid over both spreads carries their joint posterior; given them, the average (flat prior)
    and the dishes are normal. Textbook: Gelman et al., Bayesian Data Analysis, 3rd ed., 5.4. The
    wears' gains and what a sensor adds to all rises then move all that was eaten in them together: more eatings do
    not average that out, nor, of the gains, more wears.
    """
    which = pd.Categorical(eatings["dish"], categories=list(names)).codes
    rises, errors = eatings["rise_mg_dl"].to_numpy(), eatings["se_mg_dl"].to_numpy()
    within, between = _WITHIN_GRID, _BETWEEN_GRID
    precision = 1 / (within[:, None] ** 2 + errors**2)  # (within, eatings)
    weight = _by_dish(precision, which, len(names))
    centre = _by_dish(precision * rises, which, len(names)) / weight
    inside = 0.5 * np.log(precision).sum(1) - 0.5 * (precision * (rises - centre[:, which]) ** 2).sum(1)
    inside -= 0.5 * np.log(weight).sum(1)
    total = between[None, :, None] ** 2 + 1 / weight[:, None, :]  # (within, between, dish)
    share = 1 / total
    average = (share * centre[:, None, :]).sum(2) / share.sum(2)
    log_post = inside[:, None] - 0.5 * np.log(total).sum(2) - 0.5 * np.log(share.sum(2))
    log_post = log_post - 0.5 * (share * (centre[:, None, :] - average[:, :, None]) ** 2).sum(2)
    log_post -= 0.5 * (np.log(within / SAME_DISH_SD_MG_DL) / SAME_DISH_LOG_SD)[:, None] ** 2
    log_post = log_post - 0.5 * (between / BETWEEN_SD_MG_DL) ** 2
    drawn = _sample(log_post, average, share.sum(2), between, centre, weight)
    shares = _share_by_wear(eatings["wear"].to_numpy(dtype=int), which, len(names), len(gain_errors))
    rng = np.random.default_rng(_SEED + 1)
    gains = 1 + rng.standard_normal((_DRAWS, gain_errors.shape[1])) @ (shares @ gain_errors).T
    return drawn * gains + SHARED_RISE_SD_MG_DL * rng.standard_normal((_DRAWS, len(gain_errors))) @ shares.T


def _share_by_wear(wears: np.ndarray, which: np.ndarray, dishes: int, count: int) -> np.ndarray:
    """How much of each dish was eaten in each wear, shape (dishes, wears)."""
    eaten = np.zeros((dishes, count))
    np.add.at(eaten, (which, wears), 1.0)
    return eaten / eaten.sum(axis=1, keepdims=True)


def _by_dish(values: np.ndarray, which: np.ndarray, dishes: int) -> np.ndarray:
    """Sums over each dish's eatings, shape (within, dishes)."""
    member = np.zeros((len(which), dishes))
    member[np.arange(len(which)), which] = 1
    return values @ member


def _sample(
    log_post: np.ndarray,
    average: np.ndarray,
    certainty: np.ndarray,
    between: np.ndarray,
    centre: np.ndarray,
    weight: np.ndarray,
) -> np.ndarray:
    rng = np.random.default_rng(_SEED)
    chance = np.exp(log_post - log_post.max()).ravel()
    picked = rng.choice(len(chance), _DRAWS, p=chance / chance.sum())
    i, j = np.unravel_index(picked, log_post.shape)
    mean = average[i, j] + rng.standard_normal(_DRAWS) / np.sqrt(certainty[i, j])
    own = 1 / (between[j] ** -2.0)[:, None]
    variance = 1 / (1 / own + weight[i])
    pulled = variance * (mean[:, None] / own + weight[i] * centre[i])
    return pulled + np.sqrt(variance) * rng.standard_normal(pulled.shape)
