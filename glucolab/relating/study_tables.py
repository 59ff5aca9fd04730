"""What do all wears say together? Every table of a study from those of its wears."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.errors import Problem
from glucolab.intervals import Estimate
from glucolab.measuring.cautions import DESCRIBE_ONLY
from glucolab.record import STUDY_OUTPUTS, Study, empty_output
from glucolab.relating.comparing.agreement import compare_sensor_with_checks
from glucolab.relating.comparing.comparisons import compare_periods
from glucolab.relating.comparing.habit_changes import compare_habits
from glucolab.relating.comparing.periods import Measured, build_periods, estimate_joint_bias, tabulate_periods
from glucolab.relating.comparing.trend import estimate_trend
from glucolab.relating.effects.average_parts import estimate_average_parts
from glucolab.relating.effects.dishes import compare_dishes, estimate_dishes, pool_dishes
from glucolab.relating.effects.effects import estimate_effects
from glucolab.relating.effects.energy import estimate_energy_effects
from glucolab.relating.effects.levers import estimate_levers
from glucolab.relating.effects.sensor_gain import share_gains
from glucolab.relating.effects.variance_shares import estimate_spread_shares
from glucolab.relating.labs.analytes import read_values
from glucolab.relating.labs.cautions import find_lab_cautions
from glucolab.relating.labs.changes import compare_labs, set_labs_beside
from glucolab.relating.labs.insulin_resistance import compare_lab_indices, measure_lab_indices
from glucolab.relating.labs.kept_values import tabulate_lab_values
from glucolab.relating.labs.sensor_at_draws import check_sensor_by_labs
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.planning.precision import plan_next_wear
from glucolab.relating.predicting.forecasts import forecast_meals
from glucolab.relating.trials.carry_over import compare_carry_over
from glucolab.relating.trials.date_outcomes import find_trial_dates
from glucolab.relating.trials.results import compare_trial_arms

ADVISING = (
    "comparisons",
    "habit_changes",
    "effects",
    "levers",
    "average_parts",
    "dishes",
    "dish_pairs",
    "trial_results",
    "trial_dates",
    "trial_carry_over",
    "trend",
    "next_checks",
    "next_questions",
    "lab_indices",
    "energy_effects",
    "spread_shares",
    "log_prediction",
    "forecasts",
)
"""Left out where the tool only describes."""


@dataclass(frozen=True, eq=False)
class Related:
    """What the wears of a study say together.

    Attributes
    ----------
    tables : mapping of str to DataFrame
        By the names of :data:`glucolab.record.STUDY_OUTPUTS`, with their columns.
    trend : dict or None
        An estimate. [mg/dL per 30 days]
    withheld : mapping of str to str
        What is not said, and why.
    cautions : tuple of str
        What a laboratory value asks to be said.
    problems : tuple of Problem
        Laboratory values that are not used, or not compared.
    """

    tables: Mapping[str, pd.DataFrame]
    trend: Estimate | None
    withheld: Mapping[str, str]
    cautions: tuple[str, ...]
    problems: tuple[Problem, ...]


def relate_wears(study: Study, measured: Sequence[Measured], related: Sequence[WearTables]) -> Related:
    """Every table of a study.

    Parameters
    ----------
    study : Study
    measured : sequence of Measured
        Wears for their means; those without a trace are left aside.
    related : sequence of WearTables
        The same wears for the questions.

    Returns
    -------
    Related
    """
    tables: dict[str, pd.DataFrame] = {}
    withheld: dict[str, str] = {}
    trend = None
    tables["check_agreement"] = compare_sensor_with_checks(measured)
    measured = [one for one in measured if np.isfinite(one.trace.level_mg_dl)]
    worth, describe_only = study.goal.worth_noticing_mg_dl, study.person.describe_only
    values, problems = read_values(study.labs)
    tables["lab_values"] = tabulate_lab_values(values, related)
    tables["lab_changes"] = compare_labs(values)
    if measured:
        bias = estimate_joint_bias(measured)
        periods = build_periods(measured, bias)
        goal = None if describe_only else study.goal.mean_mg_dl
        tables["periods"] = tabulate_periods(periods, measured, bias, goal)
        if not describe_only:
            tables["comparisons"] = compare_periods(periods, measured, bias, worth)
            trend, reason = estimate_trend(periods, measured, bias)
            withheld |= {"trend": reason} if reason else {}
    else:
        tables["periods"] = empty_output("periods")
        withheld["periods"] = "No wear has readings enough for a mean."
    tables["lab_checks"] = check_sensor_by_labs(values, measured, worth)
    tables["labs_and_sensor"] = set_labs_beside(values, tables["periods"], related)
    if describe_only:
        withheld |= dict.fromkeys(ADVISING, DESCRIBE_ONLY)
    else:
        asked = [one.as_asked for one in related]
        tables |= _ask(share_gains(asked, measured, bias) if measured else asked, worth)
        tables |= _report_trials(study, related, worth)
        if measured:
            tables["average_parts"], too_little = estimate_average_parts(measured, asked, periods, bias)
            withheld |= {"average_parts": too_little} if too_little else {}
            tables |= plan_next_wear(periods, measured, tables["effects"], tables["levers"], study.goal)
        tables["lab_indices"], indices = measure_lab_indices(values), compare_lab_indices(values)
        if len(indices):
            tables["lab_changes"] = pd.concat([tables["lab_changes"], indices], ignore_index=True)
    for name in STUDY_OUTPUTS.keys() - tables.keys():
        tables[name] = empty_output(name)
    return Related(tables, trend, withheld, tuple(find_lab_cautions(values)), tuple(problems))


def relate_nothing(fault: Problem) -> Related:
    """The tables of a study without rows, every one withheld because of a fault."""
    tables = {name: empty_output(name) for name in STUDY_OUTPUTS}
    return Related(tables, None, dict.fromkeys((*tables, "trend"), str(fault)), (), (fault,))


def _ask(related: Sequence[WearTables], worth_noticing_mg_dl: float) -> dict[str, pd.DataFrame]:
    """The tables of questions about what was done and eaten."""
    pooled = pool_dishes(related)
    effects = estimate_effects(related, worth_noticing_mg_dl)
    return {
        "habit_changes": compare_habits(related),
        "effects": effects,
        "levers": estimate_levers(related, effects, worth_noticing_mg_dl),
        "dishes": estimate_dishes(pooled),
        "dish_pairs": compare_dishes(pooled, worth_noticing_mg_dl),
        "forecasts": forecast_meals(related),
        "energy_effects": estimate_energy_effects(related),
        "spread_shares": estimate_spread_shares(related),
    }


def _report_trials(study: Study, related: Sequence[WearTables], worth_noticing_mg_dl: float) -> dict[str, pd.DataFrame]:
    """The tables of experiments, of the rises that the wears' own tables hold: the lot alone carries them."""
    dates = find_trial_dates(related, study.trials)
    return {
        "trial_results": compare_trial_arms(dates, worth_noticing_mg_dl),
        "trial_dates": dates[STUDY_OUTPUTS["trial_dates"].names],
        "trial_carry_over": compare_carry_over(dates, worth_noticing_mg_dl),
    }
