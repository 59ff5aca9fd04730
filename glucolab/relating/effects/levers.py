"""What would a habit do to the day's average? Effects over a change that the wearer could make."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.clock import to_local
from glucolab.intervals import widen
from glucolab.record.habit_outputs import LEVERS
from glucolab.relating.effects.effects import estimate_area_effects
from glucolab.relating.observations.days_and_meals import gather_days, keep_once
from glucolab.relating.observations.meal_weights import as_floats, expected_sizes
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import decide_verdict, worth_noticing

LESS_CARBS_G, MORE_SLEEP_H = 30.0, 1.0
"""Changes that are looked at, a day [g, h]; the contract's. Larger ones make a habit look mightier than anybody keeps
it, smaller ones weaker."""
BEYOND, BEYOND_SD = 1.05, 0.15
"""The whole of a response over its area in three hours, and the error of that [1]; assumed: what carbohydrate does in
14 open recordings is a third of its peak after three hours still, part of which is later food that nobody logged, and
dips below the baseline take some back. Too small understates every habit of the table, too large overstates it."""
FULL_DAY = 3
"""Occasions from which a day counts as logged [1]; assumed: people eat three times a day or more. Lower lets days with
a single photo say how often is eaten, higher loses those who eat three times."""
_AT_MEALS = {"walk_after": "a walk after each larger meal", "protein_first": "protein first at each larger meal"}
_UNKNOWN = (np.nan, np.nan, np.nan)


def estimate_levers(wears: Sequence[WearTables], effects: pd.DataFrame, worth_noticing_mg_dl: float) -> pd.DataFrame:
    """``levers.csv``: what each habit would do to the day's average, if it is the reason for what goes with it.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person.
    effects : DataFrame
        Their ``effects.csv``.
    worth_noticing_mg_dl : float
        [mg/dL of a mean]

    Returns
    -------
    DataFrame
        A row a habit, the largest change first; habits without enough data last, without figures.

    Notes
    -----
    What is done at a meal reaches the average through the area over three hours, net of what falls below the baseline
    and with what is still to come, times the larger meals of a day that were had without it, each by its size. A night
    or a day's stress is read from the day's average itself. A verdict needs the factor's own test in the file. Limits
    of validity: the habit is the reason, and the rest of life stays; an earlier last meal is no lever here, since it
    only moves a rise from the night into the evening.
    """
    eaten = _eat_on_whole_days(wears)
    found = estimate_area_effects(wears).set_index("factor")[["estimate", "low", "high"]]
    areas = dict(zip(found.index, found.to_numpy(float), strict=True))
    rows = [_of_meals(factor, change, eaten, areas) for factor, change in _AT_MEALS.items()]
    rows += [_of_carbs(eaten, areas), *_of_days(wears, effects)]
    table = pd.DataFrame(rows, columns=["factor", "now", "change", "on_mean_mg_dl", "low_mg_dl", "high_mg_dl"])
    q = _test_of(effects).reindex(table["factor"])
    worth = worth_noticing("mean_mg_dl", worth_noticing_mg_dl)
    ends = zip(table["low_mg_dl"], table["high_mg_dl"], q, strict=True)
    table = table.assign(source="effects", verdict=[decide_verdict(low, high, worth, one) for low, high, one in ends])
    order = (-table["on_mean_mg_dl"].abs()).argsort(kind="stable")
    return table.iloc[order][LEVERS.names].reset_index(drop=True)


def _test_of(effects: pd.DataFrame) -> pd.Series:
    """q of each factor's one test: of its rise, or of the day's mean."""
    tests = effects[effects["outcome"].isin(["mean_mg_dl", "rise_mg_dl"])].drop_duplicates("factor")
    return tests.set_index("factor")["q_value"]


def sort_by_average(claims: pd.DataFrame, levers: pd.DataFrame) -> pd.DataFrame:
    """Claims with what would change the day's average most first, then those that are no habit, the surest first.

    Parameters
    ----------
    claims : DataFrame
        Rows of effects.csv.
    levers : DataFrame
        ``levers.csv``.
    """
    size = levers.set_index("factor")["on_mean_mg_dl"].abs()
    ranked = claims.assign(size=claims["factor"].map(size).astype(float).fillna(0.0))
    return ranked.sort_values(["size", "q_value"], ascending=[False, True], kind="stable").drop(columns="size")


def _eat_on_whole_days(wears: Sequence[WearTables]) -> pd.DataFrame:
    """Occasions of days that were worn and logged as a whole: wear, date, carbs_g, both habits, rise_mg_dl.

    What two sensors saw counts once.
    """
    parts = []
    for position, wear in enumerate(wears):
        eaten = wear.occasions
        dates = to_local(pd.DatetimeIndex(eaten["time"]), wear.zones).normalize()
        part = pd.DataFrame({"wear": position, "date": dates, "carbs_g": as_floats(eaten["carbs_g"])})
        part["written"] = wear.as_written(eaten["time"])
        part["walk_after"] = as_floats(eaten["walk_after"])
        part["rise_mg_dl"] = as_floats(eaten["rise_mg_dl"])
        first = eaten["eaten_first"].fillna("").str.strip()
        part["protein_first"] = np.where(first == "", np.nan, first == "protein")
        a_day = part.groupby("date")["date"].transform("size").to_numpy()
        parts.append(part[(dates > dates.min()) & (dates < dates.max()) & (a_day >= FULL_DAY)])
    eaten = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()
    if not len(eaten):
        return eaten
    once = keep_once(eaten["wear"].to_numpy(), pd.DatetimeIndex(eaten["written"]).asi8)
    return eaten[once].reset_index(drop=True)


def _of_meals(factor: str, change: str, eaten: pd.DataFrame, areas: dict[str, np.ndarray]) -> tuple[object, ...]:
    larger = eaten[eaten["carbs_g"] >= eaten["carbs_g"].median()] if len(eaten) else eaten
    if not len(larger) or not larger[factor].notna().any():
        return factor, np.nan, change, *_UNKNOWN
    now = float(larger[factor].mean())
    seen = eaten[eaten["rise_mg_dl"].notna()]
    size = expected_sizes(seen["carbs_g"].to_numpy(), seen["rise_mg_dl"].to_numpy())
    of_larger = float(size[seen.index.isin(larger.index)].mean())
    a_day = len(larger) / _count_days(eaten) * (1 - now) * of_larger
    return factor, now, change, *_reach_average(areas[factor], a_day)


def _of_carbs(eaten: pd.DataFrame, areas: dict[str, np.ndarray]) -> tuple[object, ...]:
    change = f"{LESS_CARBS_G:g} g less carbohydrate a day"
    if not len(eaten) or not eaten["carbs_g"].notna().any():
        return "carbs_g", np.nan, change, *_UNKNOWN
    now = float(eaten["carbs_g"].sum() / _count_days(eaten))
    return "carbs_g", now, change, *_reach_average(areas["carbs_g"], -LESS_CARBS_G / 10)


def _count_days(eaten: pd.DataFrame) -> int:
    return len(eaten[["wear", "date"]].drop_duplicates())


def _reach_average(area: np.ndarray, times_a_day: float) -> tuple[float, float, float]:
    """What so many such areas a day do to its average; the third hour's rest and its error counted in. [mg/dL]"""
    estimate, *ends = times_a_day * BEYOND / (24 * 60) * area
    low, high = sorted(ends)
    return widen(estimate, low, high, abs(estimate) * BEYOND_SD / BEYOND)


def _of_days(wears: Sequence[WearTables], effects: pd.DataFrame) -> list[tuple[object, ...]]:
    days, names = gather_days(wears), ["estimate", "low", "high", "range_from"]
    of_mean = effects[effects["outcome"] == "mean_mg_dl"].set_index("factor")[names].astype(float)
    slept, stress = (float(days[name].mean()) if len(days) else np.nan for name in ("asleep_h", "stress"))
    calm = float(of_mean["range_from"]["stress"])
    calmer = "every day as calm as your calmest" + (f" ({calm:.3g})" if np.isfinite(calm) else "")
    changes = (("asleep_h", slept, "an hour more sleep", MORE_SLEEP_H), ("stress", stress, calmer, calm - stress))
    rows: list[tuple[object, ...]] = []
    for factor, now, change, by in changes:
        estimate, *ends = by * of_mean.loc[factor, names[:3]].to_numpy(float)
        rows.append((factor, now, change, estimate, *sorted(ends)))
    return rows
