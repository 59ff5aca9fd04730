"""What do finger-sticks leave possible of the sensors' biases? The linear fit below it, errors with heavy tails."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

TAIL = 4.0
"""Degrees of freedom of the checks' errors; assumed. Larger, one bad check moves the bias; smaller, good ones that lie
a little off lose weight and the interval is too wide. [1]"""
LEAST_SCALE, MOST_SCALE = 0.75, 3.0
"""How far the checks themselves may move what is expected of their spread; assumed. Without the floor a few that agree
by chance promise too much; too low a ceiling lets a poor meter's checks pass for good ones. [times]"""


@dataclass(frozen=True, eq=False)
class Observed:
    """What was seen of the biases, a row a check and a row two sensors worn side by side.

    Attributes
    ----------
    unknowns : numpy.ndarray of int, shape (n, 4)
        The only ones a row touches: hundreds of wears have over a thousand.
    design : numpy.ndarray, shape (n, 4)
        What a unit of each adds to the row.
    seen, fixed, spread : numpy.ndarray, shape (n,)
        Difference, its fixed error, and a check's own as it is to be expected. [mg/dL]
    soft : numpy.ndarray of bool, shape (n,)
        Checks.
    """

    unknowns: np.ndarray
    design: np.ndarray
    seen: np.ndarray
    fixed: np.ndarray
    spread: np.ndarray
    soft: np.ndarray

    def information(self, noise: np.ndarray, size: int) -> np.ndarray:
        """Of errors of those variances on the unknowns, shape (size, size)."""
        information = np.zeros((size, size))
        of_row = self.design[:, :, None] * self.design[:, None, :] / noise[:, None, None]
        np.add.at(information, (self.unknowns[:, :, None], self.unknowns[:, None, :]), of_row)
        return information

    def explain(self, noise: np.ndarray, cov: np.ndarray) -> np.ndarray:
        """Mean of the unknowns, given their covariance, shape (unknowns,)."""
        told = (self.design * (self.seen / noise)[:, None]).ravel()
        return cov @ np.bincount(self.unknowns.ravel(), told, minlength=len(cov))

    def expect(self, mean: np.ndarray, cov: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """What each row is to show, and its variance, shape (n,) each."""
        among = cov[self.unknowns[:, :, None], self.unknowns[:, None, :]]
        variance = np.einsum("ni,nij,nj->n", self.design, among, self.design)
        return np.sum(self.design * mean[self.unknowns], axis=1), variance


@dataclass(frozen=True, eq=False)
class Fit:
    """What the rows leave possible.

    Attributes
    ----------
    mean : numpy.ndarray, shape (size,)
    cov : numpy.ndarray, shape (size, size)
        Of the unknowns.
    weight : numpy.ndarray, shape (n,)
        Of each row, 0-1.3.
    scale : float
        How far checks spread, over what was expected of them.
    log_likelihood : float
        Of what was seen.
    """

    mean: np.ndarray
    cov: np.ndarray
    weight: np.ndarray
    scale: float
    log_likelihood: float


def fit_bias(prior_cov: np.ndarray, rows: Observed) -> Fit:
    """Posterior of the unknowns; checks' errors are Student's by reweighting, and their spread is learnt.

    Parameters
    ----------
    prior_cov : numpy.ndarray, shape (size, size)
        Of the unknowns, whose prior mean is nil.
    rows : Observed

    Notes
    -----
    The information form: what a row tells is added to the inverse of the prior, and rows cost what they are.
    """
    scale, weight, soft = 1.0, np.ones(len(rows.seen)), rows.soft
    prior = np.linalg.inv(prior_cov)
    for _ in range(12 if soft.any() else 1):
        noise = rows.fixed**2 + np.where(soft, (scale * rows.spread) ** 2 / weight, 0.0)
        cov = np.linalg.inv(prior + rows.information(noise, len(prior)))
        mean = rows.explain(noise, cov)
        expected, unsure = rows.expect(mean, cov)
        # what the fit itself leaves uncertain is added, else few checks look better than they are
        squared = ((rows.seen - expected) ** 2 + unsure) / (rows.fixed**2 + (scale * rows.spread) ** 2)
        weight = np.where(soft, (TAIL + 1) / (TAIL + squared), 1.0)
        if soft.any():
            ratio = (weight * squared)[soft].sum()
            scale *= np.sqrt(np.clip((8 + ratio) / (8 + soft.sum()), 0.5, 2.0))
            scale = float(np.clip(scale, LEAST_SCALE, MOST_SCALE))
    # of seen, whose covariance is never formed: the determinant lemma, and what the mean leaves of its square
    log_det = np.log(noise).sum() + np.linalg.slogdet(prior_cov)[1] - np.linalg.slogdet(cov)[1]
    square = rows.seen / noise @ (rows.seen - expected)
    return Fit(mean, cov, weight, scale, float(-0.5 * (log_det + square)))
