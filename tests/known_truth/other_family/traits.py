"""Who is the wearer, and what works in them? Drawn anew for every study."""

from __future__ import annotations

from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np

from tests.known_truth.other_family.curves import FAMILIES, USUAL, Shape, draw_shape
from tests.known_truth.other_family.effects import (
    EVENING_RAISES,
    FIRST_TAKES,
    NIL_SHARE,
    SLEEP_PER_HOUR_MG_DL,
    WALK_TAKES,
    Effects,
)

STEPS, HEAVY, INEXACT = "steps", "heavy tails", "inexact log"
GRAZING, CLOCK, MODERATE = "grazing", "clock", "walks moderate"
"""Kinds whose curves are usual ones, and in which something else is unusual."""
KINDS = (*FAMILIES, STEPS, HEAVY, INEXACT, GRAZING, CLOCK, MODERATE)
"""In the order in which they are judged."""
LINKS = ("none", "none", "hour", "dish", "size")
"""What else decides whether a meal gets a walk, or its protein first: in two studies of five, nothing."""
BREAKFASTS = ("oats", "toast with jam", "muesli", "eggs on bread", "pancakes")
MAINS = (
    "rice and beans", "pasta", "fish with potatoes", "curry", "pizza", "soup with bread", "noodles", "stew", "wraps",
    "gratin",
)  # fmt: skip
SNACKS = ("apple", "biscuits", "yoghurt", "nuts and raisins", "banana")
"""Names of dishes by course; they tell nothing of what the dish holds."""
LEAST_DISHES = {"breakfast": 3, "main": 6, "snack": 3}
"""How many dishes of a course are repeated at least; assumed, 12-20 in all as people's logs show. The most is all."""


@dataclass(frozen=True, eq=False)
class Dish:
    """What is eaten again and again; grams are of a usual portion.

    Attributes
    ----------
    name, course : str
        The course is breakfast, main or snack.
    carbs_g, fiber_g, protein_g, fat_g : float
    factor : float
        How much more or less it raises than its nutrients say.
    liking : float
        Weight with which it is chosen.
    walked, protein_first : float
        How much likelier a walk, or its protein first, goes with it, in SDs.
    shape : Shape
    """

    name: str
    course: str
    carbs_g: float
    fiber_g: float
    protein_g: float
    fat_g: float
    factor: float
    liking: float
    walked: float
    protein_first: float
    shape: Shape


@dataclass(frozen=True, eq=False)
class Traits:
    """One wearer: of body, habits and pen. Names with `sd` are of random terms, which `calm` takes out.

    Attributes
    ----------
    kind : str
    effects : Effects
        What is planted.
    dishes : tuple of Dish
    level_mg_dl, full_mg_dl, half_g : float
        Of blood without food; of a response to 50 g; carbohydrate at half saturation (infinite: linear).
    per_fiber, per_protein, per_fat : float
        By what a gram weakens, of 1 + sum.
    size_sd, absolute_sd_mg_dl, onset_min, onset_sd_min, stretch_sd : float
        Of one eating: relative and absolute size, delay of the climb, stretch in time.
    tails : float
        Degrees of freedom of Student's t, of sizes, days and sensor noise.
    day_sd_mg_dl, day_similar, stress_mg_dl : float
        SD and autocorrelation of day effects; effect of stress a point.
    rhythm_mg_dl : ndarray
        Amplitudes of sine and cosine once and twice a day, and of a bump at dawn, shape (5,).
    wander_sd_mg_dl, wander_min : float
        Slow wander, and how long it stays alike.
    wander_is_sines : bool
        Of a few sines; else smooth as a Matern process of 3/2.
    movement : float
        Scale of falls and rises with movement that follows no meal.
    asleep_h, asleep_sd_h : float
    eatings_more : float
        Chance of each snack.
    nibbles : float
        Snacks a day that nobody writes down.
    walked, protein_first : float
        Share of meals.
    walked_by, protein_first_by : str
        One of `LINKS`.
    late_min, late_tail, unlogged, portion_sd : float
        Mean delay of a log time, share of long delays, share of meals not written, relative error of grams.
    portion_is_plate : bool
        The plate differs from the usual portion that is written; else what is written misjudges the plate.
    writes_nutrients : bool
        Fibre, protein and fat besides carbohydrate.
    """

    kind: str
    effects: Effects
    dishes: tuple[Dish, ...]
    level_mg_dl: float
    full_mg_dl: float
    half_g: float
    per_fiber: float
    per_protein: float
    per_fat: float
    size_sd: float
    absolute_sd_mg_dl: float
    onset_min: float
    onset_sd_min: float
    stretch_sd: float
    tails: float
    day_sd_mg_dl: float
    day_similar: float
    stress_mg_dl: float
    rhythm_mg_dl: np.ndarray
    wander_sd_mg_dl: float
    wander_min: float
    wander_is_sines: bool
    movement: float
    asleep_h: float
    asleep_sd_h: float
    eatings_more: float
    nibbles: float
    walked: float
    protein_first: float
    walked_by: str
    protein_first_by: str
    late_min: float
    late_tail: float
    unlogged: float
    portion_sd: float
    portion_is_plate: bool
    writes_nutrients: bool


