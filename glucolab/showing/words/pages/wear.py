"""What does one wear's page say? Its sentences, from the wear's tables and summary."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from glucolab.clock import to_local
from glucolab.intervals import Estimate, Z
from glucolab.measuring.log_clock import is_log_off, word_log_clock
from glucolab.record import Goal, Person
from glucolab.showing.display import NO_BREAK, Display, is_known, write_number, write_percent
from glucolab.showing.words.common import (
    join_words,
    say_chance,
    say_count,
    say_duration,
    say_likelihood,
    say_moment,
    say_reasons,
    say_rise,
    say_span,
    say_title,
)
from glucolab.showing.words.findings.forecasts import say_beside_forecast

if TYPE_CHECKING:
    from glucolab.analysis import WearAnalysis

WORTH_SAYING = 0.8
"""A remedy that leaves more of the variance than this is not named: it would hardly show."""
ON_WAKING = pd.Timedelta(hours=1)
"""So long after a night's end a blood value still speaks of it."""
_CAME_OFF = {"fell_off": "fell off", "failed": "failed"}
SHARE_CAUSES = {"sensor": "which sensor this was", "days": "which days were worn", "hours": "hours that were not seen"}


def list_facts(result: WearAnalysis) -> list[str]:
    """What was worn, when and where: the line at the top of the page."""
    wear, summary = result.wear, result.summary
    dates = result.days.dates
    facts = [say_title(wear.name), say_span(dates[0], dates[-1]), f"{write_number(summary['days'], 1)} days"]
    facts += [text for text in (wear.site, wear.sensor_model, _name_sensor(wear.sensor)) if text]
    facts.append(f"{write_percent(summary['coverage'])} of the time recorded")
    if wear.ended in _CAME_OFF:
        facts.append(f"{_CAME_OFF[wear.ended]} on day {len(dates)}")
    if summary["state"] == "running":
        times = result.tables["readings"]["time"].dropna()
        facts.append(
            f"still running, last reading {to_local(times.iloc[[-1]], wear.zones)[0]:%d.%m. %H:%M}"
            if len(times)
            else "still running"
        )
    return facts


def _name_sensor(sensor: str) -> str:
    return say_title(sensor) if not sensor or "sensor" in sensor.casefold() else f"sensor {sensor}"


def say_mean(summary: dict[str, Any], display: Display) -> str:
    """The average in one sentence, or why there is none."""
    if not is_known(summary["mean"]):
        return "No average can be given yet." if summary["state"] == "running" else "No average can be given."
    when = "is so far" if summary["state"] == "running" else "was"
    if not display.numbers:
        return "Your average, without figures: the bars below show where it stands and how surely that is known."
    mean, well, ill = summary["mean"], summary["mean_without_ill_days"], summary["ill_days"]
    days = "the day" if ill == 1 else f"the {say_count(ill, 'day', spell=True)}"
    more = f" Without {days} you were ill it {when} {display.level(well['estimate'])}." if is_known(well) else ""
    return f"Your average {when} {display.average(mean['estimate'], mean['low'], mean['high'])}.{more}"


def say_headline(summary: dict[str, Any], goal: Goal, person: Person, display: Display) -> str:
    """A wear in one line: its average and the goal; without figures the goal alone."""
    if not is_known(summary["mean"]):
        return f"{say_mean(summary, display)} {summary['withheld'].get('mean', '')}".strip()
    mean = say_mean(summary, display) if display.numbers else ""
    return f"{mean} {say_goal(summary, goal, person, display)}".strip().replace(NO_BREAK, " ") or "analysed."


def estimate_goal_chance(summary: dict[str, Any], goal: Goal) -> float | None:
    """Probability that the true mean of the span lay below the goal, from the mean's interval read as a normal one."""
    mean = summary["mean"]
    if goal.mean_mg_dl is None or not is_known(mean):
        return None
    sd = (mean["high"] - mean["low"]) / (2 * Z)
    return 0.5 * math.erfc((mean["estimate"] - goal.mean_mg_dl) / (sd * math.sqrt(2))) if sd > 0 else None


def say_goal(summary: dict[str, Any], goal: Goal, person: Person, display: Display) -> str:
    """Whether the goal was met, as a probability; empty where there is no goal or none may be pursued."""
    chance = None if person.describe_only else estimate_goal_chance(summary, goal)
    if chance is None or goal.mean_mg_dl is None:
        return ""
    return say_goal_chance(chance, goal.mean_mg_dl, display)


def say_goal_chance(chance: float, goal_mg_dl: float, display: Display) -> str:
    """How likely an average below the goal is."""
    where = f"Below the goal of {display.level(goal_mg_dl)}" if display.numbers else "Below your goal"
    figure = f", {say_chance(chance)}" if display.numbers else ""
    return f"{where}: {say_likelihood(chance)}{figure}."


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


