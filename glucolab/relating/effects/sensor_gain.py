"""By what factor does a sensor over- or understate every rise? Its gain, as all wears' finger-sticks determine it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from glucolab.aligning.bias_posterior import Bias
from glucolab.intervals import widen
from glucolab.relating.comparing.periods import Measured
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.fixed_effects import RegressionRows
from glucolab.relating.statistics.intercepts import partial_out

_OF_MEALS = ("rise_mg_dl", "rise_low_mg_dl", "rise_high_mg_dl", "iauc_2h_mg_dl_min", "iauc_3h_mg_dl_min",
             "net_area_3h_mg_dl_min", "dip_mg_dl")  # fmt: skip
_OF_DAYS = ("mean_mg_dl", "overnight_mean_mg_dl", "sd_mg_dl")


def share_gains(related: Sequence[WearTables], measured: Sequence[Measured], bias: Bias) -> list[WearTables]:
    """Wears with rises and days scaled by what all wears together say of their gains, and what those may be off by.

    Sensors of one model stretch or shrink alike: over many wears that does not average out.

    Parameters
    ----------
    related : sequence of WearTables
    measured : sequence of Measured
        The same wears, without those that have no trace.
    bias : Bias
        Of `measured`, jointly.
    """
    size, along = np.linalg.eigh(bias.gain_covariance)
    errors = along * np.sqrt(np.maximum(size, 0.0))
    by_own = np.array([one.trace.bias.gains[0] for one in measured])
    scale = dict(zip((one.wear.name for one in measured), zip(bias.gains / by_own, errors, strict=True), strict=True))
    nothing = 1.0, np.zeros(len(measured))
    return [_scale(one, *scale.get(one.name, nothing)) for one in related]


def _scale(wear: WearTables, by: float, errors: np.ndarray) -> WearTables:
    """Rises about where they begin, days about the mean of all."""
    meals = wear.meal_responses.assign(**{name: wear.meal_responses[name] * by for name in _OF_MEALS})
    daily = wear.daily
    middle = {name: 0.0 if name == "sd_mg_dl" else daily[name].mean() for name in _OF_DAYS}
    daily = daily.assign(**{name: at + by * (daily[name] - at) for name, at in middle.items()})
    return replace(wear, meal_responses=meals, daily=daily, gain_errors=errors)


def allow_for_gains(
    estimate: float, low: float, high: float, rows: RegressionRows, gain_errors: np.ndarray
) -> tuple[float, float, float]:
    """The same coefficient, its interval holding what the sensors' gains do to it.

    Parameters
    ----------
    estimate, low, high : float
        Of an outcome, or a factor, that the sensors show: a share of it is off by what their gains are.
    rows : RegressionRows
        Of the regression.
    gain_errors : numpy.ndarray, shape (w, k)
        Of each wear, see :class:`~glucolab.relating.observations.wear_tables.WearTables`.

    Returns
    -------
    estimate, low, high : float
        An effect of zero stays zero: no gain makes one.
    """
    known = partial_out(rows.factor, rows.wear, np.column_stack([rows.fixed, rows.adjusted])) ** 2
    share = np.bincount(rows.wear, known, minlength=len(gain_errors)) / known.sum()
    return widen(estimate, low, high, estimate * float(np.linalg.norm(share @ gain_errors)))
