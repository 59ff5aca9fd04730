"""Do two sensors of one body agree, and do intervals hold what was between them? Parts a and b.

(a) Six checks by day are invented half-way between two sensors and given to both. Their estimates are set against each
other as independent ones: the difference is to be 0 within the root of the summed variances. (What both share, the
checks' own errors, makes that interval the more generous.)

(b) Blood is put on the way from the sensor that is judged to the other one, at 1/√2 of the way: that leaves each
sensor as far from blood as one of two independent errors of one size. Checks are drawn from that blood by a meter.
Each sensor is judged in turn. Minutes in a range for people without diabetes are counted of wearers alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from zlib import crc32

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_wear
from glucolab.record import Study, WearPeriod
from glucolab.results import WearAnalysis
from tests.known_truth.real_traces.blood import Curve, choose_moments, draw_meter, mix, run_ahead, take_checks
from tests.known_truth.real_traces.pairs import Pair
from tests.known_truth.real_traces.rows import Interval, Row, read_estimate, subtract

AGREE = "a: two sensors, the same 6 checks"
BETWEEN = {
    "b: blood between two, 2 checks": (2, 0),
    "b: blood between two, 6 checks": (6, 0),
    "b: blood between two, 12 checks": (12, 0),
    "b: blood between two, 6 checks, 2 on waking": (6, 2),
}
"""Checks, and how many of them on waking."""
SHARE = 2**-0.5
"""Of the way to the other sensor."""
SEED = 20261129
SUMMED = {"mean": "mean", "overnight mean": "overnight_mean", "SD": "sd"}
MINUTES = {"minutes below": "below_range", "minutes in range": "in_range", "minutes above": "above_range"}


def make_rng(part: str, name: str, draw: int) -> np.random.Generator:
    """The same draws of one person in one part, whoever else is judged."""
    return np.random.default_rng([SEED, crc32(part.encode()), crc32(name.encode()), draw])


def analyse_with(wear: WearPeriod, study: Study, checks: pd.DataFrame) -> WearAnalysis:
    """One wear with these checks."""
    return analyse_wear(replace(wear, meter="meter", tables={**wear.tables, "checks": checks}), study)


def judge_agreement(pair: Pair, draws: int) -> list[Row]:
    """Part a, for one person."""
    return [row for draw in range(draws) for row in _agree(pair, draw, draws)]


def _agree(pair: Pair, draw: int, draws: int) -> Iterator[Row]:
    rng = make_rng("a", pair.name, draw)
    blood = run_ahead(rng, mix(*pair.curves, 0.5)).between(pair.wears[0].start, pair.wears[0].end)
    checks = take_checks(rng, blood, choose_moments(rng, blood, 6), draw_meter(rng, draw, draws))
    first, second = (analyse_with(wear, pair.study, checks) for wear in pair.wears)
    for figure in ("mean", "overnight mean"):
        ends = [read_estimate(one.summary[SUMMED[figure]]) for one in (first, second)]
        yield Row(AGREE, figure, (pair.name,), 0.0, *subtract(ends[1], ends[0]))
    rises = usable_rises(first).merge(usable_rises(second), on="time")
    for row in rises.itertuples(index=False):
        yield Row(AGREE, "meal rise", (pair.name,), 0.0, *subtract(tuple(row[4:7]), tuple(row[1:4])))


def usable_rises(analysis: WearAnalysis) -> pd.DataFrame:
    """Time, rise and its ends, of the meals whose two hours may be used."""
    found = analysis.tables["meal_responses"]
    found = found[found["usable_2h"].fillna(False).astype(bool)]
    return found[["time", "rise_mg_dl", "rise_low_mg_dl", "rise_high_mg_dl"]]


def judge_between(pair: Pair, draws: int) -> list[Row]:
    """Part b, for one person."""
    rows: list[Row] = []
    for draw in range(draws):
        for judged in (0, 1):
            rng = make_rng("b", pair.name, 2 * draw + judged)
            shown = mix(pair.curves[judged], pair.curves[1 - judged], SHARE)
            blood = run_ahead(rng, shown).between(pair.wears[0].start, pair.wears[0].end)
            meter = draw_meter(rng, draw, draws)
            for kind, (checks, waking) in BETWEEN.items():
                drawn = take_checks(rng, blood, choose_moments(rng, blood, checks, waking), meter)
                found = analyse_with(pair.wears[judged], pair.study, drawn)
                rows += score_figures(kind, pair.name, blood, found, pair.study, minutes=pair.wearer)
    return rows


def score_figures(
    kind: str, name: str, blood: Curve, found: WearAnalysis, study: Study, *, minutes: bool
) -> Iterator[Row]:
    """Every figure of a wear beside that of the blood."""
    truth = blood.figures(study.range_low_mg_dl, study.range_high_mg_dl)
    told = {figure: read_estimate(found.summary[key]) for figure, key in SUMMED.items()}
    if minutes:
        of_day = found.summary["minutes_per_day"] or {}
        told |= {figure: read_estimate(of_day.get(key)) for figure, key in MINUTES.items()}
    yield from (Row(kind, figure, (name,), truth[figure], *ends) for figure, ends in told.items())
    rises = usable_rises(found)
    for true, row in zip(blood.rises(pd.DatetimeIndex(rises["time"])), rises.itertuples(index=False), strict=True):
        if np.isfinite(true):
            ends: Interval = (row.rise_mg_dl, row.rise_low_mg_dl, row.rise_high_mg_dl)
            yield Row(kind, "meal rise", (name,), float(true), *ends)
