"""How often would chance alone give such an effect? Whole days dealt in a new order within each wear."""

from __future__ import annotations

import numpy as np

from glucolab.relating.statistics.fixed_effects import Whitened
from glucolab.relating.statistics.intercepts import orthonormal_basis

N_ORDERS = 999
"""Permutations behind each p-value [1]; common practice. The smallest p is 0.001, so that of forty questions a single
one whose factor weighs little cannot reach q 0.10 while none other is clear; more take longer."""
_SEED = 20260203
"""Fixed, so that a report made twice says the same; another moves a p-value within its simulation error. [1]"""


def deal_orders(wear: np.ndarray, day: np.ndarray, n_orders: int) -> np.ndarray:
    """Random orders of rows that keep each wear's rows in the wear and each day's together.

    Days change places within their wear; rows of a day stay next to each other and change places
    among themselves, so that a factor that varies within the day is permuted too.

    Parameters
    ----------
    wear, day : array of int, shape (n,)
        Of rows sorted by wear, then day.
    n_orders : int

    Returns
    -------
    numpy.ndarray of int32, shape (n_orders, n)
        Which row comes to stand at each place. Kept for many questions: half the memory of a plain int.
    """
    rng = np.random.default_rng(_SEED)
    begins = (np.diff(wear, prepend=-1) != 0) | (np.diff(day, prepend=-1) != 0)
    days = rng.random((n_orders, int(begins.sum())))
    key = 2.0 * wear + days[:, np.cumsum(begins) - 1] + 1e-7 * rng.random((n_orders, len(wear)))
    return np.argsort(key, axis=1).astype(np.int32)


def restrict_orders(orders: np.ndarray, keep: np.ndarray) -> np.ndarray:
    """The same orders among the rows kept, numbered anew, shape (n_orders, number kept)."""
    numbers = np.cumsum(keep, dtype=np.int32) - 1
    return numbers[orders[keep[orders]]].reshape(len(orders), int(keep.sum()))


def permutation_p_value(rows: Whitened, orders: np.ndarray) -> float:
    """Two-sided p-value of a coefficient, residuals of the model without it being permuted.

    Freedman & Lane, J Bus Econ Stat 1983;1:292-298: what is left of the outcome after all that is adjusted
    for is put in a new order, and the factor's t is taken anew.

    Parameters
    ----------
    rows : Whitened
    orders : array of int, shape (b, n)

    Returns
    -------
    float
        (1 + number at least as extreme) / (1 + b); 1 where nothing is left of the outcome.
    """
    outcome, factor, intercepts = rows.outcome, rows.factor, rows.intercepts
    basis = orthonormal_basis(rows.beside)
    rest = outcome - basis @ (basis.T @ outcome)
    if rest @ rest <= 1e-12 * (outcome @ outcome):
        return 1.0
    own = factor - basis @ (basis.T @ factor)
    own /= np.linalg.norm(own)
    dealt = rest[orders]
    of_intercepts = np.add.reduceat(dealt * intercepts.column, intercepts.starts, axis=1) ** 2 @ (1 / intercepts.sizes)
    share = (dealt @ own) ** 2 / (rest @ rest - of_intercepts - np.sum((dealt @ basis) ** 2, axis=1))
    seen = (rest @ own) ** 2 / (rest @ rest)
    return float((1 + np.count_nonzero(share >= seen * (1 - 1e-9))) / (1 + len(orders)))
