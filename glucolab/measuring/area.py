"""How much did glucose add up to? The area above where it stood, by the standard's rule for crossings."""

from __future__ import annotations

import numpy as np


def incremental_area(minutes: np.ndarray, above: np.ndarray) -> np.ndarray:
    """Incremental area under the curve: trapezoids above baseline, triangles at crossings.

    Parameters
    ----------
    minutes : numpy.ndarray, shape (n,)
        Sampling times, ascending. [min]
    above : numpy.ndarray, shape (..., n)
        Values minus baseline. [mg/dL]

    Returns
    -------
    numpy.ndarray, shape (...)
        Area beneath the baseline is ignored; NaN where any value is. [mg/dL min]

    References
    ----------
    .. [1] FAO Food and Nutrition Paper 66 (1998), chapter 4.
    .. [2] ISO 26642:2010, food products: determination of the glycaemic index.

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> gl.incremental_area(np.array([0, 30, 60]), np.array([0.0, 20.0, -20.0]))
    np.float64(450.0)
    """
    return area_by_step(minutes, above).sum(axis=-1)


def area_by_step(minutes: np.ndarray, above: np.ndarray) -> np.ndarray:
    """The same of each step between two samples, shape (..., n - 1)."""
    left, right, step = above[..., :-1], above[..., 1:], np.diff(minutes)
    both = (np.maximum(left, 0) + np.maximum(right, 0)) / 2
    crossing = (left > 0) != (right > 0)
    rise = np.abs(right - left)
    triangle = (2 * both) ** 2 / (2 * np.where(rise > 0, rise, 1))  # where one end is above, the other counts as 0
    return np.where(crossing, triangle, both) * step
