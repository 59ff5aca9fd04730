"""When is it a claim? One rule from an interval to a verdict, and the rate of false ones over many questions."""

from __future__ import annotations

import numpy as np

CLAIMS = ("lower", "higher")
"""Verdicts that claim something."""

POWER = 0.8
"""Chance with which a plan finds what it looks for [1]; common practice. Higher asks for more repeats and wears, lower
for experiments that often end without an answer; the chance beside each plan shows by how much."""

CLAIM_Q = 0.10
"""Largest q-value over the file at which an effect is claimed [1]; the contract's. Of claims up to one in ten is then
expected to be false: higher makes more of them false, lower misses more effects."""

LOOKS = 3.25
"""By how much q-values grow because a file is asked anew after every wear [1]. Of 141 invented people with nothing true
but carbohydrate, asked after each of six wears, 0.03 saw some other claim at a look, 0.14 at one of the six, and 0.04
one that stood for two wears (at 1: 0.12, 0.38 and 0.15); of three wears' claims of what is true it costs 0.27. 1 is for
a file that is asked once, and claims too much of one that is asked again; larger misses more."""

_PER_MG_DL_OF_MEAN = {
    "mean_mg_dl": 1.0,
    "overnight_mean_mg_dl": 1.0,
    "next_mean_mg_dl": 1.0,
    "sd_mg_dl": 1 / 3,  # a healthy day's SD is about a sixth of its mean (Shah et al. 2019), and steadier
    "rise_mg_dl": 5 / 3,  # one meal twice differs by 11 mg/dL SD (Hengist et al. 2025): half of it at the usual 3
    "net_area_3h_mg_dl_min": 150.0,  # the same of three hours
    "iauc_2h_mg_dl_min": 100.0,  # a triangle of two hours, as high as the rise worth noticing
}
"""What is worth noticing of each figure, per mg/dL of a mean [unit of the figure per mg/dL]; means and, at the usual 3,
rises are the contract's, the rest assumed. Too large calls real effects too small to matter, too small never does."""
_FIXED = {
    "cv_percent": 1.0,  # of a mean of about 100 mg/dL: as much as of the SD
    "energy": 0.5,  # points of 0-10; half a step of what people write down
    "asleep_h": 0.25,  # a quarter of an hour
}
"""What is worth noticing whatever the goal says [unit of the figure]; feelings and sleep the contract's, the other
assumed. Too large or too small has the same consequences."""


def worth_noticing(outcome: str, worth_noticing_mg_dl: float) -> float:
    """The smallest difference of an outcome that matters, in the outcome's own unit.

    The study states it for a mean; other glucose figures scale with it (common sense, no source).

    Raises
    ------
    KeyError
        If the outcome is unknown.
    """
    if outcome in _FIXED:
        return _FIXED[outcome]
    return _PER_MG_DL_OF_MEAN[outcome] * worth_noticing_mg_dl


def decide_verdict(low: float | None, high: float | None, worth_noticing: float, q_value: float = 0.0) -> str:
    """What an interval supports, in the contract's words.

    What is surely there is never called too small: a small difference that stands out is lower or higher, and how
    small it is, its figure says.

    Parameters
    ----------
    low, high : float or None
        Ends of the interval of a difference; None or NaN if there is none.
    worth_noticing : float
        Smallest difference that matters, same unit, not negative.
    q_value : float
        Of one among many questions; NaN claims nothing.

    Returns
    -------
    {"lower", "higher", "too_small_to_matter", "cannot_tell_yet", "not_enough_data"}
    """
    if low is None or high is None or not (np.isfinite(low) and np.isfinite(high)):
        return "not_enough_data"
    if (low > 0 or high < 0) and q_value <= CLAIM_Q:
        return "higher" if low > 0 else "lower"
    if -worth_noticing <= low and high <= worth_noticing:
        return "too_small_to_matter"
    return "cannot_tell_yet"


def adjust_p_values(p_values: np.ndarray, weights: np.ndarray | None = None) -> np.ndarray:
    """q-values: the smallest false discovery rate at which each is still claimed, NaN where p is.

    Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300; with weights Genovese, Roeder & Wasserman, Biometrika
    2006;93:509-524.

    Parameters
    ----------
    p_values : array, shape (n,)
    weights : array, shape (n,), optional
        How likely each is before it is looked at, positive, in any unit; they must not depend on the p-values.

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    p = np.asarray(p_values, float)
    if weights is not None:
        p = p / share_weights(weights, ~np.isnan(p))
    q = np.full(p.shape, np.nan)
    known = np.flatnonzero(~np.isnan(p))
    order = known[np.argsort(p[known])[::-1]]
    rank = np.arange(len(known), 0, -1)
    q[order] = np.minimum.accumulate(np.minimum(p[order] * len(known) / rank, 1.0))
    return q


def share_weights(weights: np.ndarray, counted: np.ndarray) -> np.ndarray:
    """Weights whose mean over what is counted is 1, shape (n,)."""
    return weights / weights[counted].mean() if counted.any() else weights


def adjust_by_factor(
    p_values: np.ndarray, factor: np.ndarray, leading: np.ndarray, weights: np.ndarray | None = None
) -> np.ndarray:
    """q-values where one factor is asked about in several ways, NaN where p or the factor's own is.

    Each factor enters the family by one p-value: of its leading question, or, where several lead, of all of them
    together (Simes, Biometrika 1986;73:751-754). Once the factor is clear its questions are read, among each other
    and at a level lowered by the share of factors that are (Benjamini & Bogomolov, J R Stat Soc B 2014;76:297-318,
    from memory): a question is never clearer than its factor, and of the claims at most one in ten is to be expected
    false. Asking of an area beside a rise costs other factors nothing.

    Parameters
    ----------
    p_values : array, shape (n,)
    factor : array of int, shape (n,)
        Which factor, counted from 0.
    leading : array of bool, shape (n,)
    weights : array, shape (n,), optional
        Of each row's factor, as for :func:`adjust_p_values`.

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    p = np.asarray(p_values, float)
    q = np.full(p.shape, np.nan)
    leaders = [np.flatnonzero((factor == i) & leading) for i in range(int(factor.max(initial=-1)) + 1)]
    weight = None if weights is None else np.array([weights[rows[0]] for rows in leaders])
    of_factor = adjust_p_values(np.array([_simes(p[rows]) for rows in leaders]), weight)
    known, clear = int(np.sum(~np.isnan(of_factor))), int(np.sum(of_factor <= CLAIM_Q))
    for i, rows in enumerate(leaders):
        for inside in (rows, np.flatnonzero((factor == i) & ~leading)):
            q[inside] = np.maximum(of_factor[i], adjust_p_values(p[inside]) * known / max(clear, 1)).clip(max=1.0)
        if len(rows) == 1:
            q[rows] = of_factor[i]
    return np.where(np.isnan(p), np.nan, q)


def _simes(p_values: np.ndarray) -> float:
    """One p-value of several questions: their smallest q-value; NaN where none is known."""
    q = adjust_p_values(p_values)
    return float(np.nanmin(q)) if not np.isnan(q).all() else np.nan
