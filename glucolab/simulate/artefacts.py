"""What goes wrong on the skin? Pressure lows, jumps, stuck runs, peeling: what each adds to a reading."""

from __future__ import annotations

import numpy as np

from glucolab.simulate.sensor import Sensor

SEEN_MG_DL = 4.0
"""A reading counts as pressed, or as loose, from this much on [mg/dL]; assumed. Smaller asks flags to find what noise
hides, so that they look worse; larger blames them for what they rightly take out."""


def pressure_shape(kind: str, u: np.ndarray) -> np.ndarray:
    """Depth of a pressure low, 0-1, at shares u of its length; below 0 after it where it overshoots."""
    inside = (u >= 0) & (u <= 1)
    if kind == "half_sine":
        depth = np.sin(np.pi * np.clip(u, 0, 1))
    elif kind == "slow":
        depth = np.minimum(np.clip(u, 0, 1) / 0.7, 1.0) ** 1.5
    elif kind == "partial":
        depth = np.minimum(np.clip(u, 0, 1) / 0.12, 1.0) * np.where(u > 0.55, 0.45, 1.0)
    elif kind == "ramps":
        depth = np.clip(np.minimum(u, 1 - u) / 0.3, 0, 1)
    else:
        depth = np.clip(np.minimum(u, 1 - u) / 0.06, 0, 1)
    depth = np.where(inside, depth, 0.0)
    if kind == "overshoot":
        depth = depth - np.where(u > 1, 0.35 * np.exp(-np.maximum(u - 1, 0) / 0.25), 0.0)
    return depth


def pressure_lows(rng: np.random.Generator, sensor: Sensor, minutes: np.ndarray, nights: np.ndarray) -> np.ndarray:
    """What lying on the sensor adds to each reading, at or below zero but for overshoot, shape (n,). [mg/dL]

    Parameters
    ----------
    minutes : ndarray, shape (n,)
        Time of each reading since insertion. [min]
    nights : ndarray, shape (k, 2)
        Falling asleep and waking. [min]

    The wearer lies on the sensor's side on some nights and on the other more softly: depths come from two groups.
    """
    total = np.zeros(len(minutes))
    for asleep, awake in nights:
        for _ in range(rng.poisson(sensor.pressure_per_night)):
            length = np.clip(sensor.pressure_min * np.exp(rng.normal(0, 0.5)), 12, 240)
            start = rng.uniform(asleep - 5, max(awake - length, asleep) + 5)
            if rng.random() < sensor.pressure_awake_share:
                start = awake + rng.uniform(60, 800)
            soft = 0.5 if rng.random() < 0.3 else 1.0
            depth = sensor.pressure_depth_mg_dl * soft * np.exp(rng.normal(0, 0.35))
            kind = str(rng.choice(sensor.pressure_shapes))
            if kind == "shallow":
                depth = rng.uniform(5, 10)
            total -= depth * pressure_shape(kind, (minutes - start) / length)
    return total


def jumps(rng: np.random.Generator, sensor: Sensor, minutes: np.ndarray) -> np.ndarray:
    """One-off spikes of one reading, sometimes of two, either way, shape (n,). [mg/dL]"""
    n = len(minutes)
    days = (minutes[-1] - minutes[0]) / 1440 if n else 0.0
    total = np.zeros(n)
    for at in rng.integers(1, max(n - 2, 2), rng.poisson(sensor.jumps_per_day * days)):
        total[at : at + 1 + (rng.random() < 0.15)] = rng.choice([-1, 1]) * rng.uniform(18, 55)
    return total


def stuck_runs(rng: np.random.Generator, sensor: Sensor, minutes: np.ndarray) -> np.ndarray:
    """Position of the reading whose value each shows, its own where it is not stuck, shape (n,)."""
    n = len(minutes)
    days = (minutes[-1] - minutes[0]) / 1440 if n else 0.0
    source = np.arange(n)
    for at in rng.integers(0, max(n - 1, 1), rng.poisson(sensor.stuck_per_day * days)):
        stop = np.searchsorted(minutes, minutes[at] + rng.uniform(30, 180), side="right")
        source[at:stop] = source[at]
    return source


def peeling(rng: np.random.Generator, sensor: Sensor, minutes: np.ndarray, end_min: float) -> np.ndarray:
    """What coming loose adds over the last hours: a growing decline and growing noise, shape (n,). [mg/dL]"""
    if sensor.peeling_hours <= 0:
        return np.zeros(len(minutes))
    loose = np.clip(1 - (end_min - minutes) / (sensor.peeling_hours * 60), 0, 1)
    return -22 * loose**1.5 + 9 * loose * rng.standard_normal(len(minutes))


def lost_spans(rng: np.random.Generator, sensor: Sensor, minutes: np.ndarray) -> np.ndarray:
    """True where the signal is lost, shape (n,)."""
    lost = np.zeros(len(minutes), bool)
    if not len(minutes):
        return lost
    days = (minutes[-1] - minutes[0]) / 1440
    for _ in range(rng.poisson(sensor.losses_per_day * days)):
        start = rng.uniform(minutes[0], minutes[-1])
        lost |= (minutes >= start) & (minutes < start + np.clip(rng.lognormal(4.2, 0.9), 15, 600))
    return lost


def scan_minutes(rng: np.random.Generator, sensor: Sensor, nights: np.ndarray, end_min: float) -> np.ndarray:
    """When the sensor is scanned by hand: through the day, at most evenings, on waking, shape (s,). [min]"""
    bounds = np.concatenate([[0.0], nights.ravel(), [end_min]])
    found: list[float] = []
    for i in range(0, len(bounds), 2):
        woke, slept = bounds[i], bounds[min(i + 1, len(bounds) - 1)]
        t = woke + rng.uniform(3, 40)
        while t < slept - 20:
            found.append(t)
            t += sensor.scan_gap_hours * 60 * rng.uniform(0.4, 1.7)
        if rng.random() < sensor.evening_scan_share:
            found.append(slept - rng.uniform(2, 18))
    scans = np.array(found)
    return np.sort(scans[(scans > 0) & (scans < end_min)])


def remembered(minutes: np.ndarray, scans: np.ndarray, memory_hours: float) -> np.ndarray:
    """True where the next scan comes before the sensor has forgotten the reading, shape (n,)."""
    following = np.append(scans, np.inf)[np.searchsorted(scans, minutes, side="left")]
    return following - minutes <= memory_hours * 60
