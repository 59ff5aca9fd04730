"""What more may be asked of a study? Its next wear, whether its log predicts, its clocks: on request, not always."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd

from glucolab.aligning.trace import estimate_trace
from glucolab.analysis import LEAST_READINGS, as_measured
from glucolab.cleaning.clean import clean_wear
from glucolab.clock import days_between
from glucolab.errors import NothingToDo, Problem
from glucolab.measuring.cautions import DESCRIBE_ONLY
from glucolab.measuring.log_clock import (
    estimate_clocks_apart,
    estimate_log_clock,
    is_log_off,
    is_off,
    word_clocks_apart,
    word_log_clock,
)
from glucolab.measuring.occasions import find_occasions
from glucolab.record import Study, empty_output
from glucolab.relating.comparing.periods import build_periods, estimate_joint_bias
from glucolab.relating.effects.day_grid import DayGrid, relate_all_days
from glucolab.relating.effects.sensor_gain import share_gains
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.planning.check_times import measure_typical_day
from glucolab.relating.planning.plan import Plan, plan_wear
from glucolab.relating.planning.precision import next_days, plan_checks, plan_next_wear
from glucolab.relating.planning.trial_choice import Wish
from glucolab.relating.predicting.log_prediction import estimate_prediction
from glucolab.relating.predicting.one_meal import Meal, MealPrediction, predict_response
from glucolab.results import StudyAnalysis


def share_wears(analysis: StudyAnalysis) -> list[WearTables]:
    """The wears as effects.csv starts from them: by a clock that is right, with what all know of their gains.

    Parameters
    ----------
    analysis : StudyAnalysis
    """
    asked = [one.related.as_asked for one in analysis.wears]
    measured = [as_measured(one) for one in analysis.wears if np.isfinite(one.trace.level_mg_dl)]
    return share_gains(asked, measured, estimate_joint_bias(measured)) if measured else asked


def relate_study_days(analysis: StudyAnalysis, wears: list[WearTables]) -> DayGrid:
    """Every covariate of days against the day's mean, its SD and the night that follows.

    Parameters
    ----------
    analysis : StudyAnalysis
    wears : list of WearTables
        Of :func:`share_wears`.

    Returns
    -------
    DayGrid
        Where effects.csv asks the same, with its answer.

    Raises
    ------
    NothingToDo
        If nobody may be advised.
    """
    if analysis.study.person.describe_only:
        raise NothingToDo(DESCRIBE_ONLY)
    return relate_all_days(wears, analysis.tables["effects"], analysis.study.goal.worth_noticing_mg_dl)


def predict_from_log(analysis: StudyAnalysis) -> pd.DataFrame:
    """Whether the log predicts rises after meals better than the own average: a table made apart, for it takes longer.

    Parameters
    ----------
    analysis : StudyAnalysis

    Returns
    -------
    DataFrame
        Columns of ``log_prediction.csv``, one row; none where the tool only describes.
    """
    if analysis.study.person.describe_only:
        return empty_output("log_prediction")
    return estimate_prediction([one.related.as_asked for one in analysis.wears])


def predict_meal(
    analysis: StudyAnalysis,
    *,
    hour: float,
    dish: str = "",
    carbs_g: float = np.nan,
    walk_after: bool = False,
    protein_first: bool = False,
    eaten_out: bool = False,
) -> MealPrediction:
    """What a meal would do to this person, by all their meals.

    Parameters
    ----------
    analysis : StudyAnalysis
    hour : float
        Of the day at which it is eaten, local. [h]
    dish : str, optional
        A dish of the log.
    carbs_g : float, optional
        What dish of the log had so far, if absent. [g]
    walk_after, protein_first, eaten_out : bool, optional

    Returns
    -------
    MealPrediction
        ``rise``, an estimate with its 90 % interval, and ``curve`` from 0 to 180 min. [mg/dL]

    Raises
    ------
    NothingToDo
        If nobody may be advised, the log does not hold the dish, neither dish nor carbohydrate is given, either number
        cannot be, or no meal was followed by three known hours.

    Notes
    -----
    One linear model of the log and of glucose before the meal, its coefficients drawn toward what people of the open
    recordings share. Limits of validity: a person without diabetes, a meal like those that were logged; the interval
    holds what the same meal differs by from day to day, and is wide. Figures are given whether or not the study hides
    them: whoever shows them asks ``gl.display_of(study)``.

    References
    ----------
    .. [1] Colas et al., PLoS ONE 2019, doi 10.1371/journal.pone.0225817.
    .. [2] CGMacros 1.0.0, PhysioNet, doi 10.13026/3z8q-x658.
    .. [3] Bent et al., npj Digital Medicine 2021; data: BIG IDEAs Lab, version 1.1, PhysioNet.

    Examples
    --------
    >>> import glucolab as gl
    >>> analysis = gl.analyse_study(gl.simulate.example_study())
    >>> small, large = (gl.predict_meal(analysis, hour=12.5, carbs_g=g).rise for g in (20, 90))
    >>> small["estimate"] < large["estimate"], small["level"]
    (True, 0.9)
    """
    if analysis.study.person.describe_only:
        raise NothingToDo(DESCRIBE_ONLY)
    if not dish and np.isnan(carbs_g):
        raise NothingToDo("name a dish of the log, or say how much carbohydrate the meal has")
    if not 0 <= hour <= 24 or carbs_g < 0 or np.isinf(carbs_g):
        raise NothingToDo("an hour of the day lies between 0 and 24, and carbohydrate is 0 g or more")
    eaten = {name for one in analysis.wears for name in one.related.meal_responses["dish"].dropna()} - {""}
    if dish and dish not in eaten:
        raise NothingToDo(f"no meal of the log has the dish “{dish}”: say how much carbohydrate it has instead")
    meal = Meal(hour, dish, carbs_g, walk_after=walk_after, protein_first=protein_first, eaten_out=eaten_out)
    known = [one for one in analysis.wears if np.isfinite(one.trace.level_mg_dl)]
    found = predict_response([one.related.as_asked for one in known], [one.trace for one in known], meal)
    if found is None:
        raise NothingToDo(
            "no meal of the log was followed by three hours of known glucose, so there is nothing to go by"
        )
    return found


def doubt_clocks(study: Study) -> list[Problem]:
    """Notes on wears whose log, or whose sensor beside another one, seems to keep another time.

    Wears with too few readings are passed over.
    """
    problems, traces = [], []
    for wear in study.wears:
        clean = clean_wear(wear)
        if len(clean.usable) < LEAST_READINGS:
            continue
        trace = estimate_trace(wear, clean).without_draws()
        traces.append((wear, trace))
        occasions = find_occasions(wear.meals)
        days = days_between(clean.start, clean.end, wear.zones)
        ahead, _ = estimate_log_clock(trace, occasions[~occasions["minor"]], days)
        if ahead is not None and is_log_off(ahead):
            text = f"{word_log_clock(ahead)}: if it is, write log_ahead_min = {ahead['estimate']:.0f} in wear.toml"
            problems.append(Problem(f"wear_periods/{wear.name}/meals.csv", text, left_out=False))
    for (one, first), (other, second) in combinations(traces, 2):
        if first.time[0] < second.time[-1] and second.time[0] < first.time[-1]:
            ahead = estimate_clocks_apart(first, second)
            if ahead is not None and is_off(ahead):
                text = word_clocks_apart(ahead, one.name)
                problems.append(Problem(f"wear_periods/{other.name}/glucose.csv", text, left_out=False))
    return problems


def plan_study(analysis: StudyAnalysis, wish: Wish) -> Plan:
    """Plan the next wear of a study.

    Parameters
    ----------
    analysis : StudyAnalysis
    wish : Wish

    Returns
    -------
    Plan

    Raises
    ------
    NothingToDo
        If nobody may be advised, no wear has a mean yet, or the wish cannot be fulfilled.

    Notes
    -----
    Finger-sticks are planned by how they narrow the next wear's mean, an experiment by simulation of its exact test
    over all ways in which the lot could have fallen. Limits of validity: whoever goes on living and writing down as
    before.

    References
    ----------
    .. [1] Kratochwill & Levin, Psychol Methods 2010;15:124, doi 10.1037/a0017736.
    .. [2] Vohra et al., BMJ 2015;350:h1738.

    Examples
    --------
    >>> import datetime, glucolab as gl
    >>> analysis = gl.analyse_study(gl.simulate.example_study())
    >>> plan = gl.plan_study(analysis, gl.Wish(datetime.date(2026, 9, 1)))
    >>> int(plan.checks["advised"].sum())
    1
    """
    study = analysis.study
    if study.person.describe_only:
        raise NothingToDo(DESCRIBE_ONLY)
    known = [one for one in analysis.wears if np.isfinite(one.figures.usual_mg_dl)]
    if not known:
        raise NothingToDo("no wear has readings enough for a mean, so there is no spread to plan from")
    measured = [as_measured(one) for one in known]
    periods = build_periods(measured, estimate_joint_bias(measured))
    days = wish.days or next_days(measured)
    tables = {
        **analysis.tables,
        **plan_next_wear(periods, measured, analysis.tables["effects"], analysis.tables["levers"], study.goal, days),
    }
    typical = measure_typical_day([(one.trace, one.wear.zones, one.nights) for one in known])
    return plan_wear(study, [one.related for one in analysis.wears], tables, typical, days, wish)


def plan_study_checks(analysis: StudyAnalysis, goal_mg_dl: float | None, days: float) -> pd.DataFrame:
    """What a number of finger-sticks would bring in a next wear of so many days, columns of ``next_checks.csv``.

    Parameters
    ----------
    analysis : StudyAnalysis
    goal_mg_dl : float or None
        [mg/dL]
    days : float
        [d]

    Returns
    -------
    DataFrame
        Without rows where no wear has a mean.

    Raises
    ------
    NothingToDo
        If nobody may be advised.

    Notes
    -----
    The joint bias of sensor and meter is solved for each number of finger-sticks as if they had been taken. Figures are
    given whether or not the study hides them: whoever shows them asks ``gl.display_of(study)``.

    Examples
    --------
    >>> import glucolab as gl
    >>> analysis = gl.analyse_study(gl.simulate.example_study())
    >>> halves = gl.plan_study_checks(analysis, 95.0, 14.0)["mean_half_mg_dl"]
    >>> halves.iloc[-1] < halves.iloc[0]
    np.True_
    """
    if analysis.study.person.describe_only:
        raise NothingToDo(DESCRIBE_ONLY)
    measured = [as_measured(one) for one in analysis.wears if np.isfinite(one.figures.usual_mg_dl)]
    if not measured:
        return empty_output("next_checks")
    return plan_checks(build_periods(measured, estimate_joint_bias(measured)), measured, goal_mg_dl, days)
