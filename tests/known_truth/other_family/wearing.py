"""What does the sensor read, and what is in the folder? One wear as the package reads it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from glucolab.clock import ZoneSpans
from glucolab.record import Goal, Person, Study, WearPeriod, empty_table
from tests.known_truth.other_family.blood import Blood, make_blood
from tests.known_truth.other_family.living import DAY_MIN, HOUR_MIN, Life, effort_of_walks, live
from tests.known_truth.other_family.rest import draw_t
from tests.known_truth.other_family.traits import CLOCK, Traits, draw_traits, make_rng

WEARS, LIFE_DAYS = 3, 14
"""Wears of a study, and days of each. [days]"""
FIRST, APART_DAYS = pd.Timestamp("2026-01-05T00:00Z"), (28, 60)
"""Midnight before the first wear, and from one to the next: two weeks without a sensor, or more. [days]"""
START_H = (7.0, 11.0)
"""When a sensor is put on. [h]"""
LAG_MIN = (4.0, 12.0)
"""Time constant of what sensors read behind blood; published lags are 4-10 min, of whole sensors more. [min]"""
OFFSET_SD_MG_DL, GAIN_SD, DRIFT_SD_MG_DL = 6.0, 0.06, 3.0
"""How sensors differ: offset, gain about 100 mg/dL, change from the first day to the last; assumed. [mg/dL, 1]"""
NOISE_SD_MG_DL, NOISE_MIN = (1.5, 4.0), (8.0, 35.0)
"""SD of sensor noise [mg/dL] and how long it stays alike [min]; assumed, autoregressive with Student's t."""
SETTLES_H, SETTLE_SD_MG_DL = 8.0, 6.0
"""The first hours' error of a sensor, and how fast it fades; assumed, most is within the warm-up. [h, mg/dL]"""
GAPS, GAP_MIN = 3.0, (20.0, 300.0)
"""Mean number of gaps a wear, and their length; assumed. [min]"""
CHECKS, METER = 6, (0.04, 0.05)
"""Finger-sticks a wear, and the meter's relative error; of meters within the international rule."""
CLOCK_MIN = 60.0
"""How late one wear's log is where its clock was not set; an hour, as after a change of season. [min]"""
SLEEP_SD_MIN, WALK_SD_MIN = 12.0, 2.0
"""Error of a tracker's time asleep and of the start of a walk; assumed. [min]"""


@dataclass(frozen=True, eq=False)
class Worn:
    """One wear with its truth.

    Attributes
    ----------
    midnight : pandas.Timestamp
        From which minutes count.
    life : Life
    blood : Blood
    wear : WearPeriod
    written : ndarray
        When each eating is in the log, by the log's own clock; NaT if it is not, shape (n,).
    """

    midnight: pd.Timestamp
    life: Life
    blood: Blood
    wear: WearPeriod
    written: pd.DatetimeIndex


def invent(kind: str, seed: int, number: int) -> tuple[Traits, list[Worn]]:
    """One study of that kind."""
    rng = make_rng(kind, seed, number)
    traits = draw_traits(rng, kind)
    return traits, wear_all(rng, traits)


