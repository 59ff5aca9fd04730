"""What does one pair of dishes, one day, one what-if say? Sentences for the widgets, from the tables."""

from __future__ import annotations

import pandas as pd

from glucolab.relating.predicting.one_meal import MealPrediction
from glucolab.showing.display import Display, is_known
from glucolab.showing.words.common import VERDICT_WORDS, say_chance, say_count, say_day, say_likelihood, say_title

TOO_FEW_CHECKS = "Without a wear that has an average there is no spread to plan from."


def say_dish_pair(row: pd.Series | None, dishes: tuple[str, str], counts: dict[str, int], display: Display) -> str:
    """How two dishes differ, by the pooled table; what is wanting where they are not in it."""
    eaten = " and ".join(
        say_count(counts.get(dish, 0), f"usable eating of {dish}", f"usable eatings of {dish}") for dish in dishes
    )
    if row is None or not is_known(row["low_mg_dl"]):
        return f"{eaten}: too few to set them against each other. Each line is one eating, from its own start."
    ends = row[["difference_mg_dl", "low_mg_dl", "high_mg_dl"]].astype(float)
    if row["dish_a"] != dishes[0]:
        ends = pd.Series([-ends.iloc[0], -ends.iloc[2], -ends.iloc[1]])
    verdict = _turned(str(row["verdict"]), row["dish_a"] != dishes[0])
    figure = f", {display.change(*ends)}" if display.numbers else ""
    start = f"The rise after {dishes[0]} against {dishes[1]}: {VERDICT_WORDS[verdict]}{figure}."
    return f"{start} {eaten}, each drawn toward your own average."


def _turned(verdict: str, turn: bool) -> str:
    return {"lower": "higher", "higher": "lower"}.get(verdict, verdict) if turn else verdict


def say_expected_meal(found: MealPrediction, display: Display, alone: MealPrediction | None = None) -> str:
    """What a meal is expected to do, and what that rests on; `alone` is the same with nothing beside it."""
    of_dish = f", {found.of_dish} of them this dish" if found.of_dish else ""
    rests = f"learnt from {say_count(found.meals, 'meal')}{of_dish}"
    where = "It begins where your glucose usually stands, with nothing else being digested."
    if not display.numbers:
        band = "at any moment nine in ten such meals lie within the band"
        dashes = " Dashed: the same with nothing else." if alone else ""
        return f"The line is what is expected, {rests}; {band}.{dashes} {where}"
    ends = ("estimate", "low", "high")
    rise = display.change(*(found.rise[name] for name in ends))
    without = f" With nothing else (dashed) {display.change(*(alone.rise[name] for name in ends))}." if alone else ""
    return f"Expected rise {rise}, {rests}; nine in ten such meals stay within.{without} {where}"


def say_day_read(daily: pd.Series, wear: str, display: Display) -> str:
    """One day's figures in a sentence, or why it has none."""
    date = say_day(pd.Timestamp(daily["date"]), year=True)
    recorded = (
        f"{100 * float(daily['coverage']):.0f}\N{NO-BREAK SPACE}% recorded" if is_known(daily["coverage"]) else ""
    )
    start = f"{date}, {say_title(wear)}, {recorded}".rstrip(", ")
    if not is_known(daily["mean_mg_dl"]):
        return f"{start}: too little of the day was recorded for its figures."
    if not display.numbers:
        return f"{start}."
    level, unit = display.level(float(daily["mean_mg_dl"])), display.unit
    return f"{start}: average {level}\N{NO-BREAK SPACE}{unit}, swing (SD) {display.size(float(daily['sd_mg_dl']))}."


def say_what_if(table: pd.DataFrame, checks: int, display: Display) -> str:
    """What so many finger-sticks in the next wear would bring."""
    if not len(table):
        return TOO_FEW_CHECKS
    row = table[table["checks"].astype(int) == checks].iloc[0]
    with_it = f"With {say_count(checks, 'finger-stick')}" if checks else "Without finger-sticks"
    if display.numbers:
        mean, change = (
            f"{display.size(float(row[n]))}\N{NO-BREAK SPACE}{display.unit}"
            for n in ("mean_half_mg_dl", "smallest_change_mg_dl")
        )
        said = (
            f"{with_it} the next wear's average would be known to within {mean}, and a change of {change} would be "
            "told four times out of five."
        )
    else:
        said = f"{with_it} the next wear's average would be known so far as the line shows."
    if is_known(row["chance_goal_told"]):
        chance = float(row["chance_goal_told"])
        said += f" Whether it met the goal would be settled: {say_likelihood(chance)} ({say_chance(chance)})."
    return said
