"""What does the wearer write down? From what happened to the tables of a wear, with the slips real logs have."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from glucolab.record.study import empty_table
from glucolab.simulate.blood import Lived
from glucolab.simulate.extras import COFFEE
from glucolab.simulate.feelings import rate_feelings
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


CARBS_SD = (0.08, 0.23)
"""Log error of portions in full logs, size apart [1]: with `PORTION_SHRINK` estimates differ from weights with a CV of
0.20 (references A1). Less makes food's effects look easier to find."""
PORTION_SHRINK = (0.1, 0.28)
"""How portions shrink with size [1]: meal size explains 35 % of the error's variance (references A1), 0.12 of the log,
over meals whose carbohydrate varies by 0.6 in the log. Nil would leave the error independent of size."""
_USUAL_CARBS_G = 50.0
"""A portion written as large as it is, `carbs_low` apart [g]; assumed. Another shifts all portions alike."""
CLOCK_OFF_SHARE, CLOCK_OFF_MIN = 5 / 29, (15.0, 75.0)
"""Logs whose clock is off [1], and by how much [min]: in 5 of 29 people with two sensors one clock was, by 15-65
(open recordings). Less leaves the tool's look at clocks untried."""
MOST_SLIPS = 0.015
"""Most slips a meal in a careless log [1]; assumed: one in some hundred cells was seen in open logs."""
_KCAL_PER_G = {"carbs_g": 4, "protein_g": 4, "fat_g": 9, "fiber_g": 2, "alcohol_g": 7}
"""Energy a gram [kcal/g]: Regulation (EU) 1169/2011, annex XIV. Other factors make sound rows look mistyped."""


@dataclass(frozen=True)
class Logs:
    """How carefully the log is kept; all assumed.

    Attributes
    ----------
    meals_share, snacks_share : float
        Of meals and of snacks that are written down at all.
    late_min, time_sd_min : float
        Logged after the first bite: mean delay, never much too early, and its spread. [min]
    carbs_sd : float
        Log error of the carbohydrate written, and of the other nutrients, half its variance being the portion's that
        all share; `carbs_low` the share left out on average.
    portion_shrink : float
        Written portions grow with the true ones to the power of one less this: large meals are under-estimated.
    nutrients_share : float
        Of meals with carbohydrate and the other nutrients.
    details_share : float
        Of meals with order, setting and dish.
    activity_share, days_share : float
        Of efforts and of days that are written down.
    trackers : tuple of (str, float, float, float)
        Of sleep: name, bias and SD of its sleep time [min], share of nights it recorded.
    feelings_per_day : float
    stress_share : float
        Of stressful moments noted, as timed entries in feelings.
    notes_share : float
        Of trips, knocks and the like that are noted.
    brisk_share : float
        Of walks written down as `moderate`, which brisk ones are by their METs.
    clock_min : float
        By how much the log's clock is ahead, below 0 behind. [min]
    slip_share : float
        Of meals with a slip of the pen: a point, a unit, a date (slips.py).
    movement_min : int
        How long each row is that a wrist writes; 0: none does. Then days.csv leaves the steps to it. [min]
    """

    meals_share: float = 0.97
    snacks_share: float = 0.75
    late_min: float = 4.0
    time_sd_min: float = 5.0
    carbs_sd: float = 0.15
    carbs_low: float = 0.03
    portion_shrink: float = 0.0
    nutrients_share: float = 1.0
    details_share: float = 1.0
    activity_share: float = 0.95
    days_share: float = 0.95
    trackers: tuple[tuple[str, float, float, float], ...] = (("watch", -8.0, 12.0, 0.97), ("mattress", 15.0, 25.0, 0.8))
    feelings_per_day: float = 3.0
    stress_share: float = 0.8
    brisk_share: float = 0.0
    clock_min: float = 0.0
    slip_share: float = 0.0
    movement_min: int = 0


EXACT_LOGS = Logs(
    *(1.0, 1.0, 0.0, 0.0, 0.0, 0.0), activity_share=1.0, days_share=1.0, stress_share=1.0,
    trackers=(("watch", 0.0, 0.0, 1.0),),
)  # fmt: skip
"""Everything is written down as it was [1], [min]. An error in it would be taken for one of the estimate."""

NO_LOGS = Logs(0.0, 0.0, activity_share=0.0, days_share=0.0, trackers=(), feelings_per_day=0.0, stress_share=0.0)
"""Nothing but the sensor [1]. Any share above 0 would let a test without a log see one."""


def draw_logs(rng: np.random.Generator, *, sparse: bool = False, careless: bool = False, **fixed: Any) -> Logs:
    """Draw how a log is kept, full or sparse; `fixed` fields are not drawn.

    `careless`: its clock may be off, pens slip, and brisk walks are written down as moderate.
    """
    careless_draws = named_stream(rng, "careless")
    low, high = (0.35, 0.75) if sparse else (0.9, 1.0)
    drawn = {
        "meals_share": rng.uniform(low, high),
        "snacks_share": rng.uniform(0.1, 0.4) if sparse else rng.uniform(0.5, 0.95),
        "late_min": rng.uniform(5, 14) if sparse else rng.uniform(0, 7),
        "time_sd_min": rng.uniform(6, 14) if sparse else rng.uniform(2, 8),
        "carbs_sd": rng.uniform(0.2, 0.4) if sparse else rng.uniform(*CARBS_SD),
        "portion_shrink": rng.uniform(*PORTION_SHRINK), "carbs_low": rng.uniform(0, 0.25),
        "nutrients_share": rng.uniform(0.3, 0.7) if sparse else rng.uniform(0.9, 1.0),
        "details_share": rng.uniform(0, 0.5) if sparse else 1.0,
        "activity_share": rng.uniform(0.3, 0.8) if sparse else rng.uniform(0.9, 1.0),
        "days_share": rng.uniform(0, 0.6) if sparse else rng.uniform(0.9, 1.0),
        "feelings_per_day": rng.uniform(0, 1) if sparse else rng.uniform(1, 4),
        "stress_share": rng.uniform(0, 0.4) if sparse else rng.uniform(0.7, 1.0),
    }  # fmt: skip
    logs = replace(Logs(), **({k: float(v) for k, v in drawn.items()} | {k: v for k, v in fixed.items() if k in drawn}))
    if sparse and "trackers" not in fixed:
        logs = replace(logs, trackers=logs.trackers[: int(rng.integers(0, 2))])
    return replace(logs, **((_draw_careless(careless_draws) if careless else {}) | fixed))


def _draw_careless(rng: np.random.Generator) -> dict[str, float]:
    off = rng.choice([-1.0, 1.0]) * rng.uniform(*CLOCK_OFF_MIN) * (rng.random() < CLOCK_OFF_SHARE)
    return {
        "clock_min": round(float(off)), "slip_share": float(rng.uniform(0, MOST_SLIPS)),
        "brisk_share": float(rng.random()),
    }  # fmt: skip


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
