"""What is known of sensors' biases before any check? The prior that wears of one model and one meter share.

Relative to the wearer's level, a sensor's bias is an offset and a gain, each partly its model's; so is how it departs
by the hour. A wear's checks have their meter's error in common, and that of the strips that they were taken with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.aligning.bias_fit import Fit, Prior
from glucolab.aligning.bias_posterior import OF_CHECKS, OF_HOURS, UNKNOWNS
from glucolab.aligning.hour_bias import HOUR_PARTS, own_hour_variance, shared_hour_variance
from glucolab.conventions import MINOR_UNDER_G

SENSOR_FRACTION = 0.11
"""SD between sensors of one model [of the level]: open two-sensor recordings show 0.10-0.12 with heavy tails, whose 90
% this holds; two of one type worn together 0.066 (Zschornack 2013, PMC3879745). Too small, wears seem to differ; too
large, no change is clear."""
MODEL_FRACTION = 0.20
"""SD between models [of the level]: two models' mean log-ratio 0.35 in the same recordings, over sqrt 2, gives 0.25.
With the sensor's own part 0.22, 21 mg/dL at 95: Hutchins et al. 2025 found +16 ± 11 with one model in 15 healthy
adults, Staal et al. 2018 -32 to +25 over 39 sensors in diabetes. Too small, a mean without checks looks too sure."""
DRIFT_FRACTION = 0.08
"""SD of drift over a wear, end to end [of the level]: a sensor's share of it in the same recordings, over ten days. Too
small, the halves of a wear seem to differ, and checks at one end count for the other; too large, checks tell little."""
GAIN_SHARE = 0.45
"""Of the variance of a sensor's relative bias, what is gain; the rest is offset [0-1]. The same recordings (log-ratio
of the two sensors' standard deviations 0.14 ± 0.11, of their means 0.35 ± 0.15) allow a fifth to a half; too little
would make a rise's interval too narrow, too much only too wide."""
METER_FRACTION = 0.05
"""SD of what all checks by one meter share [of the level]: 0.045 for one that complies, 0.06 over 43 systems of all
kinds (PMC3570840), of 18 newer ones 14 comply (doi 10.1136/bmjdrc-2019-001067). Too small, many checks promise too
narrow a mean; too large, those of a good one tell too little."""
STRIPS_FRACTION = 0.02
"""SD of what the strips of one wear's checks add to the meter's error [of the level]: between four lots of five systems
0.005 to 0.063, median 0.015 and root mean square 0.033 (PMC3570841, doi 10.1177/193229681200600511). Too small, wears
by one meter seem to differ; too large, no change of them is clear."""
CHECK_FRACTION = 0.06
"""SD of one check [of its value]; with the meter's 0.075: ISO 15197:2013 asks 95 of 100 within 15 mg/dL under 100. Too
small, a poor check moves the bias; too large, a few good ones do not."""
VENOUS_FRACTION = 0.03
"""SD of a laboratory value [of it]: analysis about 2 %, the rest handling; assumed. Too small, a poor one moves the
bias; too large, a good one does not."""
FED_MG_DL, FED_FOR_MIN = 15.0, 150.0
"""SD of what a vein lacks of a finger's glucose after food [mg/dL], and for how long [min]: an hour after breakfast 24
(103 people, Ann Clin Biochem 2013;50:6), 32 at its most in a drink of glucose and little from two hours on
(doi 10.3109/00365517609081941). Too small, a draw after food makes the sensor seem to read high; too large, it is
wasted."""


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
    fed : numpy.ndarray of bool, shape (n,)
        Taken soon after food; see :func:`follows_food`.
    hour : numpy.ndarray, shape (n,)
        Local time of day. [h]
    """

    level_mg_dl: float
    model: str
    meter: str
    sensor_mg_dl: np.ndarray
    sensor_se_mg_dl: np.ndarray
    check_mg_dl: np.ndarray
    place: np.ndarray
    venous: np.ndarray
    fed: np.ndarray
    hour: np.ndarray

    @classmethod
    def unchecked(cls, level_mg_dl: float, model: str, meter: str) -> CheckData:
        """A sensor at that level, before any check."""
        none, no = np.empty(0), np.empty(0, bool)
        return cls(level_mg_dl, model, meter, none, none, none, none, no, no, none)

    @property
    def blood_level_mg_dl(self) -> float:
        """What fractions of the wearer's level are taken of: the checks' mean, else the sensor's own. [mg/dL]"""
        return float(self.check_mg_dl.mean()) if len(self.check_mg_dl) else self.level_mg_dl


