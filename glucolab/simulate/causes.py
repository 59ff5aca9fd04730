"""What truly moves this wearer? Effects, dishes and trials as differences between what was and what would have been."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from glucolab.simulate.blood import (
    Lived,
    bump_area,
    meal_areas,
    meal_curves,
    peak_times,
    response_heights,
)
from glucolab.simulate.definitions import area_above, windows
from glucolab.simulate.exercise import sport_peaks
from glucolab.simulate.wearer import Wearer

Changed = Callable[[pd.DataFrame, pd.DataFrame], tuple[pd.DataFrame, pd.DataFrame]]
"""From meals and days to meals and days as they would have been."""

ARMS: dict[str, dict[str, object]] = {
    "walk": {"walk_after": True}, "rest": {"walk_after": False},
    "protein_first": {"eaten_first": "protein"}, "carbs_first": {"eaten_first": "carbs"},
    "mixed": {"eaten_first": "mixed"},
}  # fmt: skip
"""What the words for a trial's arms do to a meal."""

_PER_10_G = ("fiber_g", "protein_g", "fat_g", "carbs_g")


def true_effects(lives: Sequence[Lived]) -> list[tuple[str, str, float]]:
    """factor, outcome, estimate: averaged over the days and meals of all wears, which share their effects."""
    return [*_meal_effects(lives), *_day_effects(lives[0].wearer, lives)]


