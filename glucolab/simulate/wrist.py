"""What does the wrist write? Steps, heart rate and energy use of an invented life, by the minute or by the quarter."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.simulate.blood import Lived

CADENCE, CADENCE_SD, WALK_SD = 106.0, 7.0, 5.0
"""A person's usual cadence on a walk, how people and one person's walks differ [steps/min]: young men choose 117 with
SD 9 (PMC10851523, references A3), after dinner slower; assumed. Slower walks are harder to find, faster ones easier."""
_RUNS_AT, _STRENGTH, _BICYCLE = (158.0, 6.0), (9.0, 10.0), (3.0, 5.0)
"""Steps a minute of other efforts and their SD [1/min]: people run from 140 on; the others assumed, what a wrist counts
of them. More would look like walks."""
ERRANDS_A_DAY, ERRAND_MIN, ERRAND_CADENCE = 22, (1, 5), (50.0, 100.0)
"""Short ways about the house and office, their minutes and cadences [1/d], [min], [1/min]; assumed: 5,000-7,000 steps
of a day with two walks. Longer ones would be walks that nobody took for one."""
CHORES_A_DAY, CHORE_MIN, CHORE_CADENCE = 2, (10, 35), (15.0, 50.0)
"""Housework and shopping, as errands; assumed. At a higher cadence they pass for walks."""
IDLE_SHARE, IDLE_STEPS = 0.12, 9.0
"""Share of idle minutes with some steps, and their mean [1], [1/min]; assumed: 1-19 is called incidental movement."""
CHARGE_MIN, BARE_SHARE = (40, 90), 0.08
"""Minutes on the charger each evening, and share of days on which the wrist is bare from noon [min], [1]; assumed. Nil
would never try what a partly worn day does."""
_REST_BPM, _BPM_A_MET, _BPM_SD = 60.0, 14.0, 4.0
"""Heart rate at rest, its rise for each MET above rest, its noise [beats/min]; assumed. No walk is found by it."""
_METS_A_STEP = 0.02
"""Energy use above rest for each step a minute [MET min]: 3 MET at 100 (references A3), one of which is rest. Too much
makes brisk walks vigorous."""
_OTHER_METS = {"run": 9.0, "strength": 4.5, "bicycle": 6.5}
"""Energy use of the other efforts [MET]: common practice, no source. It moves no glucose."""


def write_movement(
    rng: np.random.Generator, lived: Lived, step_min: int, start: pd.Timestamp, end: pd.Timestamp
) -> pd.DataFrame:
    """Rows of movement.csv from `start` to `end` [UTC], every `step_min` minutes, none while it was not worn.

    Returns
    -------
    DataFrame
        ``time, steps, heart_rate_bpm, mets``.
    """
    steps, other_mets = _take_steps(rng, lived)
    mets = np.maximum(1.0 + _METS_A_STEP * steps, other_mets)
    beats = _REST_BPM + _BPM_A_MET * (mets - 1) + _BPM_SD * rng.standard_normal(len(mets))
    minutes = pd.DataFrame({"time": lived.time, "steps": steps, "heart_rate_bpm": beats, "mets": mets})
    worn = _is_worn(rng, lived) & (lived.time >= start) & (lived.time < end)
    rows = minutes[worn].groupby(minutes["time"].dt.floor(f"{step_min}min")[worn])
    sums = rows.agg(steps=("steps", "sum"), heart_rate_bpm=("heart_rate_bpm", "mean"), mets=("mets", "mean"))
    whole = sums[(rows.size() == step_min).to_numpy()]
    return whole.reset_index().round({"steps": 0, "heart_rate_bpm": 0, "mets": 1}).astype({"steps": float})


def _take_steps(rng: np.random.Generator, lived: Lived) -> tuple[np.ndarray, np.ndarray]:
    """Steps of each minute, and energy use of what is not walked [MET], shape (n,) each."""
    n = len(lived.time)
    idle = np.where(rng.random(n) < IDLE_SHARE, rng.exponential(IDLE_STEPS, n), 0.0)
    awake = ~_inside(lived, pd.DatetimeIndex(lived.sleep["start"]), pd.DatetimeIndex(lived.sleep["end"]))
    steps = np.round(idle * awake)
    days = len(lived.days.dates)
    for a_day, minutes, cadence in (
        (CHORES_A_DAY, CHORE_MIN, CHORE_CADENCE),
        (ERRANDS_A_DAY, ERRAND_MIN, ERRAND_CADENCE),
    ):
        for first in rng.integers(0, n, rng.poisson(a_day * days)):
            span = slice(first, first + int(rng.integers(*minutes)))
            pace = rng.uniform(*cadence) + 5.0 * rng.standard_normal(len(steps[span]))
            steps[span] = np.where(awake[span], np.maximum(steps[span], np.round(pace)), steps[span])
    own = CADENCE + CADENCE_SD * rng.standard_normal()
    paces = {"run": _RUNS_AT, "strength": _STRENGTH, "bicycle": _BICYCLE}
    mets = np.zeros(n)
    begins, lasts = lived.minute(lived.activity["start"]), lived.activity["minutes"]
    for begin, last, kind in zip(begins, lasts, lived.activity["kind"], strict=True):
        mean, spread = paces.get(kind, (own + WALK_SD * rng.standard_normal(), 4.0))
        first, stop = int(begin), min(int(np.ceil(begin + last)), n)
        grid = np.arange(first, stop)
        share = np.clip(np.minimum(grid + 1, begin + last) - np.maximum(grid, begin), 0, 1)
        pace = np.maximum(mean + spread * rng.standard_normal(len(grid)), 0.0)
        steps[grid] = np.round(share * pace + (1 - share) * steps[grid])
        mets[grid] = _OTHER_METS.get(kind, 0.0)
    return steps, mets


def _inside(lived: Lived, starts: pd.DatetimeIndex, ends: pd.DatetimeIndex) -> np.ndarray:
    """True for minutes within any of the spans, shape (n,)."""
    inside = np.zeros(len(lived.time), dtype=bool)
    for a, b in zip(lived.minute(starts), lived.minute(ends), strict=True):
        inside[max(int(a), 0) : max(int(b), 0)] = True
    return inside


def _is_worn(rng: np.random.Generator, lived: Lived) -> np.ndarray:
    """True but for an hour or so on the charger each evening, and for days on which it was left there at noon."""
    midnights = lived.days.edges[:-1]
    days = len(midnights)
    charged = midnights + pd.to_timedelta(rng.uniform(21.5, 23.0, days) * 60, unit="min")
    until = charged + pd.to_timedelta(rng.integers(*CHARGE_MIN, days), unit="min")
    bare = rng.random(days) < BARE_SHARE
    noon, midnight = midnights[bare] + pd.Timedelta(hours=12), midnights[bare] + pd.Timedelta(hours=24)
    return ~(_inside(lived, charged, until) | _inside(lived, noon, midnight))
