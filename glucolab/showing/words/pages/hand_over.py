"""What is said to a clinician or a nutritionist? The sentences of the page to hand over, without a name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pandas as pd

from glucolab.record import Goal, Person
from glucolab.showing.display import Display, is_known, write_number, write_percent
from glucolab.showing.words.common import (
    OUTCOME_WORDS,
    join_words,
    say_analyte,
    say_count,
    say_day,
    say_factor,
    say_span,
    split_unit,
)
from glucolab.showing.words.pages.study import DIFFERENCE

METHODS = (
    "The sensor measures glucose between the cells. Its lag and its bias against finger-sticks are estimated and taken "
    "out, so that figures stand for blood.",
    "Readings in the first hours, under pressure at night, stuck, or faster than physiology are left out; missing "
    "hours are filled from the same hours of other days and, after meals, from other meals, with their uncertainty.",
    "Intervals are 90 % and count in which days were worn, which hours are missing, and the sensor: two sensors on one "
    "body differ by more than most changes of life do. Means of wears use all finger-sticks together; other figures "
    "are of each wear alone.",
    "Associations are estimated within a wear, adjusted for other habits, whole days permuted; of the claims after any "
    "one wear at most one in twenty is meant to be false (Benjamini-Hochberg, weighted for what is likely).",
    "An association is no cause; only randomised dates, where an experiment is named, speak of one.",
)
FALLBACK = "No wear has an average that its record supports yet."
WITHHELD = "withheld"
HIDDEN = "Figures of glucose are hidden at the wearer's wish."
ESTIMATED = "Estimates corrected by finger-sticks; not for diagnosis or dosing."
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
    return f"Glucose sensor record, {say_span(periods['start'].min(), periods['end'].max())}"


def say_who(periods: pd.DataFrame, person: Person) -> str:
    """Who wore sensors, and how often."""
    wears = say_count(len(periods), "wear", spell=True)
    worn = f"{wears}, {write_number(periods['days'].sum(), 0)} days"
    if person.describe_only:
        return (
            f"{worn[0].upper()}{worn[1:]}. The wearer is under 18, pregnant or on glucose-lowering medicine: the "
            "record is described here, and nothing is compared, ranked or advised."
        )
    return f"No known diabetes; {worn}."


def say_average(periods: pd.DataFrame, running: Iterable[str], display: Display) -> str:
    """The average of the latest wear that has one."""
    known = periods[periods["mean_mg_dl"].notna()]
    if not len(known):
        return FALLBACK
    if not display.numbers:
        return HIDDEN
    last = known.iloc[-1]
    still = ", still running" if last["name"] in set(running) else ""
    ends = " to ".join(display.level(last[f"mean_{end}_mg_dl"]) for end in ("low", "high"))
    level = f"{display.level(last['mean_mg_dl'])} {display.unit}"
    return f"Latest mean ({last['name'].lower()}{still}): {level} (90 % interval {ends})."


def say_hand_over_goal(periods: pd.DataFrame, goal: Goal, display: Display) -> str:
    """The wearer's own goal, and how probably the latest wear lay below it; empty without a goal."""
    known = periods[periods["probability_goal_met"].notna()]
    if goal.mean_mg_dl is None or not len(known):
        return ""
    chance = write_percent(float(known.iloc[-1]["probability_goal_met"]))
    level = f"{display.level(goal.mean_mg_dl)} {display.unit}" if display.numbers else "a level of their own"
    return f"Personal goal: a mean below {level}; probability met {chance}."


def say_hand_over_change(row: pd.Series, display: Display) -> str:
    """The latest wear against the one before it, and what else changed."""
    if row["relation"] == "overlapping":
        return f"{row['period_b']} and {row['period_a'].lower()} were worn at the same time: no change is claimed."
    start = f"Change from {row['period_a'].lower()} to {row['period_b'].lower()}"
    if not is_known(row["difference_mg_dl"]):
        return f"{start}: not enough data."
    verdict = {"cannot_tell_yet": "inconclusive", "too_small_to_matter": "too small to matter"}.get(
        row["verdict"], str(row["verdict"]).replace("_", " ")
    )
    figure = f", {display.change(*row[list(DIFFERENCE)])}" if display.numbers else ""
    names = [name.strip() for name in str(row["changed"]).split(";")] if is_known(row["changed"]) else []
    also = join_words([name for name in names if name])
    return f"{start}: {verdict}{figure}{f'; {also} also changed' if also else ''}."


