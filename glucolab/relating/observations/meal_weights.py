"""How much does each meal's response weigh? Its own error, and how widely responses of its size scatter."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.intervals import standard_errors
from glucolab.measuring.meals import SHARED_RISE_SD_MG_DL
from glucolab.units import Values

LEAST_OWN_ERROR = 0.5
"""Least share of a rise's standard error that is its own and not the gain's [1]; assumed. Lower lets some meals count
as nearly exact, higher gives large rises too little weight."""

_EATING_CV = 0.4
"""SD between eatings of one meal over the mean rise [1]: 16 mg/dL (see `SAME_DISH_SD_MG_DL`) of about 40. It shapes
weights: too small lets the sensor's error outweigh the meals' own."""
_GROWING = 0.6
"""Share of that variance that grows with the square of the meal's size [1]; assumed. Too small gives large meals too
much weight, too large small ones."""


def own_errors_mg_dl(responses: pd.DataFrame, gain_sd: float) -> np.ndarray:
    """Standard errors of the rises without what the sensor does to all of a wear's alike, shape (m,). [mg/dL]

    Its gain counted in, a large rise would weigh less for being large; what it adds to all tells none from another.

    Parameters
    ----------
    responses : DataFrame
        ``meal_responses``.
    gain_sd : float
        Of the wear. [1]
    """
    not_added = np.maximum(rise_errors_mg_dl(responses) ** 2 - SHARED_RISE_SD_MG_DL**2, 0.0)
    gain = gain_sd * as_floats(responses["rise_mg_dl"])
    return np.sqrt(np.maximum(not_added - gain**2, LEAST_OWN_ERROR**2 * not_added))


def rise_errors_mg_dl(responses: pd.DataFrame) -> np.ndarray:
    """Standard errors of the rises of meal_responses.csv, from their 90 % intervals, shape (m,). [mg/dL]"""
    return standard_errors(as_floats(responses["rise_low_mg_dl"]), as_floats(responses["rise_high_mg_dl"]))


def expected_sizes(carbs_g: np.ndarray, outcome: np.ndarray) -> np.ndarray:
    """How large each meal's response is to be expected from its carbohydrate alone; mean 1, at least 0.2, shape (n,).

    A straight line through the person's own meals; 1 where carbohydrate is not logged, or does not go with it.
    """
    known = ~np.isnan(carbs_g)
    size = np.ones(len(carbs_g))
    if known.sum() < 10 or np.ptp(carbs_g[known]) == 0 or outcome.mean() <= 0:
        return size
    slope, start = np.polyfit(carbs_g[known], outcome[known], 1)
    if slope > 0:
        size[known] = np.maximum((start + slope * carbs_g[known]) / outcome[known].mean(), 0.2)
    return size / size.mean()


def eating_weights(size: np.ndarray, rise_mg_dl: np.ndarray, rise_se_mg_dl: np.ndarray) -> np.ndarray:
    """How much each response weighs, relative to one of usual size measured without error, shape (n,).

    Parameters
    ----------
    size : array, shape (n,)
        Of :func:`expected_sizes`.
    rise_mg_dl, rise_se_mg_dl : array, shape (n,)
        Rises and their standard errors; NaN: not known, taken as none. [mg/dL]
    """
    error = np.nan_to_num(rise_se_mg_dl, nan=0.0) / max(float(np.nanmean(rise_mg_dl)), 10.0)
    return _EATING_CV**2 / (_EATING_CV**2 * grow_with_size(size) + error**2)


def grow_with_size(size: Values) -> Values:
    """Variance between eatings of one meal of that expected size, over that of a meal of usual size; any shape."""
    return 1 - _GROWING + _GROWING * size**2


def as_floats(values: pd.Series) -> np.ndarray:
    """Floats, true as 1, missing as NaN, shape (n,); times and text never come here."""
    return values.to_numpy(dtype=float, na_value=np.nan)
