"""How carefully is a log kept? Its gaps, delays and slips, fixed or drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from glucolab.simulate.streams import named_stream

CARBS_SD = (0.08, 0.23)
"""Log error of portions in full logs, size apart [1]: with `PORTION_SHRINK` estimates differ from weights with a CV of
0.20 (references A1). Less makes food's effects look easier to find."""
PORTION_SHRINK = (0.1, 0.28)
"""How portions shrink with size [1]: meal size explains 35 % of the error's variance (references A1), 0.12 of the log,
over meals whose carbohydrate varies by 0.6 in the log. Nil would leave the error independent of size."""
CLOCK_OFF_SHARE, CLOCK_OFF_MIN = 5 / 29, (15.0, 75.0)
"""Logs whose clock is off [1], and by how much [min]: in 5 of 29 people with two sensors one clock was, by 15-65
(open recordings). Less leaves the tool's look at clocks untried."""
MOST_SLIPS = 0.015
"""Most slips a meal in a careless log [1]; assumed: one in some hundred cells was seen in open logs."""


@dataclass(frozen=True)
class Logs:
    """How carefully the log is kept; all assumed.

    Attributes
    ----------
    meals_share, snacks_share : float
        Of meals and of snacks that are written down at all.
    late_min, time_sd_min : float
        Logged after the first bite: mean delay, never much too early, and its spread. [min]
    carbs_sd : float
        Log error of the carbohydrate written, and of the other nutrients, half its variance being the portion's that
        all share; `carbs_low` the share left out on average.
    portion_shrink : float
        Written portions grow with the true ones to the power of one less this: large meals are under-estimated.
    nutrients_share : float
        Of meals with carbohydrate and the other nutrients.
    details_share : float
        Of meals with order, setting and dish.
    activity_share, days_share : float
        Of efforts and of days that are written down.
    trackers : tuple of (str, float, float, float)
        Of sleep: name, bias and SD of its sleep time [min], share of nights it recorded.
    feelings_per_day : float
    stress_share : float
        Of stressful moments noted, as timed entries in feelings.
    notes_share : float
        Of trips, knocks and the like that are noted.
    brisk_share : float
        Of walks written down as `moderate`, which brisk ones are by their METs.
    clock_min : float
        By how much the log's clock is ahead, below 0 behind. [min]
    slip_share : float
        Of meals with a slip of the pen: a point, a unit, a date (slips.py).
    movement_min : int
        How long each row is that a wrist writes; 0: none does. Then days.csv leaves the steps to it. [min]
    """

    meals_share: float = 0.97
    snacks_share: float = 0.75
    late_min: float = 4.0
    time_sd_min: float = 5.0
    carbs_sd: float = 0.15
    carbs_low: float = 0.03
    portion_shrink: float = 0.0
    nutrients_share: float = 1.0
    details_share: float = 1.0
    activity_share: float = 0.95
    days_share: float = 0.95
    trackers: tuple[tuple[str, float, float, float], ...] = (("watch", -8.0, 12.0, 0.97), ("mattress", 15.0, 25.0, 0.8))
    feelings_per_day: float = 3.0
    stress_share: float = 0.8
    brisk_share: float = 0.0
    clock_min: float = 0.0
    slip_share: float = 0.0
    movement_min: int = 0


EXACT_LOGS = Logs(
    *(1.0, 1.0, 0.0, 0.0, 0.0, 0.0), activity_share=1.0, days_share=1.0, stress_share=1.0,
    trackers=(("watch", 0.0, 0.0, 1.0),),
)  # fmt: skip
"""Everything is written down as it was [1], [min]. An error in it would be taken for one of the estimate."""

NO_LOGS = Logs(0.0, 0.0, activity_share=0.0, days_share=0.0, trackers=(), feelings_per_day=0.0, stress_share=0.0)
"""Nothing but the sensor [1]. Any share above 0 would let a test without a log see one."""


def draw_logs(rng: np.random.Generator, *, sparse: bool = False, careless: bool = False, **fixed: Any) -> Logs:
    """Draw how a log is kept, full or sparse.

    Parameters
    ----------
    rng : numpy.random.Generator
    sparse : bool
        Much is left out, and what is written comes late.
    careless : bool
        Its clock may be off, pens slip, and brisk walks are written down as moderate.
    **fixed
        Fields of Logs that are not drawn.

    Returns
    -------
    Logs

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> full, sparse = (gl.simulate.draw_logs(rng, sparse=sparse) for sparse in (False, True))
    >>> full.meals_share > sparse.meals_share
    True
    """
    careless_draws = named_stream(rng, "careless")
    low, high = (0.35, 0.75) if sparse else (0.9, 1.0)
    drawn = {
        "meals_share": rng.uniform(low, high),
        "snacks_share": rng.uniform(0.1, 0.4) if sparse else rng.uniform(0.5, 0.95),
        "late_min": rng.uniform(5, 14) if sparse else rng.uniform(0, 7),
        "time_sd_min": rng.uniform(6, 14) if sparse else rng.uniform(2, 8),
        "carbs_sd": rng.uniform(0.2, 0.4) if sparse else rng.uniform(*CARBS_SD),
        "portion_shrink": rng.uniform(*PORTION_SHRINK), "carbs_low": rng.uniform(0, 0.25),
        "nutrients_share": rng.uniform(0.3, 0.7) if sparse else rng.uniform(0.9, 1.0),
        "details_share": rng.uniform(0, 0.5) if sparse else 1.0,
        "activity_share": rng.uniform(0.3, 0.8) if sparse else rng.uniform(0.9, 1.0),
        "days_share": rng.uniform(0, 0.6) if sparse else rng.uniform(0.9, 1.0),
        "feelings_per_day": rng.uniform(0, 1) if sparse else rng.uniform(1, 4),
        "stress_share": rng.uniform(0, 0.4) if sparse else rng.uniform(0.7, 1.0),
    }  # fmt: skip
    logs = replace(Logs(), **({k: float(v) for k, v in drawn.items()} | {k: v for k, v in fixed.items() if k in drawn}))
    if sparse and "trackers" not in fixed:
        logs = replace(logs, trackers=logs.trackers[: int(rng.integers(0, 2))])
    return replace(logs, **((_draw_careless(careless_draws) if careless else {}) | fixed))


def _draw_careless(rng: np.random.Generator) -> dict[str, float]:
    off = rng.choice([-1.0, 1.0]) * rng.uniform(*CLOCK_OFF_MIN) * (rng.random() < CLOCK_OFF_SHARE)
    return {
        "clock_min": round(float(off)), "slip_share": float(rng.uniform(0, MOST_SLIPS)),
        "brisk_share": float(rng.random()),
    }  # fmt: skip
