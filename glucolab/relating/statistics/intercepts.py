"""How are the wears' intercepts partialled out? Small linear algebra that the regressions share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class WearIntercepts:
    """An intercept of its own for each wear: one column holds them all, for no two have a row in common.

    A column a wear would cost the square of the wears, and hundreds of wears may be kept.

    Attributes
    ----------
    column : numpy.ndarray, shape (..., n)
        What a unit of its wear's intercept adds to each row: 1, or that in other units.
    starts : numpy.ndarray of int, shape (w,)
        The first row of each wear, rows being sorted by wear.
    """

    column: np.ndarray
    starts: np.ndarray

    @classmethod
    def of(cls, wear: np.ndarray) -> WearIntercepts:
        """Those of rows sorted by wear, shape (n,)."""
        return cls(np.ones(len(wear)), np.flatnonzero(np.diff(wear, prepend=-1)))

    @property
    def sizes(self) -> np.ndarray:
        """Sum of squares of each intercept's column, shape (..., w)."""
        return np.add.reduceat(self.column**2, self.starts, axis=-1)

    def partial_out(self, columns: np.ndarray) -> np.ndarray:
        """What the intercepts leave of columns, shape (..., n, p); 0 where that is rounding alone."""
        of_row = self.column[..., None]
        share = np.add.reduceat(of_row * columns, self.starts, axis=-2) / self.sizes[..., None]
        rows = np.diff(self.starts, append=self.column.shape[-1])
        left = columns - of_row * np.repeat(share, rows, axis=-2)
        something = np.sum(left**2, axis=-2, keepdims=True) > 1e-18 * np.sum(columns**2, axis=-2, keepdims=True)
        return np.where(something, left, 0.0)


def dummy_columns(labels: np.ndarray) -> np.ndarray:
    """A column a label, 1 where it is the row's, shape (n, labels)."""
    return (labels[:, None] == np.unique(labels)).astype(float)


def keep_independent(columns: np.ndarray) -> np.ndarray:
    """Columns that are no sum of those to their left."""
    own = np.abs(np.diag(np.linalg.qr(columns)[1]))
    return columns[:, : len(own)][:, own > 1e-9 * len(columns)]


def orthonormal_basis(columns: np.ndarray) -> np.ndarray:
    """Orthonormal columns with the same span: one that others make up adds none, where QR adds a direction of noise."""
    directions, root = np.linalg.qr(columns)
    along, size, _ = np.linalg.svd(root)
    return directions @ along[:, size > 1e-9 * size.max(initial=0.0)]


def partial_out(values: np.ndarray, wear: np.ndarray, beside: np.ndarray | None = None) -> np.ndarray:
    """What the wears' intercepts, and columns beside them, leave of values.

    Parameters
    ----------
    values : array, shape (n,) or (n, p)
    wear : array, shape (n,)
        Rows sorted by it.
    beside : array, shape (n, q), optional

    Returns
    -------
    numpy.ndarray, shape of `values`
    """
    intercepts = WearIntercepts.of(wear)
    left = intercepts.partial_out(values.reshape(len(values), -1))
    if beside is not None and beside.shape[1]:
        basis = orthonormal_basis(intercepts.partial_out(beside))
        left = left - basis @ (basis.T @ left)
    return left.reshape(values.shape)


def first_rows_of_days(wear: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Positions of the first row of each day of each wear, rows being sorted by wear and day."""
    return np.flatnonzero((np.diff(wear, prepend=-1) != 0) | (np.diff(day, prepend=-1) != 0))
