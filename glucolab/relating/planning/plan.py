"""What should the next wear do? Finger-sticks with their times, and one experiment with its dates drawn by lot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from glucolab.clock import ONE_DAY, ZoneSpans, local_hours, to_local
from glucolab.errors import NothingToDo
from glucolab.record import Study, WearPeriod
from glucolab.relating.effects.dishes import gather_dish_rises
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.planning.check_times import TypicalDay, plan_check_times
from glucolab.relating.planning.trial_choice import Experiment, Wish, choose_trials, size_to_find
from glucolab.relating.planning.trial_design import (
    MOST_REPEATS,
    EatingSpread,
    SimulatedTrials,
    choose_repeats,
    draw_trial_dates,
    estimate_eating_spread,
    find_smallest_difference,
    plan_repeats,
    pool_spreads,
    simulate_trials,
    usable_share,
)
from glucolab.relating.trials.date_outcomes import fold_dish
from glucolab.relating.trials.results import LEAST_OCCASIONS

AWAY = ("travel", "illness")
"""Notes on whose days no experiment is planned."""
LEAST_CHANCE = 0.5
"""Chance of an answer from which an experiment is suggested [1]; the contract's. Lower draws up weeks of dates that
probably tell nothing, higher suggests hardly any."""


SAME_PORTION = "the same portion at about the same hour, weighed once"
"""What every planned date asks beside its arm: a meal that varies hides what the arms do."""


@dataclass(frozen=True, eq=False)
class TrialPlan:
    """One experiment of the next wear.

    Attributes
    ----------
    chosen : Experiment
    difference_mg_dl : float
        That is to be found. [mg/dL]
    spread : EatingSpread
    repeats : DataFrame
        Of :func:`glucolab.relating.planning.trial_design.plan_repeats`.
    repeats_needed : int or None
        Usable occasions in each arm that find it four times out of five; None where fourteen do not.
    usable : float
        Share of the dishes' occasions that can be judged, 0-1.
    each : int
        Dates planned in each arm, and so pairs of dates.
    expected : SimulatedTrials
        What these dates come to if the difference is true.
    smallest_mg_dl : float
        Difference that these dates find four times out of five. [mg/dL]
    portions : DataFrame
        ``dish, carbs_g`` [g], ``hour`` [local h]: what the log usually has of each dish; empty cells where nothing.
    dates : DataFrame
        Rows for trials.csv.
    """

    chosen: Experiment
    difference_mg_dl: float
    spread: EatingSpread
    repeats: pd.DataFrame
    repeats_needed: int | None
    usable: float
    each: int
    expected: SimulatedTrials
    smallest_mg_dl: float
    portions: pd.DataFrame
    dates: pd.DataFrame


@dataclass(frozen=True, eq=False)
class Plan:
    """The next wear.

    Attributes
    ----------
    wish : Wish
    days : float
        Of wearing. [d]
    checks : DataFrame
        ``next_checks.csv``; its row `advised` is the plan.
    check_times : DataFrame
        Of :func:`glucolab.relating.planning.check_times.plan_check_times`.
    questions : DataFrame
        ``next_questions.csv``.
    trial : TrialPlan or None
    no_trial : str
        Why there is no experiment, else empty.
    """

    wish: Wish
    days: float
    checks: pd.DataFrame
    check_times: pd.DataFrame
    questions: pd.DataFrame
    trial: TrialPlan | None
    no_trial: str


def plan_wear(
    study: Study,
    related: Sequence[WearTables],
    tables: Mapping[str, pd.DataFrame],
    typical: TypicalDay,
    days: float,
    wish: Wish,
) -> Plan:
    """Plan the next wear from what the earlier ones showed.

    Parameters
    ----------
    study : Study
    related : sequence of WearTables
    tables : mapping of str to DataFrame
        The study's, with ``next_checks`` and ``next_questions`` for a wear of `days`.
    typical : TypicalDay
    days : float
        Of the next wear. [d]
    wish : Wish

    Returns
    -------
    Plan

    Raises
    ------
    NothingToDo
        If the wish cannot be fulfilled: an experiment without dish or arms, a wear too short.
    """
    zones = ZoneSpans((study.person.time_zone,))
    warm_up_hours = study.wears[-1].warm_up_hours
    whole = whole_days(wish.start, days, warm_up_hours)
    if not len(whole):
        raise NothingToDo(
            f"a wear of {days:g} days leaves no whole day after the sensor's first {warm_up_hours:g} hours"
        )
    checks = tables["next_checks"]
    advised = int(checks.loc[checks["advised"].astype(bool), "checks"].iloc[0])
    times = plan_check_times(typical, whole, advised, zones)
    trial, why = _plan_trial(study, related, tables, whole, wish)
    return Plan(wish, days, checks, times, tables["next_questions"], trial, why)


def whole_days(start: date, days: float, warm_up_hours: float) -> pd.DatetimeIndex:
    """Local dates that the sensor is worn from midnight to midnight after warm-up, shape (d,).

    It is taken to go on and to come off at noon, or sooner.
    """
    noon = pd.Timestamp(start) + pd.Timedelta(hours=12)
    first = (noon + pd.Timedelta(hours=warm_up_hours)).ceil("D")
    last = (noon + pd.Timedelta(days=days)).normalize() - ONE_DAY
    return pd.date_range(first, last, freq="D", unit="us")


def _plan_trial(
    study: Study,
    related: Sequence[WearTables],
    tables: Mapping[str, pd.DataFrame],
    whole: pd.DatetimeIndex,
    wish: Wish,
) -> tuple[TrialPlan | None, str]:
    """The experiment, or why there is none.

    What was asked for or is going on is planned whatever its chance, which stands beside it; of what the log suggests
    the likeliest to give an answer, if that is likely.
    """
    chosen = choose_trials(study.trials, tables, wish, _own_columns(related))
    if not chosen:
        return None, "Nothing in the log asks for an experiment now; name one with --arms and --dish, or --factor."
    eatings = gather_dish_rises(related)
    if not len(eatings):
        return None, "No meal could be judged yet: how far one dish differs from day to day is not known."
    drawn = [_draw_up(one, study, related, tables, eatings, whole, wish) for one in chosen]
    possible = [one for one in drawn if isinstance(one, TrialPlan)]
    if not possible:
        return None, str(drawn[0])
    best = max(possible, key=lambda one: one.expected.chance_told)
    if best.chosen.suggested and best.expected.chance_told < LEAST_CHANCE:
        return None, _say_too_unlikely(best)
    return best, ""


def _say_too_unlikely(best: TrialPlan) -> str:
    needed = f"{best.repeats_needed}" if best.repeats_needed else f"more than {MOST_REPEATS}"
    return (
        f"No experiment is drawn up: even the likeliest, “{best.chosen.trial}”, would answer "
        f"{100 * best.expected.chance_told:.0f} times in 100 within one wear; it takes {needed} meals in each arm. "
        "Going on with your log asks the same of every meal. To draw it up all the same: "
        f'--arms "{",".join(best.chosen.arms)}" --dish "{best.chosen.dishes[0]}".'
    )


def _draw_up(
    chosen: Experiment,
    study: Study,
    related: Sequence[WearTables],
    tables: Mapping[str, pd.DataFrame],
    eatings: pd.DataFrame,
    whole: pd.DatetimeIndex,
    wish: Wish,
) -> TrialPlan | str:
    """One experiment with its dates, or why they are too few."""
    difference = wish.difference_mg_dl or size_to_find(tables, chosen, study.goal.worth_noticing_mg_dl)
    meals = pd.concat([
        wear.meal_responses.assign(hour=local_hours(pd.DatetimeIndex(wear.meal_responses["time"]), wear.zones))
        for wear in related
    ])  # fmt: skip
    dishes = [_spell_as_logged(dish, meals["dish"]) for dish in chosen.dishes]
    spread = pool_spreads([estimate_eating_spread(eatings, dish, wish.seed) for dish in dishes])
    repeats = plan_repeats(difference, spread, wish.seed)
    needed = choose_repeats(repeats)
    usable = float(np.mean([usable_share(meals, dish) for dish in dishes]))
    free = whole[~np.isin(whole, _taken(study, chosen.dishes, wish))]
    most = len(free) // len(chosen.arms)
    if round(most * usable) < LEAST_OCCASIONS:
        few = f"{len(free)} free days are too few for “{chosen.trial}”"
        return f"{few}: each arm needs {LEAST_OCCASIONS} occasions that can be judged."
    each = min(int(np.ceil((needed or MOST_REPEATS) / usable)), most)
    dates = draw_trial_dates(free, chosen.arms, each, wish.seed)
    dish = dates["arm"].map(chosen.dish_of)
    said = SAME_PORTION in chosen.note
    note = chosen.note if said else "; ".join(part for part in (chosen.note, SAME_PORTION) if part)
    rows = dates.assign(trial=chosen.trial, time="", dish=dish, note=note)
    return TrialPlan(
        chosen, difference, spread, repeats, needed, usable, each,
        expected=simulate_trials(difference, each, usable, spread, wish.seed),
        smallest_mg_dl=find_smallest_difference(each, usable, spread, wish.seed),
        portions=_usual_portions(meals, dishes),
        dates=rows[["date", "trial", "arm", "time", "dish", "block", "note"]],
    )  # fmt: skip


def _usual_portions(meals: pd.DataFrame, dishes: Sequence[str]) -> pd.DataFrame:
    """Median carbohydrate [g] and hour of each dish, NaN where the log has none."""
    usual = meals.groupby("dish")[["carbs_g", "hour"]].median().reindex(list(dishes))
    return usual.rename_axis("dish").reset_index()


def _spell_as_logged(dish: str, logged: pd.Series) -> str:
    return next((name for name in logged.dropna().unique() if fold_dish(name) == fold_dish(dish)), dish)


def _own_columns(related: Sequence[WearTables]) -> set[str]:
    """Columns of days.csv that say true or false wherever they say something."""
    seen: dict[str, set[float]] = {}
    for wear in related:
        for name in wear.day_covariates:
            seen.setdefault(name, set()).update(wear.daily[name].dropna().astype(float))
    return {name for name, values in seen.items() if values and values <= {0.0, 1.0}}


def _taken(study: Study, dishes: Sequence[str], wish: Wish) -> pd.DatetimeIndex:
    """Local dates on which no experiment with these dishes is planned: avoided, away, ill, or planned already."""
    spans = [*wish.avoid, *(span for wear in study.wears for span in _away_of(wear))]
    dates = [pd.date_range(first, last, freq="D", unit="us") for first, last in spans]
    planned = study.trials.loc[study.trials["dish"].fillna("").isin({"", *dishes}), "date"]
    return pd.DatetimeIndex(np.unique(np.concatenate([pd.DatetimeIndex(planned), *dates])))


def _away_of(wear: WearPeriod) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """First and last local day of each trip and illness noted; one without an end is taken as that day."""
    notes = wear.notes[wear.notes["kind"].isin(AWAY)]
    if not len(notes):
        return []
    first, last = (
        to_local(pd.DatetimeIndex(times), wear.zones).normalize()
        for times in (notes["start"], notes["end"].fillna(notes["start"]))
    )
    return list(zip(first, last, strict=True))
