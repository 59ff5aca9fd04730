"""How far does the sensor read from blood? Its bias from finger-sticks, and from the prior where there are none.

For sensor s, blood b, a moment's place u in the wear (-1/2 … 1/2) and the sensor's own mean s̄:

    s - b = offset + drift·u + stretch·(s - s̄)

`offset` is the bias at the wearer's own level. It is the sum of a part that one model's sensors
share and a part of the single sensor; each is offset and gain, and the gain is the stretch.

A check reads b + meter + error, and all checks by one meter share `meter`. All unknowns are
normal; the checks' errors are heavy-tailed, by reweighting. Several wears may be solved together:
they then share model and meter parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from glucolab.aligning.bias_fit import TAIL, Fit, Observed, fit_bias

SENSOR_FRACTION = 0.09
"""SD between sensors of one model [of the level]: open two-sensor recordings show 0.10-0.12, two of one type worn
together 0.066 (Zschornack 2013, PMC3879745). Too small, wears seem to differ; too large, no change is clear."""
MODEL_FRACTION = 0.20
"""SD between models [of the level]: two models' mean log-ratio 0.35 in the same recordings, over sqrt 2, gives 0.25.
With the sensor's own part 0.22, 21 mg/dL at 95: Hutchins et al. 2025 found +16 ± 11 with one model in 15 healthy
adults, Staal et al. 2018 -32 to +25 over 39 sensors in diabetes. Too small, a mean without checks looks too sure."""
DRIFT_FRACTION = 0.05
"""SD of drift over a wear, end to end [of the level]; assumed. Open two-sensor recordings show 0.08 in ten days. Too
small, the halves of a wear seem to differ, and checks at one end count for the other; too large, checks tell little."""
GAIN_SHARE = 0.45
"""Of the variance of a sensor's relative bias, what is gain; the rest is offset [0-1]. The same recordings (log-ratio
of the two sensors' standard deviations 0.14 ± 0.11, of their means 0.35 ± 0.15) allow a fifth to a half; too little
would make a rise's interval too narrow, too much only too wide."""
LEAST_GAIN = 0.1
"""Least gain [1]; assumed: no sensor stretches rises tenfold. It keeps shares finite; larger, it overstates rises."""
METER_FRACTION = 0.045
"""SD of what all checks by one meter share [of the level]: right for a meter known to comply, 43 systems spread by 0.06
(PMC3570840). Too small, many checks promise too narrow a mean; too large, those of a good one tell too little."""
CHECK_FRACTION = 0.06
"""SD of one check [of its value]; with the meter's 0.075: ISO 15197:2013 asks 95 of 100 within 15 mg/dL under 100. Too
small, a poor check moves the bias; too large, a few good ones do not."""
VENOUS_FRACTION = 0.03
"""SD of a laboratory value [of it]: analysis about 2 %, the rest handling; assumed. Fasting only: an hour after food
fingers read 24 mg/dL above veins (Ann Clin Biochem 2013;50:6), and such a draw makes the sensor seem to read high."""
OUTLIER_WEIGHT = 0.35
"""Weight [0-1.3] under which a check is listed as doubted, 3.2 of its errors off; assumed. It moves no figure."""


@dataclass(frozen=True, eq=False)
class CheckData:
    """What one wear brings to the estimate of bias.

    Attributes
    ----------
    level_mg_dl : float
        Mean of the sensor over the wear, s̄. [mg/dL]
    model, meter : str
        Names; empty stands for one of its own.
    sensor_mg_dl, sensor_se_mg_dl : numpy.ndarray, shape (n,)
        The sensor's lag-corrected value at each check and its standard error. [mg/dL]
    check_mg_dl : numpy.ndarray, shape (n,)
        [mg/dL]
    place : numpy.ndarray, shape (n,)
        Moment in the wear, -1/2 … 1/2.
    venous : numpy.ndarray of bool, shape (n,)
        Laboratory values do not share the meter's error.
    """

    level_mg_dl: float
    model: str
    meter: str
    sensor_mg_dl: np.ndarray
    sensor_se_mg_dl: np.ndarray
    check_mg_dl: np.ndarray
    place: np.ndarray
    venous: np.ndarray

    @property
    def blood_level_mg_dl(self) -> float:
        """What fractions of the wearer's level are taken of: the checks' mean, else the sensor's own. [mg/dL]"""
        return float(self.check_mg_dl.mean()) if len(self.check_mg_dl) else self.level_mg_dl


