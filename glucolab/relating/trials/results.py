"""What did a planned experiment find? Its arms compared over all the ways in which the lot could have fallen."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import comb, prod
from typing import Any

import numpy as np
import pandas as pd

from glucolab.intervals import CONFIDENCE
from glucolab.record.study_outputs import TRIAL_RESULTS
from glucolab.relating.statistics.claims import decide_verdict, worth_noticing
from glucolab.relating.trials.date_outcomes import TRIAL_OUTCOMES

LEAST_OCCASIONS = 3
"""Usable occasions that each arm needs [1]: three against three is the least whose exact p can reach 0.10 (computed).
With fewer no verdict is possible and one odd eating decides; more withhold what could be said."""

_MOST_WAYS = 200_000
"""Draws of the lot gone through one by one [1], a matter of time; above it `DRAWN_WAYS` are drawn at random."""
DRAWN_WAYS = 20_000
"""Draws then taken [1]; assumed: a p of 0.10 is known within 0.002 (one SE). Fewer make p and the interval noisier."""
_SEED = 20260203
"""Fixed, so that a report made twice says the same; another moves p within that error. [1]"""


def compare_trial_arms(dates: pd.DataFrame, worth_noticing_mg_dl: float) -> pd.DataFrame:
    """``trial_results.csv``: every two arms of each trial, by rise and by area, analysed as they were drawn.

    Parameters
    ----------
    dates : DataFrame
        As :func:`glucolab.relating.trials.date_outcomes.find_trial_dates` returns it; those used are compared.
    worth_noticing_mg_dl : float
        [mg/dL of a mean]

    Returns
    -------
    DataFrame
        `difference` is b minus a, arms in the order of the alphabet. With fewer than three usable
        occasions in an arm, or too few ways of drawing them, the figures are empty and the verdict is
        "not_enough_data".

    Notes
    -----
    A date counts for the arm that was drawn for it, whatever was done; what belongs to an arm, such as
    the light walk after the meal, is no reason to leave its occasion out, but a moderate or vigorous effort makes
    any occasion unusable. Dates missed or unusable are left out: that is fair as long as one arm is not
    missed more than the other because of what happened. Arms are compared within wears, so that no
    sensor's error is taken for an arm's; occasions of a wear that has one arm alone are not counted.
    """
    rows = []
    for trial, planned in dates.groupby("trial", sort=True):
        for a, b in combinations(sorted(planned["arm"].unique()), 2):
            mine = planned[planned["used"].astype(bool) & planned["arm"].isin([a, b])]
            mine = mine[mine.groupby("wear")["arm"].transform("nunique") == 2]
            in_b = (mine["arm"] == b).to_numpy()
            wear = mine.groupby("wear").ngroup().to_numpy()
            counts = {"n_a": float((~in_b).sum()), "n_b": float(in_b.sum())}
            for outcome in TRIAL_OUTCOMES:
                worth = worth_noticing(outcome, worth_noticing_mg_dl)
                figures = compare_outcome(mine[outcome].to_numpy(dtype=float), in_b, wear, worth)
                rows.append({"trial": trial, "arm_a": a, "arm_b": b, "outcome": outcome, **counts, **figures})
    return pd.DataFrame(rows, columns=TRIAL_RESULTS.names)


def compare_outcome(values: np.ndarray, in_b: np.ndarray, stratum: np.ndarray, worth: float) -> dict[str, Any]:
    """``difference, low, high, p_exact, verdict`` of one outcome; no figures where too few occasions carry them.

    Parameters
    ----------
    values, in_b, stratum
        As for :func:`compare_drawn`.
    worth : float
        The smallest difference that matters, in the outcome's unit.
    """
    nothing = {**dict.fromkeys(("difference", "low", "high", "p_exact"), np.nan), "verdict": "not_enough_data"}
    if min(in_b.sum(), (~in_b).sum()) < LEAST_OCCASIONS:
        return nothing
    difference, low, high, p_value = compare_drawn(values, in_b, stratum)
    if not np.isfinite([low, high]).all():
        return nothing
    verdict = decide_verdict(low, high, worth)
    return {"difference": difference, "low": low, "high": high, "p_exact": p_value, "verdict": verdict}


def compare_drawn(
    values: np.ndarray, in_b: np.ndarray, stratum: np.ndarray, level: float = CONFIDENCE
) -> tuple[float, float, float, float]:
    """Difference of two arms whose members were drawn by lot, with the interval and p-value of the drawing alone.

    Every way of drawing as many members of each stratum into b is gone through, or, where there are more
    than 200,000, 20,000 of them at random, the one that happened among them.

    Parameters
    ----------
    values : array, shape (n,)
    in_b : array of bool, shape (n,)
    stratum : array of int, shape (n,)
        Within which the lot was drawn; each holds both arms.
    level : float
        Of the interval.

    Returns
    -------
    difference, low, high, p_value : float
        b minus a, strata weighed by n_a n_b / n. The interval holds every shift of b that the same test does not
        reject: it is exact if the arm shifts every value alike, and without end (infinite) where there are
        too few ways. p is two-sided.

    References
    ----------
    Fisher, The Design of Experiments, 1935, section 21. Turning the test round for the interval: Lehmann,
    Nonparametrics, 1975 (from memory).
    """
    strata = [stratum == s for s in np.unique(stratum)]
    weight = sum(in_b[s].sum() * (~in_b[s]).sum() / s.sum() for s in strata)
    centred = np.array(values, dtype=float)
    arm = in_b.astype(float)
    for s in strata:
        centred[s] -= centred[s].mean()
        arm[s] -= arm[s].mean()
    # what each way would have shown of the values, and of a shift of one in those that were truly b
    shown, shift = _go_through_ways(np.column_stack([centred, arm]), in_b, strata) / weight
    difference = float(centred @ in_b / weight)
    close = 1e-9 * (np.abs(centred).sum() / weight + 1e-300)
    p_value = float(np.mean(np.abs(shown) >= abs(difference) - close))
    low, high = _turn_round(difference, shown, shift, 1 - level)
    return difference, low, high, p_value


def _turn_round(seen: float, shown: np.ndarray, shift: np.ndarray, alpha: float) -> tuple[float, float]:
    """The shifts whose p-value exceeds `alpha`.

    At a shift d a way counts as at least as extreme if ``|shown - d shift| >= |seen - d|``; as ``|shift| < 1``
    that holds between two values of d, around `seen`; always for the way that happened and its mirror image.
    """
    always = np.abs(shift) > 1 - 1e-9
    a, b = shown[~always], shift[~always]
    ends = np.sort([(seen - a) / (1 - b), (seen + a) / (1 + b)], axis=0)
    needed = int(np.floor(alpha * len(shown) + 1e-9)) + 1 - int(always.sum())
    if needed <= 0:
        return -np.inf, np.inf
    return float(np.sort(ends[0])[needed - 1]), float(np.sort(ends[1])[-needed])


def _go_through_ways(columns: np.ndarray, in_b: np.ndarray, strata: Sequence[np.ndarray]) -> np.ndarray:
    """Sums over b of each column under every way, shape (columns, ways)."""
    sizes = [(int(s.sum()), int(in_b[s].sum())) for s in strata]
    if prod(comb(n, k) for n, k in sizes) > _MOST_WAYS:
        return _draw_ways(columns, in_b, strata)
    sums = np.zeros((columns.shape[1], 1))
    for s, (n, k) in zip(strata, sizes, strict=True):
        ways = np.array(list(combinations(range(n), k)))
        mine = columns[s][ways].sum(axis=1).T
        sums = (sums[:, :, None] + mine[:, None, :]).reshape(len(sums), -1)
    return sums


def _draw_ways(columns: np.ndarray, in_b: np.ndarray, strata: Sequence[np.ndarray]) -> np.ndarray:
    rng = np.random.default_rng(_SEED)
    sums = np.zeros((columns.shape[1], DRAWN_WAYS))
    for s in strata:
        k = int(in_b[s].sum())
        ways = np.argsort(rng.random((DRAWN_WAYS - 1, int(s.sum()))), axis=1)[:, :k]
        ways = np.vstack([np.flatnonzero(in_b[s]), ways])
        sums += columns[s][ways].sum(axis=1).T
    return sums
