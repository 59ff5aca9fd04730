"""Invented tables with known truth: days and meals drawn directly, without readings, for calibrating `relating`.

Nothing here is shared with `glucolab.simulate`: days are autocorrelated, rises are products (so that the additive
model of `relating` is wrong on purpose), habits can travel together, sensors can drift.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, days_between
from glucolab.relating.inputs import WearTables

UTC = ZoneSpans(("UTC",))
DAILY_TEXT = ("night_source",)


@dataclass(frozen=True)
class Truth:
    """What is true of an invented person; every effect 0 unless given.

    `day` effects are on the mean of the day (per unit of the contract), `night` ones on the night that
    follows, `sleep` on its hours, `meal` ones are logarithms of a factor on the rise.
    """

    day: dict[str, float] = field(default_factory=dict)
    night: dict[str, float] = field(default_factory=dict)
    sleep: dict[str, float] = field(default_factory=dict)
    meal: dict[str, float] = field(default_factory=dict)
    rho: float = 0.3
    habit_rho: float = 0.3
    day_sd: float = 4.0
    linked: float = 0.0
    drift: float = 0.0
    eating_sd: float = 0.3
    wander_sd: float = 5.0
    heavy: bool = False
    snacks: float = 1.0
    n_dishes: int = 8
    missing: float = 0.0
    one_offs: float = 0.25


def autocorrelated(rng: np.random.Generator, n: int, rho: float) -> np.ndarray:
    value = rng.standard_normal(n)
    for i in range(1, n):
        value[i] = rho * value[i - 1] + np.sqrt(1 - rho**2) * value[i]
    return value


def draw_dishes(rng: np.random.Generator, n: int) -> pd.DataFrame:
    return pd.DataFrame({
        "carbs": rng.uniform(20, 90, n), "fiber": rng.uniform(1, 12, n), "protein": rng.uniform(3, 40, n), "fat": rng.uniform(2, 30, n),
        "response": np.exp(0.25 * rng.standard_normal(n)),
    })  # fmt: skip


def invent(rng: np.random.Generator, truth: Truth, n_wears: int = 3, n_days: int = 14) -> tuple[list[WearTables], dict[str, float]]:
    """Wears of one person, and the true effects on rises in mg/dL: expected with minus without over all meals."""
    dishes = draw_dishes(rng, truth.n_dishes)
    level = rng.normal(95, 6)
    wears, expected = [], []
    for i in range(n_wears):
        start = pd.Timestamp("2026-01-05", tz="UTC") + pd.Timedelta(days=60 * i)
        wear, base = _wear(rng, truth, dishes, level + rng.normal(0, 9), f"wear_{i + 1}", start, n_days)
        wears.append(wear)
        expected.append(base)
    mean_base = float(np.concatenate(expected).mean())
    return wears, {name: mean_base * (np.exp(b) - 1) for name, b in truth.meal.items()}


def _wear(rng, truth, dishes, level, name, start, n):
    own = np.sqrt(1 - truth.linked**2)
    shared = autocorrelated(rng, n, truth.habit_rho)

    def habit(sign=1.0):
        return own * autocorrelated(rng, n, truth.habit_rho) + truth.linked * sign * shared

    habits = {
        "asleep_h": 7.0 + 0.9 * habit(-1), "stress": np.clip(4 + 1.8 * habit(), 0, 10), "caffeine_mg": np.clip(180 + 70 * habit(), 0, None),
        "relaxation_min": np.where(rng.random(n) < 0.7, rng.gamma(2, 8, n), 0.0), "screen_min": 40 + 25 * habit(),
    }  # fmt: skip
    exercise = habit() > 0.5
    exercise_min = np.where(exercise, 40.0, 0.0)
    meals, base, walk_starts = _meals(rng, truth, dishes, start, n)
    gap = 3.5 + 0.8 * rng.standard_normal(n)
    carbs = meals.groupby("day")["carbs_g"].sum().reindex(range(n), fill_value=0).to_numpy()
    factors = {
        **habits, "short_night": (habits["asleep_h"] < 6).astype(float), "morning_exercise": exercise.astype(float),
        "last_meal_to_sleep_h": gap,
    }  # fmt: skip
    steps = {"caffeine_mg": 100, "relaxation_min": 10}

    def total(effects):
        return sum(b * (factors[f] - factors[f].mean()) / steps.get(f, 1) for f, b in effects.items()) + np.zeros(n)

    noise = truth.day_sd * autocorrelated(rng, n, truth.rho)
    if truth.heavy:
        noise *= np.where(rng.random(n) < 0.1, 2.5, 1.0)
    mean = level + total(truth.day) + noise + truth.drift * (np.arange(n) / n - 0.5) + 0.01 * (carbs - carbs.mean())
    night = level - 8 + 0.5 * noise + 3 * rng.standard_normal(n) + total(truth.night)
    sleep = habits["asleep_h"].copy()
    sleep[1:] += total(truth.sleep)[:-1]
    overnight = np.concatenate([[level], night[:-1]])
    dates = pd.date_range(start.tz_localize(None), periods=n, freq="D", unit="us")
    daily = pd.DataFrame({
        "date": dates, "coverage": 1.0, "enough": pd.array(np.ones(n, bool), "boolean"), "mean_mg_dl": mean,
        "sd_mg_dl": np.exp(np.log(15) + 0.15 * autocorrelated(rng, n, truth.rho)), "overnight_mean_mg_dl": overnight, "carbs_g": carbs,
        "asleep_h": sleep, "stress": habits["stress"], "caffeine_mg": habits["caffeine_mg"], "relaxation_min": habits["relaxation_min"],
        "exercise_min": exercise_min, "screen_min": habits["screen_min"],
    })  # fmt: skip
    lost = rng.random(n) < truth.missing
    daily.loc[lost, "enough"] = False
    daily.loc[lost, ["mean_mg_dl", "sd_mg_dl", "overnight_mean_mg_dl"]] = np.nan
    midnights = pd.DatetimeIndex(dates).tz_localize("UTC")
    last = meals.groupby("day")["time"].max().reindex(range(n))
    nights = pd.DataFrame({"date": dates[1:], "start": pd.DatetimeIndex(last[:-1]) + pd.to_timedelta(gap[:-1], unit="h").as_unit("us")})
    morning = pd.DataFrame({"start": midnights[exercise] + pd.Timedelta(hours=8), "minutes": 40.0, "kind": "run", "effort": "vigorous"})
    walks = pd.DataFrame({"start": walk_starts, "minutes": 15.0, "kind": "walk", "effort": "light"})
    energy = pd.DataFrame({
        "time": midnights + pd.Timedelta(hours=15), "energy": np.clip(np.round(6 + 0.7 * autocorrelated(rng, n, 0.2)), 0, 10),
    })  # fmt: skip
    wear = WearTables(name, days_between(start, start + pd.Timedelta(days=n), UTC), UTC, daily, meals.drop(columns="day"),
                      energy, nights, pd.concat([morning, walks], ignore_index=True), ("screen_min",))  # fmt: skip
    return wear, base


def _meals(rng, truth, dishes, start, n):
    day = np.repeat(np.arange(n), 3)
    hour = np.tile([8.0, 13.0, 19.0], n) + 0.4 * rng.standard_normal(3 * n)
    extra = np.flatnonzero(rng.random(n) < truth.snacks)
    day, hour = np.concatenate([day, extra]), np.concatenate([hour, 16.5 + 0.3 * rng.standard_normal(len(extra))])
    order = np.lexsort((hour, day))
    day, hour = day[order], hour[order]
    m = len(day)
    dish = rng.integers(0, len(dishes), m)
    size = np.exp(0.15 * rng.standard_normal(m))
    eaten = dishes.iloc[dish].reset_index(drop=True)
    once = rng.random(m) < truth.one_offs
    eaten = eaten.mask(pd.Series(once), draw_dishes(rng, m), axis=0)
    taste = rng.standard_normal(m)
    mood = autocorrelated(rng, n, 0.3)[day]
    pull = truth.linked * (0.8 * (hour > 18) + 0.5 * mood + 0.01 * (eaten["carbs"].to_numpy() - 55))
    snack = (hour > 15.5) & (hour < 17.5)
    eaten["carbs"] = np.where(snack, 0.35 * eaten["carbs"], eaten["carbs"])
    walk = ((taste + pull > 0.5) & ~snack).astype(float)
    protein_first = (0.5 * truth.linked * taste + rng.standard_normal(m) > 0.5).astype(float)
    out = (rng.random(m) < 0.25).astype(float)
    grams = {f"{name}_g": eaten[name].to_numpy() * size for name in ("carbs", "fiber", "protein", "fat")}
    factors = {
        "walk_after": walk, "protein_first": protein_first, "eaten_out": out, "evening_meal": (hour >= 18).astype(float),
        "fiber_g": (grams["fiber_g"] - 6) / 10, "protein_g": (grams["protein_g"] - 20) / 10, "fat_g": (grams["fat_g"] - 16) / 10,
    }  # fmt: skip
    base = 40 * (grams["carbs_g"] / 50) ** 0.9 * eaten["response"].to_numpy()
    height = base * np.exp(sum(b * factors[f] for f, b in truth.meal.items()) + truth.eating_sd * rng.standard_normal(m) - truth.eating_sd**2 / 2)
    wander = truth.wander_sd * rng.standard_normal(m)
    if truth.heavy:
        wander += np.where(rng.random(m) < 0.08, rng.exponential(25, m), 0.0)
    rise = height + wander + 2.0 * rng.standard_normal(n)[day] + 3
    error = rng.uniform(3, 6, m)
    time = start + pd.to_timedelta(day * 24 + hour, unit="h").as_unit("us")
    meals = pd.DataFrame({
        "day": day, "time": pd.DatetimeIndex(time).as_unit("us"), "name": "meal", "dish": np.where(once, "", [f"{'snack' if s else 'dish'} {i}" for i, s in zip(dish, snack, strict=True)]), **grams,
        "setting": np.where(out > 0, "out", "home"), "eaten_first": np.where(protein_first > 0, "protein", "mixed"),
        "walk_after": pd.array(walk > 0, "boolean"), "rise_mg_dl": rise, "rise_low_mg_dl": rise - 1.645 * error,
        "rise_high_mg_dl": rise + 1.645 * error, "iauc_2h_mg_dl_min": np.maximum(60 * rise + 300 * rng.standard_normal(m), 0),
        "usable_2h": pd.array(rng.random(m) > 0.1, "boolean"), "usable_3h": pd.array(np.ones(m, bool), "boolean"),
    })  # fmt: skip
    walk_starts = meals.loc[walk > 0, "time"] + pd.Timedelta(minutes=20)
    reached = base[meals["usable_2h"].to_numpy(bool)]
    return meals, reached, walk_starts
