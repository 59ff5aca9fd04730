"""Which unit is it in? The only place that holds the factor between mg/dL and mmol/L."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

Values = TypeVar("Values", float, "np.ndarray", "pd.Series")
"""One number or many; what comes out is of the kind that went in."""

MG_DL_PER_MMOL_L = 18.0156
"""Molar mass of glucose, 180.156 g/mol, over ten. The plain 18 is 0.09 % off: no figure would show it, but a value
would not survive the way there and back. [mg/dL per mmol/L]"""

GLUCOSE_UNITS = ("mg/dL", "mmol/L")


def glucose_to_mg_dl(values: Values, unit: str) -> Values:
    """Convert glucose to mg/dL.

    Parameters
    ----------
    values : float or array-like
        Glucose. [`unit`]
    unit : {"mg/dL", "mmol/L"}

    Returns
    -------
    float or array-like
        Same shape as `values`. [mg/dL]

    Raises
    ------
    ValueError
        If `unit` is neither of the two.

    Notes
    -----
    1 mmol/L = 18.0156 mg/dL, by the molar mass of glucose.

    References
    ----------
    .. [1] Prohaska et al., Pure Appl Chem 2022;94:573-600, doi 10.1515/pac-2019-0603.

    Examples
    --------
    >>> import glucolab as gl
    >>> round(gl.glucose_to_mg_dl(5.5, "mmol/L"), 1)
    99.1
    """
    return values * _factor(unit)


def glucose_from_mg_dl(values: Values, unit: str) -> Values:
    """Convert glucose from mg/dL, the inverse of :func:`glucose_to_mg_dl`.

    Parameters
    ----------
    values : float or array-like
        Glucose. [mg/dL]
    unit : {"mg/dL", "mmol/L"}

    Returns
    -------
    float or array-like
        Same shape as `values`. [`unit`]

    References
    ----------
    .. [1] Prohaska et al., Pure Appl Chem 2022;94:573-600, doi 10.1515/pac-2019-0603.

    Examples
    --------
    >>> import glucolab as gl
    >>> round(gl.glucose_from_mg_dl(100.0, "mmol/L"), 2)
    5.55
    """
    return values / _factor(unit)


def _factor(unit: str) -> float:
    if unit == "mg/dL":
        return 1.0
    if unit == "mmol/L":
        return MG_DL_PER_MMOL_L
    raise ValueError(f'"{unit}" is not a glucose unit; write one of {", ".join(GLUCOSE_UNITS)}')
