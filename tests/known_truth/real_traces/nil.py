"""Is something found where nothing is? Covariates and labels drawn without a look at the trace: part d.

Own columns of days: independent from day to day, autocorrelated at 0.7, the two days of a "weekend" that begins on a
weekday drawn for each wear (so that a true weekend, if there is one, does not count), trending along the wear
(correlation 0.9 with the day, one direction in all wears of a study), the later half against the earlier, and the
number of days since insertion. What is so written down does nothing to blood, and the truth is 0. Meals get a walk
after, or protein first, by coin.

All are asked in one study, as a wearer with six columns would. The share of intervals without 0 is that of each alone;
claims are made among all questions together, so that the three that trend help each other over the line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_study
from glucolab.record import WearPeriod
from tests.known_truth.real_traces.joined import (
    Joined,
    as_study,
    begin_of,
    dates_of,
    find_occasions_of,
    write_days,
    write_walks,
)
from tests.known_truth.real_traces.rows import Row
from tests.known_truth.real_traces.two_sensors import make_rng

NIL = "d: nil covariate of days"
LABELS = "d: nil label of meals by lot"
INDEPENDENT, AUTOCORRELATED, WEEKLY = "independent", "autocorrelated", "weekly"
TRENDING, HALVES, SINCE = "trending", "later half", "days since insertion"
COVARIATES = (INDEPENDENT, AUTOCORRELATED, WEEKLY, TRENDING, HALVES, SINCE)
AR, ALONG = 0.7, 0.9
LABELLED = ("walk_after", "protein_first")
MEAL_OUTCOMES = {"rise_mg_dl": "rise", "iauc_2h_mg_dl_min": "area"}


def judge_nil(joined: Joined) -> list[Row]:
    """One study with all of them."""
    rng = make_rng("d", "", joined.seed)
    sign = rng.choice([-1.0, 1.0])
    wears = [label_meals(rng, write_days(wear, draw_covariates(rng, dates_of(wear), sign))) for wear in joined.wears]
    tables = analyse_study(as_study(wears)).tables
    effects, levers = tables["effects"].set_index(["factor", "outcome"]), tables["levers"].set_index("factor")
    return [*_read_effects(effects, joined.people), *_read_levers(levers, joined.people)]


def draw_covariates(rng: np.random.Generator, dates: pd.DatetimeIndex, sign: float) -> dict[str, np.ndarray]:
    """Each of `COVARIATES` on the days of a wear, shape (d,); `sign` is the direction of the trend."""
    n = len(dates)
    place = np.arange(n) - (n - 1) / 2
    noise, steps = rng.standard_normal(n), rng.standard_normal(n)
    similar = np.empty(n)
    similar[0] = steps[0]
    for i in range(1, n):
        similar[i] = AR * similar[i - 1] + np.sqrt(1 - AR**2) * steps[i]
    free = (dates.day_of_week.to_numpy() - rng.integers(7)) % 7 < 2
    return {
        INDEPENDENT: rng.standard_normal(n), AUTOCORRELATED: similar, WEEKLY: free.astype(float),
        TRENDING: sign * ALONG * place / max(place.std(), 1.0) + np.sqrt(1 - ALONG**2) * noise,
        HALVES: (place > 0).astype(float), SINCE: np.arange(n, dtype=float),
    }  # fmt: skip


def label_meals(rng: np.random.Generator, wear: WearPeriod) -> WearPeriod:
    """Every occasion gets a walk by one coin and its protein first by another."""
    meals = wear.meals
    if not len(meals):
        return wear
    begins, number = begin_of(meals), find_occasions_of(meals)
    walked, first = rng.random((2, len(begins))) < 0.5
    words = np.where(first[number], "protein", "carbs")
    labelled = meals.assign(eaten_first=pd.Series(words, index=meals.index, dtype="str"))
    return write_walks(replace(wear, tables={**wear.tables, "meals": labelled}), begins[walked])


def _read_effects(effects: pd.DataFrame, people: tuple[str, ...]) -> Iterator[Row]:
    for name in COVARIATES:
        yield effect_row(NIL, name, people, 0.0, effects.loc[f"covariate:{name}", "mean_mg_dl"])
    for factor in LABELLED:
        for outcome, word in MEAL_OUTCOMES.items():
            yield effect_row(LABELS, f"{factor}, {word}", people, 0.0, effects.loc[factor, outcome])


def _read_levers(levers: pd.DataFrame, people: tuple[str, ...]) -> Iterator[Row]:
    """What a label that does nothing is said to do to the average."""
    for factor in LABELLED:
        found = levers.loc[factor]
        ends = found["on_mean_mg_dl"], found["low_mg_dl"], found["high_mg_dl"]
        yield Row(LABELS, f"{factor}, lever", people, 0.0, *ends, found["verdict"])


def effect_row(kind: str, figure: str, people: tuple[str, ...], truth: float, found: pd.Series) -> Row:
    """A row of effects.csv beside its truth."""
    return Row(kind, figure, people, truth, found["estimate"], found["low"], found["high"], found["verdict"])
