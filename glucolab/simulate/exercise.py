"""What does a workout do to blood glucose? It lowers it while it lasts; a hard one may raise it in some people."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.simulate.streams import named_stream
from glucolab.simulate.wearer import Wearer

_EFFORT = {"vigorous": 1.0, "moderate": 0.5, "light": 0.0}
"""Rise by effort over that of a vigorous one [1]; assumed. Larger hides the fall that most workouts bring."""
_FALLS = {"vigorous": 1.0, "moderate": 1.0, "light": 0.0}
"""Fall by effort [1]; assumed. A light walk acts on the meal before it alone; here it would count twice."""
_STRENGTH_FALL = 0.7
"""Fall in strength training over that in aerobic [1]: -9 against -15 mg/dL from start to nadir (DuBose 2020,
references A1), once rises are counted in. Larger makes the two alike."""
_SESSION_SD = 0.4
"""Log spread of the same person's workouts [1]; assumed, a part of the published spread of 18 mg/dL. Smaller makes one
workout tell the next."""


def exercise_heights(rng: np.random.Generator, wearer: Wearer, activity: pd.DataFrame) -> np.ndarray:
    """What each effort does at its strongest, below 0 where it lowers, shape (k,). [mg/dL]"""
    body, effort = wearer.body, activity["effort"]
    falls = named_stream(rng, "exercise falls")
    rise = body.exercise_rise_mg_dl * effort.map(_EFFORT).to_numpy(float) * _chance(rng, len(activity))
    share = effort.map(_FALLS).to_numpy(float) * np.where(activity["kind"] == "strength", _STRENGTH_FALL, 1.0)
    return rise - body.exercise_fall_mg_dl * share * _chance(falls, len(activity))


def sport_peaks(activity: pd.DataFrame) -> np.ndarray:
    """Minutes from the start of an effort to where it has risen or fallen most, shape (k,). [min]"""
    return activity["minutes"].to_numpy(float) * 0.9 + 3


def _chance(rng: np.random.Generator, n: int) -> np.ndarray:
    """Factors of mean one, shape (n,)."""
    return np.exp(_SESSION_SD * rng.standard_normal(n) - _SESSION_SD**2 / 2)
