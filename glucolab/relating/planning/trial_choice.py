"""Which experiment should the next wear hold? The one wished for, the one still open, or one that the log suggests."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import pandas as pd

from glucolab.errors import NothingToDo
from glucolab.relating.planning.trial_arms import SUGGESTED, arms_of, factor_of_arms
from glucolab.relating.statistics.claims import worth_noticing
from glucolab.relating.trials.date_outcomes import fold_dish
from glucolab.relating.trials.results import LEAST_OCCASIONS

ORDINARY_MG_DL = 10.0
"""Difference in the rise looked for where the log says nothing of its size [mg/dL]; assumed. It suits a walk (7.9 at
one hour); the order of eating moves peaks by 18-34 (references A1). Too large plans too few repeats, too small too
many."""


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
    trial, arms, dish, factor : str, tuple of str, str, str
        Of the experiment; empty: the one that is open, else one that the log suggests. Arms without a dish are dishes
        themselves; a factor brings its arms.
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
    factor: str = ""
    difference_mg_dl: float | None = None
    seed: int = 0


@dataclass(frozen=True)
class Experiment:
    """What is compared: `dishes` holds what is eaten in each arm, one name where it is the same in all.

    `factor` of effects.csv that the arms stand for, empty if none. `suggested`: nobody has asked for it yet.
    """

    trial: str
    arms: tuple[str, ...]
    dishes: tuple[str, ...]
    note: str
    factor: str
    suggested: bool = False

    def dish_of(self, arm: str) -> str:
        """What is eaten in an arm."""
        return self.dishes[self.arms.index(arm) % len(self.dishes)]


MOST_DISHES = 3
"""Dishes on which an experiment is suggested, those eaten most often [1]; assumed. Fewer may miss the one that differs
least from day to day, more cost time and name dishes that are seldom eaten."""


def choose_trials(
    trials: pd.DataFrame, tables: Mapping[str, pd.DataFrame], wish: Wish, own_columns: Collection[str] = ()
) -> list[Experiment]:
    """The experiment that is wished, else the one that is open, else those that the log suggests; empty without any.

    Parameters
    ----------
    trials : DataFrame
        ``trials.csv`` as read.
    tables : mapping of str to DataFrame
        The study's.
    wish : Wish
    own_columns : collection of str
        Columns of days.csv that say true or false.

    Raises
    ------
    NothingToDo
        If what is wished lacks its arms or its dish, or cannot be drawn by lot.
    """
    if wish.factor:
        if wish.arms or not wish.dish:
            raise NothingToDo(f"--factor {wish.factor} brings its arms with it: give the --dish alone beside it")
        arms = arms_of(wish.factor, own_columns)
        name = wish.trial or f"{' or '.join(arms.names)} with {wish.dish}"
        return [Experiment(name, arms.names, (wish.dish,), arms.note, factor_of_arms(arms.names, own_columns))]
    known = trials[trials["trial"] == wish.trial] if wish.trial else _open_trial(trials, tables["trial_results"])
    if len(known) and not wish.arms:
        return [_go_on(known, wish, own_columns)]
    if wish.arms:
        return [_set_up(tables, wish, own_columns)]
    if wish.trial:
        raise NothingToDo(f"“{wish.trial}” is not in trials.csv yet: give its --arms and its --dish")
    return _suggest_trials(trials, tables, wish)


def _go_on(known: pd.DataFrame, wish: Wish, own_columns: Collection[str]) -> Experiment:
    """An experiment of trials.csv once more, with what each arm last ate."""
    arms = tuple(sorted(known["arm"].unique()))
    last = known.dropna(subset=["dish"]).groupby("arm")["dish"].last()
    dishes = (wish.dish,) if wish.dish else tuple(dict.fromkeys(last.reindex(arms).ffill().bfill().dropna()))
    if not dishes:
        raise NothingToDo(f"trials.csv names no dish for “{known['trial'].iloc[-1]}”: give it with --dish")
    if len(dishes) > 1:
        dishes = tuple(last.reindex(arms).ffill().bfill())
    notes = known["note"].dropna()
    note = notes.iloc[-1] if len(notes) else ""
    return Experiment(known["trial"].iloc[-1], arms, dishes, note, factor_of_arms(arms, own_columns))


def _set_up(tables: Mapping[str, pd.DataFrame], wish: Wish, own_columns: Collection[str]) -> Experiment:
    """A new experiment by its arms: what is done with one dish, or dishes set against each other."""
    if len(wish.arms) < 2 or not (wish.dish or _are_dishes(wish.arms, tables["dishes"]["dish"])):
        raise NothingToDo(
            "an experiment needs two arms and a dish: --arms walk,rest --dish porridge; or two dishes, one of which "
            "at least the log knows: --arms porridge,muesli"
        )
    if not wish.dish:
        return Experiment(wish.trial or " or ".join(wish.arms), wish.arms, wish.arms, "", "")
    factor = factor_of_arms(wish.arms, own_columns)
    note = arms_of(factor, own_columns).note if factor else ""
    return Experiment(wish.trial or f"{' or '.join(wish.arms)} with {wish.dish}", wish.arms, (wish.dish,), note, factor)


def _are_dishes(arms: Sequence[str], eaten: pd.Series) -> bool:
    known = set(eaten.map(fold_dish))
    return any(fold_dish(arm) in known for arm in arms)


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
        Experiment(f"{' or '.join(arms.names)} with {dish}", arms.names, (dish,), arms.note, factor, suggested=True)
        for factor, arms in SUGGESTED.items()
        if frozenset(arms.names) not in tried
        for dish in ([wish.dish] if wish.dish else often)
    ]


def size_to_find(tables: Mapping[str, pd.DataFrame], chosen: Experiment, worth_noticing_mg_dl: float) -> float:
    """Difference to look for: as large as the log has seen it, at least what is worth noticing. [mg/dL]

    What the log says serves the plan alone; the result rests on the dates that were drawn.
    """
    if len(chosen.dishes) > 1:
        pairs = tables["dish_pairs"]
        mine = pairs["dish_a"].isin(chosen.dishes) & pairs["dish_b"].isin(chosen.dishes)
        seen = pairs.loc[mine, "difference_mg_dl"]
    else:
        effects = tables["effects"]
        mine = (effects["factor"] == chosen.factor) & (effects["outcome"] == "rise_mg_dl")
        seen = effects.loc[mine, "range_estimate"].dropna()
    size = float(seen.abs().max()) if len(seen) else ORDINARY_MG_DL
    return max(size, worth_noticing("rise_mg_dl", worth_noticing_mg_dl))
