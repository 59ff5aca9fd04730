"""What does the sensor show? From blood to the rows of glucose.csv, and what is true of each row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.clock import local_hours
from glucolab.simulate import artefacts
from glucolab.simulate.blood import Lived
from glucolab.simulate.filters import lag_first_order, smooth_noise
from glucolab.simulate.hours import departure
from glucolab.simulate.sensor import Sensor
from glucolab.units import glucose_from_mg_dl, glucose_to_mg_dl

KINDS = ("pressure", "jump", "stuck", "loosening", "limit", "duplicate", "warm_up")


@dataclass(frozen=True, eq=False)
class Shown:
    """What a sensor showed.

    Attributes
    ----------
    rows : pandas.DataFrame
        A row a reading in the order of the file: time [UTC], glucose_mg_dl, taken, word (low or high where the sensor
        writes a word); what is true of it: blood_mg_dl, interstitial_mg_dl, undisturbed_mg_dl (bias and noise
        without artefacts), pressure_mg_dl (what lying on it adds), and true/false columns as in `KINDS`.
    interstitial_mg_dl, expected_mg_dl : numpy.ndarray
        On the minutes of the life: what surrounds the sensor, and what it would show of that without noise and
        artefacts, shape (n,). [mg/dL]
    scans : pandas.DatetimeIndex
        When it was scanned by hand. [UTC]
    """

    rows: pd.DataFrame
    interstitial_mg_dl: np.ndarray
    expected_mg_dl: np.ndarray
    scans: pd.DatetimeIndex


def show_readings(
    rng: np.random.Generator,
    lived: Lived,
    sensor: Sensor,
    start: pd.Timestamp,
    end: pd.Timestamp,
    warm_up_hours: float = 24.0,
) -> Shown:
    """What `sensor` shows of a life when worn from `start` to `end` [UTC]."""
    interstitial = lag_first_order(lived.blood_mg_dl, sensor.lag_min)
    expected = _expected(lived, sensor, interstitial, start, end)
    end_min = (end - start) / pd.Timedelta(minutes=1)
    first = rng.uniform(0.2, 1.0) * sensor.interval_min
    minutes = np.round(np.arange(first, end_min, sensor.interval_min) * 60) / 60
    nights = _nights(lived, start, end_min)
    scans = (
        np.array([])
        if sensor.memory_hours is None
        else np.round(artefacts.scan_minutes(rng, sensor, nights, end_min) * 60) / 60
    )
    every, taken = np.concatenate([minutes, scans]), np.repeat(["automatic", "by_hand"], [len(minutes), len(scans)])
    order = np.argsort(every, kind="stable")
    every, taken = every[order], taken[order]
    rows = _measure(rng, lived, sensor, interstitial, expected, every, nights, start, end_min)
    rows["taken"] = pd.Series(taken if sensor.memory_hours is not None else None, index=rows.index, dtype="str")
    rows["warm_up"] = every < warm_up_hours * 60
    kept = np.where(taken == "automatic", ~artefacts.lost_spans(rng, sensor, every), True)
    if sensor.memory_hours is not None:
        kept &= (taken == "by_hand") | artefacts.remembered(every, scans, sensor.memory_hours)
    rows = _doubled(rng, rows[kept], sensor.duplicate_share)
    return Shown(rows, interstitial, expected, start + pd.to_timedelta(scans * 60, unit="s").as_unit("us"))


def quantize(glucose_mg_dl: np.ndarray, in_mmol_l: bool) -> np.ndarray:
    """Whole mg/dL, or whole tenths of mmol/L in mg/dL, shape as given. [mg/dL]"""
    if in_mmol_l:
        return glucose_to_mg_dl(np.round(glucose_from_mg_dl(glucose_mg_dl, "mmol/L"), 1), "mmol/L")
    return np.round(glucose_mg_dl)


def _expected(
    lived: Lived, sensor: Sensor, interstitial: np.ndarray, start: pd.Timestamp, end: pd.Timestamp
) -> np.ndarray:
    worn_days = np.asarray((lived.time - start) / pd.Timedelta(days=1), float)
    middle = (end - start) / pd.Timedelta(days=2)
    early = sensor.first_day_mg_dl * np.exp(-np.clip(worn_days, 0, None) * 24 / sensor.first_day_hours)
    gain = sensor.gain + (departure(sensor.hills, local_hours(lived.time, lived.zones)) if sensor.hills else 0.0)
    return gain * interstitial + sensor.offset_mg_dl + sensor.drift_mg_dl_day * (worn_days - middle) + early


def _nights(lived: Lived, start: pd.Timestamp, end_min: float) -> np.ndarray:
    """Nights that begin within the wear, cut at its end, shape (k, 2). [min since start]"""
    nights = np.column_stack([(lived.sleep[c] - start) / pd.Timedelta(minutes=1) for c in ("start", "end")])
    nights = nights[(nights[:, 0] > 0) & (nights[:, 0] < end_min)]
    return np.minimum(nights, end_min)


def _measure(
    rng: np.random.Generator,
    lived: Lived,
    sensor: Sensor,
    interstitial: np.ndarray,
    expected: np.ndarray,
    minutes: np.ndarray,
    nights: np.ndarray,
    start: pd.Timestamp,
    end_min: float,
) -> pd.DataFrame:
    times = start + pd.to_timedelta(np.round(minutes * 60), unit="s").as_unit("us")
    grid = lived.minute(times)
    at = np.arange(len(lived.time))
    undisturbed = np.interp(grid, at, expected) + _noise(rng, sensor, minutes)
    pressed = artefacts.pressure_lows(rng, sensor, minutes, nights)
    jumped = artefacts.jumps(rng, sensor, minutes)
    loose = artefacts.peeling(rng, sensor, minutes, end_min)
    felt = undisturbed + pressed + jumped + loose
    source = artefacts.stuck_runs(rng, sensor, minutes)
    stuck = source != np.arange(len(minutes))
    felt = felt[source]
    low, high = felt <= sensor.reads_from_mg_dl, felt >= sensor.reads_to_mg_dl
    shown = quantize(np.clip(felt, sensor.reads_from_mg_dl, sensor.reads_to_mg_dl), sensor.rounds_to_mmol_l)
    low, high = low | (shown <= sensor.reads_from_mg_dl), high | (shown >= sensor.reads_to_mg_dl)
    word = pd.Series(None, index=range(len(shown)), dtype="str")
    if sensor.words_at_limits:
        word[low], word[high] = "low", "high"
    return pd.DataFrame({
        "time": times, "glucose_mg_dl": shown,
        "blood_mg_dl": np.interp(grid, at, lived.blood_mg_dl), "interstitial_mg_dl": np.interp(grid, at, interstitial),
        "undisturbed_mg_dl": undisturbed, "pressure_mg_dl": pressed,
        "pressure": np.abs(pressed) >= artefacts.SEEN_MG_DL,
        "jump": jumped != 0, "stuck": stuck,
        "loosening": _coming_loose(sensor, minutes, end_min), "limit": low | high, "word": word,
    })  # fmt: skip


def _coming_loose(sensor: Sensor, minutes: np.ndarray, end_min: float) -> np.ndarray:
    """True where peeling has taken SEEN_MG_DL or more off on average."""
    share = (artefacts.SEEN_MG_DL / 22) ** (1 / 1.5)
    return (sensor.peeling_hours > 0) & (end_min - minutes <= sensor.peeling_hours * 60 * (1 - share))


def _noise(rng: np.random.Generator, sensor: Sensor, minutes: np.ndarray) -> np.ndarray:
    """Correlated noise with heavy tails, and white noise, at the readings, shape (n,). [mg/dL]

    Tails come from a slowly changing spread: a Student t whose scale lasts for some hours, not for one reading.
    """
    n = int(np.ceil(minutes[-1])) + 2 if len(minutes) else 0
    noise = smooth_noise(rng, n, sensor.noise_min, sensor.noise_smoothing_min)
    if sensor.noise_degrees < 50:
        lasting = np.repeat(
            np.sqrt((sensor.noise_degrees - 2) / rng.chisquare(sensor.noise_degrees, n // 150 + 1)), 150
        )[:n]
        noise = noise * lasting
    correlated = np.interp(minutes, np.arange(n), noise)
    return sensor.noise_sd_mg_dl * correlated + sensor.white_sd_mg_dl * rng.standard_normal(len(minutes))


def _doubled(rng: np.random.Generator, rows: pd.DataFrame, share: float) -> pd.DataFrame:
    """Rows with some of them a second time right after, as exports sometimes hold them."""
    repeats = 1 + (rng.random(len(rows)) < share)
    index = np.repeat(np.arange(len(rows)), repeats)
    doubled = rows.iloc[index].reset_index(drop=True)
    doubled["duplicate"] = np.concatenate([[False], index[1:] == index[:-1]]) if len(index) else np.array([], bool)
    return doubled