def follows_food(times: pd.DatetimeIndex, meals: pd.DataFrame) -> np.ndarray:
    """Moments within two and a half hours after logged food, shape (n,)."""
    eaten = pd.DatetimeIndex(meals.loc[~(meals["carbs_g"] < MINOR_UNDER_G), "time"]).sort_values()
    before = eaten.searchsorted(times, side="right") - eaten.searchsorted(times - pd.Timedelta(minutes=FED_FOR_MIN))
    return np.asarray(before > 0)


def venous_error(value_mg_dl: np.ndarray, fed: np.ndarray) -> np.ndarray:
    """SD of a laboratory's glucose about that of a finger at the same moment, shape (n,). [mg/dL]"""
    return np.hypot(VENOUS_FRACTION * value_mg_dl, np.where(fed, FED_MG_DL, 0.0))


def build_prior(wears: Sequence[CheckData]) -> Prior:
    """Before any check, with what wears of one model or one meter have in common."""
    level = np.array([w.blood_level_mg_dl for w in wears])
    # a sensor that is all gain stretches its own readings by its bias over its own level
    stretch = level / np.array([w.level_mg_dl for w in wears])
    own = np.zeros((len(wears), UNKNOWNS, UNKNOWNS))
    own[:, 1, 1] = (DRIFT_FRACTION * level) ** 2
    own[:, OF_CHECKS, OF_CHECKS] = (STRIPS_FRACTION * level) ** 2
    own += _square(_load_bias(level, stretch, SENSOR_FRACTION, own_hour_variance()))
    meter = np.zeros((len(wears), UNKNOWNS, 1))
    meter[:, OF_CHECKS, 0] = METER_FRACTION * level
    model = _load_bias(level, stretch, MODEL_FRACTION, shared_hour_variance())
    shared = []
    for names, loads in (([w.model for w in wears], model), ([w.meter for w in wears], meter)):
        for inside in _group_by_name(names):
            if len(inside) == 1:
                own[inside] += _square(loads[inside])
            else:
                shared.append(_keep(loads, inside))
    return Prior(own, np.concatenate([np.zeros((len(wears), UNKNOWNS, 0)), *shared], axis=-1))


def widen_stretch(wears: Sequence[CheckData], prior: Prior, fit: Fit) -> Prior:
    """The prior once the size of each bias is seen: what share of it is gain is as unknown as before.

    The share is that of a model: what its sensors have in common may be gain in all of them or in none.

    Notes
    -----
    The surplus of the squares seen over those expected has one positive direction a model: a square less what checks
    taught.
    """
    own, shared = prior.own.copy(), [prior.shared]
    level = np.array([w.level_mg_dl for w in wears])
    for inside in _group_by_name([w.model for w in wears]):
        offset = fit.mean[inside, 0]
        of_shared = prior.shared[inside, 0]
        expected = np.diag(prior.own[inside, 0, 0]) + of_shared @ of_shared.T
        surplus = np.outer(offset, offset) + fit.cov[:, 0, :, 0][np.ix_(inside, inside)] - expected
        size, along = np.linalg.eigh(surplus / np.outer(level[inside], level[inside]))
        wider = np.zeros((len(wears), UNKNOWNS, 1))
        wider[inside, 2, 0] = np.sqrt(GAIN_SHARE * (1 - GAIN_SHARE) * max(size[-1], 0.0)) * along[:, -1]
        if len(inside) == 1:
            own[inside] += _square(wider[inside])
        else:
            shared.append(wider)
    return Prior(own, np.concatenate(shared, axis=-1))


def _load_bias(level: np.ndarray, stretch: np.ndarray, fraction: float, by_hour: np.ndarray) -> np.ndarray:
    """What offset, gain and hours, each of variance one, add to the unknowns, shape (wears, 8, 6)."""
    loads = np.zeros((len(level), UNKNOWNS, 2 + HOUR_PARTS))
    loads[:, 0, 0] = fraction * np.sqrt(1 - GAIN_SHARE) * level
    # a gain is a bias at the wearer's level; it also stretches the readings about that
    loads[:, 0, 1] = fraction * np.sqrt(GAIN_SHARE) * level
    loads[:, 2, 1] = fraction * np.sqrt(GAIN_SHARE) * stretch
    loads[:, OF_HOURS, 2:] = np.linalg.cholesky(by_hour) * level[:, None, None]
    return loads


def _square(loads: np.ndarray) -> np.ndarray:
    return loads @ loads.mT


def _keep(loads: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """The same, nil but for these wears."""
    kept = np.zeros_like(loads)
    kept[inside] = loads[inside]
    return kept


def _group_by_name(names: Sequence[str]) -> list[np.ndarray]:
    """Places of each name; an empty one stands for one of its own."""
    groups: dict[str | int, list[int]] = {}
    for i, name in enumerate(names):
        groups.setdefault(name or i, []).append(i)
    return [np.array(places) for places in groups.values()]