@dataclass(frozen=True, eq=False)
class Bias:
    """Bias of one or more wears, jointly normal.

    Attributes
    ----------
    mean : numpy.ndarray, shape (wears, 3)
        Offset [mg/dL], drift [mg/dL], stretch [1] of each wear.
    covariance : numpy.ndarray, shape (wears, 3, wears, 3)
    weights : tuple of numpy.ndarray
        Weight of each check, 0-1.3; one under `OUTLIER_WEIGHT` hardly counts.
    log_likelihood : float
        Of the checks.
    everything : numpy.ndarray
        Covariance of all unknowns: three a wear, then one a meter.
    meters : tuple of int
        Place of each wear's meter among the unknowns.
    check_error_mg_dl : numpy.ndarray, shape (wears,)
        Error of a single check at the wearer's level, as the checks themselves showed it. [mg/dL]
    """

    mean: np.ndarray
    covariance: np.ndarray
    weights: tuple[np.ndarray, ...]
    log_likelihood: float
    everything: np.ndarray
    meters: tuple[int, ...]
    check_error_mg_dl: np.ndarray

    @property
    def offsets(self) -> np.ndarray:
        """Bias at the wearer's own level, shape (wears,). [mg/dL]"""
        return self.mean[:, 0]

    @property
    def offset_covariance(self) -> np.ndarray:
        """Shape (wears, wears). [(mg/dL)²]"""
        return self.covariance[:, 0, :, 0]

    def variance_of(self, contrast: np.ndarray) -> float:
        """Of a contrast of the offsets, shape (wears,). [(mg/dL)²]"""
        inside = np.flatnonzero(contrast)
        return float(contrast[inside] @ self.everything[np.ix_(3 * inside, 3 * inside)] @ contrast[inside])

    @property
    def gains(self) -> np.ndarray:
        """What a wear's rises, as its sensor shows them, are to be multiplied by, shape (wears,). [1]"""
        return np.maximum(1 - self.mean[:, 2], LEAST_GAIN)

    @property
    def gain_covariance(self) -> np.ndarray:
        """Of the gains, each a share of it, shape (wears, wears). [1]"""
        return self.covariance[:, 2, :, 2] / np.outer(self.gains, self.gains)

    def draw(self, wear: int, rng: np.random.Generator, size: int) -> np.ndarray:
        """Offset, drift and stretch of one wear, shape (size, 3).

        Each direction is sampled at the middles of equal shares, so that few draws already have
        the right mean and spread.
        """
        root = np.linalg.cholesky(self.covariance[wear, :, wear, :])
        shares = ndtri((np.arange(size) + 0.5) / size)
        return self.mean[wear] + np.column_stack([rng.permutation(shares) for _ in range(3)]) @ root.T

    def offset_variances(self, contrast: np.ndarray, wears: Sequence[int], more: Sequence[int]) -> np.ndarray:
        """Variance of a contrast of the offsets if each of some wears had further checks.

        Parameters
        ----------
        contrast : numpy.ndarray, shape (wears,)
        wears : sequence of int
            Those with further checks, by their own meters.
        more : sequence of int, length k
            Numbers of checks in each of them; taken to lie at the wearer's own level, evenly over the wear.

        Returns
        -------
        numpy.ndarray, shape (k,)
            [(mg/dL)²]

        Notes
        -----
        Only what the checks touch is solved for (Woodbury's identity), whatever the number of other wears.
        """
        touches = [np.array([3 * i, 3 * i + 1, self.meters[i]]) for i in wears]
        touched, inside = np.unique(touches), np.flatnonzero(contrast)
        information = np.zeros((len(more), len(touched), len(touched)))
        for i, unknowns in zip(wears, touches, strict=True):
            place = np.searchsorted(touched, unknowns)
            information[:, place[:, None], place] += _information(more) / self.check_error_mg_dl[i] ** 2
        among = self.everything[np.ix_(touched, touched)]
        along = self.everything[np.ix_(touched, 3 * inside)] @ contrast[inside]
        learnt = np.linalg.solve(np.eye(len(touched)) + information @ among, (information @ along)[..., None])
        return self.variance_of(contrast) - learnt[..., 0] @ along


def _information(more: Sequence[int]) -> np.ndarray:
    """Of checks spread evenly over a wear on offset, drift and meter, times their variance, shape (k, 3, 3)."""
    count = np.asarray(more, dtype=float)
    spread = np.where(count > 0, (count**2 - 1) / (12 * np.maximum(count, 1)), 0.0)
    known = count[:, None, None] * np.array([[1.0, 0, -1], [0, 0, 0], [-1, 0, 1]])
    known[:, 1, 1] = spread
    return known


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
    prior_cov, meters = _prior(wears)
    observed = _observe(wears, overlaps, meters)
    first = fit_bias(prior_cov, observed)
    return _as_bias(wears, fit_bias(_with_wider_stretch(wears, prior_cov, first), observed), observed, meters)


