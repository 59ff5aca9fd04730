"""Invented tables with known truth: days and meals drawn directly, without readings, for calibrating `relating`.

Nothing here is shared with `glucolab.simulate`. Days are autocorrelated; responses are products with an error that
grows with them, so that the additive model of `relating` is wrong on purpose; habits travel together, sensors drift.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, days_between
from glucolab.relating.observations.wear_tables import WearTables

UTC = ZoneSpans(("UTC",))
HOUR = pd.Timedelta(hours=1)
PER = {"caffeine_mg": 100, "relaxation_min": 10}


@dataclass(frozen=True)
class Truth:
    """What is true of an invented person; every effect is nil unless given.

    `day` holds effects on the day's mean and `night` on the mean of the night that follows (per unit of the contract),
    `sleep` on the hours of that night, `meal` logarithms of a factor on the response.
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
    dishes: int = 8
    one_offs: float = 0.25
    missing: float = 0.0


def autocorrelated(rng: np.random.Generator, n: int, rho: float) -> np.ndarray:
    value = rng.standard_normal(n)
    for i in range(1, n):
        value[i] = rho * value[i - 1] + np.sqrt(1 - rho**2) * value[i]
    return value


def invent(
    rng: np.random.Generator, truth: Truth, n_wears: int = 3, n_days: int = 14
) -> tuple[list[WearTables], dict[str, float]]:
    """Wears of one person, and the true effects on rises: expected with minus without over all usable meals. [mg/dL]"""
    menu, level = draw_dishes(rng, truth.dishes), rng.normal(95, 6)
    wears, usual = [], []
    for i in range(n_wears):
        start = pd.Timestamp("2026-01-05", tz="UTC") + pd.Timedelta(days=60 * i)
        meals, expected = _meals(rng, truth, menu, start, n_days)
        usual.append(expected[meals["usable_2h"].to_numpy(bool)])
        wears.append(_wear(rng, truth, f"wear_{i + 1}", level + rng.normal(0, 9), start, n_days, meals))
    mean = float(np.concatenate(usual).mean())
    return wears, {name: mean * (np.exp(b) - 1) for name, b in truth.meal.items()}


def draw_dishes(rng: np.random.Generator, n: int) -> pd.DataFrame:
    low, high = [20, 1, 3, 2], [90, 12, 40, 30]
    dishes = pd.DataFrame(rng.uniform(low, high, (n, 4)), columns=["carbs_g", "fiber_g", "protein_g", "fat_g"])
    return dishes.assign(response=np.exp(0.25 * rng.standard_normal(n)))


def _wear(
    rng: np.random.Generator, truth: Truth, name: str, level: float, start: pd.Timestamp, n: int, meals: pd.DataFrame
) -> WearTables:
    dates = pd.date_range(start.tz_localize(None), periods=n, freq="D", unit="us")
    midnights = dates.tz_localize("UTC")
    habits = _habits(rng, truth, n)
    gap_h = 3.5 + 0.8 * rng.standard_normal(n)
    daily = _daily(rng, truth, level, dates, habits, gap_h, meals)
    last = meals.groupby("day")["time"].max().reindex(range(n))
    asleep_at = pd.DatetimeIndex(last) + pd.to_timedelta(gap_h, unit="h").as_unit("us")
    nights = pd.DataFrame({"date": dates[1:], "start": asleep_at[:-1]})
    runs = pd.DataFrame({"start": midnights[habits["morning_exercise"] > 0] + 8 * HOUR, "minutes": 40.0, "kind": "run"})
    walks = pd.DataFrame({"start": meals.loc[meals["walk_after"], "time"] + HOUR / 3, "minutes": 15.0, "kind": "walk"})
    activity = pd.concat([runs.assign(effort="vigorous"), walks.assign(effort="light")], ignore_index=True)
    felt = np.clip(np.round(6 + 0.7 * autocorrelated(rng, n, 0.2)), 0, 10)
    energy = pd.DataFrame({"time": midnights + 15 * HOUR, "energy": felt})
    days = days_between(start, start + pd.Timedelta(days=n), UTC)
    return WearTables(name, days, UTC, daily, meals, energy, nights, activity, ("screen_min",))


