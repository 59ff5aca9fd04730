"""Does the sensor agree with the laboratory at the minute of the draw? Each timed glucose beside the trace."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from glucolab.aligning.bias_prior import follows_food, venous_error
from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace import CHECK_REACH_MIN
from glucolab.clock import to_local, to_utc
from glucolab.intervals import Z
from glucolab.record.study_outputs import LAB_CHECKS
from glucolab.relating.comparing.periods import Measured
from glucolab.relating.labs.analytes import SAME_IN_TWO_UNITS
from glucolab.relating.statistics.claims import decide_verdict

DRAW_TIME_SD_MIN = 5.0
"""How far the time on the sheet may lie from the needle: SD [min]; assumed. Too short finds disagreement where glucose
merely moved, too long hides it."""

_REACH = pd.Timedelta(minutes=CHECK_REACH_MIN)
"""How far a check may lie from the draw to be the same value [min]: `CHECK_REACH_MIN`. Too short misses that it moved
the estimate, too long warns without cause."""


def check_sensor_by_labs(values: pd.DataFrame, wears: Sequence[Measured], worth_noticing_mg_dl: float) -> pd.DataFrame:
    """``lab_checks.csv``: laboratory glucose beside what each wear says of blood at the minute of the draw.

    Parameters
    ----------
    values : DataFrame
        Of :func:`glucolab.relating.labs.analytes.read_values`.
    wears : sequence of Measured
    worth_noticing_mg_dl : float
        [mg/dL]

    Returns
    -------
    DataFrame
        A row a value and a wear that was on at that date and time. A value without a time, or without a reading
        within 15 min, has no figures and says why.

    Notes
    -----
    The estimate is that of the wear's own ``readings.csv``, from its draws, so that noise, lag and bias are in its
    interval. Into the difference's go the laboratory's error, what a vein lacks of a finger's glucose after food
    (:func:`glucolab.aligning.bias_prior.venous_error`), and the minute of the draw. Nine in ten intervals then hold
    zero where nothing is wrong: one in ten does not. A value that stands in the wear's ``checks.csv`` too has already
    moved the estimate toward itself, so that it is no test of it: `check_line` says so.
    """
    glucose = values[values["analyte"] == "glucose"].sort_values(["date", "time"], kind="stable")
    rows = [
        row for _, value in glucose.iterrows() for wear in wears if (row := _beside(value, wear, worth_noticing_mg_dl))
    ]
    return pd.DataFrame(rows, columns=LAB_CHECKS.names).astype({"check_line": "Int64"})


def _beside(value: pd.Series, measured: Measured, worth: float) -> dict[str, object] | None:
    """The row of one value and one wear, None if it was not worn then."""
    row = {
        "date": value["date"], "time": value["time"], "wear": measured.wear.name, "value_mg_dl": value["value"],
        "check_line": pd.NA, "verdict": "not_enough_data", "reason": "",
    }  # fmt: skip
    zones = measured.wear.zones
    if not value["time"]:
        # a wear that ends at midnight has nothing of the day that begins
        ends = pd.DatetimeIndex([measured.start, measured.end - pd.Timedelta(microseconds=1)])
        first, last = to_local(ends, zones).normalize()
        return row | {"reason": "no_time"} if first <= value["date"] <= last else None
    local = value["date"] + pd.Timedelta(f"{value['time']}:00" if value["time"].count(":") == 1 else value["time"])
    drawn = to_utc(pd.DatetimeIndex([local]), zones).times[0]
    if pd.isna(drawn) or not measured.start <= drawn < measured.end:
        return None
    row["check_line"] = _find_check(drawn, value["value"], measured.wear.checks)
    estimate = _estimate_at(drawn, measured)
    if estimate is None:
        return row | {"reason": "no_reading"}
    centre, low, high, sd, moved = estimate
    fed = follows_food(pd.DatetimeIndex([drawn]), measured.wear.meals)
    half = Z * np.sqrt(sd**2 + float(venous_error(value["value"], fed)[0]) ** 2 + moved**2)
    difference = centre - value["value"]
    return row | {
        "raw_mg_dl": _reading_at(drawn, measured.wear.glucose), "sensor_mg_dl": centre, "low_mg_dl": low,
        "high_mg_dl": high, "difference_mg_dl": difference, "difference_low_mg_dl": difference - half,
        "difference_high_mg_dl": difference + half,
        "verdict": decide_verdict(difference - half, difference + half, worth),
    }  # fmt: skip


def _estimate_at(drawn: pd.Timestamp, measured: Measured) -> tuple[float, float, float, float, float] | None:
    """Blood at a moment: centre, 90 % interval, its SD, and what the minute of the draw may have moved. [mg/dL]

    None where no usable reading lies within reach: the trace bridges twice that and no more.
    """
    trace = measured.trace
    place = float(trace.cells(pd.DatetimeIndex([drawn]))[0])
    low = int(np.clip(np.floor(place), 0, len(trace.time) - 2))
    part = place - low
    ends = trace.glucose_mg_dl[low : low + 2]
    if np.isnan(ends).any():
        return None
    centre, sd = (float(pair @ [1 - part, part]) for pair in (ends, trace.sd_mg_dl[low : low + 2]))
    moved = abs(float(ends[1] - ends[0])) / GRID_MIN * DRAW_TIME_SD_MIN
    return centre, centre - Z * sd, centre + Z * sd, sd, moved


def _reading_at(drawn: pd.Timestamp, glucose: pd.DataFrame) -> float:
    """The nearest reading as measured. [mg/dL]"""
    known = glucose[glucose["glucose_mg_dl"].notna()]
    return float(known["glucose_mg_dl"].iloc[int((known["time"] - drawn).abs().argmin())])


def _find_check(drawn: pd.Timestamp, value_mg_dl: float, checks: pd.DataFrame) -> Any:
    """Line of checks.csv that holds the same value within 15 min and is not from a finger, NA if none does."""
    same = (
        ((checks["time"] - drawn).abs() <= _REACH)
        & ((checks["glucose_mg_dl"] / value_mg_dl - 1).abs() <= SAME_IN_TWO_UNITS)
        & checks["source"].fillna("").ne("fingerstick")
    )
    return int(checks.index[same][0]) if same.any() else pd.NA
