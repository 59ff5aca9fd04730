"""What does a wear's first screen say? The goal, the change, what holds, what to do next: a heading and its lines."""

from __future__ import annotations

from typing import Any, NamedTuple

import pandas as pd

from glucolab.showing.display import NO_BREAK, Display, is_known, write_percent
from glucolab.showing.words.common import (
    MONTHS,
    SHORT_MONTHS,
    join_words,
    say_count,
    say_title,
)
from glucolab.showing.words.findings.effects import split_finding
from glucolab.showing.words.findings.habits import HABIT_WORDS
from glucolab.showing.words.findings.trials import CHOSEN_AT_RANDOM
from glucolab.showing.words.pages.study import DIFFERENCE
from glucolab.showing.words.pages.wear import MEAN_ENDS
from glucolab.so_far import Finding

_BLOCKS = ("night", "morning", "afternoon", "evening")
SHARE_CAUSES = {"sensor": "the sensor", "days": "which days you wore it", "hours": "missing hours"}


HEALTHY_MEAN_MG_DL, HEALTHY_MEAN_OVER_60_MG_DL = 99.0, 104.0
"""Means of 153 healthy people by sensors calibrated daily: 98 to 99, and 104 over 60 (Shah et al., J Clin Endocrinol
Metab 2019;104:4356, abstract). [mg/dL] Off, they make a normal average look high or low."""
PLAINER = {"sampling interval": "how often the sensor reads", "sensor model": "the sensor’s model",
           "site": "where you wore it", "time zone": "the time zone"}  # fmt: skip
"""What `changed` of comparisons.csv calls by a term, as a wearer says it."""
WITHIN_THE_DAY = "The picture sets parts of the day against the whole day’s average."
DAYS_AVERAGE = "the day’s average"


class Said(NamedTuple):
    """A heading and what stands under it; the second in a quieter colour."""

    heading: str
    text: str
    more: str = ""


def name_wears(periods: pd.DataFrame) -> pd.DataFrame:
    """The wears of periods.csv in order of time, as a reader calls them: ``label`` (Jun) and ``when`` (in June).

    With the year where there are several, with the day where a month has two.
    """
    wears = periods[(periods["level"] == "wear") & periods["mean_mg_dl"].notna()].sort_values("start", kind="stable")
    start = pd.DatetimeIndex(wears["start"])
    years = len(set(start.year)) > 1
    twice = pd.Series(list(zip(start.year, start.month, strict=True))).duplicated(keep=False)
    labels, whens = [], []
    for day, again in zip(start, twice, strict=True):
        year = f" {day.year}" if years else ""
        number = f"{day.day} " if again else ""
        labels.append(f"{number}{SHORT_MONTHS[day.month - 1]}{year}")
        whens.append(f"{'from' if again else 'in'} {number}{MONTHS[day.month - 1]}{year}{' on' if again else ''}")
    return wears.assign(label=labels, when=whens).reset_index(drop=True)


def say_interval(own: pd.Series, summary: dict[str, Any], display: Display) -> str:
    """How sure the average is, and what most of the uncertainty comes from."""
    shares = share_causes(own)
    lead = max(shares, key=lambda name: shares[name])
    most = f"{write_percent(shares[lead])} of the uncertainty comes from {SHARE_CAUSES[lead]}."
    if not display.numbers:
        return f"The bar very likely holds the true average (right 9 times in 10). {most}"
    return f"Ranges like this hold the true average 9 times in 10. {most}{_say_without_ill_days(own, summary, display)}"


def say_what_is_usual(display: Display) -> str:
    """What healthy people average, so that a goal below it is not taken for a limit; empty where numbers are hidden."""
    if not display.numbers:
        return ""
    usual, older = display.level(HEALTHY_MEAN_MG_DL), display.level(HEALTHY_MEAN_OVER_60_MG_DL)
    return f"Healthy people: about {usual} (over 60: {older})."


