"""How far does the sensor read from blood? Its bias from finger-sticks, and from the prior where there are none.

For sensor s, blood b, a moment's place u in the wear (-1/2 … 1/2), the sensor's own mean s̄ and the hour of day t:

    s - b = offset + drift·u + stretch·(s - s̄) + h(t)

`offset` is the bias at the wearer's own level over a whole day, `h` how it departs from that by the hour
(:mod:`glucolab.aligning.hour_bias`). Both are sums of a part that one model's sensors share and a part of
the single sensor; the offset's are each offset and gain, and the gain is the stretch.

A check reads b + meter + error, and all checks by one meter share `meter`. All unknowns are
normal; the checks' errors are heavy-tailed, by reweighting. Several wears may be solved together:
they then share model and meter parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from glucolab.aligning.bias_fit import TAIL, Fit, Observed, fit_bias
from glucolab.aligning.bias_posterior import PARTS, UNKNOWNS, Bias
from glucolab.aligning.bias_prior import CHECK_FRACTION, CheckData, build_prior, venous_error, widen_stretch
from glucolab.aligning.hour_bias import hour_shapes

OUTLIER_WEIGHT = 0.35
"""Weight [0-1.3] under which a check is listed as doubted, 3.2 of its errors off; assumed. It moves no figure."""


@dataclass(frozen=True)
class SideBySide:
    """Two wears worn at once: mean of the first sensor minus the second over the shared time. [mg/dL]"""

    first: int
    second: int
    difference_mg_dl: float
    se_mg_dl: float


def estimate_bias(wears: Sequence[CheckData], overlaps: Sequence[SideBySide] = ()) -> Bias:
    """Bias of every wear from its checks, sensors worn side by side, and the prior.

    Parameters
    ----------
    wears : sequence of CheckData
    overlaps : sequence of SideBySide

    Returns
    -------
    Bias

    Notes
    -----
    Checks are reweighted as Student-t errors with `TAIL` degrees of freedom, and their spread is
    learnt with a prior worth eight checks, so that one bad check moves little and a poor meter
    widens the interval. Limits: a meter that reads high all study long cannot be told from a
    sensor that reads low; `METER_FRACTION` of the level stays in the interval however many checks.
    """
    prior, observed = build_prior(wears), _observe(wears, overlaps)
    first = fit_bias(prior, observed)
    return _as_bias(wears, fit_bias(widen_stretch(wears, prior, first), observed), len(observed.seen) > 0)


def _as_bias(wears: Sequence[CheckData], fit: Fit, any_seen: bool) -> Bias:
    splits = np.cumsum([len(w.check_mg_dl) for w in wears])
    return Bias(
        fit.mean[:, :PARTS],
        fit.cov,
        tuple(np.split(fit.weight[: splits[-1]], splits[:-1])),
        fit.log_likelihood if any_seen else 0.0,
        # the tail's weighting leaves (TAIL + 1) / (TAIL + 3) of a check's information
        np.array([fit.scale * CHECK_FRACTION * w.blood_level_mg_dl for w in wears]) * np.sqrt((TAIL + 3) / (TAIL + 1)),
    )


def _observe(wears: Sequence[CheckData], overlaps: Sequence[SideBySide]) -> Observed:
    parts = [_observe_checks(wear, i) for i, wear in enumerate(wears)]
    for pair in overlaps:
        touched, design = np.full((1, UNKNOWNS), UNKNOWNS * pair.first), np.zeros((1, UNKNOWNS))
        touched[0, 1], design[0, :2] = UNKNOWNS * pair.second, (1.0, -1.0)
        seen = ([pair.difference_mg_dl], [pair.se_mg_dl], [0.0], [False])
        parts.append((touched, design, *map(np.array, seen)))
    return Observed(*(np.concatenate(part) for part in zip(*parts, strict=True)))


def _observe_checks(wear: CheckData, number: int) -> tuple[np.ndarray, ...]:
    n = len(wear.check_mg_dl)
    own = np.where(wear.venous, 0.0, -1.0)
    return (
        np.tile(UNKNOWNS * number + np.arange(UNKNOWNS), (n, 1)),
        np.column_stack([np.ones(n), wear.place, wear.sensor_mg_dl - wear.level_mg_dl, hour_shapes(wear.hour), own]),
        wear.sensor_mg_dl - wear.check_mg_dl,
        wear.sensor_se_mg_dl,
        np.where(wear.venous, venous_error(wear.check_mg_dl, wear.fed), CHECK_FRACTION * wear.check_mg_dl),
        np.ones(n, bool),
    )
