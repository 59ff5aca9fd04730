"""What do this person's meals say of the next one? A linear model of responses, drawn toward what people share."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from glucolab.relating.predicting.meal_prior import DISH_SPREAD, LOG_COLUMNS, WEAR_SPREAD

USUAL_CARBS_G = 45.0
"""Carbohydrate at which its column is nil [g]: a usual meal's; any other only moves it into the first column."""
_CARBS_G, _BASELINE_MG_DL, _FAT_G, _PROTEIN_G, _FIBRE_G = 30.0, 20.0, 20.0, 20.0, 5.0
"""Units of the columns, and where those of fat, protein and fibre are nil [g], [mg/dL]: the prior's; others would
misread it."""


class MealModel(NamedTuple):
    """Posterior of the coefficients, in units of the scatter.

    Attributes
    ----------
    mean : numpy.ndarray, shape (p, q)
        Of each column for each outcome. [mg/dL]
    covariance : numpy.ndarray, shape (p, p)
        The same for all outcomes, over the square of the outcome's scatter. [1]
    """

    mean: np.ndarray
    covariance: np.ndarray

    def predict(self, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Expected outcomes, shape (n, q) [mg/dL], and how much their error adds to a scatter of one, shape (n,)."""
        spread = np.sqrt(1 + np.einsum("ij,jk,ik->i", columns, self.covariance, columns))
        return columns @ self.mean, spread

    def learn(self, columns: np.ndarray, outcomes: np.ndarray) -> MealModel:
        """The posterior with some meals more, shapes (n, p) and (n, q): as :func:`fit` of all, and much quicker.

        Woodbury's identity, as in recursive least squares.
        """
        across = columns @ self.covariance
        pull = np.linalg.solve(np.eye(len(columns)) + across @ columns.T, across).T
        return MealModel(self.mean + pull @ (outcomes - columns @ self.mean), self.covariance - pull @ across)


class MealPrior(NamedTuple):
    """What is expected of the coefficients beforehand: mean, shape (p, q), and precision, shape (p,)."""

    mean: np.ndarray
    precision: np.ndarray


def expect(outcomes: np.ndarray, dishes: int, wears: int) -> MealPrior:
    """The prior for some outcomes, columns of dishes and wears last.

    Parameters
    ----------
    outcomes : numpy.ndarray, shape (14, q)
        Expected coefficients of the columns of :func:`tabulate_log`.
    dishes, wears : int
        How many of each have a column of their own.
    """
    spread = [one.spread for one in LOG_COLUMNS.values()] + [DISH_SPREAD] * dishes + [WEAR_SPREAD] * wears
    mean = np.vstack([outcomes, np.zeros((dishes + wears, outcomes.shape[1]))])
    return MealPrior(mean, np.array(spread) ** -2.0)


def expected_rises() -> np.ndarray:
    """What each column does to the rise, beforehand, shape (14, 1). [mg/dL]"""
    return np.array([[one.rise] for one in LOG_COLUMNS.values()])


def expected_curves() -> np.ndarray:
    """What each column does to glucose after eating, beforehand, shape (14, times). [mg/dL]"""
    return np.array([one.curve for one in LOG_COLUMNS.values()])


def begin(prior: MealPrior) -> MealModel:
    """What is known before any meal."""
    return MealModel(prior.mean, np.diag(1 / prior.precision))


def fit(gram: np.ndarray, products: np.ndarray, prior: MealPrior) -> MealModel:
    """The posterior, from sums over the meals that may be learnt from.

    Parameters
    ----------
    gram : numpy.ndarray, shape (p, p)
        Products of their columns.
    products : numpy.ndarray, shape (p, q)
        Products of their columns and outcomes.
    prior : MealPrior
    """
    covariance = np.linalg.inv(gram + np.diag(prior.precision))
    return MealModel(covariance @ (products + prior.precision[:, None] * prior.mean), covariance)


def tabulate_log(meals: pd.DataFrame, level_mg_dl: np.ndarray) -> np.ndarray:
    """What was known of each meal when it was eaten, and what happened within its two hours.

    Parameters
    ----------
    meals : DataFrame
        As of :func:`~glucolab.relating.observations.days_and_meals.gather_meals`, n rows.
    level_mg_dl : numpy.ndarray, shape (n,)
        Where glucose usually stands before this person's meals; NaN where nobody knows. [mg/dL]

    Returns
    -------
    numpy.ndarray, shape (n, 14)
        Columns as named in `LOG_COLUMNS`; what is not written stands where it says nothing.
    """
    angle = 2 * np.pi * meals["hour"].to_numpy(float) / 24
    numbers = {name: meals[name].to_numpy(float) for name in (
        "carbs_g", "baseline_mg_dl", "carbs_before_g", "fat_g", "protein_g", "fiber_g", "carbs_after_g", "exercised",
        "walk_after", "protein_first", "eaten_out",
    )}  # fmt: skip
    columns = {
        "one": np.ones(len(meals)),
        "carbs": np.log1p(numbers["carbs_g"] / _CARBS_G) - np.log1p(USUAL_CARBS_G / _CARBS_G),
        "baseline": (numbers["baseline_mg_dl"] - level_mg_dl) / _BASELINE_MG_DL,
        "carbs_before": np.log1p(numbers["carbs_before_g"] / _CARBS_G),
        "morning": np.sin(angle),
        "midnight": np.cos(angle),
        "fat": numbers["fat_g"] / _FAT_G - 1,
        "protein": numbers["protein_g"] / _PROTEIN_G - 1,
        "fibre": numbers["fiber_g"] / _FIBRE_G - 1,
        "carbs_after": numbers["carbs_after_g"] / _CARBS_G,
    } | {name: numbers[name] for name in ("exercised", "walk_after", "protein_first", "eaten_out")}
    return np.nan_to_num(np.column_stack([columns[name] for name in LOG_COLUMNS]), nan=0.0)


def tabulate_groups(groups: np.ndarray, names: np.ndarray) -> np.ndarray:
    """A column for each name, 1 where it is the row's, shape (n, names)."""
    return (groups[:, None] == names[None, :]).astype(float)
