"""What if the fault were known? Jumps and pressure lows put into wears, and flags counted against them.

The shapes are what a low on a sensor could look like, none taken from the detector. Truth of a low is every
reading that it moved by more than 4 mg/dL (what it hides cannot be told from noise), of a jump every planted
reading. Only what the wear itself was not flagged for before is counted: a reading flagged without anything
planted is neither found nor wrong, a clean one flagged anew is wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from glucolab.cleaning.clean import clean_wear
from glucolab.record import WearPeriod
from tests.hand_made import make_glucose, make_times, make_wear

MOVED_MG_DL = 4.0
DEEP_MG_DL = 18.0
SHAPES: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "box": lambda u: np.ones_like(u),
    "ramps": lambda u: np.clip(np.minimum(u, 1 - u) / 0.2, 0, 1),
    "slow in, fast out": lambda u: np.clip(np.minimum(u / 0.7, (1 - u) / 0.08), 0, 1),
    "fast in, slow out": lambda u: np.clip(np.minimum(u / 0.08, (1 - u) / 0.7), 0, 1),
    "half-sine": lambda u: np.sin(np.pi * u),
    "triangle": lambda u: 1 - np.abs(2 * u - 1),
    "sawtooth": lambda u: np.where(u < 0.75, np.clip(u / 0.1, 0, 1) * (1 - u / 0.75 * 0.6), -0.35 * (1 - u) / 0.25),
    "exponential": lambda u: np.where(u < 0.7, 1 - np.exp(-u / 0.12), np.exp((0.7 - u) / 0.08)),
    "two together": lambda u: np.where(u < 0.55, np.sin(np.pi * u / 0.55), 0.7 * (u < 0.95)),
    "shallow": lambda u: np.clip(np.minimum(u, 1 - u) / 0.15, 0, 1),
}
"""Share of the depth at shares u in (0, 1) of the length."""


@dataclass
class Score:
    """Counts of readings; added up over wears."""

    truth: int = 0
    found: int = 0
    flagged: int = 0
    wrong: int = 0
    clean: int = 0

    def __add__(self, other: Score) -> Score:
        return Score(*(a + b for a, b in zip(vars(self).values(), vars(other).values(), strict=True)))

    @property
    def recall(self) -> float:
        return self.found / max(self.truth, 1)

    @property
    def precision(self) -> float:
        return 1 - self.wrong / max(self.flagged, 1)

    @property
    def lost(self) -> float:
        return self.wrong / max(self.clean, 1)


def flagged(wear: WearPeriod, flag: str) -> np.ndarray:
    """True for each reading of the file that the flag excludes, and for each that another one does, shape (2, n)."""
    readings = clean_wear(wear).readings.sort_values("row")
    return np.array([readings[flag], readings["excluded"]], dtype=bool)


def score(moved: np.ndarray, truth: np.ndarray, before: np.ndarray, now: np.ndarray) -> Score:
    """What is flagged `now` that nothing excluded `before`; a reading moved by less than counts is neither."""
    judged, untouched = ~before[1], moved == 0
    return Score(
        truth=int((truth & judged).sum()),
        found=int((truth & judged & now).sum()),
        flagged=int((now & judged & (truth | untouched)).sum()),
        wrong=int((now & judged & untouched).sum()),
        clean=int((judged & untouched).sum()),
    )


def with_values(wear: WearPeriod, values: np.ndarray) -> WearPeriod:
    return replace(wear, tables={**wear.tables, "glucose": wear.glucose.assign(glucose_mg_dl=values)})


def judge_jumps(wear: WearPeriod, rng: np.random.Generator, a_day: float = 1.5) -> Score:
    """Readings off by 20-80 mg/dL either way, at 5 minutes also two in a row."""
    before = flagged(wear, "jump")
    values = wear.glucose["glucose_mg_dl"].to_numpy()
    moved = np.zeros(len(values))
    step = steps_min(wear)
    for place in np.flatnonzero(rng.random(len(values)) < a_day * step / 1440):
        width = 1 + (step < 10 and rng.random() < 0.5)
        size = rng.uniform(20, 80) * rng.choice([-1, 1])
        around = slice(max(place - 3, 0), place + width + 3)
        here = slice(place, place + width)
        if moved[around].any() or values[here].min() + size < 45 or values[here].max() + size > 390:
            continue
        moved[here] = size
    now = flagged(with_values(wear, np.round(values + moved)), "jump")[0]
    return score(moved, moved != 0, before, now)


def judge_lows(
    wear: WearPeriod, rng: np.random.Generator, a_night: float = 0.25, shapes: tuple[str, ...] = tuple(SHAPES)
) -> dict[str, Score]:
    """Lows between midnight and six, at most one a night; over "all", each shape, and the "deep"."""
    before = flagged(wear, "pressure")
    values = wear.glucose["glucose_mg_dl"].to_numpy()
    local = pd.DatetimeIndex(wear.glucose["time"]).tz_convert(wear.zones.names[0])
    minute = (local.hour * 60 + local.minute + local.second / 60).to_numpy()
    moved, depths, shape_of = np.zeros(len(values)), np.zeros(len(values)), np.full(len(values), "", dtype=object)
    for day in np.unique(local.date):
        tonight = np.flatnonzero((local.date == day) & (minute < 360))
        shape = str(rng.choice(shapes))
        depth, length = draw_size(rng, shape)
        begin = rng.uniform(0, 360 - length)
        if rng.random() >= a_night:
            continue
        u = (minute[tonight] - begin) / length
        inside = tonight[(u > 0) & (u < 1)]
        if len(inside) and (values[inside] > 40).all():
            moved[inside] = -depth * SHAPES[shape](u[(u > 0) & (u < 1)])
            shape_of[inside], depths[inside] = shape, depth
    moved = np.maximum(moved, 41 - values) * (moved != 0)
    truth = np.abs(moved) > MOVED_MG_DL
    now = flagged(with_values(wear, np.round(values + moved)), "pressure")[0]
    scores = {"all": score(moved, truth, before, now)}
    parts = {shape: shape_of == shape for shape in shapes} | {"deep": depths >= DEEP_MG_DL}
    for name, part in parts.items():
        mine = truth & ~before[1] & part
        scores[name] = Score(int(mine.sum()), int((mine & now).sum()))
    return scores


def draw_size(rng: np.random.Generator, shape: str) -> tuple[float, float]:
    """Depth [mg/dL] and length [min] of a low: mostly 10-45 and 25-150, the shallow ones 8-14 and longer."""
    if shape == "shallow":
        return rng.uniform(8, 14), rng.uniform(90, 180)
    return float(np.clip(20 * np.exp(0.45 * rng.normal()), 8, 60)), float(
        np.clip(60 * np.exp(0.55 * rng.normal()), 20, 180)
    )


def steps_min(wear: WearPeriod) -> float:
    """Usual step between readings. [min]"""
    return float(np.median(np.diff(pd.DatetimeIndex(wear.glucose["time"]).as_unit("us").asi8)) / 60e6)


def invent_wear(seed: int, step_min: float = 5.0, days: int = 10, noise: float = 1.0) -> WearPeriod:
    """A smooth trace with white, coloured and heavy-tailed noise; unlogged meals by gamma curves; no sleep log."""
    rng = np.random.default_rng(seed)
    minutes = np.arange(0, days * 1440, 5.0)
    glucose = 95 + 6 * np.sin(2 * np.pi * (minutes / 1440 - rng.random()))
    for day in range(days):
        for hour in (7.5, 12.5, 16.0, 19.0):
            since = np.clip(minutes - day * 1440 - (hour + rng.normal(0, 0.6)) * 60, 0, None)
            peak = rng.uniform(30, 60)
            glucose += rng.uniform(5, 55) * (since / peak) ** 2 * np.exp(2 - 2 * since / peak)
    slow = lfilter([1], [1, -np.exp(-5 / 120)], rng.normal(0, 4 * np.sqrt(1 - np.exp(-10 / 120)), len(minutes)))
    coloured = lfilter([1], [1, -np.exp(-5 / 20)], rng.normal(0, 2.5 * np.sqrt(1 - np.exp(-10 / 20)), len(minutes)))
    heavy = rng.standard_t(4, len(minutes)) * 1.2
    every = round(step_min / 5)
    values = np.round(np.clip(glucose + slow + noise * (coloured + heavy + rng.normal(0, 1, len(minutes))), 41, 390))[
        ::every
    ]
    times = make_times(len(values), step_min=step_min)
    return make_wear(days=days, glucose=make_glucose(times, values), interval_min=step_min)
