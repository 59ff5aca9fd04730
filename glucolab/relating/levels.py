"""What do levels leave of a column? Small linear algebra that the regressions share."""

from __future__ import annotations

import numpy as np


def indicate_levels(labels: np.ndarray) -> np.ndarray:
    """A column a label, 1 where it is the row's, shape (n, labels)."""
    return (labels[:, None] == np.unique(labels)).astype(float)


def keep_independent(columns: np.ndarray) -> np.ndarray:
    """Columns that are no sum of those to their left."""
    own = np.abs(np.diag(np.linalg.qr(columns)[1]))
    return columns[:, : len(own)][:, own > 1e-9 * len(columns)]


def take_levels_off(levels: np.ndarray, values: np.ndarray) -> np.ndarray:
    """What the levels leave of values, same shape."""
    basis = np.linalg.qr(levels)[0]
    return values - basis @ (basis.T @ values)