def wear_all(rng: np.random.Generator, traits: Traits) -> list[Worn]:
    """The wears of one wearer."""
    midnights = FIRST + pd.to_timedelta(np.cumsum([0, *rng.integers(*APART_DAYS, WEARS - 1)]), unit="D")
    off = int(rng.integers(WEARS)) if traits.kind == CLOCK else -1
    effort, interval = effort_of_walks(rng, traits), int(rng.choice([5, 15]))
    worn = []
    for i, midnight in enumerate(midnights):
        life = live(rng, traits)
        blood = make_blood(rng, traits, life)
        ahead = CLOCK_MIN if i == off else 0.0
        logged = [eating.logged_at + ahead if eating.logged else np.nan for eating in life.eatings]
        written = moments(midnight, np.array(logged))
        start = float(np.round(HOUR_MIN * rng.uniform(*START_H)))
        span = start, start + LIFE_DAYS * DAY_MIN
        tables = {
            "glucose": _read(rng, traits, blood, midnight, span, interval),
            "checks": _check(rng, blood, midnight, span, life),
            "meals": _write_meals(traits, life, written, moments(midnight, life.coffees + ahead)),
            "activity": _write_movement(rng, life, midnight, ahead, effort),
            "sleep": _write_sleep(rng, life, midnight),
            "days": _write_days(life, midnight),
        }
        tables = {name: _within(table, moments(midnight, np.array(span))) for name, table in tables.items()}
        begin, end = moments(midnight, np.array(span))
        name = f"wear {i + 1}"
        wear = WearPeriod(
            name, begin, end, ZoneSpans(("UTC",)), ended="removed", sensor=name, sensor_model="model", meter="meter",
            life_days=float(LIFE_DAYS), warm_up_hours=24.0, interval_min=float(interval), tables=tables,
        )  # fmt: skip
        worn.append(Worn(midnight, life, blood, wear, written))
    return worn


def as_study(worn: list[Worn]) -> Study:
    """What the package is given."""
    return Study("invented", Person("UTC"), goal=Goal(95.0), wears=tuple(one.wear for one in worn))


def moments(midnight: pd.Timestamp, minutes: np.ndarray) -> pd.DatetimeIndex:
    """Minutes since midnight as times, to the whole minute; NaN is NaT."""
    return pd.DatetimeIndex(midnight + pd.to_timedelta(np.round(minutes), unit="min")).as_unit("us")


def as_table(name: str, columns: dict[str, object]) -> pd.DataFrame:
    """An input table as the reader makes it; what is not given is not recorded."""
    empty = empty_table(name)
    table = pd.DataFrame(columns).reindex(columns=empty.columns).astype(empty.dtypes.to_dict())
    return table.set_axis(pd.RangeIndex(2, len(table) + 2, name="line"))


def _within(table: pd.DataFrame, span: pd.DatetimeIndex) -> pd.DataFrame:
    """Rows that begin, or nights that end, during the wear."""
    for column in ("time", "end", "start"):
        if column in table:
            return table[table[column].between(span[0], span[1])]
    return table


def _read(
    rng: np.random.Generator, traits: Traits, blood: Blood, midnight: pd.Timestamp, span: tuple[float, float],
    interval: int,
) -> pd.DataFrame:  # fmt: skip
    """Readings of one sensor: behind blood, with its own offset, gain and drift, noisy, rounded, with gaps."""
    total = blood.total()
    keep = np.exp(-1 / rng.uniform(*LAG_MIN))
    below = lfilter([1 - keep], [1, -keep], total - total[0]) + total[0]
    at = np.arange(span[0] + rng.integers(1, interval + 1), span[1], interval)
    days = (at - span[0]) / DAY_MIN
    alike = np.exp(-interval / rng.uniform(*NOISE_MIN))
    steps = np.array([draw_t(rng, min(traits.tails, 6.0)) for _ in at])
    noise = lfilter([np.sqrt(1 - alike**2)], [1, -alike], steps)
    gain = rng.normal(1, GAIN_SD)
    value = 100 + rng.normal(0, OFFSET_SD_MG_DL) + gain * (below[at.astype(int)] - 100)
    value += DRIFT_SD_MG_DL * rng.standard_normal() * (days / LIFE_DAYS - 0.5)
    value += SETTLE_SD_MG_DL * rng.standard_normal() * np.exp(-24 * days / SETTLES_H)
    value += rng.uniform(*NOISE_SD_MG_DL) * noise
    kept = np.ones(len(at), dtype=bool)
    for _ in range(rng.poisson(GAPS)):
        begin = rng.uniform(*span)
        kept &= (at < begin) | (at > begin + np.exp(rng.uniform(*np.log(GAP_MIN))))
    read = np.clip(np.round(value[kept]), 40, 400)
    return as_table("glucose", {"time": moments(midnight, at[kept]), "glucose_mg_dl": read})


