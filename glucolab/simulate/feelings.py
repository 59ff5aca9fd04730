"""How does the wearer feel, and what of it is noted? Energy after food and sleep, and moments of stress."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.simulate.blood import Lived, local_instants


def rate_feelings(rng: np.random.Generator, lived: Lived, per_day: float, stress_share: float) -> pd.DataFrame:
    """Ratings at chosen moments, where energy follows rise and dip, and a share of the moments of stress.

    Columns time, energy, focus, hunger, stress; times may lie outside the wear.
    """
    life = lived.life
    day = np.repeat(np.arange(len(life.dates)), rng.poisson(per_day, len(life.dates)))
    wake, bed = life.days["wake_h"].to_numpy()[day], life.days["bed_h"].to_numpy()[day]
    times = local_instants(
        life.dates[day], wake + 0.5 + rng.random(len(day)) * np.maximum(bed - wake - 1, 1), lived.zones
    ).floor("min")
    expected, dip = expect_energy(lived, day, times)
    energy = expected + rng.normal(0, 1.3, len(day))
    hunger = 3 + 0.12 * dip + rng.normal(0, 1.5, len(day))
    rated = pd.DataFrame(
        {"time": times, "energy": energy, "focus": energy + rng.normal(0, 1.2, len(day)), "hunger": hunger}
    )
    rated[["energy", "focus", "hunger"]] = rated[["energy", "focus", "hunger"]].round(0).clip(0, 10)
    moments = lived.stress_events[rng.random(len(lived.stress_events)) < stress_share]
    stressed = pd.DataFrame(
        {"time": moments["time"].dt.floor("min").dt.as_unit("us"), "stress": moments["strength"].round(0)}
    )
    return pd.concat([rated, stressed], ignore_index=True) if len(stressed) else rated


def expect_energy(lived: Lived, day: np.ndarray, times: pd.DatetimeIndex) -> tuple[np.ndarray, np.ndarray]:
    """Energy to be expected at each time of that day, and the depth below the last meal's start, shape (k,) each."""
    effects = lived.wearer.effects
    sleep = lived.life.days["asleep_h"].to_numpy()[day] - lived.wearer.habits.asleep_h
    rise, dip = _since_last_meal(lived, times)
    moved = effects.energy_per_rise * rise / 10 - effects.energy_per_dip * dip / 10
    return 6 + effects.energy_per_sleep_h * sleep + moved, dip


def _since_last_meal(lived: Lived, times: pd.DatetimeIndex) -> tuple[np.ndarray, np.ndarray]:
    """True rise so far and depth below the start for the meal eaten last before each time, shape (k,). [mg/dL]"""
    eaten = lived.minute(lived.meals["time"])
    now = np.clip(lived.minute(times), 0, len(lived.time) - 1).astype(int)
    last = np.searchsorted(eaten, now, side="right") - 1
    rise, dip = np.zeros(len(now)), np.zeros(len(now))
    for i, (j, t) in enumerate(zip(last, now, strict=True)):
        if j >= 0 and t - eaten[j] <= 240:
            since = lived.blood_mg_dl[max(int(eaten[j]), 0) : t + 1]
            rise[i], dip[i] = since.max() - since[0], max(since[0] - since[-1], 0.0)
    return rise, dip
