"""Which invented studies are benchmarks run on? Of as many wears, days and readings as are asked for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from glucolab.record import Goal, Person
from glucolab.simulate.demo_person import demo_wearer
from glucolab.simulate.folder import write_study
from glucolab.simulate.meter import Meter
from glucolab.simulate.sensor import Sensor
from glucolab.simulate.study import gather
from glucolab.simulate.wear import simulate_wear

FIRST = pd.Timestamp("2024-03-02T08:00", tz="UTC")
APART = pd.Timedelta(days=20)


def invent_study(folder: Path, wears: int, *, interval_min: float, days: float = 14.0, seed: int = 5) -> Path:
    """Write a study whose wears follow one another, each with every table.

    Parameters
    ----------
    folder : Path
        The study's, made here.
    wears : int
    interval_min : float
        Between readings. [min]
    days : float
        Of each wear. [d]
    seed : int
    """
    rng = np.random.default_rng(seed)
    wearer, sensor, meter = demo_wearer("autumn"), Sensor(interval_min=interval_min), Meter()
    worn = [
        simulate_wear(rng, wearer, sensor, FIRST + i * APART, days, name=f"wear_{i + 1:03d}", checks=6, meter=meter)
        for i in range(wears)
    ]
    write_study(gather(folder.name, worn, Person(time_zone="Europe/Lisbon"), goal=Goal(95.0)).study, folder)
    return folder
