"""What did a planned experiment find? Its arms compared over all the ways in which the lot could have fallen."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from glucolab.intervals import CONFIDENCE
from glucolab.record.study_outputs import TRIAL_RESULTS
from glucolab.record.trial_outputs import NOT_YET
from glucolab.relating.statistics.claims import CLAIMS, decide_verdict, worth_noticing
from glucolab.relating.trials.date_outcomes import TRIAL_OUTCOMES
from glucolab.relating.trials.looks import first_stop, is_usable, p_anytime, toss_pairs
from glucolab.relating.trials.lots import sum_over_ways

LEAST_OCCASIONS = 3
"""Usable occasions that each arm needs [1]: three against three is the least whose exact p can reach 0.10 (computed).
With fewer no verdict is possible and one odd eating decides; more withhold what could be said."""
_ALPHA = 1 - CONFIDENCE + 1e-9
"""Largest p that decides, and what rounding does to it. [1]"""


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

    Dates of one `block` were drawn among each other, all others within their wear; the lot is drawn anew just so.

    `p_exact` and the interval are those of a test at a size fixed beforehand. While dates are still ahead they are
    a look on the way, and an arm is called lower or higher only where `stop` says so: `p_anytime` has come to 0.10
    and the interval agrees. When no date is ahead, the ways in which looking would have stopped early count as
    extreme beside those that differ as much, so that looking after every date and the test at the end together err
    in one experiment of ten (of lots drawn otherwise than in blocks the end does not know of the looks). Going on
    after that with another plan is a further look that only `p_anytime` allows for.
    """
    rows = []
    for trial, planned in dates.groupby("trial", sort=True):
        for a, b in combinations(sorted(planned["arm"].unique()), 2):
            mine = planned[planned["arm"].isin([a, b])]
            used = mine[mine["used"].astype(bool)]
            used = used[used.groupby("wear")["arm"].transform("nunique") == 2]
            counts = {"n_a": float((used["arm"] == a).sum()), "n_b": float((used["arm"] == b).sum())}
            for outcome in TRIAL_OUTCOMES:
                worth = worth_noticing(outcome, worth_noticing_mg_dl)
                figures = _compare(mine, a, b, outcome, worth, enough=min(counts.values()) >= LEAST_OCCASIONS)
                rows.append({"trial": trial, "arm_a": a, "arm_b": b, "outcome": outcome, **counts, **figures})
    return pd.DataFrame(rows, columns=TRIAL_RESULTS.names).astype({"stop": "boolean"})


