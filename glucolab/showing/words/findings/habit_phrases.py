"""How is one habit's two sides told? From the wearer's calmest days to the tensest, with a walk and without."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

from glucolab.showing.display import NO_BREAK, write_number
from glucolab.showing.words.common import split_unit


class Sides(NamedTuple):
    """The end that is spoken of, and the one it is set against."""

    with_it: str
    without: str


SIDES = {
    "asleep_h": Sides("after your longest nights ({to} asleep)", "after your shortest ({start})"),
    "short_night": Sides("after nights under six hours", "after longer ones"),
    "stress": Sides("on your tensest days (stress {to})", "on your calmest ({start})"),
    "caffeine_mg": Sides("on days with the most caffeine ({to})", "on those with the least ({start})"),
    "relaxation_min": Sides("on days with the most relaxation ({to})", "on those with the least ({start})"),
    "morning_exercise": Sides("on days with exercise before 11:00", "on days without"),
    "last_meal_to_sleep_h": Sides("with {to} from the last meal to sleep", "with {start}"),
    "walk_after": Sides("after meals with a walk", "after similar meals without"),
    "protein_first": Sides("after meals with protein eaten first", "after similar meals in another order"),
    "fiber_g": Sides("after meals with the most fibre ({to})", "after those with the least ({start})"),
    "protein_g": Sides("after meals with the most protein ({to})", "after those with the least ({start})"),
    "fat_g": Sides("after meals with the most fat ({to})", "after those with the least ({start})"),
    "carbs_g": Sides("after meals with the most carbohydrate ({to})", "after those with the least ({start})"),
    "carbs_after_short_night": Sides(
        "from {start} to {to} of carbohydrate after a night under six hours", "for the same step after a longer night"
    ),
    "evening_meal": Sides("after meals from 18:00 on", "after similar meals earlier in the day"),
    "eaten_out": Sides("after a dish eaten out", "after the same dish at home"),
}
_UNITS = {"stress": "", "carbs_after_short_night": "g"}
_ON_MEALS = ("rise_mg_dl", "iauc_2h_mg_dl_min")


class Change(NamedTuple):
    """What an outcome does: its verb, the words for more and for less, and the unit if it is no glucose."""

    verb: str
    more: str
    less: str
    unit: str = ""


CHANGES = {
    "mean_mg_dl": Change("the day's average was", "higher", "lower"),
    "sd_mg_dl": Change("the ups and downs in a day (SD) were", "larger", "smaller"),
    "overnight_mean_mg_dl": Change("the average of the night that followed was", "higher", "lower"),
    "next_mean_mg_dl": Change("the next day's average was", "higher", "lower"),
    "rise_mg_dl": Change("glucose rose", "more", "less"),
    "iauc_2h_mg_dl_min": Change("the total rise over two hours was", "larger", "smaller"),
    "net_area_3h_mg_dl_min": Change("the total over three hours was", "larger", "smaller"),
    "energy": Change("energy was", "higher", "lower", "points"),
    "asleep_h": Change("the sleep that followed was", "longer", "shorter", "h"),
}


_WRIST_SIDES = {
    "steps": Sides("on days with the most steps ({to})", "on those with the fewest ({start})"),
    "resting_hr_bpm": Sides(
        "on days with your highest resting heart rate ({to})", "on those with your lowest ({start})"
    ),
    "hrv_ms": Sides("on days with your highest heart rate variability ({to})", "on those with your lowest ({start})"),
}
"""Columns of days.csv that the contract names, and that are asked about as a wearer's own are."""


def find_sides(row: pd.Series) -> Sides:
    """Both ends of a factor in words, those of a measured one with the wearer's own figures.

    Parameters
    ----------
    row : Series
        Of effects.csv, with an estimate.
    """
    kind, _, column = str(row["factor"]).partition(":")
    if kind != "covariate":
        sides, unit = SIDES[str(row["factor"])], _UNITS.get(str(row["factor"]), split_unit(str(row["factor"]))[1])
    else:
        name, unit = split_unit(column)
        measured = " per " in str(row["unit"])
        sides = Sides(f"on days with the most “{name}” ({{to}})", "on those with the least ({start})")
        sides = _WRIST_SIDES.get(column, sides) if measured else Sides(f"on days with “{name}”", "on days without")
    start, to = write_ends(float(row["range_from"]), float(row["range_to"]), unit)
    return Sides(*(text.format(start=start, to=to) for text in sides))


def name_side(row: pd.Series, side: str) -> str:
    """What a curve of one side is called: ``with`` and ``without``, or which third of the meals or days it is.

    Parameters
    ----------
    row : Series
        Of effects.csv.
    side : {"with", "without"}
        Of curves.csv.
    """
    if row["n_without"] > 0:
        return side
    return "highest third" if side == "with" else "lowest third"


def find_verb(row: pd.Series) -> Change:
    """What the outcome does; after a day's habit, glucose rises after eating."""
    change = CHANGES[str(row["outcome"])]
    if row["outcome"] == "rise_mg_dl" and row["factor"] in ("asleep_h", "stress", "short_night"):
        return change._replace(verb="after eating, glucose rose")
    return change


def is_of_meals(row: pd.Series) -> bool:
    """Its rows are occasions, and not days."""
    return row["outcome"] in _ON_MEALS


def write_ends(start: float, to: float, unit: str) -> list[str]:
    """Both ends of a range with as many digits as tell them apart."""
    digits = 0 if to - start >= 5 else 1 if to - start >= 0.5 else 2
    plain = [write_number(end, digits) for end in (start, to)]
    if digits and all(text.endswith("." + "0" * digits) for text in plain):
        plain = [write_number(end) for end in (start, to)]
    return [f"{text}{NO_BREAK}{unit}" if unit else text for text in plain]
