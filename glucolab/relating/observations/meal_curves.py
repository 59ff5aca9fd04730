"""What did glucose do after each eating of a dish, and over the hours of a day? Curves, for the eye."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import Trace
from glucolab.clock import ZoneSpans, local_hours, to_local
from glucolab.intervals import t_quantile

BEFORE_MIN, AFTER_MIN = 30, 180
"""Span of a meal's curve before and after eating [min]: the contract's baseline and longest window. It shapes pictures,
no figure: shorter hides the return, longer runs into the next meal."""
_HALF_HOURS = 48
"""Parts of the drawn day [1]: finer is noisier, coarser flattens peaks."""
_FEWEST_DAYS = 3
"""Days that a half-hour's mean needs [days]; assumed. Fewer draw single days as habits, more leave holes."""

LEAST_SHARE = 0.75
"""Share of a dish's eatings that a point of its mean curve needs [1]; assumed. Lower lets the curve jump where single
eatings end, higher cuts it short."""


def gather_meal_curves(trace: Trace, responses: pd.DataFrame, dishes: Sequence[str]) -> pd.DataFrame:
    """The trace around each usable eating of some dishes, from its own baseline.

    Parameters
    ----------
    trace : Trace
    responses : DataFrame
        The contract's ``meal_responses``.
    dishes : sequence of str

    Returns
    -------
    DataFrame
        dish, time (of the eating) [UTC], minutes (-30 to 180), above_mg_dl (NaN in gaps).

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> trace = gl.estimate_trace(wear, clean)
    >>> meals = gl.measure_meal_responses(wear, clean, trace)
    >>> dishes = meals.loc[meals["usable_2h"], "dish"].unique()[:2]
    >>> list(gl.gather_meal_curves(trace, meals, dishes))
    ['dish', 'time', 'minutes', 'above_mg_dl']
    """
    mine = responses[responses["usable_2h"].eq(True).fillna(False) & responses["dish"].isin(list(dishes))]
    minutes = np.arange(-BEFORE_MIN, AFTER_MIN + 1, int(GRID_MIN))
    if not len(mine):
        return pd.DataFrame({"dish": [], "time": [], "minutes": [], "above_mg_dl": []})
    place = trace.cells(pd.DatetimeIndex(mine["time"]))[:, None] + minutes[None, :] / GRID_MIN
    glucose = np.interp(
        place.ravel(), np.arange(len(trace.time)), trace.glucose_mg_dl, left=np.nan, right=np.nan
    ).reshape(place.shape)  # fmt: skip
    above = glucose - mine["baseline_mg_dl"].to_numpy(float)[:, None]
    return pd.DataFrame({
        "dish": np.repeat(mine["dish"].to_numpy(object), len(minutes)),
        "time": np.repeat(mine["time"].to_numpy(), len(minutes)),
        "minutes": np.tile(minutes, len(mine)), "above_mg_dl": above.ravel(),
    })  # fmt: skip


def average_eatings(eatings: pd.DataFrame) -> pd.DataFrame:
    """The mean curve of each dish, as far as most of its eatings were recorded.

    Parameters
    ----------
    eatings : DataFrame
        Of :func:`gather_meal_curves`.

    Returns
    -------
    DataFrame
        dish, minutes, above_mg_dl; dishes in the order in which they come.
    """
    grouped = eatings.groupby(["dish", "minutes"], sort=False)["above_mg_dl"]
    known = grouped.agg(["mean", "count", "size"]).reset_index()
    kept = known[known["count"] >= LEAST_SHARE * known["size"]]
    return kept[["dish", "minutes", "mean"]].rename(columns={"mean": "above_mg_dl"})


def profile_day(trace: Trace, zones: ZoneSpans) -> pd.DataFrame:
    """Mean of the trace in each half hour of the local day, and how well so few days determine it.

    Parameters
    ----------
    trace : Trace
    zones : ZoneSpans

    Returns
    -------
    DataFrame
        hour (middle), mean_mg_dl, half_mg_dl (of its 90 % interval for which days were worn; the sensor's own error,
        the same at every hour, is not in it), days; 48 rows, without figures under three days. Nights that were not
        recorded are missing from it, not guessed.
    """
    known = np.isfinite(trace.glucose_mg_dl)
    times = trace.time[known]
    slot = np.minimum((local_hours(times, zones) * 2).astype(int), _HALF_HOURS - 1)
    table = pd.DataFrame(
        {"slot": slot, "day": to_local(times, zones).normalize(), "glucose": trace.glucose_mg_dl[known]}
    )
    by_day = table.groupby(["slot", "day"])["glucose"].mean().groupby("slot").agg(["mean", "std", "count"])
    by_day = by_day.reindex(range(_HALF_HOURS))
    days = by_day["count"].where(by_day["count"] >= _FEWEST_DAYS)
    half = t_quantile(days - 1) * by_day["std"] / np.sqrt(days)
    return pd.DataFrame({
        "hour": (np.arange(_HALF_HOURS) + 0.5) / 2, "mean_mg_dl": by_day["mean"].where(days.notna()).to_numpy(),
        "half_mg_dl": half.to_numpy(), "days": by_day["count"].fillna(0).astype(int).to_numpy(),
    })  # fmt: skip
