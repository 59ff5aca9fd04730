"""What does one wear's page say? Its sentences, from the wear's tables and summary."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from glucolab.clock import to_local
from glucolab.measuring.log_clock import is_log_off, word_log_clock
from glucolab.record import Goal, Person
from glucolab.showing.display import NO_BREAK, Display, is_known, write_number, write_percent
from glucolab.showing.words.common import (
    CHANCE_STEPS,
    join_words,
    say_count,
    say_duration,
    say_hundred,
    say_moment,
    say_reasons,
    say_rise,
    say_span,
    say_title,
    say_whether,
)
from glucolab.showing.words.findings.forecasts import say_beside_forecast

if TYPE_CHECKING:
    from glucolab.results import WearAnalysis

MEAN_ENDS = ("mean_mg_dl", "mean_low_mg_dl", "mean_high_mg_dl")
ON_WAKING = pd.Timedelta(hours=1)
"""So long after a night's end a blood value still speaks of it."""
_CAME_OFF = {"fell_off": "fell off", "failed": "failed"}


def list_facts(result: WearAnalysis) -> list[str]:
    """What was worn, when and where: the line at the top of the page."""
    wear, summary = result.wear, result.summary
    dates = result.days.dates
    facts = [
        say_title(wear.name),
        say_span(dates[0], dates[-1]),
        f"{write_number(summary['days'], 1).removesuffix('.0')} days",
    ]
    facts += [text for text in (wear.site, wear.sensor_model or _name_sensor(wear.sensor)) if text]
    facts.append(f"{write_percent(summary['coverage'])} of the time recorded")
    if wear.ended in _CAME_OFF:
        facts.append(f"{_CAME_OFF[wear.ended]} on day {len(dates)}")
    if summary["state"] == "running":
        times = result.tables["readings"]["time"].dropna()
        facts.append(
            f"still running, last reading {say_moment(to_local(times.iloc[[-1]], wear.zones)[0])}"
            if len(times)
            else "still running"
        )
    return facts


def _name_sensor(sensor: str) -> str:
    return say_title(sensor) if not sensor or "sensor" in sensor.casefold() else f"sensor {sensor}"


def say_wear_average(own: pd.Series | None, summary: dict[str, Any], display: Display) -> str:
    """The average in one sentence, as it is known with this wear and the earlier ones, or that there is none.

    Parameters
    ----------
    own : Series or None
        Of periods.csv; None where the wear has no average.
    summary : dict
        Of the wear.
    display : Display
    """
    running = summary["state"] == "running"
    if own is None:
        return "No average can be given yet." if running else "No average can be given."
    if not display.numbers:
        return "Your average is drawn here, without figures."
    return f"Your average {'so far:' if running else 'was'} {display.average(*own[list(MEAN_ENDS)])}."


def say_headline(own: pd.Series | None, summary: dict[str, Any], goal: Goal, person: Person, display: Display) -> str:
    """A wear in one line: its average and the goal; without figures the goal alone."""
    if own is None:
        return f"{say_wear_average(own, summary, display)} {summary['withheld'].get('mean', '')}".strip()
    mean = say_wear_average(own, summary, display) if display.numbers else ""
    return f"{mean} {say_goal(own, goal, person, display)}".strip().replace(NO_BREAK, " ") or "analysed."


def say_goal(own: pd.Series, goal: Goal, person: Person, display: Display) -> str:
    """Whether the goal was met, as a probability; empty where there is no goal or none may be pursued."""
    if person.describe_only or goal.mean_mg_dl is None or not is_known(own["probability_goal_met"]):
        return ""
    return say_goal_chance(float(own["probability_goal_met"]), goal.mean_mg_dl, display)


def say_goal_chance(chance: float, goal_mg_dl: float, display: Display) -> str:
    """How likely an average below the goal is."""
    level = f" of {display.level(goal_mg_dl)}" if display.numbers else ""
    where = "below"
    if chance < CHANCE_STEPS[2]:
        where, chance = "above", 1 - chance
    figure = f": {say_hundred(chance)} that it was" if display.numbers else ""
    return f"{say_whether(chance, f'{where} your goal{level}')}{figure}."


def say_describe_only(person: Person) -> str:
    """Why this page describes and does not advise; empty where it may."""
    reasons = {"the wearer is under 18": person.under_18, "the wearer is pregnant": person.pregnant,
               "a glucose-lowering medicine is taken": person.glucose_lowering_medicine}  # fmt: skip
    given = [reason for reason, holds in reasons.items() if holds]
    if not given:
        return ""
    return (
        f"This page describes and does not advise, since {join_words(given)}: no goal, no effects, no ranking, no plan."
    )


def say_usual(own: pd.Series, display: Display) -> str:
    """What living like this gives, the days' own spread counted in.

    Parameters
    ----------
    own : Series
        Of periods.csv.
    """
    if not display.numbers:
        return "Other days would have differed a little, which the share “which days you wore it” counts in."
    low, high = (display.level(own[f"usual_{end}_mg_dl"]) for end in ("low", "high"))
    return f"Other days would have differed a little: your usual average is very likely {low} to {high}."


def say_next_file(summary: dict[str, Any]) -> str:
    """The one missing table that would tell most; empty where none is missing."""
    if not summary["next_file"]:
        return ""
    return f"The file that would help most: {summary['next_file']}, as {summary['next_file_why']}."


