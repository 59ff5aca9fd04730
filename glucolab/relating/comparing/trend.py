"""Is the usual mean moving toward the goal? Its trend, from four stretches on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from glucolab.aligning.bias_posterior import Bias
from glucolab.intervals import Estimate, as_estimate, t_quantile
from glucolab.relating.comparing.periods import Measured, Period

LEAST_STRETCHES = 4
"""Stretches that a trend needs [1]; the contract's. With fewer, a line through two or three means passes for a trend;
with more, it is withheld for years."""
TOO_FEW = "A trend needs four separate periods; you have {n}."


def estimate_trend(periods: Sequence[Period], wears: Sequence[Measured], bias: Bias) -> tuple[Estimate | None, str]:
    """Change of the usual mean per 30 days over the stretches, by generalised least squares.

    Parameters
    ----------
    periods : sequence of Period
    wears : sequence of Measured
    bias : Bias

    Returns
    -------
    estimate : dict or None
        [mg/dL per 30 days]
    withheld : str
        Why there is none, else empty.

    Notes
    -----
    The stretches' errors are the days', the hours' and the joint covariance of the sensors' biases;
    what the fit leaves over beyond them (a life that changes unevenly) widens the interval.
    """
    mine = [p for p in periods if p.level == "stretch" and np.isfinite(p.usual_mg_dl)]
    if len(mine) < LEAST_STRETCHES:
        return None, TOO_FEW.format(n=len(mine))
    middle = np.array(
        [np.mean([(wears[i].start.timestamp() + wears[i].end.timestamp()) / 2 for i in p.members]) for p in mine]
    )
    months = (middle - middle.mean()) / (30 * 86400)
    weights = np.array([p.weights for p in mine])
    error = weights @ bias.offset_covariance @ weights.T + np.diag([p.days_var + p.hours_var for p in mine])
    design = np.column_stack([np.ones(len(mine)), months])
    inverse = np.linalg.inv(error)
    covariance = np.linalg.inv(design.T @ inverse @ design)
    usual = np.array([p.usual_mg_dl for p in mine])
    fit = covariance @ design.T @ inverse @ usual
    left = usual - design @ fit
    df = len(mine) - 2
    excess = max(float(left @ inverse @ left) / df, 1.0)
    half = float(t_quantile(df + 3) * np.sqrt(covariance[1, 1] * excess))
    return as_estimate(float(fit[1]), float(fit[1] - half), float(fit[1] + half)), ""