def _check(
    rng: np.random.Generator, blood: Blood, midnight: pd.Timestamp, span: tuple[float, float], life: Life
) -> pd.DataFrame:
    """Finger-sticks: most before breakfast or another meal, some at any hour of the day."""
    before = np.array([eating.minute - rng.uniform(2, 20) for eating in life.eatings])
    any_hour = life.wake + rng.uniform(30, 14 * HOUR_MIN, len(life.wake))
    asked = np.concatenate([rng.choice(before, CHECKS - 2, replace=False), rng.choice(any_hour, 2, replace=False)])
    at = np.sort(asked[(asked > span[0] + DAY_MIN) & (asked < span[1])])
    value = blood.total()[at.astype(int)] * (1 + rng.uniform(*METER) * rng.standard_normal(len(at)))
    columns = {"time": moments(midnight, at), "glucose_mg_dl": np.round(value), "source": "fingerstick"}
    return as_table("checks", columns)


def _write_meals(traits: Traits, life: Life, written: pd.DatetimeIndex, coffees: pd.DatetimeIndex) -> pd.DataFrame:
    rows = []
    for eating, time in zip(life.eatings, written, strict=True):
        if pd.isna(time):
            continue
        dish, portion = eating.dish, eating.written_portion
        grams = {"carbs_g": dish.carbs_g}
        if traits.writes_nutrients:
            grams |= {"fiber_g": dish.fiber_g, "protein_g": dish.protein_g, "fat_g": dish.fat_g}
        order = ("protein" if eating.protein_first else "mixed") if eating.order_written else None
        named = {"time": time, "name": dish.name, "dish": dish.name, "eaten_first": order}
        rows.append(named | {name: float(np.round(portion * value)) for name, value in grams.items()})
    rows += [{"time": time, "name": "coffee", "carbs_g": 0.0, "caffeine_mg": 80.0} for time in coffees]
    table = pd.DataFrame(rows).sort_values("time", kind="stable", ignore_index=True)
    return as_table("meals", dict(table.assign(time_source="written", time_uncertain=False)))


def _write_movement(
    rng: np.random.Generator, life: Life, midnight: pd.Timestamp, ahead: float, effort: str | None
) -> pd.DataFrame:
    after = np.array([(e.walk_at, e.walk_min) for e in life.eatings if e.walk_after]).reshape(-1, 2)
    walks = np.concatenate([after, life.walks])
    walks[:, 0] += WALK_SD_MIN * rng.standard_normal(len(walks))
    n, hard = len(walks), len(life.workouts)
    begin, minutes = np.concatenate([walks, life.workouts]).T
    table = pd.DataFrame({
        "start": moments(midnight, begin + ahead), "minutes": minutes,
        "kind": ["walk"] * n + ["run"] * hard, "effort": [effort] * n + ["vigorous"] * hard,
    })  # fmt: skip
    return as_table("activity", dict(table.sort_values("start", kind="stable", ignore_index=True)))


def _write_sleep(rng: np.random.Generator, life: Life, midnight: pd.Timestamp) -> pd.DataFrame:
    asleep = np.round(HOUR_MIN * life.asleep_h + SLEEP_SD_MIN * rng.standard_normal(len(life.wake)))
    asleep = np.minimum(asleep, life.wake - life.bed)
    bed, wake = moments(midnight, life.bed), moments(midnight, life.wake)
    return as_table("sleep", {"start": bed, "end": wake, "source": "watch", "asleep_min": asleep})


def _write_days(life: Life, midnight: pd.Timestamp) -> pd.DataFrame:
    dates = pd.date_range(midnight.tz_localize(None), periods=len(life.stress), freq="D").as_unit("us")
    return as_table("days", {"date": dates, "stress": life.stress, "caffeine_mg": life.caffeine_mg})
