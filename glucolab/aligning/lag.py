"""How far does the sensor lag behind blood? A prior, updated a little by finger-sticks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from glucolab.intervals import Z

PRIOR_MEDIAN_MIN = 7.5
"""Median of the lag before any check [min]: tracer studies in health find 5-6 (Basu et al. 2013), sensors in use 4-10
(Boyne et al. 2003) and 4.5 ± 4.8 (PMC4649725). Too long, peaks come out too high and early; too short, low and late."""
PRIOR_LOG_SD = 0.55
"""SD of its logarithm: a log-normal with mean 8.7 and standard deviation 5.2 min, nine in ten within 3-18.5; sensors in
use differ by 2-24 min (Staal et al. 2018). Too small, rises and times to peak look surer than they are. [1]"""

CHECKS_WORD = 0.5
"""Power of the checks' likelihood; assumed, intervals hold with it and not with 1 (`tests/known_truth`): larger, the
lag's is too narrow; smaller, checks move it less than they could. [0-1]"""


@dataclass(frozen=True, eq=False)
class LagNodes:
    """Lags that stand for the distribution of the lag, and the weight of each.

    Attributes
    ----------
    lag_min : numpy.ndarray, shape (m,)
        [min]
    weight : numpy.ndarray, shape (m,)
        Sums to one.
    """

    lag_min: np.ndarray
    weight: np.ndarray

    def interval(self) -> tuple[float, float, float]:
        """Mean and central interval of the log-normal with the nodes' mean and spread. [min]"""
        logs = np.log(self.lag_min)
        centre = float(self.weight @ logs)
        # nodes at midpoints of equal shares miss the tails' spread; the prior's own tells how much
        prior_share = np.var(_prior_logs(len(logs))) / PRIOR_LOG_SD**2
        spread = np.sqrt(float(self.weight @ (logs - centre) ** 2) / prior_share)
        return (
            float(np.exp(centre + spread**2 / 2)),
            float(np.exp(centre - Z * spread)),
            float(np.exp(centre + Z * spread)),
        )


def prior_lags(nodes: int = 5) -> LagNodes:
    """Lags at the middle of equal shares of the prior.

    Parameters
    ----------
    nodes : int
        How many. The default is assumed: fewer miss the prior's tails, so that rises look too sure;
        each costs a solve.
    """
    return LagNodes(np.exp(_prior_logs(nodes)), np.full(nodes, 1 / nodes))


def _prior_logs(nodes: int) -> np.ndarray:
    return np.log(PRIOR_MEDIAN_MIN) + PRIOR_LOG_SD * ndtri((np.arange(nodes) + 0.5) / nodes)


def weigh_lags(prior: LagNodes, log_likelihoods: np.ndarray) -> LagNodes:
    """The prior's lags with weights updated by each one's log likelihood, shape (m,), at half its word.

    Checks err together where glucose moves (a meal's curve, the sensor's slow noise), so that they
    tell less than as many independent ones.
    """
    logs = np.log(prior.weight) + CHECKS_WORD * log_likelihoods
    weight = np.exp(logs - logs.max())
    return LagNodes(prior.lag_min, weight / weight.sum())
