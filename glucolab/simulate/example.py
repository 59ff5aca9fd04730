"""What is there to try things on? A small invented wear, and a small invented study, the same each time."""

from __future__ import annotations

from functools import cache

import numpy as np

from glucolab.record import Study, WearPeriod
from glucolab.simulate.drawing import draw_wearer
from glucolab.simulate.meter import draw_meter
from glucolab.simulate.sensor import draw_sensor, draw_sensor_model
from glucolab.simulate.study import FIRST_START, simulate_study
from glucolab.simulate.wear import simulate_wear

_SEED = 20260203
"""Fixed, so that examples stay the same."""


@cache
def example_wear(days: float = 4.0, checks: int = 4) -> WearPeriod:
    """A small invented wear with meals, sleep, activity, feelings and finger-sticks, to try things on.

    Parameters
    ----------
    days : float
        How long it was worn. [d]
    checks : int
        Finger-sticks.

    Returns
    -------
    WearPeriod
        The same each time.

    Notes
    -----
    Nobody wore it: draw others with :func:`glucolab.simulate.simulate_wear`, and their truth with them.

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> wear.has("meals"), len(wear.checks)
    (True, 4)
    """
    rng = np.random.default_rng(_SEED)
    sensor = draw_sensor(rng, draw_sensor_model(rng))
    wear = simulate_wear(
        rng, draw_wearer(rng), sensor, FIRST_START, days, name="example", meter=draw_meter(rng), checks=checks
    )
    return wear.record


@cache
def example_study(wears: int = 2, days: float = 8.0) -> Study:
    """A small invented study of one person, to try things on.

    Parameters
    ----------
    wears : int
        How many sensors were worn.
    days : float
        How long each. [d]

    Returns
    -------
    Study
        The same each time.

    Notes
    -----
    Nobody lived it: draw others with :func:`glucolab.simulate.simulate_study`, and their truth with them.

    Examples
    --------
    >>> import glucolab as gl
    >>> gl.simulate.example_study().wears.names
    ['wear_1', 'wear_2']
    """
    return simulate_study(np.random.default_rng(_SEED), wears=wears, days=days, name="example").study
