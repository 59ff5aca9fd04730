"""Is what was planted found, and held? One study analysed, each question beside its truth.

The truth of a factor of meals is the mean, over the meals that the package judged itself (usable for two hours), of
the rise with the factor minus the rise without, in the same noise-free blood by the minute: only that meal's response
is changed, everything else is as it was, and minutes count from when eating truly began. Meals with the factor and
without are both in it, since the contract says what is found "for a meal of usual size"; `truth_with` is the same over
the meals that had it. As the contract asks, protein first is of meals whose order was written, and evening meals of
those before which nothing was written for three hours. The truth of sleep is what was planted, on a whole local day.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_study
from glucolab.results import StudyAnalysis
from tests.known_truth.other_family.effects import (
    ALONE_MIN,
    DAY_FROM_H,
    EVENING,
    FIRST,
    QUESTIONS,
    SLEEP,
    WALK,
)
from tests.known_truth.other_family.living import HOUR_MIN
from tests.known_truth.other_family.traits import Traits
from tests.known_truth.other_family.wearing import Worn, as_study, invent

SAME_MIN = 20.0
"""A row of an occasion begins with its first row, at most so long before the food; the contract's. [min]"""


class Row(NamedTuple):
    """One question of one study.

    Attributes
    ----------
    kind, question : str
    seed, study : int
    planted : float
        Relative change of the response; for sleep mg/dL per hour more.
    truth, truth_with : float
        In the unit of the estimate: over all meals asked of, and over those with the factor.
    usual : float
        Mean true rise without the factor of the meals asked of. [mg/dL]
    asked, asked_with : int
        How many meals, or days, these are.
    estimate, low, high, n_with, n_without, q_value : float
    share, share_low, share_high : float
        The effect as a share of a usual rise; NaN for sleep.
    verdict : str
    contrast : str
    linked : str
        What else decided whether a meal had the factor: hour, dish, size or none.
    interval_min : float
    """

    kind: str
    question: str
    seed: int
    study: int
    planted: float
    truth: float
    truth_with: float
    usual: float
    asked: int
    asked_with: int
    estimate: float
    low: float
    high: float
    n_with: float
    n_without: float
    q_value: float
    share: float
    share_low: float
    share_high: float
    verdict: str
    contrast: str
    linked: str
    interval_min: float


class Truth(NamedTuple):
    """See `Row`."""

    truth: float
    truth_with: float
    usual: float
    asked: int
    asked_with: int


def judge_study(kind: str, seed: int, number: int) -> list[Row]:
    """One invented study, each question a row."""
    traits, worn = invent(kind, seed, number)
    return list(judge(traits, worn, seed, number))


def judge(traits: Traits, worn: list[Worn], seed: int = 0, number: int = 0) -> Iterator[Row]:
    """The study analysed, and each question beside its truth.

    Raises
    ------
    RuntimeError
        If the package could not use all of it.
    """
    analysis = analyse_study(as_study(worn))
    if analysis.left_out:
        raise RuntimeError(f"{traits.kind} {number}: {analysis.left_out}")
    effects = analysis.tables["effects"].set_index(["factor", "outcome"])
    linked = {WALK: traits.walked_by, FIRST: traits.protein_first_by, EVENING: "hour"}
    for factor, outcome in QUESTIONS.items():
        truth = find_truth(traits, worn, analysis, factor)
        found = effects.loc[factor, outcome]
        read = [found[name] for name in (
            "estimate", "low", "high", "n_with", "n_without", "q_value", "share", "share_low", "share_high",
        )]  # fmt: skip
        yield Row(
            traits.kind, factor, seed, number, traits.effects.planted(factor), *truth, *(float(x) for x in read),
            found["verdict"], found["contrast"], linked.get(factor, "none"), worn[0].wear.interval_min,
        )  # fmt: skip


def find_truth(traits: Traits, worn: list[Worn], analysis: StudyAnalysis, factor: str) -> Truth:
    """Of one factor in this study, over what the package asked of."""
    if factor == SLEEP:
        planted = traits.effects.planted(factor)
        days = int(sum(one.tables["daily"]["enough"].sum() for one in analysis.wears))
        return Truth(planted, planted, np.nan, days, days)
    rows = []
    by_name = {one.wear.name: one for one in analysis.wears}
    for one in worn:
        responses = by_name[one.wear.name].tables["meal_responses"]
        total = one.blood.total()
        for k in find_asked(one, responses, factor):
            without, having = (one.blood.rise(total, k, **{factor: there}) for there in (False, True))
            rows.append((having - without, without, getattr(one.life.eatings[k], factor)))
    if not rows:
        return Truth(np.nan, np.nan, np.nan, 0, 0)
    gained, without, had = (np.array(column) for column in zip(*rows, strict=True))
    had = had.astype(bool)
    with_it = float(gained[had].mean()) if had.any() else np.nan
    return Truth(float(gained.mean()), with_it, float(without.mean()), len(rows), int(had.sum()))


def find_asked(one: Worn, responses: pd.DataFrame, factor: str) -> list[int]:
    """Which eatings of a wear the package asked of, by what was written."""
    usable = pd.DatetimeIndex(responses.loc[responses["usable_2h"].astype(bool), "time"])
    asked = []
    for k, (eating, time) in enumerate(zip(one.life.eatings, one.written, strict=True)):
        if pd.isna(time):
            continue
        before = (time - usable) / pd.Timedelta(minutes=1)
        if not ((before >= 0) & (before <= SAME_MIN)).any():
            continue
        if factor == FIRST and not eating.order_written:
            continue
        if factor == EVENING and not _is_alone(one, time):
            continue
        asked.append(k)
    return asked


def _is_alone(one: Worn, time: pd.Timestamp) -> bool:
    """Whether no other food was written for three hours before, in the hours that are compared."""
    since = (time - one.written) / pd.Timedelta(minutes=1)
    near = (since > 0) & (since < ALONE_MIN)
    return not near.any() and (time.hour * HOUR_MIN + time.minute) >= DAY_FROM_H * HOUR_MIN
