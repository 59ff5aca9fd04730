"""Is it decided already? A test of the lot that stays valid however often it is looked at."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd
from scipy.special import betaln

from glucolab.intervals import CONFIDENCE
from glucolab.record.trial_outputs import NOT_YET, OF_THE_PLAN

LEAST_TOSSES = 7
"""Pairs, all alike, that decide at the level used [1]: computed, as six weigh 64 / 7 = 9.1 and seven 128 / 8 = 16,
where 10 are asked. A plan that promises a decision from fewer promises what cannot come."""


def toss_pairs(dates: pd.DataFrame, a: str, b: str, outcome: str) -> pd.DataFrame:
    """What each pair of dates says, b minus a, in the order in which the pairs were over.

    Parameters
    ----------
    dates : DataFrame
        Of one trial, as :func:`glucolab.relating.trials.date_outcomes.find_trial_dates` returns it.
    a, b : str
        Its arms.
    outcome : str
        Column that is compared.

    Returns
    -------
    DataFrame
        ``at`` [UTC], ``first`` (row label of the pair's first date), ``difference`` in the unit of the outcome; pairs
        that say nothing are left out.

    Notes
    -----
    A pair is one date of each arm that were drawn together (`block`); of dates drawn otherwise two that follow each
    other in the plan, if they have the two arms. Which of the two came first was then a toss of a fair coin. Where one
    of the two cannot be used, the other is set against the mean of the wear's earlier dates: the coin decided its
    arm all the same.
    """
    mine = dates[dates["arm"].isin([a, b])]
    pairs = _pair_rows(mine)
    usable, in_b = is_usable(mine).to_numpy(), (mine["arm"] == b).to_numpy()
    ahead = mine["reason"].isin(NOT_YET).to_numpy()
    pairs = pairs[(in_b[pairs].sum(axis=1) == 1) & ~ahead[pairs].any(axis=1) & usable[pairs].any(axis=1)]
    values = mine[outcome].where(usable).to_numpy(dtype=float)
    at, wear = mine["at"].to_numpy(), mine["wear"].to_numpy()
    both = usable[pairs].all(axis=1) & (wear[pairs[:, 0]] == wear[pairs[:, 1]])
    alone = pairs[np.arange(len(pairs)), usable[pairs].argmax(axis=1)]
    against = np.where(both, values[pairs[:, 1]], _mean_before(values, at, wear)[alone])
    against[usable[pairs].all(axis=1) & ~both] = np.nan  # of two sensors
    apart = (values[alone] - against) * np.where(in_b[alone], 1, -1)
    over = np.where(both, np.maximum(at[pairs[:, 0]], at[pairs[:, 1]]), at[alone])
    tosses = pd.DataFrame({"at": over, "first": mine.index[pairs[:, 0]], "difference": apart})
    said = tosses["difference"].notna() & (tosses["difference"] != 0)
    return tosses[said].sort_values("at", kind="stable", ignore_index=True)


def _pair_rows(mine: pd.DataFrame) -> np.ndarray:
    """Positions of the two dates of each pair in the order of the plan, shape (pairs, 2)."""
    apart = mine["block"] == ""
    name = mine["block"].where(~apart, (apart.cumsum().sub(1) // 2).astype(str) + " of the plan")
    code = pd.factorize(name)[0]
    order = np.argsort(code, kind="stable")
    return order[(np.bincount(code, minlength=1) == 2)[code[order]]].reshape(-1, 2)


def _mean_before(values: np.ndarray, at: np.ndarray, wear: np.ndarray) -> np.ndarray:
    """Mean of what was known of the same wear before each date, shape (n,); NaN where nothing was."""
    before = (at[None, :] < at[:, None]) & (wear[None, :] == wear[:, None]) & ~np.isnan(values)
    count = before.sum(axis=1)
    return np.where(count > 0, before @ np.nan_to_num(values) / np.maximum(count, 1), np.nan)


def is_usable(dates: pd.DataFrame) -> pd.Series:
    """True where the occasion can be judged, whether or not its wear has one of the other arm, shape (n,)."""
    return dates["used"].astype(bool) | dates["reason"].isin(OF_THE_PLAN)


def weigh_tosses(differences: np.ndarray) -> np.ndarray:
    """Evidence against "the arms do the same" after each toss, shape (n,).

    Parameters
    ----------
    differences : array, shape (n,)
        In the order in which they came; none is zero.

    Returns
    -------
    numpy.ndarray, shape (n,)
        ``2^n / ((n + 1) C(n, k))`` after n tosses of which k are above zero: a test martingale. [1]

    Notes
    -----
    If the arms do the same, each difference is as likely above zero as below by the lot alone, whatever the outcomes
    look like: skewed, heavy-tailed or alike from day to day. Whoever bets a share of the stake on each next sign then
    neither wins nor loses on average; this is what a stake of one has become, averaged over all shares with equal
    weight. It exceeds 10 at any time in at most one experiment of ten (Ville's inequality), so that one may look after
    every date, and go on or stop for any reason. Signs alone are used: how far above counts in the exact test.

    References
    ----------
    Ville, Étude critique de la notion de collectif, 1939; Shafer, Shen, Vereshchagin & Vovk, Stat Sci 2011;26:84-101
    (both from memory); betting on signs under symmetry: Ramdas, Ruf, Larsson & Koolen, arXiv:2009.03167; betting on
    the arm drawn: arXiv:2512.04366 (abstracts).
    """
    n = np.arange(1, len(differences) + 1)
    k = np.cumsum(np.asarray(differences, float) > 0)
    return np.exp(n * np.log(2.0) + betaln(k + 1, n - k + 1))  # 1 / ((n + 1) C(n, k)) is a beta function


def p_anytime(differences: np.ndarray) -> float:
    """p-value that holds however often it was looked at: one over the most that the evidence has ever been, 0-1.

    Parameters
    ----------
    differences : array, shape (n,)
        As for :func:`weigh_tosses`; without any it is 1.
    """
    return float(min(1.0, 1.0 / weigh_tosses(differences).max(initial=1.0)))


def first_stop(differences: np.ndarray) -> np.ndarray:
    """After which pair somebody who looks after each would have stopped, shape (m,); n + 1 where never.

    Parameters
    ----------
    differences : array, shape (n, m)
        Of m experiments, b minus a of each of n pairs in turn; NaN where a pair said nothing.
    """
    said = (~np.isnan(differences)).cumsum(axis=0)
    above = (differences > 0).cumsum(axis=0)
    decided = _deciding(len(differences))[said, above]
    never = np.ones((1, differences.shape[1]), bool)
    return np.concatenate([decided, never]).argmax(axis=0) + 1


@lru_cache(maxsize=16)
def _deciding(most: int) -> np.ndarray:
    """True at [n, k] where k of n tosses above zero decide, shape (most + 1, most + 1)."""
    n, k = np.ogrid[: most + 1, : most + 1]
    evidence = n * np.log(2.0) + betaln(k + 1, np.maximum(n - k, 0) + 1)
    return np.asarray((k <= n) & (evidence >= -np.log(1 - CONFIDENCE) - 1e-9))
