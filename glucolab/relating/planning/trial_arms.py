"""What may be drawn by lot at a meal? The arms of every factor that can be chosen, and what to do in each."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from glucolab.errors import NothingToDo


@dataclass(frozen=True)
class Arms:
    """With, without, and what to do in each."""

    names: tuple[str, str]
    note: str


SUGGESTED = {
    "walk_after": Arms(
        ("walk", "rest"), "walk: 10 min or more at an easy pace, begun within 40 min; rest: sit for an hour"
    ),
    "protein_first": Arms(("protein first", "carbs first"), "the same plate, eaten in the order drawn"),
}
"""Experiments that the log may suggest: they cost nothing and change no food."""
ON_REQUEST = {
    "carbs_g": Arms(("larger portion", "usual portion"), "larger: half as much again, its grams noted"),
    "fiber_g": Arms(("more fiber", "as usual"), "more: with 5 g of fiber added, its grams noted"),
    "protein_g": Arms(("more protein", "as usual"), "more: with 15 g of protein added, its grams noted"),
    "fat_g": Arms(("more fat", "as usual"), "more: with 10 g of fat added, its grams noted"),
    "caffeine_mg": Arms(("caffeine", "no caffeine"), "caffeine: a usual cup before it; none: until two hours after it"),
    "relaxation_min": Arms(("relaxation", "no relaxation"), "relaxation: 10 min or more in the hour before it, noted"),
    "morning_exercise": Arms(
        ("morning exercise", "no morning exercise"), "exercise: before 11:00, ended an hour before it or sooner"
    ),
    "evening_meal": Arms(("evening", "earlier"), "evening: eat it from 18:00 on; earlier: between 11:00 and 17:00"),
    "eaten_out": Arms(("out", "home"), "the same dish, as like as it can be had"),
    "asleep_h": Arms(("early to bed", "as usual"), "early: in bed an hour sooner the evening before"),
    "last_meal_to_sleep_h": Arms(
        ("early dinner", "as usual"), "early: the evening before, nothing in the three hours before sleep"
    ),
}
"""Experiments that are drawn up if asked for by the factor's name."""
REFUSED = {
    "short_night": "nobody is asked to sleep badly; --factor asleep_h compares an early night with a usual one",
    "stress": "stress cannot be had by lot; --factor relaxation_min compares what can",
}
BY_FACTOR = SUGGESTED | ON_REQUEST
OWN = "covariate:"
"""How effects.csv begins the name of a wearer's own column."""


def arms_of(factor: str, own_columns: Collection[str]) -> Arms:
    """The arms that stand for a factor of effects.csv or for a true or false column of the wearer's own.

    Parameters
    ----------
    factor : str
        Its name; of an own column with or without ``covariate:``.
    own_columns : collection of str
        Columns of days.csv that say true or false.

    Raises
    ------
    NothingToDo
        If it is unknown, or nothing that could be chosen by lot.
    """
    name = factor.removeprefix(OWN)
    if name in own_columns:
        return Arms((name, f"no {name}"), f"write true or false under {name} in days.csv for each of these days")
    if factor in BY_FACTOR:
        return BY_FACTOR[factor]
    if factor in REFUSED:
        raise NothingToDo(f"no experiment of {factor} is drawn up: {REFUSED[factor]}")
    known = ", ".join([*BY_FACTOR, *sorted(own_columns)])
    raise NothingToDo(f"“{factor}” is no factor and no true or false column of days.csv; there are {known}")


def factor_of_arms(arms: Collection[str], own_columns: Collection[str] = ()) -> str:
    """The factor that two arms stand for, if they are named as here; else empty."""
    known = BY_FACTOR | {f"{OWN}{name}": arms_of(name, own_columns) for name in own_columns}
    return next((name for name, one in known.items() if set(one.names) == set(arms)), "")
