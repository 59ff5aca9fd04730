"""Which wearers is the tool tried on? Kinds of invented wears and studies, many of which break its assumptions."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from glucolab.reading.folder import read_study
from glucolab.record import Person
from glucolab.simulate import (
    NO_LOGS,
    Simulated,
    draw_logs,
    draw_meter,
    draw_sensor,
    draw_wearer,
    gather,
    simulate_study,
    simulate_wear,
    write_study,
)
from glucolab.simulate.log_keeping import CLOCK_OFF_MIN

LONG_DAYS = 200
START = pd.Timestamp("2026-02-03T07:10:00Z")
SOFT_SHAPES = ("half_sine", "slow", "shallow", "partial")

Maker = Callable[[np.random.Generator], Simulated]
Knobs = Callable[[np.random.Generator], dict[str, Any]]
"""What is not drawn as usual, drawn here."""


def _clock_off(rng: np.random.Generator) -> dict[str, Any]:
    """A log's clock that is off in every wearer, as it is in one of six."""
    return {"clock_min": round(float(rng.choice([-1, 1]) * rng.uniform(*CLOCK_OFF_MIN)))}


def _grazes(rng: np.random.Generator) -> dict[str, Any]:
    return {"bites_per_day": float(rng.uniform(2, 6)), "coffee_after_share": float(rng.uniform(0.3, 0.9))}


def _nothing(rng: np.random.Generator) -> dict[str, Any]:
    return {}


def _wear(
    *,
    checks: int = 6,
    days: float = 14.0,
    sparse: bool = False,
    bare: bool = False,
    meter: dict | None = None,
    habits: Knobs = _nothing,
    log: Knobs = _nothing,
    **sensor,
) -> Maker:
    """A study of one wear; `sensor` are knobs that are not drawn."""

    def make(rng: np.random.Generator) -> Simulated:
        wearer = draw_wearer(rng, **habits(rng))
        worn = draw_sensor(rng, **({"interval_min": 5.0} | sensor))
        logs = NO_LOGS if bare else draw_logs(rng, sparse=sparse, **log(rng))
        shift = pd.Timedelta(minutes=int(rng.integers(0, 720)))
        one = simulate_wear(
            rng, wearer, worn, START + shift, days, logs=logs, meter=draw_meter(rng, **(meter or {})), checks=checks
        )
        return gather("invented", [one], Person("Europe/Warsaw"))

    return make


def _offset_that_drifts(rng: np.random.Generator) -> Simulated:
    offset, drift = float(rng.normal(0, 15)), float(rng.normal(0, 1.0))
    meter = {"bias_percent": float(rng.choice([-5.0, 5.0]))}
    return _wear(gain=1.0, offset_mg_dl=offset, drift_mg_dl_day=drift, meter=meter)(rng)


def _gain_alone(rng: np.random.Generator) -> Simulated:
    return _wear(gain=float(np.exp(rng.normal(0, 0.18))), offset_mg_dl=0.0)(rng)


WEARS: dict[str, Maker] = {
    "6 checks": _wear(),
    "no checks": _wear(checks=0),
    "2 checks": _wear(checks=2),
    "12 checks": _wear(checks=12),
    "offset, drift, meter off": _offset_that_drifts,
    "gain alone": _gain_alone,
    "heavy, slow noise": _wear(noise_sd_mg_dl=6.0, noise_degrees=3.0, noise_min=70.0),
    "soft pressure": _wear(pressure_shapes=SOFT_SHAPES, pressure_per_night=1.1),
    "plain pressure": _wear(
        pressure_shapes=("box", "ramps"), pressure_depth_mg_dl=25.0, pressure_awake_share=0.0, noise_degrees=100.0
    ),
    "15 min": _wear(interval_min=15.0),
    "1 min": _wear(interval_min=1.0),
    "missed nights": _wear(interval_min=15.0, memory_hours=8.0, evening_scan_share=0.25),
    "sparse logs": _wear(sparse=True),
    "glucose alone": _wear(checks=0, bare=True),
    "sugary finger": _wear(meter={"gross_share": 0.2}),
    "lag of 15-20 min": _wear(lag_min=17.5),
    "5 days": _wear(days=5.0),
    "mmol/L": _wear(rounds_to_mmol_l=True),
    "by the hour": _wear(by_hour=True),
    "drift, heavy tails": _wear(as_measured=True),
    "clock off": _wear(log=_clock_off),
    "grazing": _wear(habits=_grazes),
}  # fmt: skip
"""Studies of one wear each."""


def _two_wears(*, change: float = 0.0, checks: int = 6, **more) -> Maker:
    def make(rng: np.random.Generator) -> Simulated:
        return simulate_study(
            rng,
            wears=2,
            level_changes_mg_dl=[0.0, change],
            checks=checks,
            logs=draw_logs(rng),
            sensor={"interval_min": 5.0},
            long_days=LONG_DAYS,
            **more,
        )

    return make


def _one_wear(rng: np.random.Generator) -> Simulated:
    return simulate_study(rng, wears=1, logs=draw_logs(rng), sensor={"interval_min": 5.0}, long_days=LONG_DAYS)


def _six_wears(rng: np.random.Generator) -> Simulated:
    """Of one or of two models, with more or fewer checks, at levels that drift."""
    return simulate_study(
        rng,
        wears=6,
        apart_days=float(rng.uniform(14, 60)),
        level_changes_mg_dl=list(np.cumsum(rng.normal(0, 4, 6))),
        checks=rng.integers(0, 9, 6).tolist(),
        one_model=bool(rng.random() < 0.7),
        logs=draw_logs(rng),
        sensor={"interval_min": 5.0},
        long_days=LONG_DAYS,
    )


