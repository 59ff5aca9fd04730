"""What was eaten, walked, slept in one wear, and what was written of it?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit

from tests.known_truth.other_family.effects import EVENING_FROM_H
from tests.known_truth.other_family.traits import GRAZING, MODERATE, Dish, Traits

DAY_MIN, HOUR_MIN = 1440, 60
"""Minutes of a day and of an hour; all clocks are of one zone without summer time."""
DAYS = 15
"""Local days that a wear of fourteen times 24 hours touches."""
APART_MIN = 50.0
"""Least time between two eatings; assumed, and longer than rows that are one occasion. [min]"""
LINK = 1.0
"""How strongly hour, dish or size decide for a walk: logits an SD; assumed, odds of 2.7."""
USUAL_G, USUAL_SD_G = 50.0, 20.0
"""Carbohydrate about which size decides, and its SD; assumed, the middle of the dishes. [g]"""
SNACK_WALKED = 0.4
"""Odds of a walk after a snack beside those after a meal; assumed."""
GRAZED = 0.6
"""Portions of one who grazes beside usual ones; assumed, so that the day holds about as much."""
CLEAR_BEFORE_MIN, CLEAR_AFTER_MIN = 80.0, 20.0
"""A walk that belongs to no meal begins so long after the last and before the next; assumed, so that no log, however
late, makes it one after a meal but in the tails. [min]"""


@dataclass(eq=False)
class Eating:
    """One meal or snack, as it was and as it was written; times in minutes since the midnight before the wear.

    Attributes
    ----------
    minute : float
        When eating began.
    dish : Dish
    portion, written_portion : float
        Of the usual one.
    walk_after, protein_first, evening_meal : bool
        The factors it had.
    walk_at, walk_min : float
        When the walk began and how long it took, NaN without.
    order_written : bool
        What was eaten first is in the log.
    logged : bool
    logged_at : float
    """

    minute: float
    dish: Dish
    portion: float
    written_portion: float
    walk_after: bool
    protein_first: bool
    evening_meal: bool
    walk_at: float
    walk_min: float
    order_written: bool
    logged: bool
    logged_at: float


@dataclass(eq=False)
class Life:
    """What happened in one wear, by the minute since the midnight before it.

    Attributes
    ----------
    asleep_h, wake, bed, stress, caffeine_mg : ndarray
        A value a day, of the night that ends on it, shape (DAYS,).
    eatings : list of Eating
        In order of time.
    coffees : ndarray
        When each was drunk.
    walks, workouts : ndarray
        Begin and length of what follows no meal, shape (n, 2).
    """

    asleep_h: np.ndarray
    wake: np.ndarray
    bed: np.ndarray
    stress: np.ndarray
    caffeine_mg: np.ndarray
    eatings: list[Eating]
    coffees: np.ndarray
    walks: np.ndarray
    workouts: np.ndarray


def live(rng: np.random.Generator, traits: Traits) -> Life:
    """Fifteen days of the wearer."""
    asleep = np.clip(rng.normal(traits.asleep_h, traits.asleep_sd_h, DAYS), 5.0, 9.0)
    midnight = np.arange(DAYS) * float(DAY_MIN)
    wake = midnight + HOUR_MIN * np.clip(rng.normal(7.0, 0.5, DAYS), 5.5, 9.0)
    bed = wake - HOUR_MIN * (asleep + rng.uniform(0.2, 0.7, DAYS))
    stress = np.clip(np.round(rng.normal(4.5 - 0.6 * (asleep - traits.asleep_h), 2.0)), 0, 10)
    eatings, coffees = [], []
    for day in range(DAYS):
        for minute, course in _plan_day(rng, traits, wake[day], midnight[day]):
            eatings.append(_eat(rng, traits, minute, course))
        cups = rng.poisson(1.5 + 0.4 * max(traits.asleep_h - asleep[day], 0.0))
        coffees.extend(wake[day] + rng.uniform(20, 600, cups))
    drunk = np.sort(np.array(coffees, dtype=float))
    cups_a_day = np.bincount((drunk // DAY_MIN).astype(int), minlength=DAYS)[:DAYS]
    walks = _walk_elsewhere(rng, wake, np.array([eating.minute for eating in eatings]))
    return Life(asleep, wake, bed, stress, 80.0 * cups_a_day, eatings, drunk, walks, _work_out(rng, midnight))


def _plan_day(rng: np.random.Generator, traits: Traits, wake: float, midnight: float) -> list[tuple[float, str]]:
    """When is eaten, and which course."""
    if traits.kind == GRAZING:
        n = int(rng.integers(6, 10))
        span = midnight + 22.0 * HOUR_MIN - (wake + 30)
        times = wake + 30 + (np.arange(n) + rng.uniform(0.1, 0.9, n)) * span / n
        courses = ["breakfast", *(str(course) for course in rng.choice(["main", "snack"], n - 1))]
    else:
        hours = np.array([10.5, 12.9, 16.0, 19.4, 21.8]) + rng.normal(0, [0.4, 0.5, 0.6, 0.55, 0.4])
        hours[3] = np.clip(hours[3], 18.1, 21.2)
        times = np.concatenate([[wake + rng.uniform(20, 90)], midnight + HOUR_MIN * hours])
        courses = ["breakfast", "snack", "main", "snack", "main", "snack"]
        more = traits.eatings_more
        kept = rng.random(6) < np.array([0.92, 0.8 * more, 0.97, more, 0.97, 0.6 * more])
        times, courses = times[kept], [course for course, keep in zip(courses, kept, strict=True) if keep]
    day: list[tuple[float, str]] = []
    for minute, course in zip(np.round(times), courses, strict=True):
        if not day or minute - day[-1][0] >= APART_MIN:
            day.append((float(minute), course))
    return day


def _eat(rng: np.random.Generator, traits: Traits, minute: float, course: str) -> Eating:
    dishes = [dish for dish in traits.dishes if dish.course == course]
    liking = np.array([dish.liking for dish in dishes])
    dish = dishes[int(rng.choice(len(dishes), p=liking / liking.sum()))]
    portion = float(np.exp(rng.normal(0, 0.12))) * (GRAZED if traits.kind == GRAZING else 1.0)
    misjudged = float(np.exp(rng.normal(0, traits.portion_sd)))
    plate, written = (portion * misjudged, portion) if traits.portion_is_plate else (portion, portion * misjudged)
    evening = (minute % DAY_MIN) >= EVENING_FROM_H * HOUR_MIN
    grams = (dish.carbs_g * portion - USUAL_G) / USUAL_SD_G
    walked = rng.random() < _chance(traits.walked, traits.walked_by, evening, grams, dish.walked) * (
        SNACK_WALKED if course == "snack" else 1.0
    )
    first = rng.random() < _chance(traits.protein_first, traits.protein_first_by, evening, grams, dish.protein_first)
    ordered = course != "snack" or traits.kind == GRAZING
    late = rng.gamma(1.5, traits.late_min / 1.5) + (rng.random() < traits.late_tail) * rng.uniform(15, 45)
    return Eating(
        minute, dish, plate, written, bool(walked), bool(first and ordered), bool(evening),
        walk_at=minute + rng.uniform(8, 35) if walked else np.nan, walk_min=float(rng.integers(10, 36)),
        order_written=bool(ordered and rng.random() < 0.95), logged=bool(rng.random() >= traits.unlogged),
        logged_at=minute + late - (rng.random() < 0.1) * rng.uniform(0, 10),
    )  # fmt: skip


def _chance(share: float, by: str, evening: bool, grams: float, of_dish: float) -> float:
    """Of a walk, or of protein first, where hour, size or dish decide too."""
    more = {"none": 0.0, "hour": 1.0 if evening else -0.5, "size": np.clip(grams, -2, 2), "dish": of_dish}[by]
    return float(expit(logit(share) + LINK * more))


def _walk_elsewhere(rng: np.random.Generator, wake: np.ndarray, eaten: np.ndarray) -> np.ndarray:
    """Walks that follow no meal, on about half of the days, shape (n, 2)."""
    walks = []
    for begin in wake:
        at = begin + rng.uniform(30, 13 * HOUR_MIN)
        clear = not ((eaten > at - CLEAR_BEFORE_MIN) & (eaten < at + CLEAR_AFTER_MIN)).any()
        if clear and rng.random() < 0.8:
            walks.append((round(at), float(rng.integers(10, 45))))
    return np.array(walks, dtype=float).reshape(-1, 2)


def _work_out(rng: np.random.Generator, midnight: np.ndarray) -> np.ndarray:
    """Hard exercise two or three times a week, before dinner or late in the morning, shape (n, 2)."""
    chosen = midnight[rng.random(len(midnight)) < 0.35]
    hour = np.where(rng.random(len(chosen)) < 0.6, 17.2, 10.8) + rng.normal(0, 0.4, len(chosen))
    return np.column_stack([np.round(chosen + HOUR_MIN * hour), rng.integers(30, 61, len(chosen))])


def effort_of_walks(rng: np.random.Generator, traits: Traits) -> str | None:
    """What the wearer writes of every walk."""
    return "moderate" if traits.kind == MODERATE else (None, "light")[int(rng.integers(2))]
