"""What is known of the sensors' biases once checks are counted in, and what would more checks tell?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from glucolab.aligning.hour_bias import HOUR_PARTS, mean_shapes

LEAST_GAIN = 0.1
"""Least gain [1]; assumed: no sensor stretches rises tenfold. It keeps shares finite; larger, it overstates rises."""
PARTS = 3 + HOUR_PARTS
"""Unknowns of a wear's sensor: offset, drift, stretch, and the shapes of the hours; the model's own. [1]"""
OF_HOURS = slice(3, PARTS)
"""Place of the hours' shapes among them [1]; the model's own: any other would take offsets for hours."""
OF_CHECKS = PARTS
"""Place, after those, of what all checks of a wear have in common, the meter's error and its strips' [1]; the model's
own: any other would take the sensor's for the meter's."""
UNKNOWNS = PARTS + 1
"""All of a wear [1]; the model's own."""
AWAKE_H = (7.0, 23.0)
"""When finger-sticks that are yet to come are taken [h]; assumed. Longer, they promise to tell more of the night."""


@dataclass(frozen=True, eq=False)
class Bias:
    """Bias of one or more wears, jointly normal.

    Attributes
    ----------
    mean : numpy.ndarray, shape (wears, 7)
        Offset [mg/dL], drift [mg/dL], stretch [1] of each wear, and the four shapes of the hours [mg/dL].
    joint : numpy.ndarray, shape (wears, 8, wears, 8)
        Covariance of those and, last, of what a wear's checks have in common.
    weights : tuple of numpy.ndarray
        Weight of each check, 0-1.3; one under `OUTLIER_WEIGHT` hardly counts.
    log_likelihood : float
        Of the checks.
    check_error_mg_dl : numpy.ndarray, shape (wears,)
        Error of a single check at the wearer's level, as the checks themselves showed it. [mg/dL]
    """

    mean: np.ndarray
    joint: np.ndarray
    weights: tuple[np.ndarray, ...]
    log_likelihood: float
    check_error_mg_dl: np.ndarray

    @property
    def covariance(self) -> np.ndarray:
        """Of the sensors' unknowns, shape (wears, 7, wears, 7)."""
        return self.joint[:, :PARTS, :, :PARTS]

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
        return float(contrast[inside] @ self.offset_covariance[np.ix_(inside, inside)] @ contrast[inside])

    def hour_variances_of(self, contrast: np.ndarray, shapes: np.ndarray) -> np.ndarray:
        """Of a contrast of the wears' departures at some hours, free of their offsets, shape (n,). [(mg/dL)²]

        Parameters
        ----------
        contrast : numpy.ndarray, shape (wears,)
        shapes : numpy.ndarray, shape (n, 4)
            Of those hours; see :mod:`glucolab.aligning.hour_bias`.
        """
        inside = np.flatnonzero(contrast)
        among = self.covariance[:, OF_HOURS, :, OF_HOURS][inside][:, :, inside]
        together = np.einsum("i,iajb,j->ab", contrast[inside], among, contrast[inside])
        return np.einsum("na,ab,nb->n", shapes, together, shapes)

    @property
    def gains(self) -> np.ndarray:
        """What a wear's rises, as its sensor shows them, are to be multiplied by, shape (wears,). [1]"""
        return np.maximum(1 - self.mean[:, 2], LEAST_GAIN)

    @property
    def gain_covariance(self) -> np.ndarray:
        """Of the gains, each a share of it, shape (wears, wears). [1]"""
        return self.covariance[:, 2, :, 2] / np.outer(self.gains, self.gains)

    def draw(self, wear: int, rng: np.random.Generator, size: int) -> np.ndarray:
        """Unknowns of one wear, shape (size, 7).

        Each direction is sampled at the middles of equal shares and made free of the others, so that few draws
        already have the right mean, spread and correlation.
        """
        root = np.linalg.cholesky(self.covariance[wear, :, wear, :])
        shares = ndtri((np.arange(size) + 0.5) / size)
        drawn = np.column_stack([rng.permutation(shares) for _ in range(PARTS)])
        apart = np.linalg.cholesky(drawn.T @ drawn / size)
        return self.mean[wear] + np.linalg.solve(apart, drawn.T).T @ root.T

    def offset_variances(self, contrast: np.ndarray, wears: Sequence[int], more: Sequence[int]) -> np.ndarray:
        """Variance of a contrast of the offsets if each of some wears had further checks.

        Parameters
        ----------
        contrast : numpy.ndarray, shape (wears,)
        wears : sequence of int
            Those with further checks, by the meter and strips of their others.
        more : sequence of int, length k
            Numbers of checks in each of them; taken to lie at the wearer's own level, evenly over the wear and over
            the waking hours.

        Returns
        -------
        numpy.ndarray, shape (k,)
            [(mg/dL)²]

        Notes
        -----
        Only what the checks touch is solved for (Woodbury's identity), whatever the number of other wears.
        """
        of_wear = np.r_[0, 1, OF_HOURS, OF_CHECKS]
        touched = (UNKNOWNS * np.asarray(wears)[:, None] + of_wear).ravel()
        inside = UNKNOWNS * np.flatnonzero(contrast)
        information = np.zeros((len(more), len(touched), len(touched)))
        for i, place in zip(wears, np.arange(len(touched)).reshape(len(wears), -1), strict=True):
            information[:, place[:, None], place] = _information(more) / self.check_error_mg_dl[i] ** 2
        everything = self.joint.reshape(UNKNOWNS * len(self.mean), -1)
        among = everything[np.ix_(touched, touched)]
        along = everything[np.ix_(touched, inside)] @ contrast[contrast != 0]
        learnt = np.linalg.solve(np.eye(len(touched)) + information @ among, (information @ along)[..., None])
        return self.variance_of(contrast) - learnt[..., 0] @ along


def _information(more: Sequence[int]) -> np.ndarray:
    """Of checks spread evenly on offset, drift, hours and meter, times their variance, shape (k, 7, 7)."""
    count = np.asarray(more, dtype=float)
    spread = np.where(count > 0, (count**2 - 1) / (12 * np.maximum(count, 1)), 0.0)
    seen = np.r_[1.0, 0.0, mean_shapes(*AWAKE_H), -1.0]
    known = count[:, None, None] * np.outer(seen, seen)
    known[:, 1, 1] = spread
    return known
