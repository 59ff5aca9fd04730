"""What would this meal do to this person? A curve and a band, from all their meals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.intervals import Estimate, as_estimate, t_quantile
from glucolab.relating.observations.days_and_meals import gather_days, gather_meals
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.predicting.meal_model import (
    expect,
    expected_curves,
    expected_rises,
    fit,
    tabulate_groups,
    tabulate_log,
)
from glucolab.relating.predicting.meal_prior import (
    CURVE_MIN,
    CURVE_SCATTER_MG_DL,
    SCATTER_GROWTH,
    SCATTER_MG_DL,
    SCATTER_START,
    SCATTER_WEIGHT,
)

_NUTRIENTS = ("carbs_g", "fiber_g", "protein_g", "fat_g")


class Meal(NamedTuple):
    """A meal to be predicted.

    Attributes
    ----------
    hour : float
        Of the day, local. [h]
    dish : str
        A dish of the log, or empty.
    carbs_g, fiber_g, protein_g, fat_g : float
        NaN: as this dish was eaten so far, or not known. [g]
    walk_after, protein_first, eaten_out : bool
    """

    hour: float
    dish: str = ""
    carbs_g: float = np.nan
    fiber_g: float = np.nan
    protein_g: float = np.nan
    fat_g: float = np.nan
    walk_after: bool = False
    protein_first: bool = False
    eaten_out: bool = False


class MealPrediction(NamedTuple):
    """What is expected of it.

    Attributes
    ----------
    rise : dict
        Its rise, an estimate. [mg/dL]
    curve : DataFrame
        ``minutes, above_mg_dl, low_mg_dl, high_mg_dl``: glucose above where it stood, from 0 to 180 min after eating.
    meals, of_dish : int
        How many meals it is learnt from, and how many of this dish.
    carbs_g : float
        Carbohydrate it is predicted for, NaN if nobody knows. [g]
    """

    rise: Estimate
    curve: pd.DataFrame
    meals: int
    of_dish: int
    carbs_g: float


def predict_response(wears: Sequence[WearTables], traces: Sequence[Trace], meal: Meal) -> MealPrediction | None:
    """Predict one meal, eaten when glucose stands where it usually does and nothing else is being digested.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person.
    traces : sequence of Trace
        Of the same wears.
    meal : Meal

    Returns
    -------
    MealPrediction or None
        None where no meal of the log was followed by three known hours.

    Notes
    -----
    The model of :func:`~glucolab.relating.predicting.forecasts.forecast_meals`, learnt from all meals. Its scatter is
    what each meal misses by when it is left out (exact for a linear model), beside other people's.
    """
    meals = gather_meals(wears, gather_days(wears))
    if not len(meals):
        return None
    curves = curves_of(meals, traces)
    known = ~meals["left_out"].to_numpy() & ~np.isnan(curves).any(axis=1) & meals["rise_mg_dl"].notna().to_numpy()
    meals, curves = meals[known].reset_index(drop=True), curves[known]
    if not len(meals):
        return None
    dish, wear = meals["dish"].to_numpy(), meals["wear"].to_numpy()
    dishes = np.unique(dish[dish != ""])
    own = [tabulate_groups(dish, dishes), tabulate_groups(wear, np.arange(len(wears)))]
    level = meals.groupby("wear")["baseline_mg_dl"].transform("mean").to_numpy()
    columns = np.hstack([tabulate_log(meals, level), *own])
    outcomes = np.column_stack([meals["rise_mg_dl"], curves])
    expected = np.hstack([expected_rises(), expected_curves()])
    model = fit(columns.T @ columns, columns.T @ outcomes, expect(expected, len(dishes), len(wears)))
    asked = _asked_for(meal, meals)
    row = np.hstack([tabulate_log(asked, np.full(1, np.nan)), tabulate_groups(asked["dish"].to_numpy(), dishes)])
    mean, spread = model.predict(np.hstack([row, np.zeros((1, len(wears)))]))
    fitted, _ = model.predict(columns)
    pulled = 1 - np.einsum("ij,jk,ik->i", columns, model.covariance, columns)
    misses = (outcomes - fitted) / pulled[:, None] / _grow(fitted[:, 0])[:, None]
    usual = np.append(SCATTER_MG_DL, CURVE_SCATTER_MG_DL)
    degrees = SCATTER_WEIGHT + len(meals)
    scatter = np.sqrt((SCATTER_WEIGHT * usual**2 + (misses**2).sum(axis=0)) / degrees)
    half = float(t_quantile(degrees)) * scatter * float(_grow(mean[:, 0])[0] * spread[0])
    middle = mean[0]
    curve = pd.DataFrame({
        "minutes": np.append(0, CURVE_MIN), "above_mg_dl": np.append(0.0, middle[1:]),
        "low_mg_dl": np.append(0.0, (middle - half)[1:]), "high_mg_dl": np.append(0.0, (middle + half)[1:]),
    })  # fmt: skip
    rise = as_estimate(float(middle[0]), float(middle[0] - half[0]), float(middle[0] + half[0]))
    of_dish = int(np.count_nonzero(dish == meal.dish)) if meal.dish else 0
    return MealPrediction(rise, curve, len(meals), of_dish, float(asked["carbs_g"].iloc[0]))


def _grow(rise_mg_dl: np.ndarray) -> np.ndarray:
    """Scatter about predictions of these rises, over that about a usual one, shape (n,)."""
    return SCATTER_START + SCATTER_GROWTH * np.maximum(rise_mg_dl, 0.0)


def _asked_for(meal: Meal, meals: pd.DataFrame) -> pd.DataFrame:
    """The meal as a row of the log; nutrients that are not given are those that its dish had so far."""
    so_far = meals.loc[meals["dish"] == meal.dish, list(_NUTRIENTS)].mean() if meal.dish else pd.Series(dtype=float)
    given = {name: getattr(meal, name) for name in _NUTRIENTS}
    nutrients = {name: so_far.get(name, np.nan) if np.isnan(value) else value for name, value in given.items()}
    yes_or_no = {name: float(getattr(meal, name)) for name in ("walk_after", "protein_first", "eaten_out")}
    nothing = {"baseline_mg_dl": np.nan, "carbs_before_g": 0.0, "carbs_after_g": 0.0, "exercised": 0.0}
    return pd.DataFrame([{"hour": meal.hour, "dish": meal.dish} | nutrients | yes_or_no | nothing])


def curves_of(meals: pd.DataFrame, traces: Sequence[Trace]) -> np.ndarray:
    """Glucose above baseline at each of `CURVE_MIN` after each meal, NaN where it is not known, shape (n, times)."""
    curves = np.full((len(meals), len(CURVE_MIN)), np.nan)
    for number, trace in enumerate(traces):
        mine = (meals["wear"] == number).to_numpy()
        place = trace.cells(meals.loc[mine, "time"])[:, None] + CURVE_MIN / GRID_MIN
        points = np.arange(len(trace.time))
        values = np.interp(place.ravel(), points, trace.glucose_mg_dl, left=np.nan, right=np.nan)
        curves[mine] = values.reshape(place.shape) - meals.loc[mine, "baseline_mg_dl"].to_numpy(float)[:, None]
    return curves
