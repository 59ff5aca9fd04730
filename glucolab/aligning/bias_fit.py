"""What do finger-sticks leave possible of the sensors' biases? The linear fit below it, errors with heavy tails.

A wear's unknowns x are its own part u and its share of what wears have in common z, all normal beforehand:

    x = u + L z,   y = D x + error

Given z the wears tell nothing of each other, but for those worn side by side: the cost is linear in wears.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

TAIL = 4.0
"""Degrees of freedom of the checks' errors; assumed. Larger, one bad check moves the bias; smaller, good ones that lie
a little off lose weight and the interval is too wide. [1]"""
LEAST_SCALE, MOST_SCALE = 0.75, 3.0
"""How far the checks themselves may move what is expected of their spread; assumed. Without the floor a few that agree
by chance promise too much; too low a ceiling lets a poor meter's checks pass for good ones. [times]"""
_ROUNDS = 12
"""Of reweighting: the last moves a weight by less than a hundredth; fewer leave bad checks too much, more cost time."""


class Prior(NamedTuple):
    """What is known of the unknowns beforehand, about a mean of nil.

    Attributes
    ----------
    own : numpy.ndarray, shape (wears, p, p)
        Covariance of what a wear shares with none.
    shared : numpy.ndarray, shape (wears, p, s)
        What a unit of each common part, of variance one, adds to the wear's unknowns.
    """

    own: np.ndarray
    shared: np.ndarray


@dataclass(frozen=True, eq=False)
class Observed:
    """What was seen of the biases, a row a check and a row two sensors worn side by side.

    Attributes
    ----------
    unknowns : numpy.ndarray of int, shape (n, u)
        Those that a row touches, counted on through the wears.
    design : numpy.ndarray, shape (n, u)
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


@dataclass(frozen=True, eq=False)
class Fit:
    """What the rows leave possible.

    Attributes
    ----------
    mean : numpy.ndarray, shape (wears, p)
    cov : numpy.ndarray, shape (wears, p, wears, p)
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


def fit_bias(prior: Prior, rows: Observed) -> Fit:
    """Posterior of the unknowns; checks' errors are Student's by reweighting, and their spread is learnt.

    Parameters
    ----------
    prior : Prior
    rows : Observed
    """
    groups = _Groups(prior, rows)
    scale, weight, soft = 1.0, np.ones(len(rows.seen)), rows.soft
    for _ in range(_ROUNDS if soft.any() else 1):
        noise = rows.fixed**2 + np.where(soft, (scale * rows.spread) ** 2 / weight, 0.0)
        found = groups.solve(rows.seen, noise)
        # what the fit itself leaves uncertain is added, else few checks look better than they are
        squared = ((rows.seen - found.expected) ** 2 + found.unsure) / (rows.fixed**2 + (scale * rows.spread) ** 2)
        weight = np.where(soft, (TAIL + 1) / (TAIL + squared), 1.0)
        if soft.any():
            ratio = (weight * squared)[soft].sum()
            scale *= np.sqrt(np.clip((8 + ratio) / (8 + soft.sum()), 0.5, 2.0))
            scale = float(np.clip(scale, LEAST_SCALE, MOST_SCALE))
    return Fit(*groups.by_wear(found), weight, scale, found.log_likelihood)


class _Solved(NamedTuple):
    """Of one round: mean (groups, unknowns), covariance given what is common, what that adds, its covariance; and of
    each row what is expected, and its variance."""

    mean: np.ndarray
    own: np.ndarray
    along: np.ndarray
    common: np.ndarray
    expected: np.ndarray
    unsure: np.ndarray
    log_likelihood: float


class _Groups:
    """Wears that rows tie together, all groups padded to one size so that they are solved at once."""

    def __init__(self, prior: Prior, rows: Observed) -> None:
        k, p, s = prior.shared.shape
        wears = rows.unknowns // p
        self.size, group = p, _tie(k, wears)
        slot = _count_within(group)
        place = slot[:, None] * p + np.arange(p)
        g, u = group.max() + 1, p * (slot.max() + 1)
        self.wear_place = group, place
        self.own, self.shared = np.zeros((g, u, u)), np.zeros((g, u, s))
        self.own[group[:, None, None], place[:, :, None], place[:, None, :]] = prior.own
        self.shared[group[:, None], place] = prior.shared
        of_row = group[wears[:, 0]] if len(wears) else np.zeros(0, int)
        self.row = of_row, _count_within(of_row)
        self.design = np.zeros((g, int(self.row[1].max(initial=-1)) + 1, u))
        within = place[wears, rows.unknowns % p]
        np.add.at(self.design, (of_row[:, None], self.row[1][:, None], within), rows.design)

    def solve(self, seen: np.ndarray, noise: np.ndarray) -> _Solved:
        """Posterior for errors of those variances."""
        shape, s = self.design.shape[:2], self.shared.shape[-1]
        values, error = np.zeros(shape), np.ones(shape)
        values[self.row], error[self.row] = seen, noise
        crossed, common = self.design @ self.own, self.design @ self.shared
        total = crossed @ self.design.mT + error[..., None] * np.eye(shape[1])
        solved = np.linalg.solve(total, np.concatenate([common, values[..., None], crossed], axis=-1))
        of_common, of_values, of_own = solved[..., :s], solved[..., s], solved[..., s + 1 :]
        pull = np.einsum("gns,gn->s", common, of_values)
        information = np.eye(s) + np.einsum("gns,gnt->st", common, of_common)
        covariance = np.linalg.inv(information)
        z = covariance @ pull
        own = self.own - crossed.mT @ of_own
        along = self.shared - crossed.mT @ of_common
        mean = np.einsum("gnu,gn->gu", crossed, of_values) + along @ z
        seen_along = self.design @ along
        unsure = np.einsum("gnu,guv,gnv->gn", self.design, own, self.design)
        unsure += np.einsum("gns,st,gnt->gn", seen_along, covariance, seen_along)
        expected = np.einsum("gnu,gu->gn", self.design, mean)
        log_det = np.linalg.slogdet(total)[1].sum() + np.linalg.slogdet(information)[1]
        square = np.sum(values * of_values) - pull @ z
        likelihood = float(-0.5 * (log_det + square))
        return _Solved(mean, own, along, covariance, expected[self.row], unsure[self.row], likelihood)

    def by_wear(self, found: _Solved) -> tuple[np.ndarray, np.ndarray]:
        """Mean and covariance of the unknowns, wear by wear."""
        group, place = self.wear_place
        along = found.along[group[:, None], place]
        k, p, s = along.shape
        flat = along.reshape(k * p, s)
        cov = (flat @ found.common @ flat.T).reshape(k, p, k, p)
        first, second = np.nonzero(group[:, None] == group)
        inside = place[first][:, :, None], place[second][:, None, :]
        cov[first, :, second, :] += found.own[group[first][:, None, None], *inside]
        return found.mean[group[:, None], place], cov


def _tie(count: int, wears: np.ndarray) -> np.ndarray:
    """Number of each wear's group: those that one row touches are of one, shape (count,)."""
    group = np.arange(count)
    for first, *others in wears[(wears != wears[:, :1]).any(axis=1)]:
        for other in others:
            group[group == group[other]] = group[first]
    return np.unique(group, return_inverse=True)[1]


def _count_within(groups: np.ndarray) -> np.ndarray:
    """0, 1, … within each group, in the order given, shape (n,)."""
    order = np.argsort(groups, kind="stable")
    begins = np.searchsorted(groups[order], groups[order])
    within = np.empty(len(groups), int)
    within[order] = np.arange(len(groups)) - begins
    return within
