"""Which planned date may have been logged under another name, day or hour? Asked, never decided."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import SequenceMatcher

import pandas as pd

from glucolab.clock import ONE_DAY, to_local
from glucolab.errors import Problem
from glucolab.record import Study, WearPeriod
from glucolab.relating.trials.date_outcomes import TIME_WITHIN, fold_dish

_FILE = "trials.csv"
SAME_LETTERS = 0.8
"""Share of letters in common from which two names are asked about [1]; assumed: a slip of a letter or two. Lower asks
about other dishes, higher passes over slips."""


def doubt_trial_dates(study: Study) -> list[Problem]:
    """Notes on planned dates for which nothing such was logged, but something near it was.

    Parameters
    ----------
    study : Study

    Returns
    -------
    list of Problem
        One a date at most, with its line of trials.csv: the dish of another name on that day, else the dish at another
        hour, else on the day before or after.
    """
    meals = pd.concat([_log_of(wear) for wear in study.wears], ignore_index=True) if study.wears else _NO_LOG
    trials = study.trials[study.trials["dish"].map(fold_dish) != ""]
    planned = set(zip(trials["date"], trials["dish"].map(fold_dish), strict=True))
    taken = {dish for _, dish in planned}
    problems = []
    columns = (trials[name] for name in ("date", "dish", "time", "trial"))
    for line, date, dish, time, trial in zip(trials.index, *columns, strict=True):
        found = _find_near(date, fold_dish(dish), time, meals, planned, taken)
        if found:
            day = f"{date.day} {date.month_name()}"
            text = f"on {day} “{dish}” was planned for “{trial}” and is not in the log; {found}"
            problems.append(Problem(_FILE, text, int(line), left_out=False))
    return problems


_NO_LOG = pd.DataFrame({"local": pd.DatetimeIndex([]), "dish": pd.Series(dtype="str"), "file": pd.Series(dtype="str"),
                        "line": pd.Series(dtype="int64")})  # fmt: skip


def _log_of(wear: WearPeriod) -> pd.DataFrame:
    """Every meal of a wear: local time, what the dish is called, file and line."""
    meals = wear.meals[wear.meals["time"].notna()]
    dish = meals["dish"].where(meals["dish"].map(fold_dish) != "", meals["name"])
    local = to_local(pd.DatetimeIndex(meals["time"]), wear.zones)
    file = f"wear_periods/{wear.name}/meals.csv"
    return pd.DataFrame({"local": local, "dish": dish.to_numpy(), "file": file, "line": meals.index.to_numpy()})


def _find_near(
    date: pd.Timestamp,
    dish: str,
    time: object,
    meals: pd.DataFrame,
    planned: set[tuple[pd.Timestamp, str]],
    taken: set[str],
) -> str:
    """What may be the occasion of a date, as a question; empty where it was found or nothing is near it."""
    name, day = meals["dish"].map(fold_dish), meals["local"].dt.normalize()
    mine, there = meals[name == dish], day == date
    if isinstance(time, str) and time.strip():
        away = (mine["local"] - (date + pd.Timedelta(f"{time.strip()}:00"))).abs()
        if (away <= TIME_WITHIN).any():
            return ""
    elif there[mine.index].any():
        return ""
    alike = meals[there & ~name.isin(taken) & name.map(lambda other: are_alike(dish, other)).astype(bool)]
    if len(alike):
        row = alike.iloc[0]
        return (
            f"“{row['dish']}” at {row['local']:%H:%M} is: is that the dish? Then write it under dish in {_place(row)}"
        )
    if there[mine.index].any():
        row = mine[there[mine.index]].iloc[0]
        return f"it was eaten at {row['local']:%H:%M} that day ({_place(row)}): was that the meal? Then mend the time"
    for other in (date - ONE_DAY, date + ONE_DAY):
        moved = mine[day[mine.index] == other]
        if len(moved) and (other, dish) not in planned:
            when = f"{other.day} {other.month_name()}"
            return f"it was eaten on {when} ({_place(moved.iloc[0])}): if that was for this date, mend the date here"
    return ""


def _place(row: pd.Series) -> str:
    return f"{row['file']} line {row['line']}"


def are_alike(one: str, other: str) -> bool:
    """Whether two names may be of one dish: one says all words of the other and more, or few letters differ."""
    words: Sequence[set[str]] = [set(re.findall(r"\w+", name)) for name in (one, other)]
    if not all(words):
        return False
    return words[0] <= words[1] or words[1] <= words[0] or SequenceMatcher(None, one, other).ratio() >= SAME_LETTERS