def _with_wider_stretch(wears: Sequence[CheckData], prior_cov: np.ndarray, fit: Fit) -> np.ndarray:
    """The prior once the size of each bias is seen: what share of it is gain is as unknown as before.

    The share is that of a model: what its sensors have in common may be gain in all of them or in none.
    """
    level = np.array([w.level_mg_dl for w in wears])
    offsets, stretches = (slice(part, 3 * len(wears), 3) for part in (0, 2))
    expected = prior_cov[offsets, offsets]
    seen = np.outer(fit.mean[offsets], fit.mean[offsets]) + fit.cov[offsets, offsets]
    size, along = np.linalg.eigh(np.where(expected > 0, seen - expected, 0.0) / np.outer(level, level))
    wider = prior_cov.copy()
    wider[stretches, stretches] += GAIN_SHARE * (1 - GAIN_SHARE) * (along * np.maximum(size, 0)) @ along.T
    return wider


def _as_bias(wears: Sequence[CheckData], fit: Fit, rows: Observed, meters: Sequence[int]) -> Bias:
    k = len(wears)
    own = np.arange(3 * k)
    splits = np.cumsum([len(w.check_mg_dl) for w in wears])
    return Bias(
        fit.mean[own].reshape(k, 3),
        fit.cov[np.ix_(own, own)].reshape(k, 3, k, 3),
        tuple(np.split(fit.weight[: splits[-1]], splits[:-1])),
        fit.log_likelihood if len(rows.seen) else 0.0,
        fit.cov,
        tuple(meters),
        # the tail's weighting leaves (TAIL + 1) / (TAIL + 3) of a check's information
        np.array([fit.scale * CHECK_FRACTION * w.blood_level_mg_dl for w in wears]) * np.sqrt((TAIL + 3) / (TAIL + 1)),
    )


def _prior(wears: Sequence[CheckData]) -> tuple[np.ndarray, list[int]]:
    """Prior covariance of (offset, drift, stretch) a wear, then one meter error a meter; place of each wear's meter."""
    k = len(wears)
    models, meters = _number([w.model for w in wears]), _number([w.meter for w in wears])
    level = np.array([w.blood_level_mg_dl for w in wears])
    # a sensor that is all gain stretches its own readings by its bias over its own level
    stretch = level / np.array([w.level_mg_dl for w in wears])
    # relative bias is offset + gain; the gain also stretches the readings about the level
    relative = MODEL_FRACTION**2 * (models[:, None] == models) + SENSOR_FRACTION**2 * np.eye(k)
    cov = np.zeros((3 * k + max(meters) + 1,) * 2)
    offsets, drifts, stretches = (slice(part, 3 * k, 3) for part in range(3))
    cov[offsets, offsets] = relative * np.outer(level, level)
    cov[offsets, stretches] = GAIN_SHARE * relative * np.outer(level, stretch)
    cov[stretches, offsets] = cov[offsets, stretches].T
    cov[stretches, stretches] = GAIN_SHARE * relative * np.outer(stretch, stretch)
    cov[drifts, drifts] = np.diag((DRIFT_FRACTION * level) ** 2)
    cov[3 * k :, 3 * k :] = (METER_FRACTION * level.mean()) ** 2 * np.eye(max(meters) + 1)
    return cov, (3 * k + meters).tolist()


def _number(names: Sequence[str]) -> np.ndarray:
    """One number a name, counted on; an empty one stands for one of its own."""
    own = [name or i for i, name in enumerate(names)]
    numbers = {name: j for j, name in enumerate(dict.fromkeys(own))}
    return np.array([numbers[name] for name in own])


def _observe(wears: Sequence[CheckData], overlaps: Sequence[SideBySide], meters: Sequence[int]) -> Observed:
    parts = [_observe_checks(wear, i, meters[i]) for i, wear in enumerate(wears)]
    for pair in overlaps:
        touched, design = [[3 * pair.first, 3 * pair.second, 0, 0]], [[1.0, -1.0, 0.0, 0.0]]
        error = [pair.se_mg_dl]
        parts.append(tuple(map(np.array, (touched, design, [pair.difference_mg_dl], error, [0.0], [False]))))
    return Observed(*(np.concatenate(part) for part in zip(*parts, strict=True)))


def _observe_checks(wear: CheckData, number: int, meter: int) -> tuple[np.ndarray, ...]:
    n = len(wear.check_mg_dl)
    own = np.where(wear.venous, 0.0, -1.0)
    return (
        np.tile([3 * number, 3 * number + 1, 3 * number + 2, meter], (n, 1)),
        np.column_stack([np.ones(n), wear.place, wear.sensor_mg_dl - wear.level_mg_dl, own]),
        wear.sensor_mg_dl - wear.check_mg_dl,
        wear.sensor_se_mg_dl,
        np.where(wear.venous, VENOUS_FRACTION, CHECK_FRACTION) * wear.check_mg_dl,
        np.ones(n, bool),
    )
