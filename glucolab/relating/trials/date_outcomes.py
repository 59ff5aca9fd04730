"""What became of each planned date? The occasion found, or why none counts, and whether one arm was missed more."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations
from math import comb
from typing import Any

import pandas as pd

from glucolab.clock import to_local
from glucolab.record.trial_outputs import NOT_YET, OF_THE_PLAN, TRIAL_DATES
from glucolab.relating.observations.wear_tables import WearTables

TRIAL_OUTCOMES = ("rise_mg_dl", "iauc_2h_mg_dl_min")
TIME_WITHIN = pd.Timedelta(minutes=90)
"""How far from the planned clock time an occasion may lie [min]; assumed. Shorter calls late meals missed, longer takes
another meal for the planned one."""
AS_LOGGED = ("walk_after", "eaten_first", *TRIAL_OUTCOMES)


def find_trial_dates(wears: Sequence[WearTables], trials: pd.DataFrame) -> pd.DataFrame:
    """``trial_dates.csv``: the occasion of each planned date, and whether it counts.

    Parameters
    ----------
    wears : sequence of WearTables
    trials : DataFrame
        ``trials.csv`` as read.

    Returns
    -------
    DataFrame
        Columns of the table and ``at``, the occasion's moment [UTC]; by trial and date. With a clock time it is
        the occasion nearest to it, within 90 min, of the dish if one is named; without, the day's first
        occasion of the dish. Of two sensors worn at once the first that can be used counts. One occasion that is
        planned for two arms counts for neither, planned twice for one arm it counts once, and where a wear
        has usable occasions of one arm alone they are not counted, so that no sensor's error is taken for an arm's.
    """
    meals = [_local_meals(wear) for wear in wears]
    rows = [_look_for(plan, wears, meals) for plan in trials.itertuples(index=False)]
    dates = pd.DataFrame(rows, columns=[*TRIAL_DATES.names, "at"])
    dates["date"] = pd.DatetimeIndex(dates["date"]).as_unit("us")
    dates["at"] = pd.to_datetime(dates["at"], utc=True).astype("datetime64[us, UTC]")
    dates["walk_after"] = dates["walk_after"].astype("boolean")
    dates[list(TRIAL_OUTCOMES)] = dates[list(TRIAL_OUTCOMES)].astype(float)
    for name in ("dish", "block", "time", "wear", "eaten_first"):
        dates[name] = dates[name].astype(object).fillna("").astype("str")
    dates = dates.sort_values(["trial", "date"], kind="stable", ignore_index=True)
    return _set_aside(dates)


def _local_meals(wear: WearTables) -> pd.DataFrame:
    meals = wear.meal_responses[["time", "dish", "name", "usable_2h", "reason", *AS_LOGGED]].copy()
    meals["local"] = to_local(meals["time"], wear.zones)
    # an experiment may be of "breakfast", which is no dish
    meals["dish"] = meals["dish"].fillna("").where(meals["dish"].fillna("") != "", meals["name"]).map(fold_dish)
    return meals.sort_values("time", kind="stable")


def fold_dish(written: object) -> str:
    """A dish's name without case and doubled spaces; empty where none is written."""
    return " ".join(str(written).casefold().split()) if isinstance(written, str) else ""


def _is_written(cell: object) -> bool:
    return isinstance(cell, str) and bool(cell.strip())


def _look_for(plan: Any, wears: Sequence[WearTables], meals: Sequence[pd.DataFrame]) -> dict[str, object]:
    """One row; its reason is that of this date alone."""
    row = {name: getattr(plan, name) for name in ("date", "trial", "arm", "dish", "block")}
    if not (_is_written(plan.dish) or _is_written(plan.time)):
        return row | {"reason": "not_said"}
    worn = [(wear, eaten) for wear, eaten in zip(wears, meals, strict=True) if plan.date in wear.days.dates]
    picked = [(wear, _pick_occasion(eaten, plan)) for wear, eaten in worn]
    found = [(wear, occasion) for wear, occasion in picked if occasion is not None]
    if not found:
        return row | {"reason": _why_not_found(plan, wears)}
    wear, occasion = next((one for one in found if one[1]["usable_2h"]), found[0])
    reason = "" if occasion["usable_2h"] else occasion["reason"]
    seen = {"wear": wear.name, "time": f"{occasion['local']:%H:%M}", "at": occasion["time"], "reason": reason}
    return row | seen | {name: occasion[name] for name in AS_LOGGED}


