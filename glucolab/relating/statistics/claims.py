"""When is it a claim? One rule from an interval to a verdict, and the rate of false ones over a file."""

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

_PER_MG_DL_OF_MEAN = {
    "mean_mg_dl": 1.0,
    "overnight_mean_mg_dl": 1.0,
    "sd_mg_dl": 1 / 3,  # a healthy day's SD is about a sixth of its mean (Shah et al. 2019), and steadier
    "rise_mg_dl": 5 / 3,  # one meal twice differs by 11 mg/dL SD (Hengist et al. 2025): half of it at the usual 3
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


def decide_verdict(low: float | None, high: float | None, worth_noticing: float) -> str:
    """What an interval supports, in the contract's words.

    Parameters
    ----------
    low, high : float or None
        Ends of the interval of a difference; None or NaN if there is none.
    worth_noticing : float
        Smallest difference that matters, same unit, not negative.

    Returns
    -------
    {"lower", "higher", "too_small_to_matter", "cannot_tell_yet", "not_enough_data"}
    """
    if low is None or high is None or not (np.isfinite(low) and np.isfinite(high)):
        return "not_enough_data"
    if -worth_noticing <= low and high <= worth_noticing:
        return "too_small_to_matter"
    if high < 0:
        return "lower"
    if low > 0:
        return "higher"
    return "cannot_tell_yet"


def decide_claim(low: float | None, high: float | None, worth_noticing: float, q_value: float) -> str:
    """The verdict of one among many questions: lower or higher only where its q-value allows it."""
    verdict = decide_verdict(low, high, worth_noticing)
    if verdict in CLAIMS and not q_value <= CLAIM_Q:
        return "cannot_tell_yet"
    return verdict


def adjust_p_values(p_values: np.ndarray) -> np.ndarray:
    """q-values: the smallest false discovery rate at which each is still claimed, NaN where p is.

    Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300.

    Parameters
    ----------
    p_values : array, shape (n,)

    Returns
    -------
    numpy.ndarray, shape (n,)
    """
    p = np.asarray(p_values, float)
    q = np.full(p.shape, np.nan)
    known = np.flatnonzero(~np.isnan(p))
    order = known[np.argsort(p[known])[::-1]]
    rank = np.arange(len(known), 0, -1)
    q[order] = np.minimum.accumulate(np.minimum(p[order] * len(known) / rank, 1.0))
    return q
