"""What does the wearer write down? From what happened to the tables of a wear, with the slips real logs have."""

from __future__ import annotations

from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from glucolab.record.study import empty_table
from glucolab.simulate.blood import Lived
from glucolab.simulate.extras import COFFEE
from glucolab.simulate.feelings import rate_feelings
from glucolab.simulate.log_keeping import Logs
from glucolab.simulate.streams import named_stream
from glucolab.simulate.wrist import write_movement

_ONE_OFFS = {
    "breakfast": (
        ("egg", "cheese", "ham", "marmalade", "honey", "pear", "nut", "seed"),
        ("toast", "bun", "muesli", "sandwich", "pancake"),
    ),
    "meal": (
        ("bean", "fish", "potato", "egg", "cabbage", "mushroom", "noodle", "beet", "pumpkin", "pea"),
        ("stew", "bake", "soup", "wrap", "salad", "bowl"),
        ("with bread", "with dill", "with cheese", "with gravy", "with sausage"),
    ),
    "sweet": (("chocolate", "plum", "apple", "lemon", "poppy seed", "vanilla"), ("cake", "biscuit", "tart", "bar")),
    "bite": (("olive", "cheese", "carrot", "rye", "sausage", "nut"), ("crackers", "sticks", "rolls", "mix")),
}


_USUAL_CARBS_G = 50.0
"""A portion written as large as it is, `carbs_low` apart [g]; assumed. Another shifts all portions alike."""
_KCAL_PER_G = {"carbs_g": 4, "protein_g": 4, "fat_g": 9, "fiber_g": 2, "alcohol_g": 7}
"""Energy a gram [kcal/g]: Regulation (EU) 1169/2011, annex XIV. Other factors make sound rows look mistyped."""


def as_table(name: str, frame: pd.DataFrame, order: str | list[str] | None = None) -> pd.DataFrame:
    """An input table as reading gives it: the schema's columns and types, rows sorted, indexed by line from 2 on."""
    types = _types(name)
    if order is not None:
        frame = frame.sort_values(order, kind="stable")
    frame = frame.set_axis(pd.Index(np.arange(2, 2 + len(frame)), dtype="int64", name="line"))
    known = {c: frame[c].astype(t) if c in frame else pd.Series(None, frame.index, dtype=t) for c, t in types.items()}
    return pd.DataFrame(known | {c: frame[c] for c in frame.columns if c not in types})


@lru_cache
def _types(name: str) -> dict[str, Any]:
    """Type of each column of an input table, as records hold it."""
    return {str(column): kind for column, kind in empty_table(name).dtypes.items()}