def say_open(effects: pd.DataFrame, most: int) -> str:
    """Which questions have no answer yet."""
    return _list_pairs(effects, ("cannot_tell_yet", "not_enough_data"), "Inconclusive", most)


def say_small(effects: pd.DataFrame, most: int) -> str:
    """Which differences are too small to matter."""
    return _list_pairs(effects, ("too_small_to_matter",), "Too small to matter", most)


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
    kind, _, column = factor.partition(":")
    said = say_factor(factor)
    return split_unit(column)[0] if kind == "covariate" and "“" in said else said


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


def write_estimate(estimate: Any, digits: int = 0) -> str:
    """A figure of ``summary.json`` that is no glucose, with its interval; or that it is withheld."""
    if not is_known(estimate):
        return WITHHELD
    middle, low, high = (write_number(estimate[name], digits) for name in ("estimate", "low", "high"))
    return f"{middle} ({low} to {high})"


def write_glucose(estimate: Any, display: Display) -> str:
    """A figure of ``summary.json`` in mg/dL, shown in the wearer's unit."""
    if not is_known(estimate):
        return WITHHELD
    middle, low, high = (display.level(estimate[name]) for name in ("estimate", "low", "high"))
    return f"{middle} ({low} to {high})"


def list_withheld(summaries: Sequence[Mapping[str, Any]], figures: Sequence[str]) -> list[str]:
    """Why figures are withheld, each reason once."""
    said = [one["withheld"][figure] for one in summaries for figure in figures if figure in one["withheld"]]
    return list(dict.fromkeys(said))


def say_hours(n_days: Sequence[int], name: str) -> str:
    """What the picture of the hours shows."""
    fewest, most = min(n_days), max(n_days)
    days = f"{most}" if fewest == most else f"{fewest} to {most}"
    return (
        f"{name}, {days} days an hour: dot, mean of the hour; bar, its 90 % interval, the sensor counted in. Shaded: "
        "mostly asleep. Rises after meals and exercise are normal."
    )


def list_lab_dates(values: pd.DataFrame, most: int) -> list[pd.Timestamp]:
    """The latest dates on which blood was drawn, the earliest first."""
    return sorted(values["date"].unique())[-most:]


def list_lab_rows(
    values: pd.DataFrame, changes: pd.DataFrame, dates: Sequence[pd.Timestamp], display: Display
) -> list[list[str]]:
    """A row a blood test: its values on those dates, the latest change and the normal one."""
    rows = []
    for analyte, mine in values[values["date"].isin(list(dates))].groupby("analyte", sort=False):
        cells = [
            ", ".join(_write_lab(one, display) for one in mine[mine["date"] == date].itertuples()) for date in dates
        ]
        rows.append([say_analyte(str(analyte)), *cells, *_write_change(changes, str(analyte))])
    return rows


def _write_lab(row: Any, display: Display) -> str:
    fasting = " (fasting)" if is_known(row.fasting) and row.fasting else ""
    if row.analyte == "glucose":
        return f"{display.level(row.value)} {display.unit}{fasting}"
    return f"{row.value:.4g} {row.unit}{fasting}"


def _write_change(changes: pd.DataFrame, analyte: str) -> list[str]:
    mine = changes[(changes["analyte"] == analyte) & changes["change_percent"].notna()]
    if not len(mine):
        return ["", ""]
    last = mine.sort_values("date_b", kind="stable").iloc[-1]
    change = f"{last['change_percent']:+.0f} %".replace("-", "\N{MINUS SIGN}")
    noise = last["reference_change_percent"]
    return [change, f"±{abs(noise):.0f} %" if is_known(noise) else "not known"]


def name_lab_date(date: pd.Timestamp) -> str:
    """A date at the head of a column."""
    return say_day(date, weekday=False, year=True)
