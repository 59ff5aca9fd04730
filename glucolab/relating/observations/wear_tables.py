"""Which tables of each wear do the questions of a study start from?"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from glucolab.clock import Days, ZoneSpans
from glucolab.measuring.occasions import without_minor


@dataclass(frozen=True, eq=False)
class WearTables:
    """What `relating` needs to know of one wear.

    Attributes
    ----------
    name : str
        Name of the wear.
    days : Days
        Its d local days.
    zones : ZoneSpans
        What the clocks showed.
    daily : pandas.DataFrame
        The contract's ``daily`` table, a row a day of `days`, in order.
    meal_responses : pandas.DataFrame
        The contract's table, `time` in UTC.
    energy : pandas.DataFrame
        The contract's table, `time` in UTC.
    sleep : pandas.DataFrame
        The nights: `date` on which each ends and `start` [UTC], one row a night, of one tracker.
    activity : pandas.DataFrame
        As read: `start` [UTC], `minutes`, `kind`, `effort`.
    day_covariates : tuple of str
        Columns of `daily` beyond the contract's that are covariates.
    ill : numpy.ndarray of bool, shape (d,), or None
        Days on which the wearer was ill; None: none noted.
    running : bool
        The wear has not ended.
    gain_errors : numpy.ndarray, shape (k,)
        What every rise of this wear may be off by together, as a share of it, since the sensor's gain is not known:
        one SD along each of k independent directions, which the wears of a study have in common. [1]
    by_right_clock : WearTables or None
        The same wear with its log moved, where the clock of the log is surely off; None where nothing says so.
    moved_min : float
        What was taken off the log's times in these tables for that: nil in tables by the log's own clock. [min]
    """

    name: str
    days: Days
    zones: ZoneSpans
    daily: pd.DataFrame
    meal_responses: pd.DataFrame
    energy: pd.DataFrame
    sleep: pd.DataFrame
    activity: pd.DataFrame
    day_covariates: tuple[str, ...] = ()
    ill: np.ndarray | None = None
    running: bool = False
    gain_errors: np.ndarray = field(default_factory=lambda: np.zeros(1))
    by_right_clock: WearTables | None = None
    moved_min: float = 0.0

    @property
    def as_asked(self) -> WearTables:
        """What questions about meals start from: the log by a clock that is right."""
        return self if self.by_right_clock is None else self.by_right_clock

    def as_written(self, times: pd.Series) -> pd.DatetimeIndex:
        """When the log has it: two sensors' logs are moved by different minutes, and hold one meal all the same."""
        written = pd.DatetimeIndex(times) + pd.Timedelta(minutes=self.moved_min)
        return written.round("s").as_unit("us")

    @property
    def occasions(self) -> pd.DataFrame:
        """Rows of `meal_responses` that are not minor."""
        return without_minor(self.meal_responses)

    @property
    def gain_sd(self) -> float:
        """Standard error of the gain, as a share of it. [1]"""
        return float(np.linalg.norm(self.gain_errors))