def say_usual(summary: dict[str, Any], display: Display) -> str:
    """What living like this gives, the days' own spread counted in."""
    usual = summary["usual_mean"]
    if not is_known(usual):
        return summary["withheld"].get("usual_mean", "")
    if not display.numbers:
        return (
            "The first bar holds your true average nine times in ten; the second counts in that other days would have "
            "differed."
        )
    first = _say_ends(summary["mean"], display)
    living = f"If you go on living like this, expect {_say_ends(usual, display)}."
    return f"Nine times in ten the true average of this time lies from {first}. {living}"


def _say_ends(estimate: Estimate, display: Display) -> str:
    return f"{display.level(estimate['low'])} to {display.level(estimate['high'])}"


def say_error_shares(shares: dict[str, float]) -> str:
    """What most of the doubt comes from."""
    lead = max(shares, key=lambda name: shares[name])
    return f"Most of the doubt, {write_percent(shares[lead])} of the variance, is {SHARE_CAUSES[lead]}."


def list_what_narrows(summary: dict[str, Any], person: Person, display: Display) -> list[str]:
    """What would narrow the interval next time, the largest gain first, with how far each could get."""
    usual, shares = summary["usual_mean"], summary["usual_mean_error_shares"]
    if person.describe_only or not is_known(usual) or not shares:
        return []
    half, days, used = (usual["high"] - usual["low"]) / 2, summary["days"], summary["checks_used"]
    had = f"this wear had {used or 'none'} that could be used"
    sticks = f"Finger-sticks at rest, spread over the wear, two of them on waking ({had}):"
    remedies = {
        "sensor": (f"{sticks} if they settled how the sensor reads,", 1 - shares["sensor"], " at best"),
        "days": ("Ten more days worn:", 1 - shares["days"] * 10 / (days + 10), ""),
        "hours": ("No hour missing:", 1 - shares["hours"], ""),
    }  # fmt: skip
    sentences = []
    for action, rest, how in sorted(remedies.values(), key=lambda remedy: remedy[1]):
        left = half * math.sqrt(rest)
        if rest > WORTH_SAYING:
            continue
        if display.numbers:
            sentences.append(
                f"{action} the give-or-take would fall from {display.size(half)} to {display.size(left)}{how}."
            )
        else:
            sentences.append(f"{action} the second bar would shrink by {write_percent(1 - math.sqrt(rest))}{how}.")
    return sentences[:2]


def say_next_file(summary: dict[str, Any], person: Person, display: Display) -> str:
    """The one missing table that would tell most; empty where none is missing or nothing is planned."""
    known = (
        {"checks.csv"} if list_what_narrows(summary, person, display) else set()
    )  # finger-sticks are named there already
    if person.describe_only or not summary["next_file"] or summary["next_file"] in known:
        return ""
    return f"The file that would tell most: {summary['next_file']}, as {summary['next_file_why']}."


def say_coverage(summary: dict[str, Any]) -> str:
    """How much of the time is covered."""
    share = write_percent(summary["coverage"])
    return f"{share} of the time from the end of the first hours to the end of the wear is covered."


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
    aside = summary["readings"] - summary["readings_used"]
    text = f"{summary['readings_used']} of {summary['readings']} readings are used"
    return (
        f"{text}; {say_count(aside, 'reading is', 'readings are')} set aside, none is dropped." if aside else f"{text}."
    )


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
        f"{start}: {say_rise(row, display)}." if display.numbers else f"{start}: its rise is drawn under “The meals”."
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


def say_bias(summary: dict[str, Any], display: Display) -> str:
    """How far the sensor reads from blood, and by how many checks that is known."""
    bias, used = summary["bias_mg_dl"], summary["checks_used"]
    if not is_known(bias):
        return summary["withheld"].get("bias_mg_dl", "")
    known = (
        f"by {say_count(used, 'finger-stick or blood value', 'finger-sticks or blood values')}"
        if used
        else "by no finger-stick: only what sensors usually do"
    )
    if not display.numbers:
        return f"How far the sensor reads from blood is known {known}."
    return (
        f"Against blood, the sensor reads {display.change(bias['estimate'], bias['low'], bias['high'])}, known {known}."
    )


def say_night_unchecked(result: WearAnalysis) -> str:
    """That no blood value tells how the sensor reads at night; empty where one does, or where there are none at all."""
    taken, ends = pd.DatetimeIndex(result.trace.checks["time"]), result.nights[["start", "end"]]
    if not len(taken) or not len(ends):
        return ""
    near = [((taken >= start) & (taken <= end + ON_WAKING)).any() for start, end in ends.itertuples(index=False)]
    if any(near):
        return ""
    return (
        "None of them was taken at night or on waking. Sensors read differently at night, so the overnight average is "
        "known less well than the day's: two finger-sticks on waking would tell."
    )


def say_lag(summary: dict[str, Any]) -> str:
    """The lag behind blood, and that it is mostly assumed."""
    lag = summary["lag_min"]
    if not is_known(lag):
        return summary["withheld"].get("lag_min", "")
    estimate, low, high = (write_number(lag[name]) for name in ("estimate", "low", "high"))
    return (
        f"The fluid under the skin follows blood by {estimate} min ({low} to {high}). One wear says little about that: "
        "it is what studies found, carried along with its doubt."
    )
