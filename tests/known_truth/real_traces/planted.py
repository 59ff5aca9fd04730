"""Is what was planted found, and held? Known effects laid over real traces: part e.

A walk after a meal, by coin, takes 40 % off what glucose is above where it was before the meal, for two hours and less
and less in a third. Stress of a day, drawn from 0 to 10, raises the whole day by 2 mg/dL a point, and a day of the
wearer's own ("late at work", by coin) by 8; from day to day the level passes over within an hour.

The truth of the walk is 40 % of the mean rise in the blood behind the readings before anything was planted: over the
meals that may be used, with a walk or without.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_study
from glucolab.record import WearPeriod
from glucolab.results import StudyAnalysis
from tests.known_truth.real_traces.blood import draw_curve, run_ahead
from tests.known_truth.real_traces.halves import shift
from tests.known_truth.real_traces.joined import Joined, as_study, begin_of, dates_of, write_days, write_walks
from tests.known_truth.real_traces.nil import effect_row
from tests.known_truth.real_traces.rows import Row
from tests.known_truth.real_traces.two_sensors import make_rng, usable_rises

KIND = "e: planted in real traces"
WALK_TAKES = 0.4
PER_POINT_MG_DL, LATE_MG_DL, LATE = 2.0, 8.0, "late at work"
FULL_MIN, GONE_MIN = 120.0, 180.0
PASSES_OVER_MIN = 60.0


def judge_planted(joined: Joined) -> list[Row]:
    """One study with all of them."""
    rng = make_rng("e", "", joined.seed)
    analysis = analyse_study(as_study([plant(rng, wear) for wear in joined.wears]))
    effects = analysis.tables["effects"].set_index(["factor", "outcome"])
    asked = {
        ("walk after, -40 %", "walk_after", "rise_mg_dl"): -WALK_TAKES * mean_rise(rng, joined, analysis),
        ("stress, +2 a point", "stress", "mean_mg_dl"): PER_POINT_MG_DL,
        ("own yes or no, +8", f"covariate:{LATE}", "mean_mg_dl"): LATE_MG_DL,
    }
    return [
        effect_row(KIND, figure, joined.people, truth, effects.loc[factor, outcome])
        for (figure, factor, outcome), truth in asked.items()
    ]


def plant(rng: np.random.Generator, wear: WearPeriod) -> WearPeriod:
    """The wear with all effects in its readings, and what causes them in its log."""
    n = len(dates_of(wear))
    stress, late = rng.integers(0, 11, n).astype(float), (rng.random(n) < 0.5).astype(float)
    begins = begin_of(wear.meals) if len(wear.meals) else pd.DatetimeIndex([], tz="UTC")
    walked = begins[rng.random(len(begins)) < 0.5]
    times = pd.DatetimeIndex(wear.glucose["time"])
    values = take_off_rises(times, wear.glucose["glucose_mg_dl"].to_numpy(dtype=float), walked)
    values = values + raise_days(times, wear, PER_POINT_MG_DL * (stress - 5) + LATE_MG_DL * (late - 0.5))
    glucose = shift(wear.glucose.assign(glucose_mg_dl=values), 0.0)
    wear = replace(wear, tables={**wear.tables, "glucose": glucose})
    return write_walks(write_days(wear, {"stress": stress, LATE: late}), walked)


def take_off_rises(times: pd.DatetimeIndex, values: np.ndarray, walked: pd.DatetimeIndex) -> np.ndarray:
    """Readings with part of what lies above the half hour before each walked meal taken off, shape (n,)."""
    out = values.copy()
    for begin in walked:
        minutes = np.asarray((times - begin) / pd.Timedelta(minutes=1), dtype=float)
        before = (minutes >= -30) & (minutes < 0)
        if not before.any():
            continue
        part = np.interp(minutes, [0, FULL_MIN, GONE_MIN], [WALK_TAKES, WALK_TAKES, 0.0], left=0.0)
        out -= part * np.maximum(out - out[before].mean(), 0.0)
    return out


def raise_days(times: pd.DatetimeIndex, wear: WearPeriod, by_mg_dl: np.ndarray) -> np.ndarray:
    """What each reading is raised by if each day is, passing over within an hour about midnight, shape (n,)."""
    midnights = np.asarray(dates_of(wear).tz_localize("UTC").as_unit("us").asi8) / 60e6
    place = times.as_unit("us").asi8 / 60e6
    steps = np.clip((place[:, None] - midnights[None, 1:]) / PASSES_OVER_MIN + 0.5, 0.0, 1.0)
    return by_mg_dl[0] + steps @ np.diff(by_mg_dl)


def mean_rise(rng: np.random.Generator, joined: Joined, analysis: StudyAnalysis) -> float:
    """Of the usable meals, as it was before anything was planted. [mg/dL]"""
    found = [
        run_ahead(rng, draw_curve(wear)).rises(pd.DatetimeIndex(usable_rises(one)["time"]))
        for wear, one in zip(joined.wears, sorted(analysis.wears, key=lambda one: one.wear.name), strict=True)
    ]
    return float(np.nanmean(np.concatenate(found)))
