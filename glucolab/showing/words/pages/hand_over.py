"""What is said to a clinician or a nutritionist? The sentences of the page to hand over, without a name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from glucolab.record import Goal, Person
from glucolab.showing.display import Display, is_known, write_number, write_percent
from glucolab.showing.words.common import OUTCOME_WORDS, join_words, say_count, say_factor, say_span

METHODS = (
    "The sensor measures glucose between the cells; its lag and its bias against finger-sticks are estimated and "
    "taken out, so that figures stand for blood.",
    "Readings in the first hours, under pressure at night, stuck, or faster than physiology are left out; missing "
    "hours are filled from the same hours of other days and, after meals, from other meals, with their uncertainty.",
    "Intervals hold 90 %: they count which days were worn, which hours are missing, and the sensor itself: two sensors "
    "on one body differ by more than most changes of life do.",
    "What goes with what is estimated within a wear, habits that travel together adjusted for each other, whole days "
    "permuted; of the claims made after any one wear at most one in twenty is meant to be false, for looks add up "
    "(Benjamini-Hochberg, weighted for what is likely).",
    "An association is no cause; only dates drawn by lot, where an experiment is named, speak of one.",
)
FALLBACK = "No wear has an average that its record supports yet."
_FLAG_WORDS = {
    "warm_up": "first hours of a sensor",
    "pressure": "lying on the sensor",
    "jump": "faster than physiology",
    "stuck": "stuck",
    "limit": "beyond the sensor's limits",
    "duplicate": "written twice",
    "clock": "clock in doubt",
}


def say_hand_over_title(periods: pd.DataFrame) -> str:
    """The heading: what this is, and over which time."""
    return f"Glucose sensor wears, {say_span(periods['start'].min(), periods['end'].max())}"


def say_who(periods: pd.DataFrame, person: Person) -> str:
    """Who wore sensors, how often, and what for."""
    worn = f"{say_count(len(periods), 'wear')}, {write_number(periods['days'].sum(), 0)} days in all"
    if person.describe_only:
        return (
            f"{worn}. The wearer is under 18, pregnant or on glucose-lowering medicine: the record is described here, "
            "and nothing is compared, ranked or advised."
        )
    return f"{worn}, worn without diabetes being known, to learn what goes with glucose in this one person."


def say_average(periods: pd.DataFrame, display: Display) -> str:
    """The average of the latest wear that has one."""
    known = periods[periods["mean_mg_dl"].notna()]
    if not len(known):
        return FALLBACK
    if not display.numbers:
        return "Figures of glucose are hidden at the wearer's wish."
    last = known.iloc[-1]
    average = display.average(*last[["mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl"]])
    return f"The latest average ({last['name']}) is {average} (90 % interval)."


def say_hand_over_goal(periods: pd.DataFrame, goal: Goal, display: Display) -> str:
    """The wearer's own goal, and how probably the latest wear lay below it; empty without a goal."""
    known = periods[periods["probability_goal_met"].notna()]
    if goal.mean_mg_dl is None or not len(known):
        return ""
    chance = write_percent(float(known.iloc[-1]["probability_goal_met"]))
    level = f"{display.level(goal.mean_mg_dl)} {display.unit}" if display.numbers else "a level of their own"
    return f"The wearer's goal is an average below {level}: that wear met it with a probability of {chance}."


def say_open(effects: pd.DataFrame, most: int) -> str:
    """Which questions have no answer yet."""
    return _list_pairs(effects, ("cannot_tell_yet", "not_enough_data"), "Asked, and not told yet", most)


def say_small(effects: pd.DataFrame, most: int) -> str:
    """Which differences are too small to matter."""
    return _list_pairs(effects, ("too_small_to_matter",), "Looked at, and too small to matter", most)


def _list_pairs(effects: pd.DataFrame, verdicts: Sequence[str], start: str, most: int) -> str:
    mine = effects[effects["verdict"].isin(verdicts)].sort_values("q_value", kind="stable", na_position="last")
    if not len(mine):
        return ""
    pairs = [
        f"{_say_own(f)} with {OUTCOME_WORDS.get(o, o)}" for f, o in zip(mine["factor"], mine["outcome"], strict=True)
    ]
    more = f"; and {len(pairs) - most} more" if len(pairs) > most else ""
    return f"{start}: {'; '.join(pairs[:most])}{more}."


def _say_own(factor: str) -> str:
    return factor.partition(":")[2] or say_factor(factor)


def say_hand_over_bias(row: pd.Series, display: Display) -> str:
    """How far one sensor read from blood."""
    if not is_known(row["bias_mg_dl"]):
        return "not known"
    return display.change(*row[["bias_mg_dl", "bias_low_mg_dl", "bias_high_mg_dl"]])


def say_left_out(flag_minutes: Sequence[Mapping[str, float]]) -> str:
    """For how long readings were left out, by cause, over all wears."""
    hours: dict[str, float] = {}
    for one in flag_minutes:
        for flag, minutes in one.items():
            if flag in _FLAG_WORDS:
                hours[flag] = hours.get(flag, 0.0) + minutes / 60
    told = [f"{_FLAG_WORDS[flag]} {write_number(h, 0)} h" for flag, h in hours.items() if h >= 0.5]
    return f"Left out of all wears: {join_words(told)}." if told else "No reading was left out."
