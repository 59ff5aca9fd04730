"""How do the invented days go? Sleep, meals, movement, stress: what happens when, before any glucose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.simulate.extras import BITE, COFFEE, EXTRAS, drink_alcohol, eat_between
from glucolab.simulate.streams import named_stream
from glucolab.simulate.wearer import EVENING_HOUR, SHORT_NIGHT_HOURS, Dish, Habits, Wearer

_SLOTS = ("breakfast", "lunch", "dinner", "morning snack", "afternoon snack", "evening snack")
_DISH_SLOT = {"breakfast": "breakfast", "lunch": "main", "dinner": "main", BITE: "bite", COFFEE: "coffee"}
_SMALL = ("snack", *EXTRAS)
_USUAL = {
    "breakfast": Dish("breakfast", "breakfast", 42.0, 4.0, 12.0, 9.0),
    "main": Dish("meal", "main", 58.0, 7.0, 28.0, 18.0),
    "snack": Dish("snack", "snack", 20.0, 2.0, 3.0, 6.0),
    **EXTRAS,
}
"""What is eaten once, on average: carbohydrate, fibre, protein, fat [g]; assumed. Too much carbohydrate makes invented
rises too large and every effect on them easier to find than in life, too little the reverse."""
WALK_KINDS = ("walk",)


@dataclass(frozen=True, eq=False)
class Life:
    """What happens on each day, in local clock hours since that day's midnight.

    Attributes
    ----------
    dates : pandas.DatetimeIndex
        Local dates, naive, shape (d,).
    days : pandas.DataFrame
        A row a day: wake_h, bed_h (of its evening, may pass 24), asleep_h (the night before), gap_h
        (last meal to bed), short_night, stress, caffeine_mg, relaxation_min, covariate, ill, morning_exercise.
    meals, activity, stress_events : pandas.DataFrame
        A row an event, with `day` (position) and `hour`, sorted.
    """

    dates: pd.DatetimeIndex
    days: pd.DataFrame
    meals: pd.DataFrame
    activity: pd.DataFrame
    stress_events: pd.DataFrame


def live(
    rng: np.random.Generator,
    wearer: Wearer,
    dates: pd.DatetimeIndex,
    plan: pd.DataFrame | None = None,
    ill_dates: pd.DatetimeIndex | None = None,
) -> Life:
    """Draw the days of a wearer.

    Parameters
    ----------
    dates : DatetimeIndex of naive local dates, shape (d,)
    plan : DataFrame, optional
        Columns date, slot, dish, walk (true, false or missing), first (or missing): what was agreed for
        some meals, as in a trial. That meal is then eaten, and eaten so.
    ill_dates : DatetimeIndex, optional
        On which the wearer is ill, besides those that chance gives.
    """
    habits = wearer.habits
    evening = _evenings(rng, habits, dates)
    days = _days(rng, wearer, evening, dates)
    if ill_dates is not None:
        days["ill"] |= dates.isin(ill_dates)
    meals = _meals(rng, wearer, days, evening, dates, plan)
    activity = _activity(rng, habits, days, meals)
    meals["walk_after"] = walked_after(meals, activity)
    return Life(dates, days, meals, activity, _stress_events(rng, habits, days))


def autocorrelated(rng: np.random.Generator, n: int, rho: float) -> np.ndarray:
    """Stationary first-order autoregression with unit variance, shape (n,)."""
    shocks = rng.standard_normal(n)
    if rho == 0 or n == 0:
        return shocks
    reach = min(n, int(np.ceil(np.log(1e-9) / np.log(abs(rho)))) + 1)
    kernel = rho ** np.arange(reach) * np.sqrt(1 - rho**2)
    early = rng.standard_normal(reach)
    return np.convolve(np.concatenate([early, shocks]), kernel)[reach : reach + n]


def walked_after(meals: pd.DataFrame, activity: pd.DataFrame) -> np.ndarray:
    """True where a walk or light effort of 5 min or more starts 0-45 min after the meal (contract), shape (m,)."""
    walks = activity[(activity["kind"].isin(WALK_KINDS) | (activity["effort"] == "light")) & (activity["minutes"] >= 5)]
    starts = np.sort((walks["day"] * 24 + walks["hour"]).to_numpy())
    times = (meals["day"] * 24 + meals["hour"]).to_numpy()
    first = np.searchsorted(starts, times, side="left")
    later = np.append(starts, np.inf)[first]
    return later - times <= 45 / 60 + 1e-9


def _evenings(rng: np.random.Generator, habits: Habits, dates: pd.DatetimeIndex) -> pd.DataFrame:
    """Dinner, late snack and bed of the day before the first and of each day: rows -1 … d-1."""
    n = len(dates) + 1
    dinner = habits.dinner_h + habits.meal_jitter_h * rng.standard_normal(n)
    bed = np.maximum(habits.bed_h + habits.bed_sd_h * rng.standard_normal(n), dinner + 0.8)
    late = rng.random(n) < habits.snacks_per_day / 3
    snack = np.minimum(dinner + rng.uniform(1.2, 2.6, n), bed - 0.3)
    last = np.where(late, snack, dinner)
    return pd.DataFrame(
        {"dinner": dinner, "bed": bed, "late": late, "snack": snack, "gap_h": bed - last}, index=range(-1, n - 1)
    )


def _days(rng: np.random.Generator, wearer: Wearer, evening: pd.DataFrame, dates: pd.DatetimeIndex) -> pd.DataFrame:
    habits, n, linked = wearer.habits, len(dates), wearer.habits.linked
    own = np.sqrt(1 - linked**2)
    before = evening.loc[: n - 2]
    late = (before["bed"].to_numpy() - habits.bed_h) / habits.bed_sd_h
    stress = autocorrelated(rng, n, 0.2)
    sleepy = own * autocorrelated(rng, n, habits.asleep_autocorrelation) - linked * (0.8 * late + 0.6 * stress)
    asleep = habits.asleep_h + habits.asleep_sd_h * sleepy
    asleep += wearer.effects.sleep_per_gap_h * (before["gap_h"].to_numpy() - usual_gap_h(habits))
    asleep = np.clip(asleep, 2.5, 10.5)
    wake = before["bed"].to_numpy() - 24 + asleep + rng.uniform(0.2, 0.7, n)
    exercises = rng.random(n) < habits.exercise_share
    morning = exercises & (rng.random(n) < habits.exercise_morning_share) & (wake < 9.4)
    coffee = linked * stress + own * rng.standard_normal(n)
    return pd.DataFrame({
        "wake_h": wake, "bed_h": evening.loc[0:, "bed"].to_numpy(), "asleep_h": asleep,
        "gap_h": before["gap_h"].to_numpy(), "short_night": asleep < SHORT_NIGHT_HOURS,
        "stress": np.clip(habits.stress + habits.stress_sd * stress, 0, 10),
        "caffeine_mg": np.clip(habits.caffeine_mg + habits.caffeine_sd * coffee, 0, None),
        "relaxation_min": np.where(rng.random(n) < 0.6, rng.gamma(2.0, habits.relaxation_min / 1.2 + 1e-9, n), 0.0),
        "covariate": np.clip(habits.covariate_mean + habits.covariate_sd * rng.standard_normal(n), 0, None),
        "ill": rng.random(n) < habits.ill_share, "exercise": exercises, "morning_exercise": morning,
    })  # fmt: skip


def usual_gap_h(habits: Habits) -> float:
    """About how long before bed the last meal is, for centring. [h]"""
    return habits.bed_h - habits.dinner_h - 1.9 * habits.snacks_per_day / 3


def _meals(
    rng: np.random.Generator,
    wearer: Wearer,
    days: pd.DataFrame,
    evening: pd.DataFrame,
    dates: pd.DatetimeIndex,
    plan: pd.DataFrame | None,
) -> pd.DataFrame:
    habits, n = wearer.habits, len(dates)
    breakfast = np.maximum(
        days["wake_h"] + rng.uniform(0.3, 0.9, n), habits.breakfast_h + habits.meal_jitter_h * rng.standard_normal(n)
    )
    lunch = np.maximum(habits.lunch_h + habits.meal_jitter_h * rng.standard_normal(n), days["wake_h"] + 2.5)
    hours = np.column_stack([
        breakfast, lunch, evening.loc[0:, "dinner"], np.maximum(rng.uniform(9.8, 11.3, n), breakfast + 0.8),
        np.maximum(rng.uniform(14.8, 17.0, n), lunch + 0.8), evening.loc[0:, "snack"],
    ])  # fmt: skip
    snack = habits.snacks_per_day / 3
    eaten = rng.random((n, 6)) >= np.array([habits.skip_breakfast, habits.skip_lunch, 0.0, 1 - snack, 1 - snack, 1.0])
    eaten[:, 5] = evening.loc[0:, "late"]
    day, slot = np.nonzero(eaten)
    meals = pd.DataFrame({"day": day, "slot": np.array(_SLOTS)[slot], "hour": hours[day, slot]})
    if plan is not None and len(plan):
        meals = _follow(meals, plan, dates, hours)
    if habits.bites_per_day or habits.coffee_after_share:
        extras = eat_between(named_stream(rng, "extras"), habits, days, meals)
        meals = pd.concat([meals, extras], ignore_index=True)
    meals = meals.sort_values(["day", "hour"], ignore_index=True)
    return _fill_plates(rng, wearer, meals, days)


def _follow(meals: pd.DataFrame, plan: pd.DataFrame, dates: pd.DatetimeIndex, hours: np.ndarray) -> pd.DataFrame:
    """Meals with the planned ones present and marked, and nothing else for two hours after these."""
    plan = plan.assign(day=dates.get_indexer(pd.DatetimeIndex(plan["date"]))).query("day >= 0")
    slot = plan["slot"].map(_SLOTS.index).to_numpy()
    plan = plan.assign(hour=hours[plan["day"].to_numpy(), slot])[["day", "slot", "hour", "dish", "walk", "first"]]
    plan = plan.rename(columns={"dish": "planned_dish", "walk": "planned_walk", "first": "planned_first"})
    rest = meals.merge(plan[["day", "slot"]], how="left", indicator=True)
    rest = rest[rest["_merge"] == "left_only"].drop(columns="_merge")
    for day, hour in zip(plan["day"], plan["hour"], strict=True):
        rest = rest[(rest["day"] != day) | ~rest["hour"].between(hour - 0.5, hour + 2.1)]
    return pd.concat([rest, plan], ignore_index=True)


def _fill_plates(rng: np.random.Generator, wearer: Wearer, meals: pd.DataFrame, days: pd.DataFrame) -> pd.DataFrame:
    """Which dish, how much of it, and how it is eaten."""
    habits, m = wearer.habits, len(meals)
    drinks = named_stream(rng, "drinks")
    kind = meals["slot"].map(_DISH_SLOT).fillna("snack").to_numpy()
    meals["dish"] = _choose(rng, wearer, kind, meals.get("planned_dish"))
    contents, one_off = _contents(rng, wearer, kind, meals["dish"].to_numpy())
    out = (
        (rng.random(m) < habits.out_share)
        & (kind == "main")
        & ~meals.get("planned_dish", pd.Series(None, index=meals.index)).notna()
    )
    size = np.exp(habits.portion_sd * rng.standard_normal(m) * np.where(one_off, 2.0, 1.0) + 0.3 * habits.linked * out)
    for name in ("carbs_g", "fiber_g", "protein_g", "fat_g"):
        meals[name] = contents[name] * size
    meals["response"], meals["sweet"], meals["repeats"] = contents["response"], contents["sweet"] > 0, ~one_off
    meals["setting"] = np.where(out, "out", "home")
    meals["eaten_first"] = _orders(rng, habits, kind, meals.get("planned_first"))
    wants = rng.random(m) < np.clip(
        habits.walk_share + habits.linked * 0.3 * (meals["eaten_first"] == "protein"), 0, 0.95
    )
    wants &= ~np.isin(kind, _SMALL) & ~days["ill"].to_numpy()[meals["day"]]
    planned = meals.get("planned_walk")
    if planned is not None:
        wants = np.where(planned.notna(), planned.fillna(False).astype(bool), wants)
    meals["wants_walk"] = wants
    meals["planned"] = None if planned is None else planned
    meals["evening"] = meals["hour"] >= EVENING_HOUR
    meals["alcohol_g"] = drink_alcohol(drinks, habits, meals)
    return meals


def _choose(rng: np.random.Generator, wearer: Wearer, kind: np.ndarray, planned: pd.Series | None) -> np.ndarray:
    names = np.full(len(kind), "", dtype=object)
    for slot in ("breakfast", "main", "snack"):
        menu = [d for d in wearer.dishes if d.slot == slot and d.repeats]
        mine = np.flatnonzero(kind == slot)
        if menu and len(mine):
            weight = np.array([d.weight for d in menu])
            picked = rng.choice(len(menu), len(mine), p=weight / weight.sum())
            names[mine] = np.where(
                rng.random(len(mine)) < wearer.habits.one_off_share,
                "",
                np.array([d.name for d in menu], object)[picked],
            )
    if planned is not None:
        names = np.where(planned.notna(), planned.fillna("").astype(object), names)
    return names


def _contents(
    rng: np.random.Generator, wearer: Wearer, kind: np.ndarray, names: np.ndarray
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    fields = ("carbs_g", "fiber_g", "protein_g", "fat_g", "response", "sweet")
    menu = [*_USUAL.values(), *wearer.dishes]
    table = np.array([[getattr(d, f) for f in fields] for d in menu], float)
    keys = pd.Index([*_USUAL, *(d.name for d in wearer.dishes)])
    row = keys.get_indexer(pd.Index(np.where(names == "", kind, names)))
    contents = dict(zip(fields, table[row].T.copy(), strict=True))
    one_off = names == ""
    n = int(one_off.sum())
    for name in ("carbs_g", "fiber_g", "protein_g", "fat_g"):
        contents[name][one_off] *= np.exp(np.clip(0.4 * rng.standard_normal(n) - 0.08, -1.0, 0.7))
    contents["response"][one_off] *= np.exp(0.25 * rng.standard_normal(n))
    contents["sweet"][one_off] = rng.random(n) < np.where(kind[one_off] == "snack", 0.5, 0.1)
    return contents, one_off


def _orders(rng: np.random.Generator, habits: Habits, kind: np.ndarray, planned: pd.Series | None) -> np.ndarray:
    draw = rng.random(len(kind))
    share = habits.protein_first_share
    first = np.where(
        draw < share, "protein", np.where(draw < share + 0.1, "fiber", np.where(draw < share + 0.3, "carbs", "mixed"))
    )
    first = np.where(np.isin(kind, _SMALL), "mixed", first).astype(object)
    if planned is not None:
        first = np.where(planned.notna(), planned.fillna("mixed").astype(object), first)
    return first


def _activity(rng: np.random.Generator, habits: Habits, days: pd.DataFrame, meals: pd.DataFrame) -> pd.DataFrame:
    after = meals[meals["wants_walk"]]
    k = len(after)
    walks = pd.DataFrame(
        {
            "day": after["day"],
            "hour": after["hour"] + rng.uniform(6, 38, k) / 60,
            "minutes": rng.integers(10, 31, k).astype(float),
        }
    )
    walks["kind"], walks["effort"] = "walk", "light"
    day = np.flatnonzero(days["exercise"] & ~days["ill"])
    morning = days["morning_exercise"].to_numpy()[day]
    wake = days["wake_h"].to_numpy()[day]
    hour = np.where(
        morning, np.minimum(wake + rng.uniform(0.4, 1.3, len(day)), 10.7), rng.uniform(16.8, 18.3, len(day))
    )
    sport = rng.choice(3, len(day), p=[0.4, 0.35, 0.25])
    effort = np.where(rng.random(len(day)) < 0.45, "vigorous", "moderate")
    training = pd.DataFrame({"day": day, "hour": hour, "minutes": rng.integers(25, 61, len(day)).astype(float)})
    training["kind"], training["effort"] = np.array(["run", "strength", "bicycle"])[sport], effort
    table = pd.concat([walks, training], ignore_index=True)
    agreed = meals[meals["planned"].notna()]
    for d, h, walk in zip(agreed["day"], agreed["hour"], agreed["planned"], strict=True):
        near = (table["day"] == d) & table["hour"].between(h - 1.0, h + 2.1)
        table = table[~near | ((table["kind"] == "walk") & bool(walk))]
    return table.sort_values(["day", "hour"], ignore_index=True)


def _stress_events(rng: np.random.Generator, habits: Habits, days: pd.DataFrame) -> pd.DataFrame:
    rate = habits.stress_events_per_day * np.exp(0.25 * (days["stress"] - habits.stress) - 0.1)
    day = np.repeat(np.arange(len(days)), rng.poisson(rate))
    wake, bed = days["wake_h"].to_numpy()[day], days["bed_h"].to_numpy()[day]
    hour = wake + 1 + rng.random(len(day)) * np.maximum(bed - wake - 2, 1)
    events = pd.DataFrame({"day": day, "hour": hour, "strength": np.clip(rng.normal(7, 1.2, len(day)), 4, 10)})
    return events.sort_values(["day", "hour"], ignore_index=True)
