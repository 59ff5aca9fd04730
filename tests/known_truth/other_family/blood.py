"""What did blood do in one wear, and what would it have done without a factor? By the minute, without noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.known_truth.other_family.curves import FAST, FULL_MIN, LATE, SLOW, TWO_HUMPS, USUAL
from tests.known_truth.other_family.effects import ON_RISE, Effects
from tests.known_truth.other_family.living import USUAL_G, Eating, Life
from tests.known_truth.other_family.rest import MINUTES, draw_t, make_rest
from tests.known_truth.other_family.traits import Traits

BEFORE_MIN, AFTER_MIN = 30, 120
"""The contract's rise: the highest value in so many minutes after eating minus the mean of so many before. [min]"""
FAMILY_SCALE = {FAST: 1.1, SLOW: 0.8, TWO_HUMPS: 0.8, LATE: 0.9, USUAL: 1.0}
"""Height of a family's curves beside the usual one; assumed, so that a long one does not raise the day's mean more."""
LEAST_SIZE, MOST_SIZE = 0.1, 2.5
"""One eating raises by chance between so many times its usual size, however heavy the tails; assumed."""


@dataclass(frozen=True, eq=False)
class Blood:
    """Glucose of blood by the minute.

    Attributes
    ----------
    rest : ndarray
        All but the responses to meals, shape (MINUTES,). [mg/dL]
    eatings : list of Eating
    heights : ndarray
        Of each response without any factor, and what is added to it whatever the factors, shape (n, 2). [mg/dL]
    courses : ndarray
        Of each response, of unit height, from the minute of eating on, shape (n, FULL_MIN).
    effects : Effects
    """

    rest: np.ndarray
    eatings: list[Eating]
    heights: np.ndarray
    courses: np.ndarray
    effects: Effects

    def total(self, scale: float = 1.0) -> np.ndarray:
        """As it was, every response times `scale`, shape (MINUTES,). [mg/dL]"""
        out = self.rest.copy()
        for k, eating in enumerate(self.eatings):
            begin = int(eating.minute)
            response = scale * self.response(k)[: MINUTES - begin]
            out[begin : begin + len(response)] += response
        return out

    def response(self, k: int, **factors: bool) -> np.ndarray:
        """To one meal, some factors said to be there or not and the others as they were, shape (FULL_MIN,). [mg/dL]"""
        eating = self.eatings[k]
        relative, added = self.heights[k]
        for name in ON_RISE:
            relative *= 1 + self.effects.planted(name) * factors.get(name, getattr(eating, name))
        return max(relative + added, 0.0) * self.courses[k]

    def rise(self, total: np.ndarray, k: int, **factors: bool) -> float:
        """Of one meal, all the others as they were; NaN at the ends of the wear. [mg/dL]"""
        begin = int(self.eatings[k].minute)
        if begin < BEFORE_MIN or begin + AFTER_MIN >= MINUTES:
            return np.nan
        window = total[begin : begin + AFTER_MIN + 1]
        if factors:
            window = window + (self.response(k, **factors) - self.response(k))[: AFTER_MIN + 1]
        return float(window.max() - total[begin - BEFORE_MIN : begin].mean())


def make_blood(rng: np.random.Generator, traits: Traits, life: Life) -> Blood:
    """What the wearer's blood did in that life."""
    heights, courses = [], []
    for eating in life.eatings:
        heights.append(_draw_height(rng, traits, eating))
        onset = max(traits.onset_min + traits.onset_sd_min * np.clip(rng.standard_normal(), -2, 2), 0.0)
        stretch = float(np.exp(traits.stretch_sd * np.clip(rng.standard_normal(), -2, 2)))
        courses.append(eating.dish.shape.at(np.arange(FULL_MIN, dtype=float), onset, stretch))
    return Blood(make_rest(rng, traits, life), life.eatings, np.array(heights), np.array(courses), traits.effects)


def _draw_height(rng: np.random.Generator, traits: Traits, eating: Eating) -> tuple[float, float]:
    """Of a response without any factor, and what is added to it."""
    dish, portion = eating.dish, eating.portion
    carbs = dish.carbs_g * portion
    linear = np.isinf(traits.half_g)
    part = carbs / USUAL_G if linear else carbs / (carbs + traits.half_g) * (1 + traits.half_g / USUAL_G)
    weaker = 1 + portion * (
        traits.per_fiber * dish.fiber_g + traits.per_protein * dish.protein_g + traits.per_fat * dish.fat_g
    )
    by_chance = np.clip(1 + traits.size_sd * draw_t(rng, traits.tails), LEAST_SIZE, MOST_SIZE)
    height = traits.full_mg_dl * FAMILY_SCALE[dish.shape.family] * part * dish.factor * by_chance / weaker
    return float(height), float(traits.absolute_sd_mg_dl * rng.standard_normal())
