"""How else could the lot have fallen? Every way of drawing the arms anew, or many of them at random."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import comb, prod

import numpy as np

_MOST_WAYS = 200_000
"""Draws of the lot gone through one by one [1], a matter of time; above it `DRAWN_WAYS` are drawn at random."""
DRAWN_WAYS = 20_000
"""Draws then taken [1]; assumed: a p of 0.10 is known within 0.002 (one SE). Fewer make p and the interval noisier."""
_SEED = 20260203
"""Fixed, so that a report made twice says the same; another moves p within that error. [1]"""


def sum_over_ways(columns: np.ndarray, in_b: np.ndarray, lot: np.ndarray) -> np.ndarray:
    """What each way of drawing the lot anew would have summed up over arm b.

    Parameters
    ----------
    columns : array, shape (n, c)
        Of which the sum over the members of b is taken.
    in_b : array of bool, shape (n,)
        As it was drawn.
    lot : array, shape (n,)
        Rows that were drawn among each other: every way of placing as many of them in b as there are is as likely.

    Returns
    -------
    numpy.ndarray, shape (c, ways)
        The way that happened among them. Where there are more than 200,000 ways, 20,000 at random.
    """
    lots = [np.flatnonzero(lot == one) for one in np.unique(lot)]
    sizes = [(len(rows), int(in_b[rows].sum())) for rows in lots]
    if prod(comb(n, k) for n, k in sizes) > _MOST_WAYS:
        return _draw_ways(columns, in_b, lots)
    sums = np.zeros((columns.shape[1], 1))
    for rows, (n, k) in zip(lots, sizes, strict=True):
        ways = np.array(list(combinations(range(n), k)), dtype=int)
        mine = columns[rows][ways].sum(axis=1).T
        sums = (sums[:, :, None] + mine[:, None, :]).reshape(len(sums), -1)
    return sums


def _draw_ways(columns: np.ndarray, in_b: np.ndarray, lots: Sequence[np.ndarray]) -> np.ndarray:
    rng = np.random.default_rng(_SEED)
    sums = np.zeros((columns.shape[1], DRAWN_WAYS))
    for rows in lots:
        k = int(in_b[rows].sum())
        ways = np.argsort(rng.random((DRAWN_WAYS - 1, len(rows))), axis=1)[:, :k]
        ways = np.vstack([np.flatnonzero(in_b[rows]), ways])
        sums += columns[rows][ways].sum(axis=1).T
    return sums
