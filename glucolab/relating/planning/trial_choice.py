"""Which experiment should the next wear hold? The one wished for, the one still open, or one that the log suggests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import pandas as pd

from glucolab.errors import NothingToDo
from glucolab.relating.statistics.claims import worth_noticing
from glucolab.relating.trials.results import LEAST_OCCASIONS

ORDINARY_MG_DL = 10.0
"""Difference in the rise looked for where the log says nothing of its size [mg/dL]; assumed. It suits a walk (7.9 at
one hour); the order of eating moves peaks by 18-34 (references A1). Too large plans too few repeats, too small too
many."""
PERSONAL_TRIALS = {
    "walk_after": ("walk", "rest", "walk: 10 min or more at an easy pace, begun within 40 min; rest: sit for an hour"),
    "protein_first": ("protein first", "carbs first", "the same plate, eaten in the order drawn"),
}
"""Experiments of what can be done at a meal: two arms and what to do in each, by factor."""


@dataclass(frozen=True)
class Wish:
    """What is asked of a plan.

    Attributes
    ----------
    start : datetime.date
        Local day on which the next sensor goes on.
    days : float or None
        How long it will be worn; None: as long as the last one was to last. [d]
    avoid : tuple of (date, date)
        First and last days on which no experiment is planned.
    trial, arms, dish : str, tuple of str, str
        Of the experiment; empty: the one that is open, else one that the log suggests.
    difference_mg_dl : float or None
        Between the arms, which is to be found. [mg/dL]
    seed : int
        With which the lot is drawn.
    """

    start: date
    days: float | None = None
    avoid: tuple[tuple[date, date], ...] = ()
    trial: str = ""
    arms: tuple[str, ...] = ()
    dish: str = ""
    difference_mg_dl: float | None = None
    seed: int = 0


@dataclass(frozen=True)
class Experiment:
    """What is compared on which dish; `factor` of effects.csv that the arms stand for, empty if none.

    `suggested`: nobody has asked for it yet.
    """

    trial: str
    arms: tuple[str, ...]
    dish: str
    note: str
    factor: str
    suggested: bool = False


MOST_DISHES = 3
"""Dishes on which an experiment is suggested, those eaten most often [1]; assumed. Fewer may miss the one that differs
least from day to day, more cost time and name dishes that are seldom eaten."""


def choose_trials(trials: pd.DataFrame, tables: Mapping[str, pd.DataFrame], wish: Wish) -> list[Experiment]:
    """The experiment that is wished, else the one that is open, else those that the log suggests; empty without any.

    Raises
    ------
    NothingToDo
        If what is wished lacks its arms or its dish.
    """
    known = trials[trials["trial"] == wish.trial] if wish.trial else _open_trial(trials, tables["trial_results"])
    if len(known) and not wish.arms:
        arms = tuple(sorted(known["arm"].unique()))
        dishes, notes = (known[name].dropna() for name in ("dish", "note"))
        dish = wish.dish or (dishes.iloc[-1] if len(dishes) else "")
        if not dish:
            raise NothingToDo(f"trials.csv names no dish for “{wish.trial}”: give it with --dish")
        note = notes.iloc[-1] if len(notes) else ""
        return [Experiment(known["trial"].iloc[-1], arms, dish, note, _factor_of(arms))]
    if wish.trial and not (wish.arms and wish.dish):
        raise NothingToDo(f"“{wish.trial}” is not in trials.csv yet: give its --arms and its --dish")
    if wish.arms:
        name = wish.trial or f"{' or '.join(wish.arms)} with {wish.dish}"
        if len(wish.arms) < 2 or not wish.dish:
            raise NothingToDo("an experiment needs two arms and a dish: --arms walk,rest --dish porridge")
        return [Experiment(name, wish.arms, wish.dish, "", _factor_of(wish.arms))]
    return _suggest_trials(trials, tables, wish)


def _open_trial(trials: pd.DataFrame, results: pd.DataFrame) -> pd.DataFrame:
    """Rows of the experiment in trials.csv whose rise is not decided yet; of several the last."""
    mine = results[
        (results["outcome"] == "rise_mg_dl") & results["verdict"].isin(["cannot_tell_yet", "not_enough_data"])
    ]
    still = trials[trials["trial"].isin(mine["trial"])].sort_values("date", kind="stable")
    return still[still["trial"] == still["trial"].iloc[-1]] if len(still) else still


def _suggest_trials(trials: pd.DataFrame, tables: Mapping[str, pd.DataFrame], wish: Wish) -> list[Experiment]:
    """What can be done at a meal and has not been tried by lot, on the dishes eaten most often."""
    tried = {frozenset(arms) for _, arms in trials.groupby("trial")["arm"]}
    dishes = tables["dishes"].sort_values("n", ascending=False, kind="stable")
    often = dishes.loc[dishes["n"] >= LEAST_OCCASIONS, "dish"].head(MOST_DISHES)
    return [
        Experiment(f"{one} or {other} with {dish}", (one, other), dish, note, factor, suggested=True)
        for factor, (one, other, note) in PERSONAL_TRIALS.items()
        if frozenset((one, other)) not in tried
        for dish in ([wish.dish] if wish.dish else often)
    ]


def _factor_of(arms: Sequence[str]) -> str:
    """The factor that two arms stand for, if they are named as usual."""
    return next((name for name, (one, other, _) in PERSONAL_TRIALS.items() if {one, other} == set(arms)), "")


def size_to_find(effects: pd.DataFrame, factor: str, worth_noticing_mg_dl: float) -> float:
    """Difference to look for: as large as the log has seen it, at least what is worth noticing. [mg/dL]"""
    seen = effects[(effects["factor"] == factor) & (effects["outcome"] == "rise_mg_dl") & effects["estimate"].notna()]
    size = abs(float(seen["estimate"].iloc[0])) if len(seen) else ORDINARY_MG_DL
    return max(size, worth_noticing("rise_mg_dl", worth_noticing_mg_dl))