def make_rng(kind: str, seed: int, study: int) -> np.random.Generator:
    """The same draws of one study, whichever others are judged."""
    return np.random.default_rng([seed, study, crc32(kind.encode())])


def draw_traits(rng: np.random.Generator, kind: str) -> Traits:
    """A wearer of that kind; the body alike in all kinds but for its curve."""
    inexact, grazing, heavy = kind == INEXACT, kind == GRAZING, kind == HEAVY
    linear = rng.random() < 0.5
    return Traits(
        kind=kind, effects=draw_effects(rng), dishes=draw_dishes(rng, kind if kind in FAMILIES else USUAL),
        level_mg_dl=rng.uniform(86, 96), full_mg_dl=rng.uniform(36, 58),
        half_g=np.inf if linear else rng.uniform(30, 90),
        per_fiber=rng.uniform(0, 0.03), per_protein=rng.uniform(0, 0.008), per_fat=rng.uniform(0, 0.010),
        size_sd=rng.uniform(0.20, 0.45), absolute_sd_mg_dl=rng.uniform(1, 5),
        onset_min=rng.uniform(6, 14), onset_sd_min=rng.uniform(5, 10), stretch_sd=rng.uniform(0.10, 0.30),
        tails=2.5 if heavy else rng.uniform(5, 12),
        day_sd_mg_dl=rng.uniform(3, 6), day_similar=rng.uniform(0.1, 0.7), stress_mg_dl=rng.uniform(0, 0.8),
        rhythm_mg_dl=np.concatenate([rng.normal(0, [2.5, 2.5, 1.2, 1.2]), [rng.uniform(0, 8) * (rng.random() < 0.6)]]),
        wander_sd_mg_dl=rng.uniform(2.5, 5.5), wander_min=rng.uniform(30, 120), wander_is_sines=rng.random() < 0.5,
        movement=rng.uniform(0.5, 1.5),
        asleep_h=rng.uniform(6.5, 7.5), asleep_sd_h=rng.uniform(0.7, 1.2),
        eatings_more=rng.uniform(0.2, 0.6), nibbles=rng.uniform(0.0, 0.8),
        walked=rng.uniform(0.30, 0.50), protein_first=rng.uniform(0.30, 0.50),
        walked_by=str(rng.choice(LINKS)), protein_first_by=str(rng.choice(LINKS)),
        late_min=rng.uniform(10, 18) if inexact else rng.uniform(2, 8), late_tail=0.15 if inexact else 0.04,
        unlogged=rng.uniform(0.15, 0.25) if inexact else rng.uniform(0.05, 0.15),
        portion_sd=rng.uniform(0.30, 0.40) if inexact else rng.uniform(0.15, 0.25),
        portion_is_plate=rng.random() < 0.5, writes_nutrients=grazing or rng.random() < 0.7,
    )  # fmt: skip


def draw_effects(rng: np.random.Generator) -> Effects:
    """Each of them planted in two studies of three, whatever the others are."""
    walk, first, evening, sleep = (
        0.0 if rng.random() < NIL_SHARE else rng.uniform(*between)
        for between in (WALK_TAKES, FIRST_TAKES, EVENING_RAISES, SLEEP_PER_HOUR_MG_DL)
    )
    return Effects(-walk, -first, evening, sleep)


def draw_dishes(rng: np.random.Generator, family: str) -> tuple[Dish, ...]:
    """The wearer's own dishes, all of one family of curves."""
    return tuple(
        _draw_dish(rng, family, course, str(name))
        for course, names in (("breakfast", BREAKFASTS), ("main", MAINS), ("snack", SNACKS))
        for name in rng.permutation(names)[: rng.integers(LEAST_DISHES[course], len(names) + 1)]
    )


def _draw_dish(rng: np.random.Generator, family: str, course: str, name: str) -> Dish:
    carbs, fiber, protein, fat = {
        "breakfast": ((30, 65), (1, 8), (4, 18), (2, 18)),
        "main": ((35, 90), (2, 12), (12, 40), (5, 35)),
        "snack": ((10, 28), (0, 5), (0, 8), (0, 12)),
    }[course]
    return Dish(
        name, course, rng.uniform(*carbs), rng.uniform(*fiber), rng.uniform(*protein), rng.uniform(*fat),
        factor=float(np.exp(rng.normal(0, 0.2))), liking=float(np.exp(rng.normal(0, 0.7))),
        walked=rng.standard_normal(), protein_first=rng.standard_normal(), shape=draw_shape(rng, family),
    )  # fmt: skip


def calm(traits: Traits) -> Traits:
    """The wearer without any random term in blood: what is left follows from what was eaten and done."""
    return replace(
        traits, size_sd=0.0, absolute_sd_mg_dl=0.0, onset_sd_min=0.0, stretch_sd=0.0, day_sd_mg_dl=0.0,
        stress_mg_dl=0.0, rhythm_mg_dl=np.zeros(5), wander_sd_mg_dl=0.0, movement=0.0, nibbles=0.0,
    )  # fmt: skip
