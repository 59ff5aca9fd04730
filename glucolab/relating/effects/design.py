"""Which rows answer a question? The regression of one factor on one outcome, and whether it rests on enough."""

from __future__ import annotations

import numpy as np

from glucolab.relating.effects.measurement_error import calibrate_log_carbs
from glucolab.relating.effects.questions import Factor, Outcome, Pair
from glucolab.relating.observations.meal_weights import eating_weights, expected_sizes
from glucolab.relating.statistics.fixed_effects import RegressionRows
from glucolab.relating.statistics.intercepts import (
    WearIntercepts,
    dummy_columns,
    first_rows_of_days,
    keep_independent,
    partial_out,
)

LARGEST_SHARE = 0.5
"""Largest share of a factor's own variance that may lie on one day [1]; assumed. Higher lets one odd day make an
effect, lower refuses factors that seldom vary."""
ON_THE_PLATE = ("log_carbs", "fiber_g", "protein_g", "fat_g")
"""What one portion has more of, it has more of all: adjusted for as eaten beside a dish's mean, the others would take
what larger portions of that dish do, and leave the factor too little; so would a dish's own part, if it grew with the
portion."""
FEWEST_TO_SPARE = 3
"""Residual degrees of freedom that an estimate needs, of rows, or of dishes for what differs between dishes only [1];
assumed. Fewer rest the variance on chance, more refuse short records."""


def build_regression(
    pair: Pair, outcome: Outcome, factor: Factor, rows: dict[str, np.ndarray], adjusted: dict[str, np.ndarray]
) -> RegressionRows:
    """The rows of one question as :mod:`glucolab.relating.statistics.fixed_effects` takes them.

    Parameters
    ----------
    pair, outcome, factor
        The question.
    rows : dict of str to array, shape (n,)
        Columns of :func:`~glucolab.relating.observations.days_and_meals.gather_days` or ``gather_meals``: the
        rows that can answer.
    adjusted : dict of str to array, shape (n,)
        What is adjusted for, of mean 0 and SD 1 within wears.
    """
    n = len(rows["wear"])
    wear, fixed, dish = rows["wear"], np.empty((n, 0)), np.empty((n, 0))
    value, size, weight = rows[pair.factor] / factor.step, np.zeros(n), np.ones(n)
    if outcome.rows == "meal":
        size = expected_sizes(rows["carbs_g"], rows[outcome.column])
        weight = eating_weights(size, rows["rise_mg_dl"], rows["rise_se_mg_dl"])
        if factor.of_dish:
            plate = {name: _of_dishes(adjusted[name], rows["dish"]) for name in ON_THE_PLATE if name in adjusted}
            value, size, adjusted = _of_dishes(value, rows["dish"]), _of_dishes(size, rows["dish"]), adjusted | plate
        value = (value - value.mean()) * (size if factor.grows else 1.0)
    if pair.factor == "eaten_out":
        fixed = keep_independent(WearIntercepts.of(wear).partial_out(dummy_columns(rows["dish"])))
    elif outcome.rows == "meal":
        dish = dummy_columns(rows["dish"])[:, np.unique(rows["dish"]) != ""]
    if "log_carbs" in adjusted:
        beside = [value, *(column for name, column in adjusted.items() if name != "log_carbs")]
        known = np.column_stack([fixed, *beside])
        adjusted = adjusted | {
            "log_carbs": calibrate_log_carbs(adjusted["log_carbs"], rows["carbs_g"], wear, known, rows["dish"])
        }
    columns = np.column_stack([value, *adjusted.values()])
    return RegressionRows(
        outcome=partial_out(rows[outcome.column], wear, fixed),
        factor=value,
        fixed=fixed,
        adjusted=columns[:, 1:],
        wear=wear,
        day=rows["day"],
        dish=dish * size[:, None],
        alone=size * (dish.sum(axis=1) == 0),
        weight=weight,
        units=_units(columns, wear, dish),
    )


def _of_dishes(values: np.ndarray, dish: np.ndarray) -> np.ndarray:
    """Each eating's value replaced by its dish's mean, shape (n,); meals without a dish keep their own."""
    names, code = np.unique(dish, return_inverse=True)
    mean = np.bincount(code, values) / np.bincount(code)
    return np.where(names[code] == "", values, mean[code])


def _units(columns: np.ndarray, wear: np.ndarray, dish: np.ndarray) -> float:
    """How many dishes are left to determine a factor (first column) that hardly varies between eatings of one."""
    if not dish.shape[1]:
        return np.inf
    own = partial_out(columns, wear)
    eatings = dish.sum(axis=0)
    between = np.sum((dish.T @ own) ** 2 / eatings[:, None], axis=0) + np.sum(own[dish.sum(axis=1) == 0] ** 2, axis=0)
    rests = between > 0.5 * np.sum(own**2, axis=0)
    meals_alone = len(dish) - eatings.sum()
    return float(len(eatings) + meals_alone - 1 - rests[1:].sum() - 1) if rests[0] else np.inf


def rests_on_many(rows: RegressionRows) -> bool:
    """True if the factor varies within wears, on more than one day, with rows to spare for the spread."""
    to_spare = rows.freedom - rows.adjusted.shape[1] - 1
    if min(to_spare, rows.units) < FEWEST_TO_SPARE or not np.any(np.abs(rows.outcome) > 1e-9):
        return False
    own = partial_out(rows.factor, rows.wear, rows.fixed) ** 2
    if own.sum() <= 1e-9 * max(1.0, float(rows.factor @ rows.factor)):
        return False
    by_day = np.add.reduceat(own, first_rows_of_days(rows.wear, rows.day))
    return bool(by_day.max() <= LARGEST_SHARE * own.sum())
