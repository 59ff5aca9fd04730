"""Is a clock that is off found, and none alleged that is right? Logs and sensors moved by an hour: part g.

The log of everybody's first sensor is left where it is and moved by an hour either way; so is the second of two sensors
worn at once, forward. Found *near* is within a quarter of an hour: its intervals are that wide, so that `hold` is the
share of those found. `claimed` is the share of those who are told that a clock is off.

Nobody knows whether the clocks of the recordings were right, so it is found without a look at what is judged. Two
sensors' readings move together, or do so at some distance. Of a log, the readings about all meals are averaged: people
climb steepest some 27 min after they write a meal, and where that is half an hour from there the log is taken to be
off by as much. What was off before is added to the truth and counted apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.aligning.trace import estimate_trace
from glucolab.aligning.trace_record import Trace
from glucolab.analysis import analyse_wear
from glucolab.cleaning.clean import clean_wear
from glucolab.intervals import Estimate
from glucolab.measuring.log_clock import estimate_clocks_apart, is_log_off, is_off
from glucolab.record import WearPeriod
from glucolab.relating.statistics.claims import CLAIMS
from tests.known_truth.real_traces.blood import STEP_MIN, draw_curve
from tests.known_truth.real_traces.joined import begin_of
from tests.known_truth.real_traces.pairs import Pair
from tests.known_truth.real_traces.recordings import Recorded, settle
from tests.known_truth.real_traces.rows import NOTHING, Interval, Row, read_estimate

MOVED_MIN = (-60.0, 60.0)
NEAR_MIN = 15.0
LOG, SENSORS = "g: clock of the log", "g: clocks of two sensors"
UNMOVED, MOVED, NEAR = "unmoved", "moved by 60 min", "moved, near"
APART, DIABETES = ", apart", ", diabetes"
USUAL_CLIMB_MIN, LEAST_OFF_MIN = 27.0, 30.0
"""Of 49 open wears 45 climb steepest 15 to 45 min after a meal is written, in the middle at 27; four at 80 to 90."""
LEAST_G = 15.0
AROUND_MIN = np.arange(-150, 181, STEP_MIN)


def judge_log_clock(one: Recorded) -> list[Row]:
    """The log of somebody's first sensor, unmoved and moved."""
    wear = settle(one.wears[0])
    if wear is None or not len(wear.meals):
        return []
    off = USUAL_CLIMB_MIN - find_climb_min(wear)
    off = off if abs(off) >= LEAST_OFF_MIN else 0.0
    kind = LOG + ("" if one.wearer else DIABETES) + (APART if off else "")
    found = {by: analyse_wear(move_log(wear, by), one.study).summary["log_clock_min"] for by in (0.0, *MOVED_MIN)}
    return list(_score(kind, one.name, found, off))


def find_climb_min(wear: WearPeriod) -> float:
    """When readings climb steepest after a meal is written: the middle of the half hour of all meals' mean. [min]"""
    curve = draw_curve(wear)
    eaten = begin_of(wear.meals[wear.meals["carbs_g"].fillna(np.inf) >= LEAST_G])
    around = np.array([curve.at(eaten + pd.Timedelta(minutes=int(minute))) for minute in AROUND_MIN])
    mean = np.nanmean(around - np.nanmean(around, axis=0), axis=1)
    return float(AROUND_MIN[:-6][np.argmax(mean[6:] - mean[:-6])] + 15)


def judge_two_clocks(pair: Pair) -> list[Row]:
    """The second of two sensors, unmoved and moved; what is true is how their readings move together."""
    first, second = pair.wears
    trace, later = trace_of(first), move_sensor(second, MOVED_MIN[1])
    found = {by: estimate_clocks_apart(trace, trace_of(wear)) for by, wear in ((0.0, second), (MOVED_MIN[1], later))}
    return list(_score(SENSORS + (APART if pair.ahead_min else ""), pair.name, found, pair.ahead_min))


def _score(kind: str, name: str, found: dict[float, Estimate | None], ahead: float) -> Iterator[Row]:
    off = is_off if kind.startswith(SENSORS) else is_log_off
    yield Row(kind, UNMOVED, (name,), ahead, *read_estimate(found[0.0]), allege(found[0.0], off))
    for by, estimate in found.items():
        if by:
            yield Row(kind, MOVED, (name,), ahead + by, *read_estimate(estimate), allege(estimate, off))
            yield Row(kind, NEAR, (name,), ahead + by, *_around(estimate))


def _around(found: Estimate | None) -> Interval:
    if found is None:
        return NOTHING
    return found["estimate"], found["estimate"] - NEAR_MIN, found["estimate"] + NEAR_MIN


def allege(found: Estimate | None, off: Callable[[Estimate | None], bool] = is_log_off) -> str:
    """A verdict: whether a clock, of a log or by the rule `off`, is said to be fast, slow or neither."""
    if found is None:
        return "not_enough_data"
    if not off(found):
        return "cannot_tell_yet"
    return "higher" if found["estimate"] > 0 else "lower"


def name_alleged(rows: Sequence[Row]) -> str:
    """Who is told that a clock is off though nobody moved it, and by how much."""
    unmoved = [row for row in rows if row.kind.startswith((LOG, SENSORS)) and row.figure == UNMOVED]
    told = [f"{row.people[0]} {row.estimate:+.0f} min ({row.kind})" for row in unmoved if row.verdict in CLAIMS]
    return f"clocks said to be off unmoved, {len(told)} of {len(unmoved)}: {'; '.join(told)}" if unmoved else ""


def trace_of(wear: WearPeriod) -> Trace:
    """Blood as it is estimated from one wear."""
    return estimate_trace(wear, clean_wear(wear)).without_draws()


def move_log(wear: WearPeriod, minutes: float) -> WearPeriod:
    """The wear with its meals written some minutes later."""
    meals = wear.meals.assign(time=wear.meals["time"] + pd.Timedelta(minutes=minutes))
    return replace(wear, tables={**wear.tables, "meals": meals})


def move_sensor(wear: WearPeriod, minutes: float) -> WearPeriod:
    """The wear with its readings and their span some minutes later; what was eaten stays."""
    by = pd.Timedelta(minutes=minutes)
    glucose = wear.glucose.assign(time=wear.glucose["time"] + by)
    return replace(wear, start=wear.start + by, end=wear.end + by, tables={**wear.tables, "glucose": glucose})
