"""Wears whose means, variances and biases are written by hand, for the tests of periods and what is made of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from glucolab.aligning.bias_posterior import PARTS, UNKNOWNS, Bias
from glucolab.aligning.bias_prior import CheckData
from glucolab.measuring.whole_wear import WearFigures
from glucolab.relating.comparing.periods import Measured
from tests.hand_made import START, make_pair, make_wear


def measured(
    name: str,
    first_day: float,
    usual: float = 100.0,
    *,
    days: float = 4.0,
    days_var: float = 1.0,
    hours_var: float = 0.5,
    df: float = 9.0,
    offset: float = 0.0,
    sd: float = 15.0,
    mean: float | None = None,
    blocks: np.ndarray | None = None,
    values: np.ndarray | None = None,
    coverage: float = 1.0,
    **wear: Any,
) -> Measured:
    """A wear with these figures; by default its mean while worn is the usual mean."""
    start = START + pd.Timedelta(days=first_day)
    worn = make_wear(name, days=days, start=start, **wear)
    values = np.full(round(days * 288), usual) if values is None else values
    clean, trace = make_pair(worn, values)
    mine = np.zeros((1, PARTS))
    mine[0, 0] = offset
    nothing = np.empty(0)
    checks = CheckData(
        usual, worn.sensor_model, worn.meter, nothing, nothing, nothing, nothing, np.empty(0, bool), np.empty(0, bool),
        nothing,
    )  # fmt: skip
    trace = replace(trace, bias=replace(trace.bias, mean=mine), check_data=checks)
    figures = WearFigures(
        {"sd": {"estimate": sd, "low": sd, "high": sd, "level": 0.9}}, {}, None,
        {"days": days_var, "hours": hours_var, "sensor": 4.0, "df": df}, usual if mean is None else mean, usual,
        np.full((round(days), 4), np.nan) if blocks is None else blocks, float((~np.isnan(values)).sum()) / 288,
    )  # fmt: skip
    return Measured(worn, trace, figures, coverage, clean.start, clean.end, 5.0)


def make_bias(offsets: Sequence[float], covariance: Sequence[Sequence[float]], check_error: float = 6.0) -> Bias:
    """A joint bias with these offsets and their covariance; nothing drifts or stretches; a meter a wear."""
    k, cov = len(offsets), np.asarray(covariance, dtype=float)
    mean = np.zeros((k, PARTS))
    mean[:, 0] = offsets
    joint = np.zeros((k, UNKNOWNS, k, UNKNOWNS))
    joint[:, 0, :, 0] = cov
    return Bias(mean, joint, tuple(np.empty(0) for _ in offsets), 0.0, np.full(k, check_error))