def _compare(mine: pd.DataFrame, a: str, b: str, outcome: str, worth: float, *, enough: bool) -> dict[str, Any]:
    """The figures of one outcome, and the verdict that the looks taken so far allow."""
    tosses = toss_pairs(mine, a, b, outcome)
    p_value = p_anytime(tosses["difference"].to_numpy(dtype=float))
    drawn = _as_drawn(mine, b, outcome)
    figures = _judge(drawn, worth) if enough else _nothing()
    claimed = figures["verdict"] in CLAIMS
    stop = bool(claimed and p_value <= _ALPHA)
    ahead = bool(mine["reason"].isin(NOT_YET).any())
    looked_too_often = claimed and not ahead and _p_with_looks(drawn, mine, tosses) > _ALPHA
    if not stop and (ahead or looked_too_often) and figures["verdict"] != "not_enough_data":
        figures["verdict"] = "cannot_tell_yet"
    return figures | {"p_anytime": p_value, "stop": stop}


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Rows of one trial as :func:`compare_drawn` takes them, and their labels."""

    values: np.ndarray
    in_b: np.ndarray
    stratum: np.ndarray
    lot: np.ndarray
    labels: pd.Index


def _as_drawn(mine: pd.DataFrame, b: str, outcome: str) -> _Drawn:
    """Usable occasions, and the dates that could not be used but were drawn together with one."""
    usable, in_block = is_usable(mine), mine["block"] != ""
    with_usable = usable.groupby(mine["block"]).transform("any")
    kept = mine[usable | (in_block & with_usable)]
    values = kept[outcome].where(usable[kept.index]).to_numpy(dtype=float)
    wear = kept["wear"].where(usable[kept.index], "")
    lot = ("block " + kept["block"]).where(in_block[kept.index], "wear " + wear)
    in_b = (kept["arm"] == b).to_numpy()
    return _Drawn(values, in_b, pd.factorize(wear)[0], pd.factorize(lot)[0], kept.index)


def _judge(drawn: _Drawn, worth: float) -> dict[str, Any]:
    return _word(compare_drawn(drawn.values, drawn.in_b, drawn.stratum, drawn.lot), worth)


def compare_outcome(values: np.ndarray, in_b: np.ndarray, stratum: np.ndarray, worth: float) -> dict[str, Any]:
    """``difference, low, high, p_exact, verdict`` of one outcome; no figures where too few occasions carry them.

    Parameters
    ----------
    values, in_b, stratum
        As for :func:`compare_drawn`.
    worth : float
        The smallest difference that matters, in the outcome's unit.
    """
    if min(in_b.sum(), (~in_b).sum()) < LEAST_OCCASIONS:
        return _nothing()
    return _word(compare_drawn(values, in_b, stratum), worth)


def _nothing() -> dict[str, Any]:
    return {**dict.fromkeys(("difference", "low", "high", "p_exact"), np.nan), "verdict": "not_enough_data"}


def _word(found: tuple[float, float, float, float], worth: float) -> dict[str, Any]:
    difference, low, high, p_value = found
    if not np.isfinite([low, high]).all():
        return _nothing()
    verdict = decide_verdict(low, high, worth)
    return {"difference": difference, "low": low, "high": high, "p_exact": p_value, "verdict": verdict}


def compare_drawn(
    values: np.ndarray,
    in_b: np.ndarray,
    stratum: np.ndarray,
    lot: np.ndarray | None = None,
    level: float = CONFIDENCE,
) -> tuple[float, float, float, float]:
    """Difference of two arms whose members were drawn by lot, with the interval and p-value of the drawing alone.

    Every way of drawing as many members of each lot into b is gone through, or, where there are more
    than 200,000, 20,000 of them at random, the one that happened among them.

    Parameters
    ----------
    values : array, shape (n,)
        NaN where an occasion was drawn along with the others and cannot be used.
    in_b : array of bool, shape (n,)
    stratum : array of int, shape (n,)
        Within which arms are compared; each holds both arms.
    lot : array of int, shape (n,), optional
        Within which the lot was drawn; the strata if absent.
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
    Nonparametrics, 1975 (from memory). Lots and analysis must correspond: Kratochwill & Levin, Psychol Methods
    2010;15:124 (abstract).
    """
    difference, ways = _show_ways(values, in_b, stratum, stratum if lot is None else lot)
    p_value = float(np.mean(_as_extreme(difference, ways[0], values)))
    low, high = _turn_round(difference, ways[0], ways[1], 1 - level)
    return difference, low, high, p_value


def _p_with_looks(drawn: _Drawn, mine: pd.DataFrame, tosses: pd.DataFrame) -> float:
    """p at the end for somebody who looked after every pair: the share of ways that stop early or differ as much.

    Of blocks; where a toss is of dates drawn otherwise, the p of the end alone.
    """
    if mine.loc[tosses["first"], "block"].eq("").any():
        tosses = tosses.iloc[:0]
    place = drawn.labels.get_indexer(pd.Index(tosses["first"]))
    first = (np.arange(len(drawn.values))[:, None] == place).astype(float)
    difference, ways = _show_ways(drawn.values, drawn.in_b, drawn.stratum, drawn.lot, first)
    turned = ways[2:] != drawn.in_b[place][:, None]
    tossed = tosses["difference"].to_numpy(dtype=float)[:, None] * np.where(turned, -1, 1)
    stopped = first_stop(tossed) <= len(tossed)
    return float(np.mean(_as_extreme(difference, ways[0], drawn.values) | stopped))


def _show_ways(
    values: np.ndarray, in_b: np.ndarray, stratum: np.ndarray, lot: np.ndarray, more: np.ndarray | None = None
) -> tuple[float, np.ndarray]:
    """The difference seen; and of each way what it would have shown of the values, of a shift of one in those that
    were truly b, and sums of `more` over b, shape (2 + columns, ways).
    """
    known = ~np.isnan(np.asarray(values, dtype=float))
    member = (stratum[:, None] == np.unique(stratum[known])) & known[:, None]
    size = member.sum(axis=0)
    columns = np.column_stack([np.where(known, values, 0.0), (in_b & known).astype(float)])
    centred = np.where(known[:, None], columns - member @ (member.T @ columns / size[:, None]), 0.0)
    beside = np.empty((len(centred), 0)) if more is None else more
    sums = sum_over_ways(np.column_stack([centred, member, beside]), in_b, lot)
    in_each = sums[2 : 2 + len(size)]
    weight = (in_each * (1 - in_each / size[:, None])).sum(axis=0)  # n_a n_b / n of each stratum
    shown = sums[:2] / np.where(weight > 0, weight, 1.0)  # a way that leaves every stratum one arm shows nothing
    mine = member[in_b].sum(axis=0)
    difference = float(centred[in_b, 0].sum() / (mine * (1 - mine / size)).sum())
    return difference, np.vstack([shown, sums[2 + len(size) :]])


def _as_extreme(difference: float, shown: np.ndarray, values: np.ndarray) -> np.ndarray:
    """True for the ways that differ as much, whatever rounding does to them, shape (ways,)."""
    return np.asarray(np.abs(shown) >= abs(difference) - 1e-9 * np.nanmax(np.abs(values)))


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
