"""How did it feel, and where was glucose then? Each feeling beside the last meal's rise and dip."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.measuring.occasions import without_minor
from glucolab.record import WearPeriod
from glucolab.record.outputs import ENERGY

_REACH_MIN = 360.0
"""An occasion further back is not set beside a feeling; assumed. Longer, feelings are set beside meals long digested;
shorter, those before the next meal have none. [min]"""
_POINTS = 6
"""Over so much of the trace before a feeling its slope is taken, half an hour; assumed. Longer, a turn just before is
lost; shorter, the slope is mostly noise. [grid steps]"""


def measure_energy(wear: WearPeriod, responses: pd.DataFrame, trace: Trace) -> pd.DataFrame:
    """Feelings with the occasion before them.

    Parameters
    ----------
    wear : WearPeriod
    responses : DataFrame
        From :func:`glucolab.measuring.meals.measure_meal_responses`.
    trace : Trace

    Returns
    -------
    DataFrame
        Columns of ``energy.csv``. An occasion more than six hours back is not the last meal's
        doing any more: its columns are empty. The slope needs all of the half hour before.

    References
    ----------
    .. [1] Wyatt et al., Nat Metab 2021;3:523-529.

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> trace = gl.estimate_trace(wear, clean)
    >>> meals = gl.measure_meal_responses(wear, clean, trace)
    >>> list(gl.measure_energy(wear, meals, trace))[:3]
    ['time', 'energy', 'focus']
    """
    feelings = wear.feelings.sort_values("time", kind="stable")
    feelings = feelings[feelings[["energy", "focus", "hunger"]].notna().any(axis=1)]
    if not len(feelings):
        return pd.DataFrame(columns=ENERGY.names)
    known = without_minor(responses)[["time", "rise_mg_dl", "dip_mg_dl"]].rename(columns={"time": "occasion"})
    out = pd.merge_asof(
        feelings[["time", "energy", "focus", "hunger"]], known, left_on="time", right_on="occasion",
        tolerance=pd.Timedelta(minutes=_REACH_MIN),
    )  # fmt: skip
    out["minutes_since_occasion"] = (out["time"] - out["occasion"]).dt.total_seconds() / 60
    out["slope_mg_dl_min"] = _slopes(trace, pd.DatetimeIndex(out["time"]))
    return out[ENERGY.names]


def _slopes(trace: Trace, times: pd.DatetimeIndex) -> np.ndarray:
    """Least-squares slope of the trace over the 30 min before each time. [mg/dL per min]"""
    last = np.floor(trace.cells(times)).astype(int)
    steps = last[:, None] + np.arange(-_POINTS, 1)
    inside = ((steps >= 0) & (steps < len(trace.time))).all(axis=1)
    values = trace.glucose_mg_dl[np.clip(steps, 0, len(trace.time) - 1)]
    minutes = (np.arange(_POINTS + 1) - _POINTS / 2) * GRID_MIN
    slope = values @ minutes / (minutes @ minutes)
    return np.where(inside, slope, np.nan)
