"""What does the study's page say? Its sentences, from the study's tables and summary."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np
import pandas as pd

from glucolab.record import Goal, Person
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.showing.display import NO_BREAK, Display, is_known, write_number
from glucolab.showing.words.common import VERDICT_WORDS, join_words, say_count, say_span, say_title
from glucolab.showing.words.pages.wear import say_goal_chance

_BLOCKS = ("night", "morning", "afternoon", "evening")
DESCRIBED = "This is left out: study.toml says that this person is to be described, not advised."
NOTHING_BEFORE = "Nothing to compare yet: the next wear will be set beside this one."
LINKED = "A link is not a cause. Pale band: too small to matter."
NOTHING_STOOD_OUT = "Nothing you noted is clearly linked with higher or lower glucose yet."
HOW_TO_READ = (
    "Bar: where the average very likely lies. Thin line: your usual average, other days counted in. "
    "A wear’s own page may differ by a point or two: later wears add to what is known of its sensor. "
    "Grey habits are not clear yet."
)
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


def say_latest(periods: pd.DataFrame, running: Collection[str], display: Display) -> str:
    """The average of the latest wear; `running` names wears that have not ended."""
    last = find_last(periods)
    if last is None:
        return "No wear has an average yet."
    name = say_title(last["name"])
    if not display.numbers:
        return f"{name} is the latest wear."
    when = "is so far" if last["name"] in running else "was"
    return f"{name}: your average {when} {display.average(*last[list(_MEAN)])}."


def say_goal_met(periods: pd.DataFrame, goal: Goal, person: Person, display: Display) -> str:
    """Where the latest wear stands toward the goal, as a probability; empty where there is no goal."""
    last = find_last(periods)
    if last is None or person.describe_only or goal.mean_mg_dl is None or not is_known(last["probability_goal_met"]):
        return ""
    return say_goal_chance(last["probability_goal_met"], goal.mean_mg_dl, display)


def list_study_facts(name: str, periods: pd.DataFrame) -> list[str]:
    """The line at the top of the page: whose, how many wears, how many days, from when to when."""
    wears = periods[periods["level"] == "wear"]
    facts = [say_title(name), say_count(len(wears), "wear"), f"worn for {write_number(wears['days'].sum(), 0)} days"]
    return [*facts, say_span(wears["start"].min(), wears["end"].max())] if len(wears) else facts


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
    """What a pair of periods says: verdict first, then the difference with how far it may go either way."""
    a, b = say_title(row["period_a"]), say_title(row["period_b"])
    if row["relation"] == "overlapping":
        return f"{a} and {b} were worn at the same time: what differs is the sensors, so no change is claimed."
    start = f"{b} compared with {a}"
    if row["verdict"] == "not_enough_data" or not is_known(row["difference_mg_dl"]):
        return f"{start}: not enough data yet."
    verdict = {"lower": "clearly lower", "higher": "clearly higher"}.get(
        row["verdict"], VERDICT_WORDS[row["verdict"]]
    )  # fmt: skip
    figure = f", {_say_difference(row, display)}" if display.numbers else ""
    block = f" Most of it lies in the {row['largest_block']}." if row["largest_block"] in _BLOCKS else ""
    return f"{start}: {verdict}{figure}.{block}"


def _say_difference(row: pd.Series, display: Display) -> str:
    """``2 mg/dL lower; could be 11 lower to 7 higher``, or ``by 5 mg/dL (1 to 9)``."""
    middle, low, high = (float(row[name]) for name in DIFFERENCE)
    half = (high - low) / 2
    size = f"{display.size(middle, half)}{NO_BREAK}{display.unit}"
    if row["verdict"] in CLAIMS:
        near, far = sorted((abs(low), abs(high)))
        return f"by {size} ({display.size(near, half)} to {display.size(far, half)})"
    ends = " to ".join(f"{display.size(end, half)} {'lower' if end < 0 else 'higher'}" for end in (low, high))
    return f"{size} {'lower' if middle < 0 else 'higher'}; could be {ends}"


def say_pairs(comparisons: pd.DataFrame) -> str:
    """Why no pair but the latest is judged; empty where there is no other."""
    if comparisons["relation"].ne("overlapping").sum() < 2:
        return ""
    return "Only the latest wear is judged, against the one before: of many pairs some differ by chance alone."


def say_changed(row: pd.Series) -> str:
    """What else changed between two periods, so that it is not taken for a change of life."""
    names = [name for name in str(row["changed"] or "").split(";") if name.strip()] if is_known(row["changed"]) else []
    if not names:
        return "You noted no other change between them."
    said = join_words([name.strip() for name in names])
    return f"{said[0].upper()}{said[1:]} changed too, which may be part of it."


def say_checks_needed(row: pd.Series) -> str:
    """What would settle an open comparison; empty where it is settled."""
    if row["verdict"] != "cannot_tell_yet":
        return ""
    if is_known(row["checks_needed"]):
        return f"About {say_count(int(row['checks_needed']), 'more finger-stick')} in each may answer it."
    lead = max(
        ("days", "hours", "sensor"), key=lambda name: row[f"share_{name}"] if is_known(row[f"share_{name}"]) else 0
    )
    reason = {"days": "which days you wore them", "hours": "hours that are missing", "sensor": "the sensors"}[lead]
    return f"More finger-sticks won’t be enough: the main uncertainty is {reason}."


def say_trend(summary: dict[str, Any], display: Display) -> str:
    """The trend over the stretches, or why there is none."""
    trend = summary["trend"]
    if not is_known(trend):
        return summary["withheld"].get("trend", "")
    if not display.numbers:
        way = "down" if trend["high"] < 0 else "up" if trend["low"] > 0 else "neither surely up nor down"
        return f"Over the year your average is going {way}."
    return f"Per 30 days your average changed by {display.change(trend['estimate'], trend['low'], trend['high'])}."


def say_dishes(dishes: pd.DataFrame) -> str:
    """How the list is to be read; empty without one."""
    if not len(dishes):
        return ""
    return "The rise to expect after each dish you repeat; what you ate seldom is drawn toward your usual rise."


def say_dish_pairs(pairs: pd.DataFrame) -> str:
    """How many pairs of dishes clearly differ."""
    apart = int(pairs["verdict"].isin(CLAIMS).sum())
    alike = int((pairs["verdict"] == "too_small_to_matter").sum())
    parts = [f"{apart or 'None'} of {say_count(len(pairs), 'pair')} clearly {'differs' if apart == 1 else 'differ'}"]
    parts += [f"{alike} differ by too little to matter"] if alike else []
    rest = len(pairs) - apart - alike
    return "; ".join([*parts, *([f"{rest} {'is' if rest == 1 else 'are'} not clear yet"] if rest else [])]) + "."
