"""What if hours are missing? Hours and hours after meals taken out of whole traces: part f.

The smoothed trace is the blood, twelve checks come from it. A fifth of the time goes in pieces of three hours at any
hour, or the time from a quarter of an hour to two and a half hours after every second meal, by coin: then what is
missing is what is high. *Mean* is judged against the whole trace's blood with all errors in its interval. *Mean,
filling alone* is, without any checks, the estimate less that of the whole trace, against 0, and its interval is that of
the hours alone: the sensor's part, far larger, would hide what filling does.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_wear
from glucolab.intervals import normal_half_width
from glucolab.record import WearPeriod
from glucolab.results import WearAnalysis
from tests.known_truth.real_traces.blood import choose_moments, draw_curve, draw_meter, run_ahead, take_checks
from tests.known_truth.real_traces.joined import begin_of
from tests.known_truth.real_traces.recordings import Recorded
from tests.known_truth.real_traces.rows import NOTHING, Interval, Row, read_estimate
from tests.known_truth.real_traces.two_sensors import analyse_with, make_rng

WHOLE, ANY, AFTER_MEALS = "f: whole trace", "f: a fifth of the hours missing", "f: hours after meals missing"
CHECKS = 12
PIECE, SHARE = pd.Timedelta(hours=3), 0.2
FROM, TO = pd.Timedelta(minutes=15), pd.Timedelta(minutes=150)
OF_MEALS = 0.5


def judge_removed(one: Recorded, wear: WearPeriod, draws: int) -> list[Row]:
    """A settled wear, with and without the hours."""
    unchecked = analyse_wear(wear, one.study)
    return [row for draw in range(draws) for row in _judge(one, wear, unchecked, draw, draws)]


def _judge(one: Recorded, wear: WearPeriod, unchecked: WearAnalysis, draw: int, draws: int) -> Iterator[Row]:
    rng, people = make_rng("f", one.name, draw), (one.name,)
    blood = run_ahead(rng, draw_curve(wear)).between(wear.start, wear.end)
    checks = take_checks(rng, blood, choose_moments(rng, blood, CHECKS), draw_meter(rng, draw, draws))
    truth = float(np.nanmean(blood.mg_dl))
    whole = analyse_with(wear, one.study, checks)
    yield Row(WHOLE, "mean", people, truth, *read_estimate(whole.summary["mean"]))
    starts = {ANY: choose_pieces(rng, wear), AFTER_MEALS: choose_meals(rng, wear)}
    lengths = {ANY: PIECE, AFTER_MEALS: TO - FROM}
    for kind, begins in starts.items():
        if len(begins):
            left = without(wear, begins, lengths[kind])
            found = analyse_with(left, one.study, checks)
            yield Row(kind, "mean", people, truth, *read_estimate(found.summary["mean"]))
            filled = filling_alone(analyse_wear(left, one.study), unchecked)
            yield Row(kind, "mean, filling alone", people, 0.0, *filled)


def choose_pieces(rng: np.random.Generator, wear: WearPeriod) -> pd.DatetimeIndex:
    """Starts of pieces that do not overlap and make up a fifth of the wear."""
    slots = pd.date_range(wear.start, wear.end - PIECE, freq=PIECE)
    return slots[np.sort(rng.choice(len(slots), round(SHARE * len(slots)), replace=False))]


def choose_meals(rng: np.random.Generator, wear: WearPeriod) -> pd.DatetimeIndex:
    """A quarter of an hour after some of the meals."""
    if not len(wear.meals):
        return pd.DatetimeIndex([], tz="UTC")
    begins = begin_of(wear.meals)
    return begins[rng.random(len(begins)) < OF_MEALS] + FROM


def without(wear: WearPeriod, begins: pd.DatetimeIndex, length: pd.Timedelta) -> WearPeriod:
    """The wear without its readings of some spans."""
    times = wear.glucose["time"]
    gone = np.zeros(len(times), bool)
    for begin in begins:
        gone |= times.between(begin, begin + length, inclusive="left").to_numpy()
    return replace(wear, tables={**wear.tables, "glucose": wear.glucose[~gone]})


def filling_alone(found: WearAnalysis, whole: WearAnalysis) -> Interval:
    """How far the mean moved from that of the whole trace, with the interval that the hours have."""
    if found.summary["mean"] is None or whole.summary["mean"] is None:
        return NOTHING
    moved = found.summary["mean"]["estimate"] - whole.summary["mean"]["estimate"]
    half = normal_half_width(found.figures.variances["hours"])
    return moved, moved - half, moved + half
