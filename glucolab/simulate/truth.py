"""What is true of an invented wear and study? The figures the tool estimates, from the blood it never sees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from glucolab.clock import local_hours
from glucolab.record import WearPeriod
from glucolab.simulate.blood import Lived
from glucolab.simulate.causes import true_effects, true_trials
from glucolab.simulate.changed_lives import true_levers
from glucolab.simulate.definitions import count_excursions, find_true_occasions, measure_responses, minutes_per_day
from glucolab.simulate.expectations import (
    expected_dish_rises,
    expected_energy_effects,
    expected_evening_effects,
    live_long,
)
from glucolab.simulate.life import WALK_KINDS
from glucolab.simulate.readings import Shown
from glucolab.simulate.sensor import Sensor
from glucolab.simulate.slips import LogErrors
from glucolab.simulate.usual_level import usual_mean_mg_dl

WRONG_DAY_MIN = 720.0
"""A meal logged farther from when it was eaten has a wrong date [min]; half a day lies between any clock's error and
the day beside. Such delays say nothing of how late meals are logged."""


@dataclass(frozen=True, eq=False)
class WearTruth:
    """What is true of one wear, from insertion to removal.

    Attributes
    ----------
    time : pandas.DatetimeIndex
        Every minute of the wear, shape (n,). [UTC]
    blood_mg_dl, interstitial_mg_dl : numpy.ndarray
        Shape (n,). [mg/dL]
    readings : pandas.DataFrame
        What is true of each reading, indexed by line as the record's glucose table: blood_mg_dl, interstitial_mg_dl,
        undisturbed_mg_dl, pressure_mg_dl, and true/false columns pressure, jump, stuck, loosening, limit, duplicate,
        warm_up.
    occasions : pandas.DataFrame
        A row a logged occasion: time as logged, true_time, dish, true_carbs_g, walked (whether a walk followed), and
        the contract's figures at the logged time; `rise_at_true_time_mg_dl` besides.
    checks : pandas.DataFrame
        A row a check: time, glucose_mg_dl, the true blood_mg_dl, gross (true for a sugary finger).
    walks : pandas.DataFrame
        Every walk, logged or not: start [UTC], minutes.
    lag_min, bias_mg_dl : float
        Lag of the sensor; mean of sensor minus blood after warm-up, noise and artefacts left out. [min], [mg/dL]
    mean_mg_dl, sd_mg_dl, usual_mean_mg_dl, overnight_mean_mg_dl : float
        Over the wear, insertion and removal included; what living like this gives; over the true nights. [mg/dL]
    mean_after_warm_up_mg_dl, clock_night_mean_mg_dl : float
        The mean without the first hours; over 00:00-06:00. [mg/dL]
    minutes_below, minutes_in_range, minutes_above : float
        A day, for 70-140 mg/dL. [min]
    log_errors : LogErrors
        By how much the log's clock is ahead, and its slips by line.
    drift_mg_dl_day : float
        By how much the sensor drifts. [mg/dL per day]
    bias_by_hour_mg_dl : numpy.ndarray
        As `bias_mg_dl`, by local hour from midnight, shape (24,); NaN where the wear has none of an hour. [mg/dL]
    excursions_per_day, dips_per_day : float
        Dips of 10 mg/dL or more after logged occasions.
    """

    name: str
    time: pd.DatetimeIndex = field(repr=False)
    blood_mg_dl: np.ndarray = field(repr=False)
    interstitial_mg_dl: np.ndarray = field(repr=False)
    readings: pd.DataFrame = field(repr=False)
    occasions: pd.DataFrame = field(repr=False)
    checks: pd.DataFrame = field(repr=False)
    walks: pd.DataFrame = field(repr=False)
    lag_min: float
    bias_mg_dl: float
    mean_mg_dl: float
    mean_after_warm_up_mg_dl: float
    usual_mean_mg_dl: float
    sd_mg_dl: float
    overnight_mean_mg_dl: float
    clock_night_mean_mg_dl: float
    minutes_below: float
    minutes_in_range: float
    minutes_above: float
    excursions_per_day: float
    dips_per_day: float
    log_errors: LogErrors
    drift_mg_dl_day: float
    bias_by_hour_mg_dl: np.ndarray = field(repr=False)


@dataclass(frozen=True, eq=False)
class StudyTruth:
    """What is true of a study.

    Attributes
    ----------
    wears : dict of str to WearTruth
    changes : pandas.DataFrame
        A row a pair of wears: period_a, period_b (b later), difference_mg_dl of the usual means, b - a.
    effects : pandas.DataFrame
        factor, outcome, estimate: the contract's effects, averaged over the person's own days and meals. A factor that
        does nothing has rows with 0; the evening, whose background counts too, and what energy goes with after eating
        (rise_mg_dl, dip_mg_dl on energy) only if asked for.
    levers : pandas.DataFrame
        factor, on_mean_mg_dl: what each habit would have done to the average of these days, had it been kept.
    dishes : pandas.DataFrame
        dish, rise_mg_dl: expected over the person's own ways of eating it; without rows unless asked for.
    trials : pandas.DataFrame
        trial, arm_a, arm_b, outcome, difference (b - a) on the dates drawn.
    """

    wears: dict[str, WearTruth]
    changes: pd.DataFrame
    effects: pd.DataFrame
    levers: pd.DataFrame
    dishes: pd.DataFrame
    trials: pd.DataFrame


def find_wear_truth(
    lived: Lived,
    sensor: Sensor,
    shown: Shown,
    record: WearPeriod,
    meals: pd.DataFrame | None,
    checks: pd.DataFrame,
    log_errors: LogErrors,
) -> WearTruth:
    """The truth of a wear; `meals` is its log with the column `meal` that names the row of the life behind it."""
    inside = np.asarray((lived.time >= record.start) & (lived.time < lived.end))
    settled = inside & np.asarray(lived.time >= record.start + pd.Timedelta(hours=record.warm_up_hours))
    settled = settled if settled.any() else inside
    blood = lived.blood_mg_dl[inside]
    occasions = _occasions(lived, meals)
    days = len(blood) / 1440
    below, within, above = minutes_per_day(blood, 70.0, 140.0)
    dips = occasions["dip_mg_dl"] >= 10 if len(occasions) else pd.Series(dtype=bool)
    bias = (shown.expected_mg_dl - lived.blood_mg_dl)[settled]
    readings = shown.rows.drop(columns=["time", "glucose_mg_dl", "taken", "word"])
    return WearTruth(
        name=record.name, time=lived.time[inside], blood_mg_dl=blood,
        interstitial_mg_dl=shown.interstitial_mg_dl[inside],
        readings=readings.set_index(pd.Index(np.arange(2, 2 + len(readings)), name="line")),
        occasions=occasions, checks=checks, walks=_walks(lived),
        lag_min=sensor.lag_min, bias_mg_dl=float(np.mean(bias)), drift_mg_dl_day=sensor.drift_mg_dl_day,
        bias_by_hour_mg_dl=_by_hour(bias, local_hours(lived.time[settled], lived.zones)), log_errors=log_errors,
        mean_mg_dl=float(blood.mean()), mean_after_warm_up_mg_dl=float(lived.blood_mg_dl[settled].mean()),
        usual_mean_mg_dl=usual_mean_mg_dl(lived.wearer), sd_mg_dl=float(blood.std()),
        overnight_mean_mg_dl=_night_mean(lived, inside), clock_night_mean_mg_dl=_clock_night_mean(lived, inside),
        minutes_below=below, minutes_in_range=within, minutes_above=above,
        excursions_per_day=count_excursions(blood) / days, dips_per_day=float(dips.sum()) / days,
    )  # fmt: skip


def find_study_truth(
    wears: Sequence[tuple[WearTruth, Lived]], trials: pd.DataFrame | None = None, long_days: int = 0
) -> StudyTruth:
    """The truth of a study from the truth of its wears and the lives behind them."""
    truths = [truth for truth, _ in wears]
    changes = [
        {"period_a": a.name, "period_b": b.name, "difference_mg_dl": b.usual_mean_mg_dl - a.usual_mean_mg_dl}
        for i, a in enumerate(truths)
        for b in truths[i + 1 :]
    ]
    lives = [lived for _, lived in wears]
    rows = true_effects(lives)
    dishes = pd.DataFrame(columns=["dish", "rise_mg_dl"])
    if long_days:
        long_life = live_long(lives[0].wearer, long_days)
        rows += expected_evening_effects(long_life) + expected_energy_effects(long_life)
        dishes = expected_dish_rises(long_life, _delays_min(truths))
    effects = pd.DataFrame(rows, columns=["factor", "outcome", "estimate"])
    return StudyTruth(
        wears={t.name: t for t in truths},
        changes=pd.DataFrame(changes, columns=["period_a", "period_b", "difference_mg_dl"]),
        effects=effects,
        levers=true_levers(lives, effects),
        dishes=dishes,
        trials=true_trials(lives, trials),
    )


def _delays_min(truths: Sequence[WearTruth]) -> np.ndarray:
    """How long after the meal each occasion was logged, by a clock that is right, 0 without a log, shape (m,). [min]"""
    late = [(truth.occasions["time"] - truth.occasions["true_time"]).dt.total_seconds() / 60 for truth in truths]
    clocks = [truth.log_errors.clock_min for truth in truths]
    delays = np.concatenate([one.to_numpy(float) - clock for one, clock in zip(late, clocks, strict=True)])
    delays = delays[np.abs(delays) < WRONG_DAY_MIN]
    return delays if len(delays) else np.zeros(1)


def _occasions(lived: Lived, meals: pd.DataFrame | None) -> pd.DataFrame:
    if meals is None or not len(meals):
        none = measure_responses(lived.blood_mg_dl, np.array([]))
        moments = pd.Series(dtype="datetime64[us, UTC]")
        empty = {"time": moments, "true_time": moments, "dish": None, "true_carbs_g": np.nan, "walked": False}
        return none.assign(**empty, rise_at_true_time_mg_dl=none["rise_mg_dl"])
    eaten = lived.meals.loc[meals["meal"]]
    table = pd.DataFrame(
        {
            "time": meals["time"].to_numpy(),
            "true_time": eaten["time"].to_numpy(),
            "dish": meals["dish"].to_numpy(),
            "true_carbs_g": eaten["carbs_g"].to_numpy(),
            "walked": eaten["walk_after"].to_numpy(bool),
        }
    )
    table = table.groupby(find_true_occasions(pd.Series(meals["time"].to_numpy()))).agg(
        time=("time", "first"),
        true_time=("true_time", "min"),
        dish=("dish", "first"),
        true_carbs_g=("true_carbs_g", "sum"),
        walked=("walked", "any"),
    )
    figures = measure_responses(lived.blood_mg_dl, lived.minute(table["time"]))
    at_true = measure_responses(lived.blood_mg_dl, lived.minute(table["true_time"]))
    return table.reset_index(drop=True).join(figures).assign(rise_at_true_time_mg_dl=at_true["rise_mg_dl"])


def _walks(lived: Lived) -> pd.DataFrame:
    done = lived.activity[lived.activity["kind"].isin(WALK_KINDS)]
    inside = (done["start"] > lived.start) & (done["start"] < lived.end)
    return done.loc[inside, ["start", "minutes"]].reset_index(drop=True)


def _by_hour(values: np.ndarray, hours: np.ndarray) -> np.ndarray:
    """Mean of the values of each local hour, shape (24,)."""
    return pd.Series(values).groupby(hours.astype(int)).mean().reindex(range(24)).to_numpy()


def _night_mean(lived: Lived, inside: np.ndarray) -> float:
    night = np.zeros(len(lived.time), bool)
    for a, b in zip(lived.minute(lived.sleep["start"]), lived.minute(lived.sleep["end"]), strict=True):
        night[max(int(np.ceil(a)), 0) : max(int(np.ceil(b)), 0)] = True
    chosen = lived.blood_mg_dl[night & inside]
    return float(chosen.mean()) if len(chosen) else float("nan")


def _clock_night_mean(lived: Lived, inside: np.ndarray) -> float:
    edges = lived.minute(lived.days.edges[:-1])
    night = np.zeros(len(lived.time), bool)
    for a in edges:
        night[max(int(a), 0) : max(int(a) + 360, 0)] = True
    chosen = lived.blood_mg_dl[night & inside]
    return float(chosen.mean()) if len(chosen) else float("nan")