def _habits(rng: np.random.Generator, truth: Truth, n: int) -> dict[str, np.ndarray]:
    shared = autocorrelated(rng, n, truth.habit_rho)

    def habit(sign: float = 1.0) -> np.ndarray:
        own = autocorrelated(rng, n, truth.habit_rho)
        return np.sqrt(1 - truth.linked**2) * own + truth.linked * sign * shared

    asleep_h = 7.0 + 0.9 * habit(-1)
    return {
        "asleep_h": asleep_h,
        "short_night": (asleep_h < 6).astype(float),
        "stress": np.clip(4 + 1.8 * habit(), 0, 10),
        "caffeine_mg": np.clip(180 + 70 * habit(), 0, None),
        "relaxation_min": np.where(rng.random(n) < 0.7, rng.gamma(2, 8, n), 0.0),
        "screen_min": 40 + 25 * habit(),
        "morning_exercise": (habit() > 0.5).astype(float),
    }


def _daily(rng, truth: Truth, level: float, dates, habits, gap_h: np.ndarray, meals: pd.DataFrame) -> pd.DataFrame:
    n = len(dates)
    factors = habits | {"last_meal_to_sleep_h": gap_h}

    def total(effects: dict[str, float]) -> np.ndarray:
        return np.zeros(n) + sum(b * (factors[f] - factors[f].mean()) / PER.get(f, 1) for f, b in effects.items())

    noise = truth.day_sd * autocorrelated(rng, n, truth.rho)
    if truth.heavy:
        noise *= np.where(rng.random(n) < 0.1, 2.5, 1.0)
    eaten = meals.groupby("day")[["carbs_g", "fiber_g"]].sum().reindex(range(n), fill_value=0)
    carbs = eaten["carbs_g"].to_numpy()
    mean = level + total(truth.day) + noise + truth.drift * (np.arange(n) / n - 0.5) + 0.01 * (carbs - carbs.mean())
    night = level - 8 + 0.5 * noise + 3 * rng.standard_normal(n) + total(truth.night)
    daily = pd.DataFrame({"date": dates, "coverage": 1.0, "enough": pd.array(np.ones(n, bool), "boolean")})
    daily["mean_mg_dl"], daily[["carbs_g", "fiber_g"]] = mean, eaten
    daily["sd_mg_dl"] = np.exp(np.log(15) + 0.15 * autocorrelated(rng, n, truth.rho))
    daily["overnight_mean_mg_dl"] = np.append(level, night[:-1])
    for name in ("stress", "caffeine_mg", "relaxation_min", "screen_min"):
        daily[name] = habits[name]
    daily["asleep_h"] = habits["asleep_h"] + np.append(0.0, total(truth.sleep)[:-1])
    daily["exercise_min"] = 40 * habits["morning_exercise"]
    lost = rng.random(n) < truth.missing
    daily.loc[lost, "enough"] = False
    daily.loc[lost, ["mean_mg_dl", "sd_mg_dl", "overnight_mean_mg_dl"]] = np.nan
    return daily