def write_logs(
    rng: np.random.Generator, lived: Lived, logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> dict[str, pd.DataFrame]:
    """The tables of a wear from `start` to `end` [UTC]: meals, activity, movement, sleep, days, feelings; with rows.

    The column `meal` of the meals, which no file has, names the row of `lived.meals` behind each: the caller takes
    it out, for the truth.
    """
    meals = _log_meals(rng, lived, logs, start, end)
    tables = {
        "meals": meals,
        "activity": as_table("activity", _log_activity(rng, lived, logs, start, end), "start"),
        "sleep": as_table("sleep", _log_sleep(rng, lived, logs, start, end), ["start", "source"]),
        "days": as_table("days", _log_days(rng, lived, logs, start, end), "date"),
        "feelings": as_table("feelings", _log_feelings(rng, lived, logs, start, end), "time"),
    }
    if logs.movement_min:
        wrist = named_stream(rng, "wrist")
        tables["movement"] = as_table("movement", write_movement(wrist, lived, logs.movement_min, start, end), "time")
        tables["days"]["steps"] = np.nan
    return {name: table for name, table in tables.items() if len(table)}


def _log_meals(
    rng: np.random.Generator, lived: Lived, logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> pd.DataFrame:
    meals = lived.meals
    snack = meals["slot"].str.contains("snack").to_numpy()
    kept = rng.random(len(meals)) < np.where(snack, logs.snacks_share, logs.meals_share)
    kept &= ((meals["time"] > start) & (meals["time"] < end)).to_numpy()
    eaten = meals[kept]
    m = len(eaten)
    delay = np.maximum(logs.late_min + logs.time_sd_min * rng.standard_normal(m), -6.0)
    plates = _write_plates(rng, eaten, logs)
    log = pd.DataFrame({
        "time": (eaten["time"] + pd.to_timedelta(delay * 60, unit="s")).dt.round("min").dt.as_unit("us"),
        "name": np.where(eaten["dish"] != "", eaten["dish"], _one_off_names(rng, eaten)),
    } | {name: plates[name].round(0) for name in plates})  # fmt: skip
    log["alcohol_g"] = eaten["alcohol_g"].where(eaten["alcohol_g"] > 0).round(0)
    log["energy_kcal"] = log[list(_KCAL_PER_G)].fillna(0).mul(pd.Series(_KCAL_PER_G)).sum(axis=1).round(-1)
    log.loc[rng.random(m) >= logs.nutrients_share, ["carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal"]] = np.nan
    log["eaten_first"] = eaten["eaten_first"].where(~eaten["slot"].str.contains("snack"))
    log["setting"], log["dish"] = eaten["setting"], eaten["dish"].where(eaten["dish"] != "")
    bare = rng.random(m) >= logs.details_share
    log.loc[bare, ["eaten_first", "setting", "dish"]] = np.nan
    log["time_source"], log["time_uncertain"], log["meal"] = "written", False, eaten.index.to_numpy()
    log = log[log["time"].between(start, end)]
    return as_table("meals", log, "time")


def _write_plates(rng: np.random.Generator, eaten: pd.DataFrame, logs: Logs) -> dict[str, pd.Series]:
    """What is written of each plate's nutrients: the portion misjudged for all of them, each a little by itself. [g]"""
    own = named_stream(rng, "other nutrients")
    portion = logs.carbs_sd * rng.standard_normal(len(eaten))
    usual = (1 - logs.carbs_low) * (eaten["carbs_g"].clip(lower=1) / _USUAL_CARBS_G) ** -logs.portion_shrink
    written = {"carbs_g": eaten["carbs_g"] * usual * np.exp(portion)}
    for name in ("fiber_g", "protein_g", "fat_g"):
        apart = logs.carbs_sd * own.standard_normal(len(eaten))
        written[name] = eaten[name] * usual * np.exp((portion + apart) / np.sqrt(2))
    return written


def _one_off_names(rng: np.random.Generator, eaten: pd.DataFrame) -> np.ndarray:
    """Names for what is eaten once, hardly two alike, shape (m,)."""
    snack = eaten["slot"].str.contains("snack").to_numpy()
    sweet = eaten["sweet"].to_numpy(bool)
    kind = np.where(
        snack, np.where(sweet, "sweet", "bite"), np.where(eaten["slot"] == "breakfast", "breakfast", "meal")
    )
    kind = np.where(eaten["slot"] == COFFEE, "coffee", kind)
    names = np.where(kind == "coffee", "black coffee", "").astype(object)
    for word, parts in _ONE_OFFS.items():
        mine = np.flatnonzero(kind == word)
        choices = np.array([" ".join(words) for words in product(*parts)], dtype=object)
        names[mine] = np.resize(rng.permutation(choices), len(mine))
    return names


def _log_activity(
    rng: np.random.Generator, lived: Lived, logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> pd.DataFrame:
    done = lived.activity[(lived.activity["start"] > start) & (lived.activity["start"] < end)]
    done = done[rng.random(len(done)) < logs.activity_share]
    when = done["start"].dt.round("min").dt.as_unit("us")
    brisk = (done["kind"] == "walk") & (named_stream(rng, "brisk walks").random(len(done)) < logs.brisk_share)
    effort = done["effort"].mask(brisk, "moderate")
    return pd.DataFrame({"start": when, "minutes": done["minutes"], "kind": done["kind"], "effort": effort})


def _log_sleep(
    rng: np.random.Generator, lived: Lived, logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> pd.DataFrame:
    nights = lived.sleep[(lived.sleep["end"] > start - pd.Timedelta(hours=3)) & (lived.sleep["end"] < end)]
    seen = []
    for name, bias, sd, share in logs.trackers:
        mine = nights[rng.random(len(nights)) < share]
        k = len(mine)
        off = [pd.to_timedelta(np.round(rng.normal(2, 4, k)) * (sd > 0), unit="min") for _ in range(2)]
        asleep = np.clip(np.round(mine["asleep_min"].to_numpy() + bias + sd * rng.standard_normal(k)), 60, 1000)
        begin, stop = (mine["start"] + off[0]).dt.round("min"), (mine["end"] + off[1]).dt.round("min")
        row = {
            "start": begin.dt.as_unit("us"),
            "end": stop.dt.as_unit("us"),
            "source": name,
            "asleep_min": asleep,
            "awakenings": rng.poisson(1.6, k),
        }
        good = np.clip(np.round(7 + (mine["asleep_min"].to_numpy() / 60 - 7.2) * 1.2 + rng.normal(0, 1, k)), 0, 10)
        seen.append(pd.DataFrame(row | {"quality": good}))
    return pd.concat(seen, ignore_index=True) if seen else pd.DataFrame(columns=["start", "source"])


def _log_days(
    rng: np.random.Generator, lived: Lived, logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> pd.DataFrame:
    life = lived.life
    inside = (lived.days.edges[1:] > start) & (lived.days.edges[:-1] < end)
    rows = np.flatnonzero(inside & (rng.random(len(life.dates)) < logs.days_share))
    days = life.days.iloc[rows]
    n = len(rows)
    table = pd.DataFrame({
        "date": life.dates[rows], "stress": days["stress"].round(0), "caffeine_mg": days["caffeine_mg"].round(-1),
        "relaxation_min": days["relaxation_min"].round(0),
        "steps": np.round(np.exp(rng.normal(8.9, 0.35, n)) + 2500 * days["exercise"], -1),
        "resting_hr_bpm": np.round(58 - 1.2 * (days["asleep_h"] - 7) + 4 * days["ill"] + rng.normal(0, 1.8, n)),
        "hrv_ms": np.round(np.exp(rng.normal(3.9, 0.15, n)) + 3 * (days["asleep_h"] - 7)).clip(5), "ill": days["ill"],
    })  # fmt: skip
    if lived.wearer.habits.covariate:
        table[lived.wearer.habits.covariate] = days["covariate"].round(0)
    return table


def _log_feelings(
    rng: np.random.Generator, lived: Lived, logs: Logs, start: pd.Timestamp, end: pd.Timestamp
) -> pd.DataFrame:
    rated = rate_feelings(rng, lived, logs.feelings_per_day, logs.stress_share)
    return rated[(rated["time"] > start) & (rated["time"] < end)]
