"""How much of the spread from day to day do sleep, stress, food and movement each go with? Shares, with intervals."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import fdtr

from glucolab.intervals import TAILS
from glucolab.record.study_outputs import SPREAD_SHARES
from glucolab.relating.observations.days_and_meals import OF_THE_WEAR, gather_days, keep_once
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.fixed_effects import RegressionRows, estimate_day_coefficient
from glucolab.relating.statistics.intercepts import keep_independent, orthonormal_basis, partial_out

GROUPS = {
    "sleep": ("asleep_h",),
    "stress": ("stress",),
    "food": ("carbs_g", "fiber_g"),
    "movement": ("exercise_min",),
}
"""Columns of days by group: few, since each costs a day."""
_ALL = "together"
_OUTCOMES = ("mean_mg_dl", "sd_mg_dl")

WRITTEN_ON = 0.7
"""Share of days on which a column must be written to be used [1]; assumed. Too low loses the other days to all columns,
too high drops a habit that could be judged."""
FEWEST_DAYS_TO_SHARE = 24
"""Days that shares need [days]: about two wears. On one wear the interval runs from none to half whatever is true (see
the test): fewer would print that, more would withhold what can be answered."""
WIDEST = 0.4
"""Width of an interval above which more days are asked for [1]; assumed. Smaller asks for years, larger takes an
interval that cannot separate little from much for an answer."""
_HALVINGS = 48
"""Steps of the bisection below [1]: past rounding error. Far fewer would coarsen the ends of intervals."""
_MOST = 1e3
"""Largest ratio of explained to residual variance looked for [1]: a share of 0.999. Smaller would cap shares."""

Share = tuple[float, float, float]
"""Median-unbiased estimate, low and high end."""


def estimate_spread_shares(wears: Sequence[WearTables]) -> pd.DataFrame:
    """``spread_shares.csv``: the share of the variance between a wear's days that goes with each group of habits.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person.

    Returns
    -------
    DataFrame
        A row an outcome and group, and one for all groups together; a share only from `FEWEST_DAYS_TO_SHARE` days on.

    Notes
    -----
    A group's share is of what the other groups leave: a squared partial multiple correlation; that of all together is
    of the whole. Shares of groups therefore need not add up. Days of illness and days without enough readings are left
    out, what two sensors saw at once is counted once, and all is adjusted for the place in the wear and how new the
    sensor was. Associations, and straight lines: what is not written down, is
    written down wrongly, or acts in a curve, is left over.
    """
    days = _usable_days(gather_days(wears))
    return pd.DataFrame(
        [row for outcome in _OUTCOMES for row in _shares_of(days, outcome)], columns=SPREAD_SHARES.names
    ).astype({"n_days": "Int64", "days_needed": "Int64"})


def _usable_days(days: pd.DataFrame) -> pd.DataFrame:
    if not len(days):
        return days
    days = days[days["enough"] & ~days["left_out"]]
    return days[keep_once(days["wear"].to_numpy(int), days["day"].to_numpy(int))] if len(days) else days


def _shares_of(days: pd.DataFrame, outcome: str) -> list[dict[str, object]]:
    """The rows of one outcome."""
    days = days[days[outcome].notna()] if len(days) else days
    members = {name: [c for c in columns if _is_written(days, c)] for name, columns in GROUPS.items()}
    days = days.dropna(subset=[column for mine in members.values() for column in mine])
    members = {name: [c for c in mine if _varies(days, c)] for name, mine in members.items()}
    columns = [column for mine in members.values() for column in mine]
    n = len(days) if columns else 0
    shares: dict[str, Share] = {}
    if n >= FEWEST_DAYS_TO_SHARE:
        of = np.repeat(np.arange(len(GROUPS)), [len(mine) for mine in members.values()])
        values, beside = days[columns].to_numpy(float), days[[*OF_THE_WEAR]].to_numpy(float)
        found = measure_shares(
            days[outcome].to_numpy(float), values, of, beside, *days[["wear", "day"]].to_numpy(int).T
        )
        shares = {[*GROUPS, _ALL][g]: share for g, share in found.items()}
    return [
        {
            "outcome": outcome, "group": name, "made_of": " ".join(mine), "n_days": n,
            **dict(zip(("share", "low", "high"), shares.get(name, (np.nan,) * 3), strict=True)),
            "days_needed": _count_needed(n, shares.get(name)) if mine else np.nan,
        }
        for name, mine in (members | {_ALL: columns}).items()
    ]  # fmt: skip


def _is_written(days: pd.DataFrame, column: str) -> bool:
    return len(days) > 0 and bool(days[column].notna().mean() >= WRITTEN_ON)


def _varies(days: pd.DataFrame, column: str) -> bool:
    by_wear = days.groupby("wear")[column]
    return bool((by_wear.max() > by_wear.min()).any())


def _count_needed(n: int, share: Share | None) -> float:
    """More days until an interval of this share is narrow enough; widths shrink with the root of days.

    NaN where it is narrow enough, and where more days would not tell: the other groups' columns determine it.
    """
    if share is None:
        return float(FEWEST_DAYS_TO_SHARE - n) if n < FEWEST_DAYS_TO_SHARE else np.nan
    more = np.ceil(n * (((share[2] - share[1]) / WIDEST) ** 2 - 1))
    return float(more) if more >= 1 else np.nan


def measure_shares(
    outcome: np.ndarray,
    columns: np.ndarray,
    group: np.ndarray,
    beside: np.ndarray,
    wear: np.ndarray,
    day: np.ndarray,
) -> dict[int, Share]:
    """Median-unbiased share and 90 % interval of each group, and of all under the number after the last.

    Parameters
    ----------
    outcome : array, shape (n,)
    columns : array, shape (n, p)
        Each varies within wears.
    group : array of int, shape (p,)
        Group of each column, rising.
    beside : array, shape (n, q)
        What all are adjusted for, and what no share is of.
    wear, day : array of int, shape (n,)
        Which wear; which day, counted on. RegressionRows sorted by both.

    Returns
    -------
    dict of int to (share, low, high)
        0-1. Without a group whose columns the others' determine.

    Notes
    -----
    Days that follow each other are alike: the regression is that of :func:`estimate_day_coefficient`, in units in which
    errors are independent; what it explains there is brought back to the days as they were.
    """
    beside = keep_independent(partial_out(beside, wear))
    left, before = (partial_out(columns, wear, *of) for of in ((beside,), ()))
    varies = np.sum(left**2, axis=0) > 1e-9 * np.sum(before**2, axis=0)
    columns, group = left[:, varies] / np.sqrt(np.mean(left[:, varies] ** 2, axis=0)), group[varies]
    if not len(group):
        return {}
    own, none, n = partial_out(outcome, wear, beside), np.empty((len(outcome), 0)), len(outcome)
    rows = RegressionRows(own, columns[:, 0], beside, columns[:, 1:], wear, day, none, np.zeros(n), np.ones(n))
    white = estimate_day_coefficient(rows).whitened
    white_beside, white_columns = np.split(white.beside, [beside.shape[1]], axis=1)
    white_columns = np.column_stack([white.factor, white_columns])
    found = {}
    for g in (*np.unique(group).tolist(), len(GROUPS)):
        mine = group == g if g < len(GROUPS) else np.ones(len(group), bool)
        as_they_were = partial_out(columns[:, mine], wear, columns[:, ~mine])
        if np.sum(as_they_were**2) <= 1e-9 * n:
            continue
        others = orthonormal_basis(np.column_stack([white_beside, white_columns[:, ~mine]]))
        left, split_by = (of - others @ (others.T @ of) for of in (white.outcome, white_columns[:, mine]))
        coefficient = np.linalg.lstsq(split_by, left, rcond=None)[0]
        explained, rest = np.sum((split_by @ coefficient) ** 2), np.sum((left - split_by @ coefficient) ** 2)
        back = np.sum((as_they_were @ coefficient) ** 2) / explained
        ratios = back * bound_ratio(explained / rest, int(mine.sum()), rows.freedom - int((~mine).sum()))
        found[g] = tuple((ratios / (1 + ratios)).tolist())
    return found


def bound_ratio(ratio: float, columns: int, freedom: int) -> np.ndarray:
    """Which ratios of explained to left variance a sample's ratio allows: median, 5 % and 95 %, shape (3,).

    Parameters
    ----------
    ratio : float
        Of the sums of squares, in the sample.
    columns, freedom : int
        Regressors; rows less all that else was fitted.

    Notes
    -----
    Regressors and outcome jointly normal. What is explained is then a noncentral chi-square whose noncentrality itself
    is chi-square; it is taken as the gamma of the same mean and variance (Helland, Biometrics 1987;43:61-69), exact
    where nothing is explained and for one regressor close to Fisher's z. 0 where the sample explains no more than
    chance would.
    """
    rest = freedom - columns
    probability = np.array([0.5, *reversed(TAILS)])
    low, high = np.zeros(3), np.full(3, _MOST)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        more = _chance_below(ratio, middle, columns, freedom, rest) > probability
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return np.where(_chance_below(ratio, np.zeros(3), columns, freedom, rest) > probability, low, 0.0)


def _chance_below(ratio: float, true: np.ndarray, columns: int, freedom: int, rest: int) -> np.ndarray:
    """Chance of a smaller ratio in the sample where `true` is that of the many, shape of `true`."""
    mean = freedom * true + columns
    shape = mean**2 / (freedom * true * (true + 2) + columns)
    return fdtr(shape, rest, ratio * rest / mean)
