"""What would a whole study hold, and what is true of it? Wears one after the other, as reading gives them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.record import ByName, Goal, Person, Study
from glucolab.simulate.drawing import draw_wearer
from glucolab.simulate.log_keeping import Logs
from glucolab.simulate.meter import Meter, draw_meter
from glucolab.simulate.sensor import Sensor, draw_sensor, draw_sensor_model
from glucolab.simulate.truth import StudyTruth, find_study_truth
from glucolab.simulate.usual_level import usual_mean_mg_dl
from glucolab.simulate.wear import HOME_ZONES, SimulatedWear, simulate_wear
from glucolab.simulate.wearer import Wearer

FIRST_START = pd.Timestamp("2026-02-03T07:10:00Z")
"""When the first sensor goes on [UTC]; invented. Its three wears meet no clock change; from another they may."""
NO_GOAL = Goal()


@dataclass(frozen=True, eq=False)
class Simulated:
    """A study as it would be read, and what is true of it."""

    study: Study
    truth: StudyTruth
    wears: tuple[SimulatedWear, ...] = field(repr=False)


def simulate_study(
    rng: np.random.Generator,
    *,
    wearer: Wearer | None = None,
    wears: int = 3,
    days: float = 14.0,
    first_start: pd.Timestamp = FIRST_START,
    apart_days: float = 120.0,
    level_changes_mg_dl: Sequence[float] | None = None,
    checks: int | Sequence[int] = 6,
    one_model: bool = True,
    model: Sensor | None = None,
    sensor: dict[str, Any] | None = None,
    logs: Logs | None = None,
    meter: Meter | None = None,
    plans: Sequence[pd.DataFrame | None] | None = None,
    zones: ZoneSpans = HOME_ZONES,
    side_by_side: bool = False,
    name: str = "invented",
    goal: Goal = NO_GOAL,
    long_days: int = 0,
) -> Simulated:
    """Draw a whole study: one person, several wears, with the truth of it.

    Parameters
    ----------
    rng : numpy.random.Generator
    wearer : Wearer, optional
        Default drawn.
    wears : int
        How many sensors are worn, one after the other.
    days : float
        How long each. [d]
    first_start : pandas.Timestamp
        When the first goes on. [UTC]
    apart_days : float
        From one start to the next. [d]
    level_changes_mg_dl : sequence of float, optional
        Level of each wear against the first; default none, so that the usual mean never changes. [mg/dL]
    checks : int or sequence of int
        Finger-sticks in each wear, by one meter.
    one_model : bool
        The wears' sensors are of one model and share its bias.
    model, sensor : Sensor, dict, optional
        The model; fields of every sensor that are not drawn, and whether it is drawn `by_hour`, `as_measured`.
    logs, meter : Logs, Meter, optional
        How the log is kept, default well; and the meter, default drawn.
    plans : sequence of DataFrame, optional
        Agreed meals of each wear.
    zones : ZoneSpans
        What the clocks showed.
    side_by_side : bool
        The second wear's sensor is worn over the same days as the first: no change can be true.
    name : str
        Of the study.
    goal : Goal
    long_days : int
        As for :func:`gather`.

    Returns
    -------
    Simulated
        ``study`` as it would be read, ``truth``, and the `wears` with theirs.

    References
    ----------
    .. [1] Staal et al., Biosensors 2018;8:93.

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> made = gl.simulate.simulate_study(np.random.default_rng(7), wears=2, days=2.0)
    >>> made.study.wears.names
    ['wear_1', 'wear_2']
    """
    wearer = draw_wearer(rng) if wearer is None else wearer
    level = usual_mean_mg_dl(wearer)
    fixed = sensor or {}
    model = draw_sensor_model(rng, level_mg_dl=level, **fixed) if model is None else model
    meter = draw_meter(rng) if meter is None else meter
    changes = list(level_changes_mg_dl or [0.0] * wears)
    counts = [checks] * wears if isinstance(checks, int) else list(checks)
    done: list[SimulatedWear] = []
    for i in range(wears):
        mine = (
            model if one_model or i == 0 else draw_sensor_model(rng, f"model {chr(65 + i)}", level_mg_dl=level, **fixed)
        )
        one = draw_sensor(rng, mine, level_mg_dl=level, **fixed)
        beside = done[0] if side_by_side and i == 1 else None
        now = replace(wearer, body=replace(wearer.body, level_mg_dl=wearer.body.level_mg_dl + changes[i]))
        start = first_start + pd.Timedelta(days=0 if beside else i * apart_days)
        done.append(simulate_wear(
            rng, now, one, start, days, name=f"wear_{i + 1}", zones=zones, logs=logs, meter=meter, checks=counts[i],
            plan=plans[i] if plans else None, beside=beside,
        ))  # fmt: skip
    return gather(name, done, Person(zones.names[0]), goal=goal, long_days=long_days)


def gather(
    name: str,
    wears: Sequence[SimulatedWear],
    person: Person,
    *,
    goal: Goal = NO_GOAL,
    tables: dict[str, pd.DataFrame] | None = None,
    long_days: int = 0,
) -> Simulated:
    """A study of wears already drawn.

    Parameters
    ----------
    name : str
        Of the study.
    wears : sequence of SimulatedWear
    person : Person
    goal : Goal
    tables : dict of str to DataFrame, optional
        ``labs`` and ``trials`` of the study.
    long_days : int
        Above 0: find over that many days also what must be expected of each dish and of the evening. [d]

    Returns
    -------
    Simulated

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> made = gl.simulate.simulate_study(np.random.default_rng(7), wears=1, days=2.0)
    >>> gl.simulate.gather("again", made.wears, gl.Person("Europe/Warsaw")).study.name
    'again'
    """
    wears = tuple(sorted(wears, key=lambda w: w.record.start))
    study = Study(name=name, person=person, goal=goal, wears=ByName(w.record for w in wears), tables=tables or {})
    trials = study.trials if tables and "trials" in tables else None
    return Simulated(study, find_study_truth([(w.truth, w.lived) for w in wears], trials, long_days), wears)
