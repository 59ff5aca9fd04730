"""What counts as a night, a walk, exercise, a minor occasion? Each of the contract's definitions, stated once."""

from __future__ import annotations

import numpy as np
import pandas as pd

CLOCK_NIGHT_H = (0.0, 6.0)
"""The night where no sleep is logged, and the first of the four blocks of a day; the contract's. Of whoever sleeps at
other hours it holds part of the day. [local hours]"""
MAY_LIE_H = 0.5
"""So much before and after that night somebody may lie on the sensor already or still; assumed. A longer margin takes
dinner's tail for a low, a shorter one leaves lows at the edges in the trace. [h]"""
NIGHT_ENDS_H = (3.0, 14.0)
"""A sleep that ends between these hours is a night's; the contract's. Naps end later, or are shorter. [local hours]"""

WALK_WITHIN_MIN, WALK_LEAST_MIN = 45.0, 5.0
"""A walk after a meal begins within so long and lasts as long; the contract's. Trials begin it at once to half an hour
after (references 9); a later or shorter one would count among the walks and thin out their effect. [min]"""

LOGGED_AT = {"meals": "time", "activity": "start", "feelings": "time"}
"""Tables that are written by the clock of the log, and their column of times: `log_ahead_min` is taken off these; no
unit. A table that is missing here keeps a clock that is off, one too many loses its own right one."""

MINOR_UNDER_G = 5.0
"""An occasion with less carbohydrate is minor: it ends no other's window and is not judged; the contract's. Larger,
sweets count as nothing; smaller, a coffee with milk ends the meal before it. [g]"""


def is_walk(activity: pd.DataFrame) -> pd.Series:
    """True for activities that are called a walk, however hard."""
    return activity["kind"].fillna("").str.strip().str.casefold().eq("walk")


def is_easy(activity: pd.DataFrame) -> pd.Series:
    """True for what fills `walk_after`: a walk, or light effort, of five minutes or more."""
    return (is_walk(activity) | activity["effort"].eq("light")) & (activity["minutes"] >= WALK_LEAST_MIN)


def is_exercise(activity: pd.DataFrame) -> pd.Series:
    """True for what may raise glucose by itself: vigorous effort, and moderate or unstated of all but walks."""
    effort = activity["effort"].fillna("")
    return effort.eq("vigorous") | (effort.isin(["moderate", ""]) & ~is_walk(activity))


def ends_a_night(end_hours: np.ndarray) -> np.ndarray:
    """True for sleeps that end at a night's local hours, shape (n,)."""
    return (end_hours >= NIGHT_ENDS_H[0]) & (end_hours <= NIGHT_ENDS_H[1])
