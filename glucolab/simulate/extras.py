"""What is eaten and drunk beside the meals? Small eatings all day, black coffee after meals, drinks at dinner."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.simulate.wearer import Dish, Habits

BITE, COFFEE = "bite snack", "coffee snack"
"""Slots of a small eating and of a black coffee; logs take both for snacks."""
EXTRAS = {
    "bite": Dish("bite", "bite", 9.0, 1.0, 2.0, 2.0),
    "coffee": Dish("coffee", "coffee", 0.0, 0.0, 0.0, 0.0),
}
"""What is in them: carbohydrate, fibre, protein, fat [g]; assumed. Under 5 g a bite would be a minor occasion like the
coffee (contract), from 20 on a snack like any other."""
_COFFEE_AFTER_MIN = (45.0, 80.0)
"""When the coffee is drunk after a meal [min]: about an hour; assumed. Outside the two hours after, it would
disturb no meal."""
_DRINK_G = (10.0, 30.0)
"""Alcohol of a dinner with a drink [g]: one to three glasses; common practice, no source. It only adds energy."""


def eat_between(rng: np.random.Generator, habits: Habits, days: pd.DataFrame, meals: pd.DataFrame) -> pd.DataFrame:
    """Rows of day, slot and hour: small eatings at any waking hour, and coffees after breakfast and lunch."""
    n = rng.poisson(habits.bites_per_day, len(days))
    day = np.repeat(np.arange(len(days)), n)
    wake, bed = days["wake_h"].to_numpy()[day], days["bed_h"].to_numpy()[day]
    bites = pd.DataFrame({"day": day, "slot": BITE, "hour": wake + 0.5 + rng.random(len(day)) * (bed - wake - 1)})
    drunk = meals[meals["slot"].isin(["breakfast", "lunch"]) & (rng.random(len(meals)) < habits.coffee_after_share)]
    hour = drunk["hour"] + rng.uniform(*_COFFEE_AFTER_MIN, len(drunk)) / 60
    return pd.concat([bites, pd.DataFrame({"day": drunk["day"], "slot": COFFEE, "hour": hour})], ignore_index=True)


def drink_alcohol(rng: np.random.Generator, habits: Habits, meals: pd.DataFrame) -> np.ndarray:
    """Alcohol drunk with each meal, nil with all but some dinners, shape (m,). [g]"""
    with_drink = (meals["slot"] == "dinner") & (rng.random(len(meals)) < habits.drink_share)
    return np.where(with_drink, rng.uniform(*_DRINK_G, len(meals)), 0.0)
