"""What is to be expected of a dish, of the evening, of energy? Means over a life far longer than any wear."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.simulate.blood import Lived, peak_times, response_heights, simulate_life
from glucolab.simulate.causes import replaced_responses, within_wear
from glucolab.simulate.definitions import measure_responses
from glucolab.simulate.feelings import expect_energy
from glucolab.simulate.wearer import Wearer

_START = pd.Timestamp("2001-01-01", tz="UTC")
"""Where the long life begins [UTC]; without consequence, for it runs without clock changes."""
_FOOD_G = 5.0
"""Carbohydrate from which food disturbs the meal before it [g]; the contract's, of minor occasions. Any other number,
and the truth is of other meals than those that are judged."""
_PLATE = {"carbs_g": 50.0, "fiber_g": 5.0, "protein_g": 18.0, "fat_g": 12.0}
"""What a plate holds [g]; only the names are used, amounts come from the dish or the person: none shapes a figure."""


def live_long(wearer: Wearer, days: int) -> Lived:
    """`days` of a wearer's life without illness, the same at every call."""
    well = replace(wearer, effects=replace(wearer.effects, ill=0.0))
    return simulate_life(
        np.random.default_rng(20_260_102), well, _START, _START + pd.Timedelta(days=days), ZoneSpans(("UTC",))
    )


def expected_dish_rises(long_life: Lived, late_min: np.ndarray) -> pd.DataFrame:
    """dish, rise_mg_dl: the rise expected of each, over this person's own ways and hours of eating such meals.

    `late_min` are the delays with which meals were logged: a rise counts from the time in the log (contract).

    Every meal of the dish's slot that can be judged (no food and no workout in its two hours, contract) is replaced by
    it, so that dishes share their background; what chance is left is about 25/sqrt(days) mg/dL in a rise, less in a
    difference.
    """
    wearer = long_life.wearer
    kind = long_life.meals["slot"].replace({"lunch": "main", "dinner": "main"})
    kind = kind.where(~kind.str.contains("snack"), "snack")
    judged = within_wear(long_life) & _undisturbed(long_life, before_min=0)
    rows = []
    for dish in (d for d in wearer.dishes if d.repeats):
        meals = long_life.meals[(kind == dish.slot).to_numpy() & judged]
        size = np.exp(wearer.habits.portion_sd * np.random.default_rng(20_260_103).standard_normal(len(meals)))
        plate = {name: getattr(dish, name) * size for name in _PLATE}
        rises = _rises_of(long_life, meals, meals.assign(**plate, response=dish.response, sweet=dish.sweet), late_min)
        rows.append((dish.name, np.nanmean(rises).item()))
    return pd.DataFrame(rows, columns=["dish", "rise_mg_dl"])


def expected_evening_effects(long_life: Lived) -> list[tuple[str, str, float]]:
    """The same plate eaten in the evening against other hours: the response's own difference and the background's.

    Rows of factor, outcome, estimate. By the contract a rise is what glucose does after a meal, so that a background
    which falls in the evening belongs to the difference; other food and workouts within the window do not. The plate is
    the person's usual one.
    """
    main = ~long_life.meals["slot"].str.contains("snack").to_numpy()
    usual = {name: float(long_life.meals[name].mean()) for name in _PLATE}
    meals = long_life.meals[main & within_wear(long_life) & _undisturbed(long_life)]
    plain = meals.assign(**usual, response=1.0, sweet=False, walk_after=False, eaten_first="mixed", setting="home")
    height = response_heights(long_life.wearer, plain, long_life.life.days)
    peak = peak_times(long_life.wearer, plain, np.zeros(len(plain)))
    rise, area = replaced_responses(long_life, meals, height, peak)
    evening = meals["evening"].to_numpy(bool)
    outcomes = (("rise_mg_dl", rise), ("iauc_2h_mg_dl_min", area))
    return [
        ("evening_meal", name, np.nanmean(v[evening]).item() - np.nanmean(v[~evening]).item()) for name, v in outcomes
    ]


def expected_energy_effects(long_life: Lived) -> list[tuple[str, str, float]]:
    """What energy goes with by the contract's rise and dip, which are not quite what this body feels.

    Rows of factor, outcome, estimate per 10 mg/dL: a line through moments without chance in them, two to three hours
    after undisturbed meals, adjusted for minutes since, hour and sleep.
    """
    lived, draws = long_life, np.random.default_rng(20_260_105)
    meals = lived.meals[within_wear(lived) & _undisturbed(lived, 180)]
    minutes = draws.uniform(120, 180, len(meals))
    times = pd.DatetimeIndex(meals["time"]) + pd.to_timedelta(minutes.round(), unit="min")
    energy, _ = expect_energy(lived, meals["day"].to_numpy(), times)
    figures = measure_responses(lived.blood_mg_dl, lived.minute(meals["time"]))
    hour = 2 * np.pi * (meals["hour"].to_numpy(float) + minutes / 60) / 24
    sleep = lived.life.days["asleep_h"].to_numpy()[meals["day"]]
    held = np.column_stack([np.ones(len(meals)), minutes, np.sin(hour), np.cos(hour), sleep])
    moved = figures[["rise_mg_dl", "dip_mg_dl"]].to_numpy() / 10
    slopes = np.linalg.lstsq(np.column_stack([moved, held]), energy, rcond=None)[0]
    return [("rise_mg_dl", "energy", float(slopes[0])), ("dip_mg_dl", "energy", float(slopes[1]))]


def _undisturbed(life: Lived, until_min: float = 120, before_min: float = 180) -> np.ndarray:
    """True for meals with no food for so long before and after, and no workout meanwhile, shape (m,)."""
    at = life.minute(life.meals["time"])
    food = at[(life.meals["carbs_g"] >= _FOOD_G).to_numpy()]
    last = np.append(-np.inf, food)[np.searchsorted(food, at, side="left")]
    following = np.append(food, np.inf)[np.searchsorted(food, at, side="right")]
    alone = (at - last >= before_min) & (following - at > until_min)
    hard = life.activity[life.activity["effort"].isin(["moderate", "vigorous"])]
    begin = life.minute(hard["start"])
    end = begin + hard["minutes"].to_numpy(float)
    return alone & ~((begin < at[:, None] + until_min) & (end > at[:, None] - 30)).any(axis=1)


def _rises_of(life: Lived, meals: pd.DataFrame, then: pd.DataFrame, late_min: np.ndarray) -> np.ndarray:
    """Rise after each meal if it had been another one, with that one's own chance, shape (m,). [mg/dL]"""
    body, draws = life.wearer.body, np.random.default_rng(20_260_104)
    chance = np.exp(body.eating_sd * draws.standard_normal(len(meals)) - body.eating_sd**2 / 2)
    height = response_heights(life.wearer, then, life.life.days) * chance
    peak = peak_times(life.wearer, then, body.time_to_peak_sd * draws.standard_normal(len(meals)))
    return replaced_responses(life, meals, height, peak, np.resize(late_min, len(meals)))[0]