def say_doubted(summary: dict[str, Any]) -> str:
    """Which blood values fit the others so badly that they count for little; empty where none does."""
    doubted = summary.get("checks_doubted") or []
    if not doubted:
        return ""
    are = say_count(len(doubted), "blood value fits", "blood values fit", spell=True)
    return f"{are.capitalize()} the others too badly to count for much: {', '.join(doubted)}."


def say_clock(summary: dict[str, Any]) -> str:
    """That the log's clock seems to be off the sensor's; empty where it does not."""
    ahead = summary.get("log_clock_min")
    if ahead is None or not is_log_off(ahead):
        return ""
    text = word_log_clock(ahead)
    return (
        f"{text[0].upper()}{text[1:]}. "
        f"The tables keep the times as written; what meals go with is asked of them as if the clock were right. "
        f"log_ahead_min in wear.toml corrects it for good."
    )


def say_record(result: WearAnalysis) -> str:
    """How much was recorded and used."""
    summary = result.summary
    used, of = summary["readings_used"], summary["readings"]
    if used == of:
        return f"All {of} readings were used."
    return f"{used} of {of} readings were used; the rest stay in your tables, with reasons."


def say_latest_meal(result: WearAnalysis, display: Display) -> str:
    """What came of the newest meal of a wear that is still running, beside what was predicted; empty otherwise."""
    meals, last = result.tables["meal_responses"], result.tables["readings"]["time"].max()
    meals = meals[meals["time"] <= last]
    if result.summary["state"] != "running" or not len(meals):
        return ""
    row = meals.sort_values("time").iloc[-1]
    moment = say_moment(to_local(pd.DatetimeIndex([row["time"]]), result.wear.zones)[0])
    start = f"Newest meal, {moment}, {row['name']}"
    if not is_known(row["usable_2h"]) or not row["usable_2h"]:
        return f"{start}: its rise cannot be given yet ({say_reasons(row['reason'])})."
    came = (
        f"{start}: {say_rise(row, display)}."
        if display.numbers
        else f"{start}: its rise is drawn under “Meal by meal”."
    )
    by_right_clock = row["time"] - pd.Timedelta(minutes=result.related.as_asked.moved_min)
    predicted = result.forecasts[result.forecasts["time"] == by_right_clock]
    return " ".join([came, *(say_beside_forecast(one, display) for one in predicted.itertuples())])


def say_rises(excursions: pd.DataFrame, days: float) -> str:
    """How many rises there were, how many belong to exercise, how many have no cause in the notes."""
    if not len(excursions):
        return "No rise of a quarter of an hour or more above this wear's median."
    lead = excursions["linked_to"].str.split(";").str[0]
    exercise, nothing = int((lead == "exercise").sum()), int((lead == "unexplained").sum())
    text = f"{say_count(len(excursions), 'rise')} in {say_duration(days * 1440)}. "
    if exercise:
        text += (
            f"{say_count(exercise, 'belongs', 'belong', spell=True).capitalize()} to exercise, where a rise is normal. "
        )
    if nothing:
        text += f"{say_count(nothing, 'has', 'have', spell=True).capitalize()} no cause in your notes."
    return text.strip()


def say_sensor(own: pd.Series | None, summary: dict[str, Any], display: Display) -> str:
    """How far the sensor reads from blood, and by how many finger-sticks that is known.

    Parameters
    ----------
    own : Series or None
        Of periods.csv; None: why nothing can be said.
    """
    if own is None:
        return str(summary["withheld"].get("bias_mg_dl", ""))
    used = int(own["checks_used"])
    by = f"by {say_count(used, 'finger-stick')}" if used else "without a finger-stick, only by what sensors usually do"
    if not display.numbers:
        return f"How far the sensor reads from blood is known {by}."
    bias, low, high = (float(own[f"bias_{end}mg_dl"]) for end in ("", "low_", "high_"))
    way = "low" if bias < 0 else "high"
    size = f"{display.size(bias)}{NO_BREAK}{display.unit}"
    if low * high > 0:
        near, far = sorted((display.size(low), display.size(high)), key=float)
        return f"The sensor read {size} too {way} ({near} to {far}), which is taken off; known {by}."
    over = f"could be {display.size(low)} low to {display.size(high)} high"
    return f"The sensor read {size} too {way} ({over}), which is taken off; known {by}."


def say_night_unchecked(result: WearAnalysis) -> str:
    """That no blood value tells how the sensor reads at night; empty where one does, or where there are none at all."""
    taken, ends = pd.DatetimeIndex(result.trace.checks["time"]), result.nights[["start", "end"]]
    if not len(taken) or not len(ends):
        return ""
    near = [((taken >= start) & (taken <= end + ON_WAKING)).any() for start, end in ends.itertuples(index=False)]
    if any(near):
        return ""
    return (
        "No finger-stick was taken at night or on waking. Sensors read differently at night, so the overnight average "
        "is known less well than the day's: two finger-sticks on waking would help."
    )


def say_lag(summary: dict[str, Any]) -> str:
    """The lag behind blood, and that it is mostly assumed."""
    lag = summary["lag_min"]
    if not is_known(lag):
        return summary["withheld"].get("lag_min", "")
    estimate, low, high = (write_number(lag[name]) for name in ("estimate", "low", "high"))
    return f"The sensor runs about {estimate} minutes behind blood ({low} to {high}), mostly by published studies."
