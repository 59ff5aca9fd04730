"""Is a change claimed where none was planted, and found where one was? One real wear cut in two: part c.

Each half is a wear of its own, with twelve checks by one meter from two vials of strips. Where one sensor was worn,
the smoothed trace is the blood, and each half was seen by a sensor of its own: its readings are moved by a bias of the
size and with the tails that two sensors of one model show (SD 0.10 of the level, Student's t with 5 degrees; spread
stretched by SD 0.08). Where two were worn, blood lies between them as in part b, and the readings stay what they were:
the real sensor's bias, drift and hours, in both halves. What is planted is taken off either half, one after the other:
these people's own halves, which differ by chance, then help a claim as often as they hinder it.

There are two truths. *As lived*: the person went on living as before, so nothing changed but what was planted. It is
what a comparison of usual means answers, and what a claim is held against. *As worn*: the halves' own means of blood,
all hours weighing alike, which differ by the days that fell into them; an interval that has the days in it should hold
it more often than nine times in ten.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_study
from glucolab.record import Study, WearPeriod
from tests.known_truth.real_traces.blood import (
    VIAL_SD,
    Curve,
    choose_moments,
    draw_curve,
    draw_meter,
    mix,
    run_ahead,
    take_checks,
)
from tests.known_truth.real_traces.pairs import Pair
from tests.known_truth.real_traces.recordings import Recorded, cut
from tests.known_truth.real_traces.rows import Row
from tests.known_truth.real_traces.two_sensors import SHARE, make_rng

CHECKS = 12
TAKEN_OFF_MG_DL = (10.0, 20.0)
BIAS_SD, BIAS_DEGREES, STRETCH_SD = 0.10, 5, 0.08
"""Two open recordings and two of one type: 0.066 to 0.12 between sensors."""
FLOOR_MG_DL = 40.0
LEAST_TO_PLANT_IN_MG_DL = 90.0
"""A sensor that reads lower already would show its floor for hours if 20 were taken off."""
ITSELF, HALVES_BETWEEN = "c: halves of a wear", "c: halves, blood between two"
LIVED, WORN = "change as lived", "change as worn"


def judge_own_halves(one: Recorded, wear: WearPeriod, draws: int) -> list[Row]:
    """A settled wear whose smoothed trace is taken for blood."""
    shown = draw_curve(wear)
    return [
        row
        for draw in range(draws)
        for row in _judge(ITSELF, (one.name, one.study), wear, shown, make_rng("c", one.name, draw))
    ]


def judge_halves_between(pair: Pair, draws: int) -> list[Row]:
    """Each of two sensors in turn, with blood on the way to the other."""
    rows: list[Row] = []
    for draw in range(draws):
        for judged in (0, 1):
            rng = make_rng("c between", pair.name, 2 * draw + judged)
            shown = mix(pair.curves[judged], pair.curves[1 - judged], SHARE)
            rows += _judge(HALVES_BETWEEN, (pair.name, pair.study), pair.wears[judged], shown, rng)
    return rows


def _judge(
    kind: str, whose: tuple[str, Study], wear: WearPeriod, shown: Curve, rng: np.random.Generator
) -> Iterator[Row]:
    name, study = whose
    halves = cut_in_two(wear)
    if kind == ITSELF:
        halves = [worn_by_another(rng, half) for half in halves]
    blood, meter = run_ahead(rng, shown), draw_meter(rng)
    vials = meter * (1 + VIAL_SD * rng.standard_normal(2))
    lived = [blood.between(half.start, half.end) for half in halves]
    moments = [choose_moments(rng, part, CHECKS) for part in lived]
    worn = lived[1].mean_of_hours() - lived[0].mean_of_hours()
    errors = rng.integers(2**32, size=2)
    high = wear.glucose["glucose_mg_dl"].mean() >= LEAST_TO_PLANT_IN_MG_DL
    planted = [(by, half) for by in TAKEN_OFF_MG_DL for half in (0, 1)] if high else []
    for by, lowered in [(0.0, 1), *planted]:
        pair = []
        for number, (half, part, times, vial, seed) in enumerate(
            zip(halves, lived, moments, vials, errors, strict=True)
        ):
            off = -by * (number == lowered)
            lower = Curve(part.time, part.mg_dl + off)
            checks = take_checks(np.random.default_rng(seed), lower, times, vial)
            pair.append(replace(half, tables={"glucose": shift(half.glucose, off), "checks": checks}))
        found = analyse_study(replace(study, wears=tuple(pair))).tables["comparisons"]
        (row,) = found[found["level"] == "wear"].itertuples()
        ends, change = (row.difference_mg_dl, row.low_mg_dl, row.high_mg_dl), by * (1 - 2 * lowered)
        yield Row(name_kind(kind, by), LIVED, (name,), change, *ends, row.verdict)
        yield Row(name_kind(kind, by), WORN, (name,), change + worn, *ends)


def name_kind(kind: str, by: float) -> str:
    """How a table calls halves of which one was lowered by so much. [mg/dL]"""
    return f"{kind}, {by:g} taken off one" if by else f"{kind}, as they were"


def cut_in_two(wear: WearPeriod) -> list[WearPeriod]:
    """Two halves, one after the other; of one model and with one meter."""
    edges = [wear.start, wear.start + (wear.end - wear.start) / 2, wear.end]
    moment = pd.Timedelta(microseconds=1)
    spans = zip(("first half", "second half"), edges[:-1], edges[1:], strict=True)
    return [
        replace(cut(wear, start, end - moment), name=name, end=end, sensor=name, meter="meter")
        for name, start, end in spans
    ]


def worn_by_another(rng: np.random.Generator, wear: WearPeriod) -> WearPeriod:
    """The same days as another sensor of the model would have shown them: off at the level, stretched about it."""
    values = wear.glucose["glucose_mg_dl"]
    level = values.mean()
    off = BIAS_SD * rng.standard_t(BIAS_DEGREES) / np.sqrt(BIAS_DEGREES / (BIAS_DEGREES - 2))
    moved = level * (1 + off) + (1 + STRETCH_SD * rng.standard_normal()) * (values - level)
    glucose = shift(wear.glucose.assign(glucose_mg_dl=moved), 0.0)
    return replace(wear, tables={**wear.tables, "glucose": glucose})


def shift(table: pd.DataFrame, by_mg_dl: float) -> pd.DataFrame:
    """Readings so much higher, in whole mg/dL and no lower than a sensor's floor."""
    values = (table["glucose_mg_dl"] + by_mg_dl).round().clip(lower=FLOOR_MG_DL)
    return table.assign(glucose_mg_dl=values)