def _say_without_ill_days(own: pd.Series, summary: dict[str, Any], display: Display) -> str:
    well = summary["mean_without_ill_days"]
    if not is_known(well):
        return ""
    without = well["estimate"] + own["mean_mg_dl"] - summary["mean"]["estimate"]
    ill = summary["ill_days"]
    days = "the day" if ill == 1 else f"the {say_count(ill, 'day', spell=True)}"
    if display.level(without) == display.level(own["mean_mg_dl"]):
        return f" It is the same without {days} you were ill."
    return f" Without {days} you were ill: {display.level(without)}."


def share_causes(own: pd.Series) -> dict[str, float]:
    """What the usual average's interval is made of, as shares of its variance: sensor, days, hours.

    Parameters
    ----------
    own : Series
        Of periods.csv: the widths of bias, mean and usual mean are those of the sensor, with missing hours, with days.
    """
    sensor, mean, usual = (
        ((own[f"{name}_high_mg_dl"] - own[f"{name}_low_mg_dl"]) / 2) ** 2 for name in ("bias", "mean", "usual")
    )
    return {"sensor": sensor / usual, "days": max(usual - mean, 0.0) / usual, "hours": max(mean - sensor, 0.0) / usual}


def say_since(latest: pd.Series | None, habits: pd.DataFrame, when: str, display: Display) -> Said:
    """What changed since the wear before, where in the day, and what else differed.

    Parameters
    ----------
    latest : Series or None
        Row of comparisons.csv of this wear and the one before; None for a first wear.
    habits : DataFrame
        Rows of habit_changes.csv of the same pair.
    when : str
        When the wear before was: ``in June``.
    display : Display
    """
    if latest is None:
        return Said("Nothing to compare with yet", "The next wear will be set against this one.")
    since = f"Since {when.removeprefix('in ').removeprefix('from ').removesuffix(' on')}"
    if latest["relation"] == "overlapping":
        return Said(f"{since}: worn at the same time", "What differs is the sensors, so no change is claimed.")
    if latest["verdict"] == "not_enough_data" or not is_known(latest["difference_mg_dl"]):
        return Said(f"{since}: not enough data yet", "")
    estimate, low, high = (float(latest[end]) for end in DIFFERENCE)
    half = (high - low) / 2
    way = "lower" if estimate < 0 else "higher"
    block = str(latest["largest_block"])
    no_part = "No part of the day clearly stands out."
    where = f"Most of it lies in the {block}." if block in _BLOCKS else no_part
    also = " ".join(text for text in (_say_changed(latest), _say_habits(habits)) if text)
    if not display.numbers:
        heading = {"lower": "lower", "higher": "higher", "too_small_to_matter": "too small to matter",
                   "cannot_tell_yet": "not clear yet"}[latest["verdict"]]  # fmt: skip
        return Said(f"{since}: {heading}", where, also)
    size, first, last = (display.size(end, half) for end in (estimate, low, high))
    amount = f"{size}{NO_BREAK}{display.unit} {way}" if size.strip("0.") else "No difference so far"
    if latest["verdict"] in ("lower", "higher"):
        near, far = sorted((first, last), key=float)
        heading = f"{since}: clearly {way}, by {size}{NO_BREAK}{display.unit}"
        return Said(heading, f"{near} to {far} {way}. {where}", also)
    verdict = "too small to matter" if latest["verdict"] == "too_small_to_matter" else "not clear yet"
    if low < 0 < high:
        return Said(f"{since}: {verdict}", f"{amount}; could be {first} lower to {last} higher. {where}", also)
    near, far = sorted((first, last), key=float)
    return Said(f"{since}: {verdict}", f"{amount} ({near} to {far}). {where}", also)


def _say_changed(latest: pd.Series) -> str:
    """What else changed, so that it is not taken for a change of life."""
    names = [name for name in str(latest["changed"]).split(";") if name.strip()] if is_known(latest["changed"]) else []
    if not names:
        return ""
    text = join_words([PLAINER.get(name.strip(), name.strip()) for name in names])
    return f"{text[0].upper()}{text[1:]} changed too."


