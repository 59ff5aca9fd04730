"""What else was different between two wears? Sentences from habit_changes.csv."""

from __future__ import annotations

import pandas as pd

from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing.display import is_known, write_number, write_signed
from glucolab.showing.words.common import join_words

HABIT_WORDS = {
    "carbs_g": "carbohydrate", "fiber_g": "fibre", "asleep_h": "time asleep", "stress": "stress",
    "caffeine_mg": "caffeine", "relaxation_min": "relaxation", "exercise_min": "exercise",
}  # fmt: skip


def say_habits(habits: pd.DataFrame) -> str:
    """Which habits differ for sure between two wears, as written down.

    Parameters
    ----------
    habits : DataFrame
        Rows of habit_changes.csv of one pair of wears.
    """
    known = habits[habits["difference"].notna()]
    if not len(known):
        return "What you ate, slept and did cannot be set beside the wear before: too few days of it are written down."
    told = known[known["verdict"].isin(CLAIMS)]
    if not len(told):
        return f"Your notes show no clear difference: {join_words(_list_habits(known))}."
    said = [f"{HABIT_WORDS[row['habit']]} {row['verdict']}, {say_change(row)} a day" for _, row in told.iterrows()]
    return f"As written down, {join_words(said)}. Part of a difference may go with that."


def _list_habits(habits: pd.DataFrame) -> list[str]:
    return [HABIT_WORDS[habit] for habit in habits["habit"]]


def say_change(row: pd.Series) -> str:
    """A difference with its interval: ``−38 g (−60 to −15)``; empty where there is none."""
    if not is_known(row["difference"]):
        return ""
    decimals = _decimals(row)
    change, low, high = (write_signed(row[name], decimals) for name in ("difference", "low", "high"))
    return f"{change}\N{NO-BREAK SPACE}{row['unit']} ({low} to {high})"


def say_habit_means(row: pd.Series, name: str) -> str:
    """A mean a day with its unit; empty where there is none."""
    if not is_known(row[name]):
        return ""
    return f"{write_number(row[name], _decimals(row))}\N{NO-BREAK SPACE}{row['unit']}"


def _decimals(row: pd.Series) -> int:
    return 1 if row["unit"] in ("h", "points") else 0
