"""Does the log foretell how far a meal raises glucose better than the person's own average does?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.record.study_outputs import LOG_PREDICTION
from glucolab.relating.factors import gather_days, gather_meals
from glucolab.relating.inputs import WearTables
from glucolab.relating.verdicts import LEVEL

FEWEST_MEALS, FEWEST_DAYS = 20, 10
FOLDS = 10
N_DRAWS = 2000
WORTH_NOTICING = 0.05
"""Share by which errors must shrink to matter: a twentieth is one mg/dL where rises err by 20 (common sense, no
source)."""

NUMBERS = (
    "carbs_g",
    "fiber_g",
    "protein_g",
    "fat_g",
    "carbs_before_g",
    "at_noon",
    "in_afternoon",
    "in_evening",
    "walk_after",
    "protein_first",
    "asleep_h",
    "stress",
)
"""Of the log, known before the two hours are over; nothing here comes from the sensor."""


def estimate_prediction(wears: Sequence[WearTables]) -> pd.DataFrame:
    """``log_prediction.csv``: errors of the log's model beside those of the own average, over days left out in turn.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person.

    Returns
    -------
    DataFrame
        One row. Below 20 usable meals on 10 days it holds their numbers and ``not_enough_data``.

    Notes
    -----
    Whole days are left out, so that no meal is foretold from another of its day. Both sides learn from the same meals:
    the average is that of the meal's own wear, and the model adds to it what carbohydrate, dish, hour and the rest of
    the log say, shrunk toward nothing as far as the meals it learns from advise. The interval resamples whole days; it
    holds for meals like those logged. Importing scikit-learn takes most of a second: `measure` does without.
    """
    meals = _usable_meals(wears)
    found: dict[str, object] = {"n_meals": len(meals), "n_days": meals["day"].nunique() if len(meals) else 0}
    found["verdict"] = "not_enough_data"
    if len(meals) >= FEWEST_MEALS and meals["day"].nunique() >= FEWEST_DAYS:
        found |= compare_errors(*foretell_left_out(meals), meals["day"].to_numpy())
    return pd.DataFrame([found]).reindex(columns=LOG_PREDICTION.names)


def _usable_meals(wears: Sequence[WearTables]) -> pd.DataFrame:
    meals = gather_meals(wears, gather_days(wears))
    if not len(meals):
        return meals
    return meals[~meals["left_out"] & meals["rise_mg_dl"].notna()].reset_index(drop=True)


def foretell_left_out(meals: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Squared errors of each meal, foretold from days other than its own.

    Parameters
    ----------
    meals : DataFrame
        As of :func:`glucolab.relating.factors.gather_meals`, n rows on at least ten days.

    Returns
    -------
    log, average : array, shape (n,)
        Of the model, and of the mean of the other days' meals of the same wear. [(mg/dL)²]
    """
    from sklearn.model_selection import GroupKFold

    rise, wear = meals["rise_mg_dl"].to_numpy(), meals["wear"].to_numpy()
    log, average = np.empty(len(meals)), np.empty(len(meals))
    for known, left in GroupKFold(FOLDS).split(meals, groups=meals["day"]):
        usual = _own_average(rise[known], wear[known], wear)
        model = _build_model().fit(meals.iloc[known], rise[known] - usual[known])
        average[left] = (rise[left] - usual[left]) ** 2
        log[left] = (rise[left] - usual[left] - model.predict(meals.iloc[left])) ** 2
    return log, average


def _own_average(rise: np.ndarray, wear: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Mean rise of each wanted wear, that of all where it has no meal among those known, shape of `wanted`."""
    count, total = (np.bincount(wear, w, minlength=wanted.max() + 1) for w in (None, rise))
    return np.where(count > 0, total / np.maximum(count, 1), rise.mean())[wanted]


def _build_model():
    """A line through the log, shrunk as far as leaving out each known meal advises."""
    from sklearn.compose import make_column_transformer
    from sklearn.impute import SimpleImputer
    from sklearn.linear_model import RidgeCV
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import OneHotEncoder, StandardScaler

    filled = SimpleImputer(strategy="median", add_indicator=True, keep_empty_features=True)
    columns = make_column_transformer(
        (make_pipeline(filled, StandardScaler()), list(NUMBERS)),
        (OneHotEncoder(handle_unknown="ignore", sparse_output=False), ["dish"]),
    )
    return make_pipeline(columns, RidgeCV(np.logspace(-1, 4, 16)))


def compare_errors(log: np.ndarray, average: np.ndarray, day: np.ndarray) -> dict[str, object]:
    """Root mean square errors, their ratio with its interval, and the verdict.

    Parameters
    ----------
    log, average : array, shape (n,)
        Squared errors of the same meals. [(mg/dL)²]
    day : array of int, shape (n,)

    Returns
    -------
    dict
        Columns of ``log_prediction.csv``.
    """
    _, group = np.unique(day, return_inverse=True)
    sums = np.stack([np.bincount(group, errors) for errors in (log, average)], axis=1)
    n = len(sums)
    times = np.random.default_rng(0).multinomial(n, np.full(n, 1 / n), N_DRAWS)
    drawn = times @ sums
    low, high = np.quantile(np.sqrt(drawn[:, 0] / drawn[:, 1]), [(1 - LEVEL) / 2, (1 + LEVEL) / 2])
    ends = {"error_ratio": float(np.sqrt(log.sum() / average.sum())), "low": float(low), "high": float(high)}
    errors = {"error_log_mg_dl": np.sqrt(log.mean()), "error_average_mg_dl": np.sqrt(average.mean())}
    return errors | ends | {"verdict": _decide(ends["low"], ends["high"])}


def _decide(low: float, high: float) -> str:
    """Better only where the whole interval is; no better where no improvement worth noticing is left in it."""
    if low >= 1 - WORTH_NOTICING:
        return "no_better"
    return "better" if high < 1 else "cannot_tell_yet"