def _say_habits(habits: pd.DataFrame) -> str:
    """Which habits clearly differ, as written down."""
    known = habits[habits["difference"].notna()]
    if not len(known):
        return "Too little is written down of both to compare how you lived."
    told = known[known["verdict"].isin(("lower", "higher"))]
    if not len(told):
        return "Your noted habits do not clearly differ."
    said = [f"{HABIT_WORDS[row['habit']]} {row['verdict']}" for _, row in told.iterrows()]
    return f"Clearly different, as written down: {join_words(said)}."


def say_page_finding(finding: Finding, worth_noticing_mg_dl: float, display: Display) -> Said:
    """A clear link or an experiment's result over the own range: what happened, then figures, then how long it held."""
    if not finding.is_trial:
        return Said(*split_finding(finding.row, worth_noticing_mg_dl, display))
    row = finding.row
    way = "less" if row["difference"] < 0 else "more"
    half = (row["high"] - row["low"]) / 2
    shown = [display.size(row[end], half) for end in ("difference", "low", "high")] if display.numbers else []
    amount = f" {shown[0]}{NO_BREAK}{display.unit}" if shown else ""
    near, far = sorted(shown[1:], key=float) if shown else ("", "")
    ends = f"{near} to {far} {way}; " if shown else ""
    chance = f"; chance alone would do this {_say_p(row['p_exact'])}" if display.numbers else ""
    counts = f"{int(row['n_b'])} and {int(row['n_a'])} meals"
    return Said(
        f"{say_title(finding.name).capitalize()}: glucose rose{amount} {way}",
        f"with “{row['arm_b']}” than with “{row['arm_a']}” ({ends}{counts}{chance}).",
        CHOSEN_AT_RANDOM,
    )


def _say_p(p: float) -> str:
    return "less than once in 100" if p < 0.01 else f"{say_count(round(100 * p), 'time')} in 100"


def say_nothing_held(effects: pd.DataFrame) -> Said:
    """That nothing noted is clear yet."""
    if not len(effects):
        return Said("Nothing to link glucose with yet", "Note meals, sleep, movement or stress to find links.")
    return Said(
        "No clear links yet",
        f"Of {len(effects)} links checked, none clearly goes with higher or lower glucose.",
    )


def say_alone(own: pd.Series, summary: dict[str, Any], display: Display) -> str:
    """What this wear alone would give, where that differs from what is known with the earlier ones."""
    mean = summary["mean"]
    if not display.numbers or not is_known(mean):
        return ""
    alone = display.average(mean["estimate"], mean["low"], mean["high"])
    if alone == display.average(*own[list(MEAN_ENDS)]):
        return ""
    return (
        f"This wear alone would give {alone}. Finger-sticks of earlier wears also say how such a sensor and your meter "
        "read, so the average of this page uses them; days and meals are drawn as this wear alone gives them."
    )


def say_narrowed(checks: pd.DataFrame, display: Display) -> list[str]:
    """What finger-sticks would bring next time, none against those advised; empty where there is no plan."""
    advised = checks[checks["advised"].eq(True)]
    if not len(advised) or not display.numbers:
        return []
    row, none = advised.iloc[0], checks.iloc[0]
    with_them, without = (display.size(one["mean_half_mg_dl"]) for one in (row, none))
    return [f"{say_count(int(row['checks']), 'finger-stick')}: give or take {with_them}; with none, {without}."]


def say_apart(fault: str, summary: dict[str, Any], display: Display) -> Said:
    """What stands where the average should, after a fault: this wear alone, and why."""
    mean = summary["mean"]
    known = is_known(mean) and display.numbers
    alone = f": {display.average(mean['estimate'], mean['low'], mean['high'])}" if known else ""
    return Said(f"This wear alone{alone}.", "It could not be set beside the earlier wears.", fault)
