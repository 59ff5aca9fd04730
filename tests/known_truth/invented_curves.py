"""On which curves and wears are the parts of the judge made of real traces tried?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.record import WearPeriod
from tests.hand_made import make_glucose, make_times, make_wear
from tests.known_truth.real_traces.blood import Curve


def make_curve(days: float = 6.0, seed: int = 3) -> Curve:
    """A level with slow swings and some bumps a day."""
    time = make_times(int(days * 288))
    rng = np.random.default_rng(seed)
    minutes = np.arange(len(time)) * 5.0
    values = 100 + 6 * np.sin(2 * np.pi * minutes / 1440)
    for begin in np.sort(rng.uniform(0, minutes[-1], int(4 * days))):
        values += 35 * np.exp(-(((minutes - begin) / 35) ** 2))
    return Curve(time, values)


def worn(curve: Curve, name: str = "wear", meals: pd.DataFrame | None = None) -> WearPeriod:
    """A wear whose readings are a curve's."""
    tables = {"glucose": make_glucose(curve.time, curve.mg_dl)} | ({} if meals is None else {"meals": meals})
    return make_wear(name, days=len(curve.time) / 288, **tables)
