"""What does the study's page say? Its sentences, from the study's tables and summary."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from glucolab.record import Goal, Person
from glucolab.showing.display import Display, is_known, write_number
from glucolab.showing.words.common import (
    join_words,
    say_count,
    say_title,
)
from glucolab.showing.words.pages.wear import say_goal_chance

_BLOCKS = ("night", "morning", "afternoon", "evening")
DESCRIBED = "This is left out: study.toml says that this person is to be described, not advised."
_MEAN = ("mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl")
DIFFERENCE = ("difference_mg_dl", "low_mg_dl", "high_mg_dl")


def find_last(periods: pd.DataFrame) -> pd.Series | None:
    """The row of the latest wear that has an average; None where there is none."""
    known = periods[(periods["level"] == "wear") & periods["mean_mg_dl"].notna()]
    return known.sort_values("end", kind="stable").iloc[-1] if len(known) else None


def find_usual(periods: pd.DataFrame) -> float:
    """The average of the latest wear that has one, NaN where there is none. [mg/dL]"""
    last = find_last(periods)
    return np.nan if last is None else float(last["mean_mg_dl"])


def say_latest(periods: pd.DataFrame, display: Display) -> str:
    """The average of the latest wear."""
    last = find_last(periods)
    if last is None:
        return "No wear has an average yet."
    name = say_title(last["name"])
    if not display.numbers:
        return f"{name} is the latest wear."
    return f"{name}: your average was {display.average(*last[list(_MEAN)])}."


def say_goal_met(periods: pd.DataFrame, goal: Goal, person: Person, display: Display) -> str:
    """Where the latest wear stands toward the goal, as a probability; empty where there is no goal."""
    last = find_last(periods)
    if last is None or person.describe_only or goal.mean_mg_dl is None or not is_known(last["probability_goal_met"]):
        return ""
    return say_goal_chance(last["probability_goal_met"], goal.mean_mg_dl, display)


def say_wears(periods: pd.DataFrame) -> str:
    """How many wears, how many days."""
    wears = periods[periods["level"] == "wear"]
    stretches = int((periods["level"] == "stretch").sum())
    text = f"{say_count(len(wears), 'wear')}, {write_number(wears['days'].sum(), 0)} days of wearing"
    return (
        f"{text}, {say_count(stretches, 'stretch', 'stretches')} with breaks between." if stretches > 1 else f"{text}."
    )


def find_latest(comparisons: pd.DataFrame) -> pd.Series | None:
    """The comparison of the last wear with the one before it; None where there is none."""
    wears = comparisons[comparisons["level"] == "wear"]
    return wears.iloc[_order_latest(wears)] if len(wears) else None


def _order_latest(wears: pd.DataFrame) -> int:
    """Rows run over pairs in order of time: the last `period_b`, and of its pairs the last `period_a`."""
    last = wears["period_b"].iloc[-1]
    mine = [i for i, name in enumerate(wears["period_b"]) if name == last]
    return mine[-1]


def say_comparison(row: pd.Series, display: Display) -> str:
    """What a pair of periods says: verdict first, then the figure with its interval."""
    a, b = say_title(row["period_a"]), say_title(row["period_b"])
    if row["relation"] == "overlapping":
        return f"{a} and {b} were worn at the same time: what differs is the sensors, so no change is claimed."
    if row["verdict"] == "not_enough_data" or not is_known(row["difference_mg_dl"]):
        return f"{b} against {a}: not enough data yet."
    figure = ""
    if display.numbers:
        figure = f" The difference is {display.change(*row[list(DIFFERENCE)])}."
    verdict = {"lower": "lower", "higher": "higher", "too_small_to_matter": "a difference too small to matter",
               "cannot_tell_yet": "not clear yet"}[row["verdict"]]  # fmt: skip
    block = f" Most of it lies in the {row['largest_block']}." if row["largest_block"] in _BLOCKS else ""
    return f"{b} against {a}: {verdict}.{figure}{block}"


def say_pairs(comparisons: pd.DataFrame) -> str:
    """Why no pair but the latest is judged; empty where there is no other."""
    if comparisons["relation"].ne("overlapping").sum() < 2:
        return ""
    return "Only the latest wear is judged, against the one before: of many pairs some differ by chance alone."


def say_changed(row: pd.Series) -> str:
    """What else changed between two periods, so that it is not taken for a change of life."""
    names = [name for name in str(row["changed"] or "").split(";") if name.strip()] if is_known(row["changed"]) else []
    if not names:
        return "Nothing else is noted as changed between them."
    return (
        f"Also changed between them: {join_words([name.strip() for name in names])}. Part of a difference may be that."
    )


def say_checks_needed(row: pd.Series) -> str:
    """What would settle an open comparison; empty where it is settled."""
    if row["verdict"] != "cannot_tell_yet":
        return ""
    if is_known(row["checks_needed"]):
        return f"About {say_count(int(row['checks_needed']), 'more finger-stick')} in each would tell."
    lead = max(
        ("days", "hours", "sensor"), key=lambda name: row[f"share_{name}"] if is_known(row[f"share_{name}"]) else 0
    )
    reason = {"days": "which days happened to be worn", "hours": "hours that were not seen", "sensor": "the sensors"}[
        lead
    ]
    return f"More finger-sticks alone would not tell: most of the doubt is {reason}."


def say_trend(summary: dict[str, Any], display: Display) -> str:
    """The trend over the stretches, or why there is none."""
    trend = summary["trend"]
    if not is_known(trend):
        return summary["withheld"].get("trend", "")
    if not display.numbers:
        way = "down" if trend["high"] < 0 else "up" if trend["low"] > 0 else "neither surely up nor down"
        return f"Over the year your average is going {way}."
    return f"Per 30 days the average changed by {display.change(trend['estimate'], trend['low'], trend['high'])}."


def say_dishes(dishes: pd.DataFrame) -> str:
    """How the list is to be read; empty without one."""
    if not len(dishes):
        return ""
    return "From the largest rise to the smallest; what you ate seldom is drawn toward your usual rise."


def say_dish_pairs(pairs: pd.DataFrame) -> str:
    """How many pairs of dishes can be told apart."""
    apart = int(pairs["verdict"].isin(["lower", "higher"]).sum())
    alike = int((pairs["verdict"] == "too_small_to_matter").sum())
    parts = [f"Of {say_count(len(pairs), 'pair')} of dishes {apart or 'none'} can be told apart"]
    parts += [f"{alike} differ by too little to matter"] if alike else []
    rest = len(pairs) - apart - alike
    return ", ".join([*parts, *([f"{rest} cannot be told apart yet"] if rest else [])]) + "."
