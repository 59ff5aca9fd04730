"""Does whoever writes more learn less? Efforts and black coffees added to real logs: part h.

Into each settled wear of a wearer a walk after every second meal is planted as in part e, and the log is read three
times: with the walks as they are, with their effort written `moderate`, and with a black coffee (0 g) an hour after
each day's lunch. What is added says nothing new: the same meals are to be judged, and the answer about the walk is to
stay where it was. *Meals judged* is their number beside that of the log as it is (`hold`: nothing lost); *walk after*
is the effect on the rise, its truth what was planted; *walk moved* is that effect beside what the log as it is gave.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_study
from glucolab.record import WearPeriod
from glucolab.results import StudyAnalysis
from tests.known_truth.real_traces.joined import SAME_OCCASION, Joined, as_study, begin_of, place
from tests.known_truth.real_traces.nil import effect_row
from tests.known_truth.real_traces.planted import WALK_TAKES, mean_rise, plant
from tests.known_truth.real_traces.recordings import Recorded
from tests.known_truth.real_traces.rows import Row
from tests.known_truth.real_traces.two_sensors import make_rng, usable_rises

AS_IT_IS, MODERATE, COFFEE = "h: log as it is", "h: efforts written moderate", "h: coffees added"
JUDGED, WALK, MOVED = "meals judged", "walk after, -40 %", "walk moved"
LUNCH_H = (11, 15)
LATER = pd.Timedelta(hours=1)
NUTRIENTS = ("carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal")


def judge_written_more(one: Recorded, wear: WearPeriod, draws: int) -> list[Row]:
    """One settled wear, read three times a draw."""
    return [row for draw in range(draws) for row in _judge(one.name, place(wear, 0), draw)] if len(wear.meals) else []


def _judge(name: str, wear: WearPeriod, draw: int) -> Iterator[Row]:
    rng, people = make_rng("h", name, draw), (name,)
    planted = plant(rng, wear)
    logs = {AS_IT_IS: planted, MODERATE: write_efforts(planted), COFFEE: add_coffees(planted)}
    found = {kind: analyse_study(as_study([log])) for kind, log in logs.items()}
    was = found[AS_IT_IS]
    truth = -WALK_TAKES * mean_rise(rng, Joined(people, (wear,), draw), was)
    meals = times_judged(was)
    effects = {kind: one.tables["effects"].set_index(["factor", "outcome"]).loc["walk_after", "rise_mg_dl"]
               for kind, one in found.items()}  # fmt: skip
    for kind, one in found.items():
        yield effect_row(kind, WALK, people, truth, effects[kind])
        if kind != AS_IT_IS:
            kept = float(len(meals.intersection(times_judged(one))))
            yield Row(kind, JUDGED, people, float(len(meals)), kept, kept, kept)
            yield effect_row(kind, MOVED, people, effects[AS_IT_IS]["estimate"], effects[kind])


def times_judged(analysis: StudyAnalysis) -> pd.DatetimeIndex:
    """When the meals began whose rise was judged."""
    return pd.DatetimeIndex(usable_rises(analysis.wears[0])["time"])


def write_efforts(wear: WearPeriod) -> WearPeriod:
    """The wear with every effort written `moderate`."""
    activity = wear.activity.assign(effort=pd.Series("moderate", index=wear.activity.index, dtype="str"))
    return replace(wear, tables={**wear.tables, "activity": activity})


def add_coffees(wear: WearPeriod) -> WearPeriod:
    """The wear with a black coffee an hour after each day's first lunch, unless food went with it."""
    begins = begin_of(wear.meals)
    lunches = begins[(begins.hour >= LUNCH_H[0]) & (begins.hour < LUNCH_H[1])]
    lunches = lunches[~lunches.floor("D").duplicated()]
    apart = np.abs((lunches + LATER).to_numpy()[:, None] - wear.meals["time"].to_numpy())
    lunches = lunches[(apart > SAME_OCCASION.to_timedelta64()).all(axis=1)]
    rows = wear.meals.iloc[:1].reindex(np.zeros(len(lunches), int) + wear.meals.index[0])
    empty = {name: None for name in rows.columns if name not in ("time", "name", *NUTRIENTS)}
    coffees = rows.assign(**empty, time=lunches + LATER, name="black coffee", **dict.fromkeys(NUTRIENTS, 0.0))
    coffees = coffees.astype(wear.meals.dtypes).set_axis(wear.meals.index.max() + 1 + np.arange(len(lunches)))
    meals = pd.concat([wear.meals, coffees.rename_axis(wear.meals.index.name)]).sort_values("time", kind="stable")
    return replace(wear, tables={**wear.tables, "meals": meals})
