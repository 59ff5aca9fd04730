"""What does living like this give? The usual mean of an invented wearer, without drawing a life minute by minute."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pandas as pd

from glucolab.simulate.blood import DAWN_WIDTH_H, awake_shift, bump_area, meal_areas
from glucolab.simulate.exercise import exercise_heights, sport_peaks
from glucolab.simulate.life import live
from glucolab.simulate.wearer import Wearer


def usual_mean_mg_dl(wearer: Wearer, n_days: int = 3000) -> float:
    """What living like this gives: the expectation of mean blood glucose, from many days' areas.

    Parameters
    ----------
    wearer : Wearer
    n_days : int
        Days of habits drawn.

    Returns
    -------
    float
        [mg/dL]

    Notes
    -----
    Everything adds up linearly, so that areas suffice and no day needs to be drawn minute by minute; what is left is
    the chance of the `n_days` habits drawn (about 0.05 mg/dL), the same for every call.

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> 85 < gl.simulate.usual_mean_mg_dl(gl.simulate.draw_wearer(rng)) < 120
    True
    """
    return wearer.body.level_mg_dl + _above_level(replace(wearer, body=replace(wearer.body, level_mg_dl=0.0)), n_days)


@lru_cache(maxsize=256)
def _above_level(wearer: Wearer, n_days: int) -> float:
    """What days, food, sport and stress add to the level on average. [mg/dL]"""
    rng = np.random.default_rng(20_260_101)
    life = live(rng, wearer, pd.date_range("2001-01-01", periods=n_days, freq="D", unit="us"))
    awake = life.days["bed_h"].to_numpy() - life.days["wake_h"].to_numpy()
    food = meal_areas(rng, wearer, life.meals, life.days)
    sport = exercise_heights(rng, wearer, life.activity) * bump_area(sport_peaks(life.activity), 3.0)
    stress = (
        life.stress_events["strength"].to_numpy() / 7 * wearer.body.stress_rise_mg_dl * bump_area(np.array(25.0), 2.0)
    )
    dawn = wearer.body.dawn_mg_dl * DAWN_WIDTH_H * math.sqrt(2 * math.pi) / 24
    by_day = awake_shift(wearer, life.days) * awake / 24
    return float(dawn + by_day.mean() + (food.sum() + sport.sum() + stress.sum()) / n_days / 1440)
