"""What did glucose do after each date that counts? Curves of an experiment's arms, for the eye."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from glucolab.aligning.trace_record import Trace
from glucolab.record.trial_outputs import TRIAL_CURVES
from glucolab.relating.observations.meal_curves import gather_meal_curves


def gather_trial_curves(dates: pd.DataFrame, traces: Mapping[str, Trace]) -> pd.DataFrame:
    """``trial_curves.csv``: glucose from half an hour before to three hours after each date that counts.

    Parameters
    ----------
    dates : DataFrame
        Of :func:`glucolab.relating.trials.date_outcomes.find_trial_dates`, with `at`.
    traces : mapping of str to Trace
        By the names of wears.

    Returns
    -------
    DataFrame
        Each eating from the mean of the half hour before it; empty cells where nothing was recorded.
    """
    parts = [
        _follow(mine, str(trial), traces[str(wear)])
        for (trial, wear), mine in dates[dates["used"].astype(bool)].groupby(["trial", "wear"], sort=False)
        if wear in traces
    ]
    if not parts:
        return pd.DataFrame(columns=TRIAL_CURVES.names)
    return pd.concat(parts, ignore_index=True)[TRIAL_CURVES.names]


def _follow(dates: pd.DataFrame, trial: str, trace: Trace) -> pd.DataFrame:
    """The curves of one trial in one wear."""
    arms = list(dict.fromkeys(dates["arm"]))
    eaten = pd.DataFrame({"time": dates["at"], "dish": dates["arm"], "usable_2h": True, "baseline_mg_dl": 0.0})
    curves = gather_meal_curves(trace, eaten, arms).rename(columns={"dish": "arm"})
    before = curves[curves["minutes"] < 0].groupby("time")["above_mg_dl"].mean()
    dated = dates.set_index("at")["date"]
    above = curves["above_mg_dl"] - curves["time"].map(before)
    return curves.assign(trial=trial, date=curves["time"].map(dated), above_mg_dl=above)