def _pick_occasion(meals: pd.DataFrame, plan: Any) -> pd.Series | None:
    dish = fold_dish(plan.dish)
    if dish:
        meals = meals[meals["dish"] == dish]
    if _is_written(plan.time):
        away = (meals["local"] - (plan.date + pd.Timedelta(f"{plan.time}:00"))).abs()
        meals = meals[away <= TIME_WITHIN]
        return meals.loc[away[meals.index].idxmin()] if len(meals) else None
    meals = meals[meals["local"].dt.normalize() == plan.date]
    return meals.iloc[0] if len(meals) else None


def _why_not_found(plan: Any, wears: Sequence[WearTables]) -> str:
    """On the last day of a running wear it may still come; after the last day of all, nothing can have been logged."""
    last = [wear.days.dates[-1] for wear in wears]
    if all(plan.date > day for day in last):
        return "ahead"
    if any(plan.date in wear.days.dates for wear in wears):
        today = any(wear.running and plan.date == day for wear, day in zip(wears, last, strict=True))
        return "ahead" if today and plan.date == max(last) else "not_found"
    return "not_worn"


def _set_aside(dates: pd.DataFrame) -> pd.DataFrame:
    """Reasons that a date has from the others of its trial, in turn; then what is used."""
    checks: tuple[tuple[str, Callable[[pd.DataFrame], pd.Series]], ...] = (
        ("two_arms", lambda mine: mine.groupby(["trial", "at"])["arm"].transform("nunique") > 1),
        ("planned_twice", lambda mine: mine.duplicated(["trial", "at"])),
        ("no_other_arm", lambda mine: mine.groupby(["trial", "wear"])["arm"].transform("nunique") == 1),
    )
    reason = dates["reason"].astype("str")
    for word, check in checks:
        usable = dates[reason == ""]
        if len(usable):
            reason.loc[usable.index[check(usable)]] = word
    return dates.assign(reason=reason, used=(reason == "").astype("boolean"))


def flag_missed(dates: pd.DataFrame) -> pd.Series:
    """True where a date is over and nothing that can be used came of it, shape (n,).

    A usable occasion whose wear has no other arm is not missed: it lacks a partner.
    """
    return ~dates["used"].astype(bool) & ~dates["reason"].isin([*NOT_YET, *OF_THE_PLAN])


def compare_missed(dates: pd.DataFrame) -> pd.DataFrame:
    """Whether one arm of a trial was missed more often than another.

    Parameters
    ----------
    dates : DataFrame
        Rows of ``trial_dates.csv``.

    Returns
    -------
    DataFrame
        ``trial, arm_a, arm_b, missed_a, n_a, missed_b, n_b, p_value``, a row every two arms; dates still
        ahead are not counted. Two-sided by Fisher's exact test: see :func:`compare_shares`.
    """
    over = dates.assign(missed=flag_missed(dates))[~dates["reason"].isin(NOT_YET)]
    rows = []
    for trial, mine in over.groupby("trial", sort=True):
        counts = mine.groupby("arm")["missed"].agg(["sum", "size"])
        for a, b in combinations(counts.index, 2):
            figures = [int(counts.loc[arm, name]) for arm in (a, b) for name in ("sum", "size")]
            rows.append((trial, a, b, *figures, compare_shares(*figures)))
    names = ["trial", "arm_a", "arm_b", "missed_a", "n_a", "missed_b", "n_b", "p_value"]
    return pd.DataFrame(rows, columns=names)


def compare_shares(missed_a: int, n_a: int, missed_b: int, n_b: int) -> float:
    """Two-sided p-value of two shares, both margins fixed: all tables no likelier than the one seen.

    Fisher, The Design of Experiments, 1935, section 5 and following; two sides by probability as is common practice.
    """
    missed = missed_a + missed_b
    ways = [comb(n_a, i) * comb(n_b, missed - i) for i in range(max(0, missed - n_b), min(missed, n_a) + 1)]
    seen = comb(n_a, missed_a) * comb(n_b, missed_b)
    return sum(w for w in ways if w <= seen) / sum(ways)
