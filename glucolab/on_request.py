"""What more may be asked of an analysed study? Its next wear, and whether its log predicts: on request, not always."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.analysis import StudyAnalysis, as_measured
from glucolab.errors import NothingToDo
from glucolab.measuring.cautions import DESCRIBE_ONLY
from glucolab.record import empty_output
from glucolab.relating.comparing.periods import build_periods, estimate_joint_bias
from glucolab.relating.effects.prediction import estimate_prediction
from glucolab.relating.planning.check_times import measure_typical_day
from glucolab.relating.planning.plan import Plan, plan_wear
from glucolab.relating.planning.precision import next_days, plan_checks, plan_next_wear
from glucolab.relating.planning.trial_choice import Wish


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
    return estimate_prediction([one.related for one in analysis.wears])


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
    tables = {**analysis.tables, **plan_next_wear(periods, measured, analysis.tables["effects"], study.goal, days)}
    typical = measure_typical_day([(one.trace, one.wear.zones, one.nights) for one in known])
    return plan_wear(study, [one.related for one in analysis.wears], tables, typical, days, wish)


def plan_checks_of(analysis: StudyAnalysis, goal_mg_dl: float | None, days: float) -> pd.DataFrame:
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
    """
    measured = [as_measured(one) for one in analysis.wears if np.isfinite(one.figures.usual_mg_dl)]
    if not measured:
        return empty_output("next_checks")
    return plan_checks(build_periods(measured, estimate_joint_bias(measured)), measured, goal_mg_dl, days)