def _meals(
    rng: np.random.Generator, truth: Truth, menu: pd.DataFrame, start: pd.Timestamp, n: int
) -> tuple[pd.DataFrame, np.ndarray]:
    """Occasions, and the response to be expected of each without any effect. [mg/dL]"""
    day, hour, snack = _when(rng, truth, n)
    m = len(day)
    dish, once = rng.integers(0, len(menu), m), rng.random(m) < truth.one_offs
    eaten = menu.iloc[dish].reset_index(drop=True).mask(pd.Series(once), draw_dishes(rng, m), axis=0)
    grams = eaten.drop(columns="response").mul(np.exp(0.15 * rng.standard_normal(m)), axis=0)
    grams.loc[snack, "carbs_g"] *= 0.35
    mood, taste = autocorrelated(rng, n, 0.3)[day], rng.standard_normal(m)
    pull = truth.linked * (0.8 * (hour > 18) + 0.5 * mood + 0.01 * (eaten["carbs_g"].to_numpy() - 55))
    factors = {
        "walk_after": (taste + pull > 0.5) & ~snack,
        "protein_first": 0.5 * truth.linked * taste + rng.standard_normal(m) > 0.5,
        "eaten_out": rng.random(m) < 0.25,
        "evening_meal": hour >= 18,
        "fiber_g": (grams["fiber_g"].to_numpy() - 6) / 10,
    }
    expected = 40 * (grams["carbs_g"].to_numpy() / 50) ** 0.9 * eaten["response"].to_numpy()
    log_effect = sum(b * factors[f] for f, b in truth.meal.items()) - truth.eating_sd**2 / 2
    rise = expected * np.exp(log_effect + truth.eating_sd * rng.standard_normal(m))
    rise += truth.wander_sd * rng.standard_normal(m) + 2 * rng.standard_normal(n)[day] + 3
    if truth.heavy:
        rise += np.where(rng.random(m) < 0.08, rng.exponential(25, m), 0.0)
    meals = pd.DataFrame({"day": day, "time": (start + pd.to_timedelta(24 * day + hour, unit="h")).as_unit("us")})
    kind = np.where(snack, "snack", "dish")
    meals["dish"] = np.where(once, "", [f"{k} {i}" for k, i in zip(kind, dish, strict=True)])
    meals = meals.assign(name="meal", walk_after=pd.array(factors["walk_after"], "boolean"), **grams)
    meals["setting"] = np.where(factors["eaten_out"], "out", "home")
    meals["eaten_first"] = np.where(factors["protein_first"], "protein", "mixed")
    half = 1.645 * rng.uniform(3, 6, m)
    meals["baseline_mg_dl"] = 90 + 5 * rng.standard_normal(m)
    meals = meals.assign(rise_mg_dl=rise, rise_low_mg_dl=rise - half, rise_high_mg_dl=rise + half)
    meals["iauc_2h_mg_dl_min"] = np.maximum(60 * rise + 300 * rng.standard_normal(m), 0)
    meals["net_area_3h_mg_dl_min"] = 1.25 * meals["iauc_2h_mg_dl_min"]
    meals["usable_2h"] = pd.array(rng.random(m) > 0.1, "boolean")
    meals["reason"] = np.where(meals["usable_2h"], "", "gap")
    return meals, expected


def _when(rng: np.random.Generator, truth: Truth, n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    day, hour = np.repeat(np.arange(n), 3), np.tile([8.0, 13.0, 19.3], n) + 0.4 * rng.standard_normal(3 * n)
    extra = np.flatnonzero(rng.random(n) < truth.snacks)
    day, hour = np.append(day, extra), np.append(hour, 16.2 + 0.2 * rng.standard_normal(len(extra)))
    snack = np.arange(len(day)) >= 3 * n
    order = np.lexsort((hour, day))
    return day[order], hour[order], snack[order]


def true_of(truth: Truth, rises: dict[str, float], factor: str, outcome: str) -> float:
    """The true value of one row of ``effects``; NaN where it is not known on paper."""
    if factor == "carbs_g" or (factor == "short_night" and "asleep_h" in truth.day):
        return np.nan
    known = {
        "mean_mg_dl": truth.day, "overnight_mean_mg_dl": truth.night, "asleep_h": truth.sleep, "rise_mg_dl": rises,
        "iauc_2h_mg_dl_min": {name: 60 * value for name, value in rises.items()},
    }  # fmt: skip
    return known.get(outcome, {}).get(factor, 0.0)