def _a_year(rng: np.random.Generator) -> Simulated:
    """Two weeks on, two off: what is wrong in every wear alike shows, for chance no longer hides it."""
    return simulate_study(
        rng,
        wears=13,
        apart_days=14.0,
        level_changes_mg_dl=list(np.cumsum(rng.normal(0, 2, 13))),
        checks=rng.integers(0, 9, 13).tolist(),
        one_model=bool(rng.random() < 0.7),
        logs=draw_logs(rng),
        sensor={"interval_min": 5.0},
        long_days=LONG_DAYS,
    )


def _sparse_15_min(rng: np.random.Generator) -> Simulated:
    return simulate_study(
        rng, wears=2, logs=draw_logs(rng, sparse=True), sensor={"interval_min": 15.0}, long_days=LONG_DAYS
    )


def _habits_together(rng: np.random.Generator) -> Simulated:
    """Stress travels with coffee, late evenings with short nights, walks with the order of eating."""
    wearer = draw_wearer(rng, linked=float(rng.uniform(0.5, 0.8)))
    return simulate_study(
        rng, wearer=wearer, wears=3, logs=draw_logs(rng), sensor={"interval_min": 5.0}, long_days=LONG_DAYS
    )


def _wrong_assumptions(rng: np.random.Generator) -> Simulated:
    """Each assumption is broken in one study of three: by body, habits, sensor or meter."""
    body = {
        "carb_power": 0.5,  # a response that saturates
        "day_autocorrelation": 0.75,
        "eating_sd": 0.5,
        "portion_sd": 0.35,
        "time_to_peak_sd": 18.0,
        "linked": 0.7,
    }
    noise = {"noise_sd_mg_dl": 6.0, "noise_degrees": 3.0, "noise_min": 70.0}
    pressure = {"pressure_shapes": SOFT_SHAPES, "pressure_per_night": 1.1}
    worn = [noise, {"lag_min": 17.5}, {"drift_mg_dl_day": float(rng.normal(0, 0.8))}, pressure]
    broken = {name: value for name, value in body.items() if rng.random() < 1 / 3}
    sensor = {"interval_min": 5.0} | {n: v for part in worn if rng.random() < 1 / 3 for n, v in part.items()}
    meter = draw_meter(rng, **({"gross_share": 0.2} if rng.random() < 1 / 3 else {}))
    return simulate_study(
        rng,
        wearer=draw_wearer(rng, **broken),
        wears=2,
        logs=draw_logs(rng),
        sensor=sensor,
        meter=meter,
        long_days=LONG_DAYS,
    )


def _nothing_works(rng: np.random.Generator) -> Simulated:
    wearer = draw_wearer(rng, effects=False, exercise_rise_mg_dl=0.0, exercise_fall_mg_dl=0.0)
    wearer = replace(wearer, effects=replace(wearer.effects, fat_delay_min=0.0, first_delay_min=0.0))
    return simulate_study(
        rng, wearer=wearer, wears=2, logs=draw_logs(rng), sensor={"interval_min": 5.0}, long_days=LONG_DAYS
    )


def _unkind(*, habits: Knobs = _nothing, log: Knobs = _nothing, **sensor) -> Maker:
    """Three wears of one person, read from their files as a person's are, since slips are met in reading."""

    def make(rng: np.random.Generator) -> Simulated:
        made = simulate_study(
            rng,
            wearer=draw_wearer(rng, **habits(rng)),
            wears=3,
            logs=draw_logs(rng, **log(rng)),
            sensor={"interval_min": 5.0} | sensor,
            long_days=LONG_DAYS,
        )
        return _as_read(made)

    return make


def _as_read(made: Simulated) -> Simulated:
    with tempfile.TemporaryDirectory() as folder:
        write_study(made.study, Path(folder) / made.study.name)
        study = read_study(Path(folder) / made.study.name)
    wears = tuple(replace(worn, record=record) for worn, record in zip(made.wears, study.wears, strict=True))
    return replace(made, study=study, wears=wears)


NOTHING_WORKS = "nothing works"

STUDIES: dict[str, Maker] = {
    "no change, 6 checks": _two_wears(),
    "no change, no checks": _two_wears(checks=0),
    "no change, two models": _two_wears(checks=6, one_model=False),
    "no change, two models, no checks": _two_wears(checks=0, one_model=False),
    "12 lower, 12 checks": _two_wears(change=-12.0, checks=12),
    "6 lower, 12 checks": _two_wears(change=-6.0, checks=12),
    "side by side, no checks": _two_wears(checks=0, one_model=False, side_by_side=True),
    "one wear": _one_wear,
    "six wears": _six_wears,
    "a year": _a_year,
    "15 min, sparse logs": _sparse_15_min,
    "habits together": _habits_together,
    "wrong assumptions": _wrong_assumptions,
    "uneven sensors": _unkind(by_hour=True, as_measured=True),
    "log's clock off": _unkind(log=_clock_off),
    "typing errors": _unkind(log=lambda rng: {"slip_share": 0.02}),
    "grazers": _unkind(habits=_grazes),
    "brisk walks": _unkind(log=lambda rng: {"brisk_share": float(rng.uniform(0.5, 1.0))}),
    "all unkind": _unkind(habits=_grazes, log=lambda rng: {"careless": True}, by_hour=True, as_measured=True),
    NOTHING_WORKS: _nothing_works,
}
"""Studies, scored by the differences between their wears, their effects and their dishes."""
