"""What is a trace? Blood glucose on a grid, how sure each point is, and the draws that figures are taken over."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd

from glucolab.aligning.bias import OUTLIER_WEIGHT
from glucolab.aligning.bias_posterior import Bias
from glucolab.aligning.bias_prior import CheckData
from glucolab.aligning.lag import LagNodes
from glucolab.aligning.smoother import GRID_MIN


@dataclass(frozen=True, eq=False, repr=False)
class Trace:
    """Blood glucose on a 5-minute grid.

    Attributes
    ----------
    time : DatetimeIndex, shape (g,)
        [UTC]
    glucose_mg_dl : numpy.ndarray, shape (g,)
        Posterior mean; NaN in gaps over 30 min. [mg/dL]
    se_mg_dl : numpy.ndarray, shape (g,)
        Standard error of it, the sensor's bias not counted. [mg/dL]
    sd_mg_dl : numpy.ndarray, shape (g,)
        Standard deviation of what blood may have been, the sensor's bias counted, through all gaps. [mg/dL]
    sensor_mg_dl : numpy.ndarray, shape (g,)
        Mean before the bias is removed, through all gaps. [mg/dL]
    gap_min : numpy.ndarray, shape (g,)
        Length of the gap each grid point lies in, 0 beside a reading, inf before the first and
        after the last. [min]
    lag : LagNodes
    bias : Bias
    checks : DataFrame
        Checks within reach of a usable reading: ``time, line, source, reading_mg_dl`` (the nearest usable one, as
        measured), ``sensor_mg_dl, check_mg_dl, weight``.
    level_mg_dl : float
        Mean of the sensor over the trace. [mg/dL]
    """

    time: pd.DatetimeIndex
    glucose_mg_dl: np.ndarray
    se_mg_dl: np.ndarray
    sd_mg_dl: np.ndarray
    sensor_mg_dl: np.ndarray
    gap_min: np.ndarray
    lag: LagNodes
    bias: Bias
    check_data: CheckData
    checks: pd.DataFrame
    level_mg_dl: float

    @property
    def doubted_checks(self) -> list[int]:
        """Lines of checks.csv that agree so badly with the others that they hardly count."""
        return [int(line) for line in self.checks.loc[self.checks["weight"] < OUTLIER_WEIGHT, "line"]]

    def to_frame(self) -> pd.DataFrame:
        """The trace as a table by time.

        Returns
        -------
        DataFrame, shape (g, 3)
            Indexed by `time` [UTC]: ``glucose_mg_dl, se_mg_dl, sd_mg_dl``, whether or not the study hides
            figures. [mg/dL]
        """
        columns = {name: getattr(self, name) for name in ("glucose_mg_dl", "se_mg_dl", "sd_mg_dl")}
        return pd.DataFrame(columns, index=self.time.rename("time"))

    def __repr__(self) -> str:
        known = int(np.isfinite(self.glucose_mg_dl).sum())
        return (
            f"{type(self).__name__} of {len(self.time)} points, every {GRID_MIN:g} min from "
            f"{self.time[0]:%Y-%m-%d %H:%M} UTC; {known} known, {len(self.checks)} checks used; to_frame()"
        )

    def cells(self, times: pd.DatetimeIndex | pd.Series) -> np.ndarray:
        """Place of times on the grid, in grid steps, may lie outside 0 … g - 1, shape (n,)."""
        return grid_place(pd.DatetimeIndex(times), self.time[0])


@dataclass(frozen=True, eq=False, repr=False)
class DrawnTrace(Trace):
    """A trace with its draws, from which the figures of a wear are taken: forty times the size of the trace alone.

    Attributes
    ----------
    draws : numpy.ndarray, shape (k, g)
        Draws of blood with everything uncertain in them: noise, lag, bias. They run through all
        gaps and are sound only near readings; see `gap_min`. [mg/dL]
    sensor_draws : numpy.ndarray, shape (k, g)
        The same without the bias removed. [mg/dL]
    """

    draws: np.ndarray
    sensor_draws: np.ndarray

    def without_draws(self) -> Trace:
        """The trace alone, to be kept."""
        return Trace(**{field.name: getattr(self, field.name) for field in fields(Trace)})


def grid_place(times: pd.DatetimeIndex, origin: pd.Timestamp) -> np.ndarray:
    """Grid steps from `origin`, shape (n,)."""
    start = pd.DatetimeIndex([origin]).as_unit("us").asi8[0]
    return (times.as_unit("us").asi8 - start) / (GRID_MIN * 60e6)
