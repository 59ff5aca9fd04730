"""Is what the next wear could decide what the parts of its error make it? Written out by hand, quantiles by scipy."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.record import Goal
from glucolab.record.study_outputs import EFFECTS
from glucolab.relating.comparing.periods import build_periods
from glucolab.relating.planning.precision import _advise, next_days, plan_checks, plan_next_wear
from tests.relating.comparing.measured import make_bias, measured

Z = stats.norm.ppf(0.95)
PRIOR = (0.20**2 + 0.09**2) * 100**2
"""Variance of a nameless sensor's bias at 100 mg/dL, before any check."""


def half_recorded(days: int) -> np.ndarray:
    values = np.full(days * 288, 100.0)
    values[::2] = np.nan
    return values


def wears(**second):
    return [
        measured("a", 0, days=8, days_var=2.0, hours_var=1.0, df=9.0, values=half_recorded(8)),
        measured("b", 60, **({"days": 4, "days_var": 1.0, "hours_var": 0.5, "df": 6.0} | second)),
    ]


def planned(goal=95.0, days=14.0, **second):
    mine = wears(**second)
    periods = build_periods(mine, make_bias([0.0, 0.0], PRIOR * np.eye(2)))
    return plan_checks(periods, mine, goal, days).set_index("checks")


EXPECTED_DAYS = 14 * (4 + 4) / 12
"""Of 12 days worn so far 8 were recorded: of 14 as many in proportion."""
DAYS = (2.0 * 4 + 1.0 * 4) / 2 / EXPECTED_DAYS
HOURS = (1.0 * 4 + 0.5 * 4) / 2 / EXPECTED_DAYS
DF = 3 + EXPECTED_DAYS - 1


def test_half_widths_without_checks():
    row = planned().loc[0]
    assert row["mean_half_mg_dl"] == pytest.approx(Z * np.sqrt(PRIOR + HOURS))
    total = DAYS + HOURS + PRIOR
    usual = stats.t.ppf(0.95, min(total**2 / (DAYS**2 / DF), 1e6)) * np.sqrt(total)
    assert row["usual_half_mg_dl"] == pytest.approx(usual)
    both = DAYS + 1.0
    df_days = both**2 / (DAYS**2 / DF + 1.0 / 6)
    normal = 2 * PRIOR + HOURS + 0.5
    total = both + normal
    change = stats.t.ppf(0.95, min(total**2 / (both**2 / df_days), 1e6)) * np.sqrt(total)
    assert row["change_half_mg_dl"] == pytest.approx(change)
    assert row["smallest_change_mg_dl"] == pytest.approx(change + stats.norm.ppf(0.8) * np.sqrt(total))


def test_checks_narrow_the_mean_as_independent_ones_would():
    """n checks of 6 % and a meter of 4.5 % that they share, evenly over the wear, so that drift adds nothing.

    A Student t error of v degrees has (v + 1) / (v + 3) of the information that a normal one of its scale has (Lange,
    Little & Taylor, J Am Stat Assoc 1989;84:881, from memory); v is 4.
    """
    table = planned()
    for n in (2, 6, 20):
        error = 6.0**2 / n * 7 / 5 + 4.5**2
        sensor = 1 / (1 / PRIOR + 1 / error)
        assert table.loc[n, "mean_half_mg_dl"] == pytest.approx(Z * np.sqrt(sensor + HOURS), rel=1e-6)


def test_the_chance_to_tell_the_goal():
    """The next mean moves by all its errors and those of the last; clear is an interval that leaves the goal out."""
    row = planned(goal=97.0, usual=90.0).loc[12]
    half = row["mean_half_mg_dl"]
    moves = (row["smallest_change_mg_dl"] - row["change_half_mg_dl"]) / stats.norm.ppf(0.8)
    expected = stats.norm.cdf((97 - half - 90) / moves) + stats.norm.cdf((90 - 97 - half) / moves)
    assert row["chance_goal_told"] == pytest.approx(expected)
    assert planned(goal=97.0, usual=80.0).loc[12, "chance_goal_told"] > row["chance_goal_told"]
    assert np.isnan(planned(goal=None).loc[0, "chance_goal_told"])


def test_the_advice_is_the_fewest_checks_beyond_which_little_is_gained():
    table = planned()
    half, checks = table["change_half_mg_dl"].to_numpy(), table.index.to_numpy(float)
    per_two = (half[1:] / half[:-1]) ** (2 / np.diff(checks))
    last = np.flatnonzero(per_two < 0.95)
    assert table.index[table["advised"].to_numpy(bool)].tolist() == [table.index[last[-1] + 1] if len(last) else 0]


@pytest.mark.parametrize(("halves", "advised"), [([20, 15, 10, 9.9, 9.8, 9.7, 9.6, 9.5, 9.4], 4), ([9] * 9, 0)])
def test_advice_by_hand(halves, advised):
    table = planned().reset_index().assign(change_half_mg_dl=np.array(halves, float))
    assert table["checks"][_advise(table)].tolist() == [advised]


def test_the_next_wear_lasts_as_long_as_the_last_sensor_was_to():
    assert next_days(wears()) == 14
    assert next_days(wears(life_days=10.0)) == 10


def test_questions_come_as_often_as_so_far():
    """8 days' worth recorded in 12 worn: of 6 more days, 4 are; rows by half."""
    effects = pd.DataFrame(
        {"factor": ["stress"], "outcome": ["mean_mg_dl"], "contrast": [""], "unit": ["mg/dL"], "estimate": [2.0],
         "low": [-1.0], "high": [5.0], "n_with": [40], "n_without": [0], "n_days": [8], "p_value": [0.2],
         "q_value": [0.2], "verdict": ["cannot_tell_yet"], "needed": [np.nan]}
    )[EFFECTS.names]  # fmt: skip
    mine = wears()
    periods = build_periods(mine, make_bias([0.0, 0.0], PRIOR * np.eye(2)))
    tables = plan_next_wear(periods, mine, effects, Goal(95.0), 6.0)
    row = tables["next_questions"].iloc[0]
    assert row["rows_now"] == 40
    assert row["rows_next"] == 20