def rises_if(lived: Lived, changed: Changed, which: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """True rise [mg/dL] and two-hour area [mg/dL min] after each meal had only it been different, shape (m,) each.

    Everything else, the meal's own chance deviation too, stays as it was.
    """
    which = np.ones(len(lived.meals), bool) if which is None else which
    now, days, wearer = lived.meals[which], lived.life.days, lived.wearer
    then, then_days = changed(now, days)
    factor = response_heights(wearer, then, then_days) / np.maximum(response_heights(wearer, now, days), 1e-9)
    own_min = now["peak_min"].to_numpy() - peak_times(wearer, now, np.zeros(len(now)))
    return replaced_responses(lived, now, now["height_mg_dl"].to_numpy() * factor, peak_times(wearer, then, own_min))


def replaced_responses(
    lived: Lived, meals: pd.DataFrame, height: np.ndarray, peak: np.ndarray, late_min: np.ndarray | float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Rise and area after each meal with another curve in the place of its own, counted from so long after the meal."""
    late = np.broadcast_to(late_min, len(meals))
    since = np.arange(-30.0, 121.0) + late[:, None]
    own = meal_curves(
        lived.wearer, since, meals["height_mg_dl"].to_numpy()[:, None], meals["peak_min"].to_numpy()[:, None]
    )
    other = meal_curves(lived.wearer, since, height[:, None], peak[:, None])
    blood = windows(lived.blood_mg_dl, lived.minute(meals["time"]) + late, 30, 120) + np.where(
        since >= 0, other - own, 0
    )
    above = blood[:, 30:] - blood[:, :30].mean(axis=1)[:, None]
    return above.max(axis=1), area_above(above)


def within_wear(lived: Lived) -> np.ndarray:
    """True for the meals eaten within the span asked for, shape (m,)."""
    return ((lived.meals["time"] > lived.start) & (lived.meals["time"] < lived.end)).to_numpy()


def _meal_effects(lives: Sequence[Lived]) -> list[tuple[str, str, float]]:
    pairs: dict[str, tuple[Changed, Changed]] = {
        "walk_after": (_meal(walk_after=True), _meal(walk_after=False)),
        "protein_first": (_meal(eaten_first="protein"), _meal(eaten_first="mixed")),
        "eaten_out": (_meal(setting="out"), _meal(setting="home")),
        "short_night": (_day(short_night=True), _day(short_night=False)),
        "stress": (_more_stress, _as_it_was),
    }
    pairs |= {name: (_more(name, 10.0), _as_it_was) for name in _PER_10_G}
    rows: list[tuple[str, str, float]] = []
    for factor, (with_it, without) in pairs.items():
        differences = [
            np.subtract(rises_if(lived, with_it, within_wear(lived)), rises_if(lived, without, within_wear(lived)))
            for lived in lives
        ]
        both = np.concatenate(differences, axis=1)
        rise, area = np.nanmean(both, axis=1)
        rows += [(factor, "rise_mg_dl", float(rise)), (factor, "iauc_2h_mg_dl_min", float(area))]
        if factor == "short_night":
            rows.append(("carbs_after_short_night", "rise_mg_dl", _growth_per_50_g(lives, both[0])))
    return rows


def _growth_per_50_g(lives: Sequence[Lived], raised_mg_dl: np.ndarray) -> float:
    """By how much more a short night raises a meal of 50 g more carbohydrate: a line through the meals. [mg/dL]"""
    carbs = np.concatenate([lived.meals["carbs_g"].to_numpy(float)[within_wear(lived)] for lived in lives])
    known = ~np.isnan(raised_mg_dl) & ~np.isnan(carbs)
    return 50 * float(np.polyfit(carbs[known], raised_mg_dl[known], 1)[0]) if known.sum() > 2 else np.nan


def _meal(**columns: Any) -> Changed:
    return lambda meals, days: (meals.assign(**columns), days)


def _day(**columns: Any) -> Changed:
    return lambda meals, days: (meals, days.assign(**columns))


def _more(name: str, amount: float) -> Changed:
    return lambda meals, days: (meals.assign(**{name: meals[name] + amount}), days)


def _more_stress(meals: pd.DataFrame, days: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    return meals, days.assign(stress=days["stress"] + 1)


def _as_it_was(meals: pd.DataFrame, days: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    return meals, days


def _day_effects(wearer: Wearer, lives: Sequence[Lived]) -> list[tuple[str, str, float]]:
    """Effects on the mean of the local day, on sleep and on energy."""
    effects = wearer.effects
    days = pd.concat([lived.life.days for lived in lives])
    awake = float(((days["bed_h"].clip(upper=24) - days["wake_h"]) / 24).mean())
    food = {name: np.mean([_food_share(lived, name) for lived in lives]) for name in ("short_night", "stress")}
    rows: list[tuple[str, str, Any]] = [
        ("asleep_h", "mean_mg_dl", effects.per_asleep_h * awake),
        ("short_night", "mean_mg_dl", effects.short_night * awake + food["short_night"]),
        ("stress", "mean_mg_dl", effects.per_stress_point * awake + food["stress"]),
        ("caffeine_mg", "mean_mg_dl", effects.per_caffeine_100mg * awake),
        ("relaxation_min", "mean_mg_dl", effects.per_relaxation_10min * awake),
        ("morning_exercise", "mean_mg_dl", effects.morning_exercise * awake + _workout_share(wearer, lives)),
        ("last_meal_to_sleep_h", "asleep_h", effects.sleep_per_gap_h),
        ("asleep_h", "energy", effects.energy_per_sleep_h),
    ]
    habits = wearer.habits
    if habits.covariate:
        rows.append(
            (f"covariate:{habits.covariate}", "mean_mg_dl", effects.per_covariate_sd * awake / habits.covariate_sd)
        )
    return [(factor, outcome, float(value)) for factor, outcome, value in rows]


def _food_share(lived: Lived, factor: str) -> float:
    """What a factor adds to the day's mean by way of the meals. [mg/dL]"""
    days, meals = lived.life.days, lived.life.meals
    more = (
        (days.assign(short_night=True), days.assign(short_night=False))
        if factor == "short_night"
        else (days.assign(stress=days["stress"] + 1), days)
    )
    areas = [meal_areas(np.random.default_rng(0), lived.wearer, meals, d).sum() for d in more]
    return (areas[0] - areas[1]) / len(days) / 1440


def _workout_share(wearer: Wearer, lives: Sequence[Lived]) -> float:
    """What the morning workout's own bump adds to the day's mean, less that of later workouts on other days. [mg/dL]"""
    by_day = []
    for lived in lives:
        sport = lived.activity
        area = sport["height_mg_dl"] * bump_area(sport_peaks(sport), 3.0)
        total = area.groupby(sport["day"]).sum().reindex(range(len(lived.life.days)), fill_value=0.0)
        by_day.append(
            pd.DataFrame({"area": total.to_numpy(), "morning": lived.life.days["morning_exercise"].to_numpy()})
        )
    days = pd.concat(by_day)
    with_it, without = days.loc[days["morning"], "area"], days.loc[~days["morning"], "area"]
    return float(with_it.mean() - without.mean()) / 1440 if len(with_it) and len(without) else 0.0


def true_trials(lives: Sequence[Lived], trials: pd.DataFrame | None) -> pd.DataFrame:
    """trial, arm_a, arm_b, outcome, difference: mean over the trial's meals of b minus a, all else the same."""
    columns = ["trial", "arm_a", "arm_b", "outcome", "difference"]
    rows = []
    for trial, planned in [] if trials is None else trials.groupby("trial"):
        arms = sorted(planned["arm"].unique())
        for i, a in enumerate(arms):
            for b in arms[i + 1 :]:
                found = [_arm_differences(lived, planned, a, b) for lived in lives]
                rise, area = np.concatenate(found, axis=1).mean(axis=1)
                rows += [(trial, a, b, "rise_mg_dl", float(rise)), (trial, a, b, "iauc_2h_mg_dl_min", float(area))]
    return pd.DataFrame(rows, columns=columns)


def _arm_differences(lived: Lived, planned: pd.DataFrame, a: str, b: str) -> np.ndarray:
    dates = lived.life.dates[lived.meals["day"].to_numpy()]
    keys = set(zip(planned["date"], planned["dish"], strict=True))
    mine = np.array([key in keys for key in zip(dates, lived.meals["dish"], strict=True)], bool) & within_wear(lived)
    return np.subtract(rises_if(lived, _meal(**ARMS[b]), mine), rises_if(lived, _meal(**ARMS[a]), mine))
