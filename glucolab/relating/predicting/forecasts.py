"""What would each meal have been predicted to do, from earlier days alone? Forecasts, their intervals, their score."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.intervals import TAILS, Z, t_quantile
from glucolab.record.study_outputs import FORECASTS
from glucolab.relating.observations.days_and_meals import WINDOW_MIN, gather_days, gather_meals
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.predicting.meal_model import begin, expect, expected_rises, tabulate_groups, tabulate_log
from glucolab.relating.predicting.meal_prior import (
    SCATTER_GROWTH,
    SCATTER_MG_DL,
    SCATTER_START,
    SCATTER_WEIGHT,
    USUAL_MISSES,
)

FEWEST_BEFORE = 5
"""Meals of earlier days that a forecast needs [meals]; assumed. Fewer would predict a person from other people alone,
more leave the first days without one."""


def forecast_meals(wears: Sequence[WearTables]) -> pd.DataFrame:
    """``forecasts.csv``: every judged occasion, predicted from the meals of earlier days.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person.

    Returns
    -------
    DataFrame
        A row an occasion whose two hours held nothing else, in order of time; days of illness are neither predicted nor
        learnt from.

    Notes
    -----
    The model is a linear one of what the log says and of where glucose stood before eating, drawn toward what people
    share (:mod:`glucolab.relating.predicting.meal_prior`). Its interval comes from what earlier forecasts missed by,
    beside what they miss by in other people: split conformal prediction in the order of time (Vovk et al., Algorithmic
    Learning in a Random World, 2005, from memory), with the scatter growing with the rise. Limits of validity: a person
    who goes on eating and living as before; the first forecasts rest on other people's misses.
    """
    meals = gather_meals(wears, gather_days(wears))
    if not len(meals):
        return pd.DataFrame(columns=FORECASTS.names)
    meals = meals[~meals["left_out"] & meals["rise_mg_dl"].notna() & meals["baseline_mg_dl"].notna()]
    meals = meals.sort_values("time", ignore_index=True)
    # a date that comes again (a flight west) belongs to the day after it, else that day would learn from its future
    meals["day"] = np.maximum.accumulate(meals["day"].to_numpy())
    if not len(meals):
        return pd.DataFrame(columns=FORECASTS.names)
    expected, spread, usual = _forecast(meals)
    rise, judged = meals["rise_mg_dl"].to_numpy(), meals["alone"].to_numpy(bool)
    scale = (SCATTER_START + SCATTER_GROWTH * np.maximum(expected, 0.0)) * spread
    low, high = _calibrate((rise - expected) / scale, meals["day"].to_numpy(), judged)
    names = np.array([wear.name for wear in wears], dtype=object)
    table = pd.DataFrame({
        "time": meals["time"], "wear": names[meals["wear"]], "dish": meals["dish"], "forecast_mg_dl": expected,
        "low_mg_dl": expected + low * scale, "high_mg_dl": expected + high * scale, "usual_mg_dl": usual,
        "rise_mg_dl": rise,
    })  # fmt: skip
    table["held"] = table["rise_mg_dl"].between(table["low_mg_dl"], table["high_mg_dl"]).astype("boolean")
    return table[judged & ~np.isnan(expected)].reset_index(drop=True)[FORECASTS.names]


def _forecast(meals: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Expected rise of each meal, how much its error adds to the scatter, and the mean so far, shape (n,) each.

    NaN where too few meals came on earlier days.
    """
    day, wear, dish = (meals[name].to_numpy() for name in ("day", "wear", "dish"))
    names, times = np.unique(dish[dish != ""], return_counts=True)
    dishes = names[times > 1]  # what is eaten once tells nothing of another meal
    own = [tabulate_groups(dish, dishes), tabulate_groups(wear, np.arange(wear.max() + 1))]
    columns = np.hstack([tabulate_log(meals, _level_before(meals)), *own])
    model = begin(expect(expected_rises(), *(part.shape[1] for part in own)))
    rise = meals["rise_mg_dl"].to_numpy()[:, None]
    expected, spread, usual = (np.full(len(meals), np.nan) for _ in range(3))
    learnt = 0
    begins = np.flatnonzero(np.diff(day, prepend=day[0] - 1))
    at_min = pd.DatetimeIndex(meals["time"]).as_unit("us").asi8 / 60e6
    for first, last in zip(begins, np.append(begins[1:], len(day)), strict=True):
        today = slice(first, last)
        # two hours that midnight cuts may hold what today's first meal did
        over = int(np.searchsorted(at_min[:first], at_min[first] - WINDOW_MIN, side="right"))
        model, learnt = model.learn(columns[learnt:over], rise[learnt:over]), over
        if over >= FEWEST_BEFORE:
            mean, spread[today] = model.predict(columns[today])
            expected[today], usual[today] = mean[:, 0], rise[:over].mean()
    return expected, spread, usual


def _level_before(meals: pd.DataFrame) -> np.ndarray:
    """Mean baseline of the same wear's meals of earlier days, NaN on its first, shape (n,). [mg/dL]"""
    by_day = meals.groupby(["wear", "day"])["baseline_mg_dl"].agg(["sum", "count"])
    before = by_day.groupby("wear").cumsum() - by_day
    level = (before["sum"] / before["count"].where(before["count"] > 0)).rename("level")
    return meals[["wear", "day"]].join(level, on=["wear", "day"])["level"].to_numpy(float)


def _calibrate(misses: np.ndarray, day: np.ndarray, judged: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far below and above each forecast its interval reaches, in units of its scale, shape (n,) each. [mg/dL]"""
    low, high = np.full(len(misses), np.nan), np.full(len(misses), np.nan)
    counts = judged & ~np.isnan(misses)
    for today in np.unique(day):
        past = misses[counts & (day < today)]
        degrees = SCATTER_WEIGHT + len(past)
        scatter = np.sqrt((SCATTER_WEIGHT * SCATTER_MG_DL**2 + past @ past) / degrees)
        ends = np.quantile(np.append(USUAL_MISSES, past / scatter), TAILS)
        low[day == today], high[day == today] = ends * scatter * t_quantile(degrees) / Z
    return low, high


def score_forecasts(forecasts: pd.DataFrame) -> dict[str, float]:
    """How far forecasts miss, beside the mean of the meals so far.

    Parameters
    ----------
    forecasts : DataFrame
        ``forecasts.csv``, with a row or more.

    Returns
    -------
    dict
        n; error_mg_dl and usual_error_mg_dl, root mean squares [mg/dL]; r, the correlation of forecasts and rises (NaN
        under three of them); held, the share of intervals that held.
    """
    rise, forecast = forecasts["rise_mg_dl"].to_numpy(float), forecasts["forecast_mg_dl"].to_numpy(float)
    usual = forecasts["usual_mg_dl"].to_numpy(float)
    few = len(rise) < 3 or min(np.ptp(rise), np.ptp(forecast)) < 1e-9
    return {
        "n": len(rise),
        "error_mg_dl": float(np.sqrt(np.mean((rise - forecast) ** 2))),
        "usual_error_mg_dl": float(np.sqrt(np.mean((rise - usual) ** 2))),
        "r": np.nan if few else float(np.corrcoef(rise, forecast)[0, 1]),
        "held": float(forecasts["held"].mean()),
    }
