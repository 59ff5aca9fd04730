"""What does the invented sensor do to glucose? Its knobs, drawn from what was published about real ones."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from glucolab.simulate.hours import Hill, draw_model_hills, draw_own_hills
from glucolab.simulate.streams import named_stream

PRESSURE_SHAPES = ("box", "half_sine", "ramps", "slow", "shallow", "partial", "overshoot")
MEASURED_SPREAD, SPREAD_DEGREES = 0.113, 5.0
"""Log SD between sensors of one model, and degrees of freedom of its tails [1]: 0.124 of the level over 30 people with
two sensors, 0.102 over 23 of them (open recordings). Smaller makes averages without finger-sticks look surer than they
are."""
MEASURED_DRIFT, DRIFT_DEGREES = 0.069, 3.0
"""Scale of a sensor's drift over ten days [of the level], and degrees of freedom [1]: 1.134 times the scale is the
robust SD, 0.078 as measured, sqrt 3 times the SD, 0.119 (RMS measured 0.114). Smaller makes changes within
a wear look surer than they are."""
FIRST_DAY_OFF_SHARE, FIRST_DAY_OFF_MG_DL = 0.3, 25.0
"""Sensors whose first day is off, and its SD on insertion [1], [mg/dL]; assumed, for no clean number was found
(references A6). None would let a tool pass that trusts the second day."""


@dataclass(frozen=True)
class Sensor:
    """One sensor, or with the shared parts alone, one model of sensor.

    Attributes
    ----------
    interval_min : float
        1, 5 or 15. [min]
    lag_min : float
        First-order lag of the reading behind blood, 2-20: per-sensor lags of 2-24 min (Staal 2018), two sensors
        in one person 6.7 +- 5.1 min apart (Boyne 2003). [min]
    offset_mg_dl, gain : float
        reading = gain x interstitial + offset. Between sensors of one model about 9 % at the wearer's level,
        between models another 20 % (methods.md 3); +16 +- 11 in one healthy cohort (Hutchins 2025). [mg/dL], [1]
    drift_mg_dl_day : float
        Change of the offset, zero at the middle of the wear; assumed SD 0.3, or as measured. [mg/dL per day]
    first_day_mg_dl, first_day_hours : float
        Offset on insertion, and the time constant with which it goes; larger early errors are a general finding
        without a clean number (references.md 7.4). [mg/dL], [h]
    hills : tuple of Hill
        By how much it departs from itself by the local hour, of mean nil over the day.
    noise_sd_mg_dl, noise_min, noise_smoothing_min, noise_degrees : float
        Correlated noise: SD, time constant, smoothing inside the sensor, degrees of freedom of its heavy tails (large:
        Gaussian).
        Published error of a whole sensor: SD 11 with AR(1) 0.7 over 15 min (Breton & Kovatchev 2008), lag and bias
        counted in; two of a type differ by 7.5 % (Zschornack 2013). Of 15 people asleep, 5-min steps have a
        robust SD of 1-2 and 15-min steps of 3 mg/dL (food_log and two_sensors of the open data): here 1.5-4.
        [mg/dL], [min]
    white_sd_mg_dl : float
        Noise that is new at each reading: 0.2-1.2, by the same 5-min steps. [mg/dL]
    rounds_to_mmol_l : bool
        Readings are whole tenths of mmol/L instead of whole mg/dL.
    reads_from_mg_dl, reads_to_mg_dl : float
        Floor and ceiling. [mg/dL]
    words_at_limits : bool
        It writes LO and HI there instead of numbers.
    pressure_per_night, pressure_depth_mg_dl, pressure_min, pressure_shapes
        Expected pressure lows a night, their mean depth and length, and the shapes they may take.
        About 3 % of readings in > 1125 nights (Baysal 2014): 0.24 a night of an hour each. [1], [mg/dL], [min]
    pressure_awake_share : float
        Of pressure lows that fall outside the night.
    jumps_per_day, stuck_per_day, losses_per_day : float
        One-off spikes, runs of one value, spans without signal; assumed.
    peeling_hours : float
        Before the end, how long it has been coming loose: noise grows and values sink. [h]
    duplicate_share : float
        Of readings that the export holds twice.
    memory_hours : float or None
        None: it sends by itself. Else what is older at the next scan is lost. [h]
    scan_gap_hours, evening_scan_share : float
        Usual time between scans while awake, and the share of evenings on which one is made at bed. [h]
    """

    model: str = "model A"
    interval_min: float = 5.0
    lag_min: float = 8.0
    offset_mg_dl: float = 0.0
    gain: float = 1.0
    drift_mg_dl_day: float = 0.0
    first_day_mg_dl: float = 0.0
    first_day_hours: float = 8.0
    hills: tuple[Hill, ...] = ()
    noise_sd_mg_dl: float = 2.8
    noise_min: float = 25.0
    noise_smoothing_min: float = 6.0
    noise_degrees: float = 6.0
    white_sd_mg_dl: float = 0.7
    rounds_to_mmol_l: bool = False
    reads_from_mg_dl: float = 40.0
    reads_to_mg_dl: float = 400.0
    words_at_limits: bool = False
    pressure_per_night: float = 0.25
    pressure_depth_mg_dl: float = 20.0
    pressure_min: float = 60.0
    pressure_shapes: tuple[str, ...] = PRESSURE_SHAPES
    pressure_awake_share: float = 0.1
    jumps_per_day: float = 0.15
    stuck_per_day: float = 0.07
    losses_per_day: float = 0.15
    peeling_hours: float = 0.0
    duplicate_share: float = 0.0
    memory_hours: float | None = None
    scan_gap_hours: float = 3.0
    evening_scan_share: float = 0.75
    life_days: float = 14.0


def draw_sensor_model(
    rng: np.random.Generator,
    name: str = "model A",
    *,
    level_mg_dl: float = 98.0,
    bias_percent: float = 20.0,
    by_hour: bool = False,
    as_measured: bool = False,
    **fixed: Any,
) -> Sensor:
    """Draw what the sensors of one model share.

    Parameters
    ----------
    rng : numpy.random.Generator
    name : str
        Of the model.
    level_mg_dl : float
        Where `bias_percent` is meant. [mg/dL]
    bias_percent : float
        SD of the model's bias. [%]
    by_hour : bool
        Its sensors depart from themselves by the hour, part of it alike.
    as_measured : bool
        Its noise has heavy tails in two models of three.
    **fixed
        Fields of :class:`Sensor` that are not drawn.

    Returns
    -------
    Sensor

    References
    ----------
    .. [1] Staal et al., Biosensors 2018;8:93.
    .. [2] Zschornack et al., 2013 (PMC3879745).

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> gl.simulate.draw_sensor_model(rng, "model B").model
    'model B'
    """
    hours, noise = named_stream(rng, "a model's hours"), named_stream(rng, "a model's noise")
    offset, gain = _draw_bias(rng, level_mg_dl, bias_percent / 100)
    drawn: dict[str, Any] = {
        "interval_min": float(rng.choice([1.0, 5.0, 5.0, 15.0])),
        "lag_min": float(np.clip(rng.normal(8, 2.5), 2, 20)),
        "offset_mg_dl": offset, "gain": gain,
        "noise_sd_mg_dl": float(rng.uniform(1.5, 4.0)), "noise_min": float(rng.uniform(12, 45)),
        "noise_degrees": float(rng.choice([3.0, 5.0, 8.0, 100.0])), "white_sd_mg_dl": float(rng.uniform(0.2, 1.2)),
        "noise_smoothing_min": float(rng.choice([0.0, 5.0, 10.0])),
        "rounds_to_mmol_l": bool(rng.random() < 0.15),
        "pressure_per_night": float(rng.uniform(0.05, 0.6)), "pressure_depth_mg_dl": float(rng.uniform(14, 34)),
        "pressure_min": float(rng.uniform(35, 100)),
        "hills": draw_model_hills(hours) if by_hour else (),
    }  # fmt: skip
    if as_measured:
        drawn["noise_degrees"] = float(noise.choice([3.0, 4.0, 100.0]))
    return Sensor(model=name, **(drawn | fixed))


def draw_sensor(
    rng: np.random.Generator,
    model: Sensor | None = None,
    *,
    level_mg_dl: float = 98.0,
    bias_percent: float = 9.0,
    by_hour: bool = False,
    as_measured: bool = False,
    **fixed: Any,
) -> Sensor:
    """Draw one sensor of a model, of a newly drawn model if none is given.

    Parameters
    ----------
    rng : numpy.random.Generator
    model : Sensor, optional
        What its sensors share, from :func:`draw_sensor_model`.
    level_mg_dl : float
        Where `bias_percent` is meant. [mg/dL]
    bias_percent : float
        SD of this sensor's own bias, offset and gain together. [%]
    by_hour : bool
        It departs from itself by the hour, beside what its model shares.
    as_measured : bool
        Its bias (instead of `bias_percent`), drift and first day are as two sensors on one body show them, larger and
        with heavy tails.
    **fixed
        Fields of :class:`Sensor` that are not drawn.

    Returns
    -------
    Sensor

    References
    ----------
    .. [1] Staal et al., Biosensors 2018;8:93.
    .. [2] Boyne et al., Diabetes 2003;52:2790-2794.
    .. [3] Zschornack et al., 2013 (PMC3879745).

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> model = gl.simulate.draw_sensor_model(rng)
    >>> gl.simulate.draw_sensor(rng, model).model == model.model
    True
    """
    if model is None:
        known = {f.name for f in fields(Sensor)}
        model = draw_sensor_model(
            rng, level_mg_dl=level_mg_dl, by_hour=by_hour, as_measured=as_measured,
            **{k: v for k, v in fixed.items() if k in known},
        )  # fmt: skip
    hours, measured = named_stream(rng, "a sensor's hours"), named_stream(rng, "as measured")
    offset, gain = _draw_bias(rng, level_mg_dl, bias_percent / 100)
    drawn: dict[str, Any] = {
        "offset_mg_dl": model.offset_mg_dl + offset, "gain": model.gain * gain,
        "lag_min": float(np.clip(model.lag_min + rng.normal(0, 3), 2, 20)),
        "drift_mg_dl_day": float(rng.normal(0, 0.3)), "first_day_mg_dl": float(rng.normal(0, 9)),
        "noise_sd_mg_dl": model.noise_sd_mg_dl * float(np.exp(rng.normal(0, 0.15))),
        "hills": model.hills + (draw_own_hills(hours) if by_hour else ()),
    }  # fmt: skip
    if as_measured:
        drawn |= _draw_as_measured(measured, model, level_mg_dl)
    return replace(model, **(drawn | fixed))


def _draw_as_measured(rng: np.random.Generator, model: Sensor, level_mg_dl: float) -> dict[str, Any]:
    """Bias, drift and first day with the tails of real sensors."""
    offset, gain = _draw_bias(rng, level_mg_dl, MEASURED_SPREAD, SPREAD_DEGREES)
    first = {
        "first_day_mg_dl": float(rng.normal(0, FIRST_DAY_OFF_MG_DL)), "first_day_hours": float(rng.uniform(8, 20)),
    }  # fmt: skip
    return {
        "offset_mg_dl": model.offset_mg_dl + offset, "gain": model.gain * gain,
        "drift_mg_dl_day": float(MEASURED_DRIFT * rng.standard_t(DRIFT_DEGREES)) * level_mg_dl / 10,
    } | (first if rng.random() < FIRST_DAY_OFF_SHARE else {})  # fmt: skip


def _draw_bias(
    rng: np.random.Generator, level_mg_dl: float, sd: float, degrees: float | None = None
) -> tuple[float, float]:
    """Offset and gain of a bias with log SD `sd` at the level, normal or Student t: one, the other, or both."""
    log = rng.normal(0, sd) if degrees is None else sd * np.sqrt((degrees - 2) / degrees) * rng.standard_t(degrees)
    total = np.exp(log) - 1
    share = rng.choice([0.0, 1.0, rng.random()])
    return float(share * total * level_mg_dl), float(1 + (1 - share) * total)
