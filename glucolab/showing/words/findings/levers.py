"""What might a habit do to the average, and would it reach the goal? Sentences from levers.csv."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.record import Goal
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing.display import NO_BREAK, Display, is_known
from glucolab.showing.words.common import join_words

ENDS = ("on_mean_mg_dl", "low_mg_dl", "high_mg_dl")
HABITS_KEPT = {
    "walk_after": "walking after each larger meal",
    "protein_first": "eating protein first at each larger meal",
    "carbs_g": "30 g less carbohydrate a day",
    "asleep_h": "an hour more sleep",
    "stress": "every day as calm as your calmest",
}
_SHARES_OF_MEALS = {"walk_after": "after", "protein_first": "at"}
ONLY_IF = (
    "This holds only if the habit is the reason and the rest of your days stay as they are. Less of a food is no "
    "better diet by itself."
)


def say_levers(levers: pd.DataFrame, usual_mg_dl: float, goal: Goal, display: Display) -> tuple[str, list[str]]:
    """How far it is to the goal and what might close that distance, and a sentence for each habit.

    Parameters
    ----------
    levers : DataFrame
        levers.csv's table.
    usual_mg_dl : float
        Average of the latest wear; NaN if none has one. [mg/dL]
    goal : Goal
    display : Display

    Returns
    -------
    lead : str
    rows : list of str
    """
    known = _clear_first(levers)
    if not len(known):
        return "No habit can be set against the average yet: it takes meals, sleep or stress on eight days.", []
    rows = [say_lever(row, display) for _, row in known.iterrows()]
    unknown = [HABITS_KEPT[factor] for factor in levers.loc[levers["on_mean_mg_dl"].isna(), "factor"]]
    rows += [f"Not enough data yet: {join_words(unknown)}."] if unknown else []
    return _say_distance(known, usual_mg_dl, goal, display), rows


def _say_distance(known: pd.DataFrame, usual_mg_dl: float, goal: Goal, display: Display) -> str:
    if goal.mean_mg_dl is None or not is_known(usual_mg_dl):
        return ""
    if usual_mg_dl <= goal.mean_mg_dl:
        return "Your average is at your goal already; these habits might keep it there."
    distance = usual_mg_dl - goal.mean_mg_dl
    far = f"{display.size(distance, distance)}{NO_BREAK}{display.unit} away" if display.numbers else "not reached yet"
    start = f"Your goal is {far}. "
    clear = known[known["verdict"].isin(CLAIMS) & (known["on_mean_mg_dl"] < 0)]
    alone = [HABITS_KEPT[factor] for factor in clear.loc[clear["high_mg_dl"] <= -distance, "factor"]]
    if alone:
        return f"{start}One habit alone would very likely close that distance: {' or '.join(alone)}."
    if -clear["on_mean_mg_dl"].sum() >= distance:
        names = join_words([HABITS_KEPT[factor] for factor in clear["factor"]])
        return f"{start}No habit alone would surely close that distance; together these might: {names}."
    maybe = [HABITS_KEPT[factor] for factor in known.loc[known["low_mg_dl"] <= -distance, "factor"]]
    if maybe:
        return f"{start}What is clear so far would not close it; what might, if it holds: {join_words(maybe)}."
    return f"{start}None of these habits would close that distance."


def say_lever(row: pd.Series, display: Display, average: str = "your average") -> str:
    """``If the walk is the reason, … would lower your average by 2 mg/dL (1 to 3).``"""
    estimate, low, high = (float(row[name]) for name in ENDS)
    done, way = HABITS_KEPT[row["factor"]], "lower" if estimate < 0 else "raise"
    done = f"{done}{_say_now(row)}"
    half = (high - low) / 2
    size, near, far = (display.size(end, half) for end in (estimate, low, high)) if display.numbers else ("", "", "")
    amount = f" by {size}{NO_BREAK}{display.unit}" if display.numbers else ""
    if row["verdict"] in CLAIMS:
        near, far = (far, near) if estimate < 0 else (near, far)
        ends = f" ({near} to {far})" if display.numbers else ""
        return f"{_capital(done)} would {way} {average}{amount}{ends}."
    if row["verdict"] == "too_small_to_matter":
        return f"{_capital(done.rstrip(','))}: too small to matter for your average."
    if low < 0 < high:
        ends = f"; could be {near} lower to {far} higher" if display.numbers else ""
    else:
        ends = f"; {min(near, far)} to {max(near, far)} on its own, which may be chance" if display.numbers else ""
    return f"{_capital(done.rstrip(','))}: not clear yet. So far it would {way} your average{amount}{ends}."


def _say_now(row: pd.Series) -> str:
    """``, not only after 32 % of them,``; empty for what is no share."""
    when = _SHARES_OF_MEALS.get(row["factor"])
    return f", not only {when} {100 * float(row['now']):.0f}{NO_BREAK}% of them," if when else ""


def _clear_first(levers: pd.DataFrame) -> pd.DataFrame:
    """Habits with figures, those first whose link is clear."""
    known = levers[levers["on_mean_mg_dl"].notna()]
    return known.iloc[np.argsort(~known["verdict"].isin(CLAIMS).to_numpy(), kind="stable")]


def find_step(levers: pd.DataFrame, usual_mg_dl: float, goal: Goal) -> pd.Series | None:
    """The habit that would bring the average nearer to the goal most, of those whose link is clear; None without.

    Nobody is sent to eat less: that stands further down, with its caution.
    """
    clear = levers[levers["verdict"].isin(CLAIMS) & (levers["on_mean_mg_dl"] < 0) & (levers["factor"] != "carbs_g")]
    if goal.mean_mg_dl is None or not usual_mg_dl > goal.mean_mg_dl or not len(clear):
        return None
    return clear.iloc[0]


def say_step(levers: pd.DataFrame, usual_mg_dl: float, goal: Goal, display: Display) -> str:
    """What that habit might do; empty without one."""
    step = find_step(levers, usual_mg_dl, goal)
    if step is None:
        return ""
    said = say_lever(step, display, "your average over day and night")
    return f"To come nearer to your goal, if the habit is the reason: {said[0].lower()}{said[1:]}"


def _capital(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def list_levers(levers: pd.DataFrame) -> pd.DataFrame:
    """Rows that can be drawn, those first whose link is clear, with their labels."""
    known = _clear_first(levers)
    return known.assign(label=known["change"])
