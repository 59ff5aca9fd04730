"""Does the log predict how far a meal raises glucose better than the person's own average does?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.intervals import Z, central_interval, t_quantile
from glucolab.record.study_outputs import LOG_PREDICTION
from glucolab.relating.observations.days_and_meals import gather_days, gather_meals
from glucolab.relating.observations.wear_tables import WearTables

FEWEST_MEALS, FEWEST_DAYS_TO_PREDICT = 40, 20
"""Meals and days that the comparison needs [meals], [days]; assumed. On the 13 days of one wear the interval held in
only three of four invented studies: fewer would print that, more would withhold what two wears can answer."""

FOLDS = 10
"""Parts of the days left out in turn [1]; common practice. Fewer learn from fewer meals and make the log look worse,
more take longer."""
N_DRAWS = 2000
"""Resamplings of days [1]; assumed. Fewer make the ends of the interval noisier."""
WORTH_NOTICING = 0.05
"""Share by which errors must shrink to matter [1]: a twentieth is 1 mg/dL where predictions err by 20 (common sense, no
source). Smaller seldom lets "no better" be said, larger says it of a log that helps."""

WIDER = float(np.sqrt(1 + FOLDS / (FOLDS - 1)) * t_quantile(FOLDS - 1) / Z)
"""Width of the interval over that for independent errors [1], for each fold learns from the meals that the others are
tried on: the corrected resampled t-test of Nadeau & Bengio (Mach Learn 2003;52:239-281, for splits at random), with
Student's t of nine degrees of freedom. Without it the interval covered 67 % instead of 86."""

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
"""Of the log, beside the dish; nothing here comes from the sensor, and nothing distinguishes one day from another."""


def estimate_prediction(wears: Sequence[WearTables]) -> pd.DataFrame:
    """``log_prediction.csv``: errors of a model of the log beside those of the own average, days left out in turn.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person.

    Returns
    -------
    DataFrame
        One row. Below 40 usable meals on 20 days it holds their numbers and ``not_enough_data``.

    Notes
    -----
    Whole days are left out, so that no meal is predicted from another of its day. Both sides learn from the same meals:
    the average is that of the meal's own wear, and the model adds to it what carbohydrate, dish, hour and the rest of
    the log say, shrunk toward nothing as far as the meals it learns from advise.

    Limits: it holds for new days of the same wears, lived and logged alike. Resampling days alone covered what a
    model then reached on such days in 67 % of invented studies; widened as here in 86 % (60 studies of each of sixteen
    kinds, one to six wears of 13 days; 77-97 % by kind). Where nothing logged matters the ratio is 1 within a
    hundredth or two, and the interval may miss it by as little: no better is then said in 85 % after one wear, nearly
    always after more, and better in none of 240 studies. Importing scikit-learn takes a second, so that `measure`
    does without this table.
    """
    meals = _usable_meals(wears)
    n_days = meals["day"].nunique() if len(meals) else 0
    found: dict[str, object] = {"n_meals": len(meals), "n_days": n_days, "verdict": "not_enough_data"}
    if len(meals) >= FEWEST_MEALS and n_days >= FEWEST_DAYS_TO_PREDICT and _differ(meals):
        found |= compare_errors(*predict_left_out(meals), meals["day"].to_numpy())
    return pd.DataFrame([found]).reindex(columns=LOG_PREDICTION.names)


def _usable_meals(wears: Sequence[WearTables]) -> pd.DataFrame:
    meals = gather_meals(wears, gather_days(wears))
    if not len(meals):
        return meals
    return meals[meals["alone"] & ~meals["left_out"] & meals["rise_mg_dl"].notna()].reset_index(drop=True)


def _differ(meals: pd.DataFrame) -> bool:
    """False for flat traces, of which the own average misses nothing."""
    return meals.groupby("wear")["rise_mg_dl"].std().max() > 1e-6


def predict_left_out(meals: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Squared errors of each meal, predicted from days other than its own.

    Parameters
    ----------
    meals : DataFrame
        As of :func:`~glucolab.relating.observations.days_and_meals.gather_meals`, n rows on at least ten days, rises
        that differ.

    Returns
    -------
    log, average : array, shape (n,)
        Of the model, and of the mean of the other days' meals of the same wear. [(mg/dL)²]

    Notes
    -----
    The model is a line shrunk as far as the likelihood of the meals it learns from advises (MacKay, Neural Comput
    1992;4:415-447). It is given rises in units of their spread: in mg/dL its search starts so far off that it may find
    nothing where there is much.
    """
    from sklearn.linear_model import BayesianRidge
    from sklearn.model_selection import GroupKFold

    rise, wear = meals["rise_mg_dl"].to_numpy(), meals["wear"].to_numpy()
    log, average = np.empty(len(meals)), np.empty(len(meals))
    for known, left in GroupKFold(FOLDS).split(meals, groups=meals["day"]):
        over_usual = rise - _own_average(rise[known], wear[known], wear)
        columns, spread = _tabulate_log(meals, known), over_usual[known].std()
        model = BayesianRidge().fit(columns[known], over_usual[known] / spread)
        average[left] = over_usual[left] ** 2
        log[left] = (over_usual[left] - spread * model.predict(columns[left])) ** 2
    return log, average


def _own_average(rise: np.ndarray, wear: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Mean rise of each wanted wear, that of all where it has no meal among those known, shape of `wanted`."""
    count, total = (np.bincount(wear, w, minlength=wanted.max() + 1) for w in (None, rise))
    return np.where(count > 0, total / np.maximum(count, 1), rise.mean())[wanted]


def _tabulate_log(meals: pd.DataFrame, known: np.ndarray) -> np.ndarray:
    """Columns of the log, numbers in units of their spread and a column a dish, shape (n, k).

    All of it is learnt from the rows `known`: what is not written stands at its mean, a new dish has no column.
    """
    numbers = meals[list(NUMBERS)].to_numpy(float)
    written = ~np.isnan(numbers)
    mean = np.where(written, numbers, 0)[known].sum(axis=0) / np.maximum(written[known].sum(axis=0), 1)
    numbers = np.where(written, numbers - mean, 0)
    spread = numbers[known].std(axis=0)
    dish = meals["dish"].to_numpy(object)
    names = np.unique(dish[known][dish[known] != ""])
    return np.hstack([numbers / np.where(spread > 0, spread, 1), dish[:, None] == names[None, :]])


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

    Notes
    -----
    Whole days are resampled, and the interval is then widened about the ratio, both in logarithms, by `WIDER`.
    """
    _, group = np.unique(day, return_inverse=True)
    sums = np.stack([np.bincount(group, errors) for errors in (log, average)], axis=1)
    n = len(sums)
    drawn = np.random.default_rng(0).multinomial(n, np.full(n, 1 / n), N_DRAWS) @ sums
    middle = np.log(log.sum() / average.sum()) / 2
    ends = np.array(central_interval(np.log(drawn[:, 0] / drawn[:, 1]) / 2))
    ratio, low, high = (float(np.exp(middle + WIDER * step)) for step in (0, *(ends - middle)))
    return {
        "error_log_mg_dl": np.sqrt(log.mean()),
        "error_average_mg_dl": np.sqrt(average.mean()),
        "error_ratio": ratio,
        "low": low,
        "high": high,
        "verdict": _decide(low, high),
    }


def _decide(low: float, high: float) -> str:
    """Better only where the whole interval is; no better where no improvement worth noticing is left in it."""
    if low >= 1 - WORTH_NOTICING:
        return "no_better"
    return "better" if high < 1 else "cannot_tell_yet"
