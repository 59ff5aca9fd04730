"""What would another habit have done to this life's average? The same days lived again, with one thing changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from glucolab.simulate.blood import Lived, meal_areas

_LESS_CARBS_G = 30.0
"""What is taken off a day's food in its true lever [g]; the contract's. Any other number is another question."""
_FOOD_G = 5.0
"""Carbohydrate from which food is an occasion [g]; the contract's. Any other counts other meals as the larger half."""
_CALM_PERCENT = 10.0
"""Where the calmest days begin [%]; the contract's. Any other is another question."""


def true_levers(lives: Sequence[Lived], true_effects: pd.DataFrame) -> pd.DataFrame:
    """factor, on_mean_mg_dl: what each habit would have done to the average of all days, all else the same.

    Parameters
    ----------
    lives : sequence of Lived
        Of one wearer.
    true_effects : DataFrame
        factor, outcome, estimate: what a night or stress does to the day's mean is taken from here.
    """
    meals = pd.concat([lived.life.meals for lived in lives])
    larger = meals.loc[meals["carbs_g"] >= _FOOD_G, "carbs_g"].median()
    changes: dict[str, Callable[[pd.DataFrame, int], pd.DataFrame]] = {
        "walk_after": lambda eaten, _: eaten.assign(walk_after=eaten["walk_after"] | (eaten["carbs_g"] >= larger)),
        "protein_first": lambda eaten, _: eaten.assign(
            eaten_first=eaten["eaten_first"].where(eaten["carbs_g"] < larger, "protein")
        ),
        "carbs_g": lambda eaten, days: eaten.assign(
            carbs_g=eaten["carbs_g"] * (1 - _LESS_CARBS_G * days / eaten["carbs_g"].sum())
        ),
    }
    rows = [(factor, _by_food(lives, change)) for factor, change in changes.items()]
    of_mean = true_effects[true_effects["outcome"] == "mean_mg_dl"].set_index("factor")["estimate"]
    stress = np.concatenate([lived.life.days["stress"].to_numpy(float) for lived in lives])
    calmer = np.percentile(stress, _CALM_PERCENT) - stress.mean()
    rows += [("asleep_h", float(of_mean["asleep_h"])), ("stress", float(of_mean["stress"] * calmer))]
    return pd.DataFrame(rows, columns=["factor", "on_mean_mg_dl"])


def _by_food(lives: Sequence[Lived], change: Callable[[pd.DataFrame, int], pd.DataFrame]) -> float:
    """Difference of the areas of all meals, over the minutes of all days. [mg/dL]"""
    more, days = 0.0, 0
    for lived in lives:
        eaten, n = lived.life.meals, len(lived.life.days)
        now, then = (_areas(lived, meals) for meals in (eaten, change(eaten, n)))
        more, days = more + float(then.sum() - now.sum()), days + n
    return more / days / (24 * 60)


def _areas(lived: Lived, meals: pd.DataFrame) -> np.ndarray:
    """Of each meal, its own chance left out, shape (m,). [mg/dL min]"""
    return meal_areas(np.random.default_rng(0), lived.wearer, meals, lived.life.days)
