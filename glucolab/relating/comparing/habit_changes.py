"""What else was different? Habits of each wear beside those of the wear before, as far as they were written down."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import stdtr

from glucolab.intervals import effective_df, half_width
from glucolab.record.study_outputs import HABIT_CHANGES
from glucolab.relating.observations.days_and_meals import gather_days
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import adjust_p_values, decide_verdict

HABITS = {
    "carbs_g": "g", "fiber_g": "g", "asleep_h": "h", "stress": "points", "caffeine_mg": "mg", "relaxation_min": "min",
    "exercise_min": "min",
}  # fmt: skip
_FEWEST_DAYS = 5
"""Days that each wear needs before a habit is compared [days]; assumed. Fewer rest the variance on chance, more leave
sparse logs without an answer."""
GROWN = 1.5
"""Variance of a mean over that of independent days [1]: (1 + 0.2) / (1 - 0.2) for an autocorrelation of 0.2; assumed.
Too small, and chance passes for a changed habit; too large, and changes are missed."""


def compare_habits(wears: Sequence[WearTables]) -> pd.DataFrame:
    """``habit_changes.csv``: mean of each habit a day, of each wear and of the wear before it.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person, in any order.

    Returns
    -------
    DataFrame
        A row a pair of wears that follow each other and a habit; q over the habits of a pair.

    Notes
    -----
    Whole days, none of illness: the first and last date of a wear are lived with it in part only. Welch's interval
    (Biometrika 1947;34:28-35), grown for days that resemble each other. What was not written down counts as not eaten:
    a log kept less carefully looks like eating less.
    """
    order = sorted((wear for wear in wears if len(wear.days.dates)), key=lambda wear: wear.days.edges[0])
    days = gather_days(order) if len(order) > 1 else pd.DataFrame()
    if not len(days):
        return pd.DataFrame(columns=HABIT_CHANGES.names)
    ends = days.groupby("wear")["day"].agg(["min", "max"]).loc[days["wear"]]
    whole = (days["day"].to_numpy() > ends["min"].to_numpy()) & (days["day"].to_numpy() < ends["max"].to_numpy())
    days = days[whole & ~days["left_out"].to_numpy(bool)]
    by_wear = [days[days["wear"] == i] for i in range(len(order))]
    tables = [
        _compare(order[i - 1].name, order[i].name, by_wear[i - 1], by_wear[i])
        for i in range(1, len(order))
        if order[i].days.edges[0] >= order[i - 1].days.edges[-2]  # worn one after the other; a last day may be shared
    ]
    if not tables:
        return pd.DataFrame(columns=HABIT_CHANGES.names)
    return pd.concat(tables, ignore_index=True).astype({"days_a": "Int64", "days_b": "Int64"})[HABIT_CHANGES.names]


def _compare(name_a: str, name_b: str, before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for habit, unit in HABITS.items():
        a, b = (part[habit].dropna().to_numpy(float) for part in (before, after))
        row = {"wear_a": name_a, "wear_b": name_b, "habit": habit, "unit": unit, "days_a": len(a), "days_b": len(b)}
        rows.append(row | compare_means(a, b))
    table = pd.DataFrame(rows)
    table["q_value"] = adjust_p_values(table["p_value"].to_numpy(float))
    ends = zip(table["low"], table["high"], table["q_value"], strict=True)
    table["verdict"] = [decide_verdict(low, high, 0.0, q) for low, high, q in ends]
    return table


def compare_means(a: np.ndarray, b: np.ndarray) -> dict[str, float]:
    """Means of days of two wears, their difference b - a with its 90 % interval and p-value.

    Parameters
    ----------
    a, b : array, shape (n,), (m,)

    Returns
    -------
    dict of str to float
        ``mean_a, mean_b, difference, low, high, p_value``; NaN below five days in either, or where neither varies.
    """
    found = dict.fromkeys(("mean_a", "mean_b", "difference", "low", "high", "p_value"), np.nan)
    if min(len(a), len(b)) < _FEWEST_DAYS:
        return found
    parts = np.array([GROWN * a.var(ddof=1) / len(a), GROWN * b.var(ddof=1) / len(b)])
    if parts.sum() == 0:
        return found
    freedom = effective_df(parts, [len(a) - 1, len(b) - 1])
    difference, error = float(b.mean() - a.mean()), float(np.sqrt(parts.sum()))
    half = half_width(parts, [len(a) - 1, len(b) - 1])
    return {
        "mean_a": float(a.mean()), "mean_b": float(b.mean()), "difference": difference, "low": difference - half,
        "high": difference + half, "p_value": 2 * float(stdtr(freedom, -abs(difference) / error)),
    }  # fmt: skip
