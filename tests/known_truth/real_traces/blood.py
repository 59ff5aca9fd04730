"""What was in the blood? Curves on five minutes made of sensors' own readings, their figures, and a meter's checks.

A curve is a sensor's readings smoothed by quadratics over 35 min, which leaves all but a hundredth of a rise and takes
half of the noise. Blood runs ahead of what a sensor under the skin shows, by 4 to 12 min: in one half of the draws it
is the same curve earlier, in the other what a first-order lag would have turned into that curve, and higher at a peak.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.signal import savgol_filter
from scipy.special import ndtri

from glucolab.record import WearPeriod
from tests.hand_made import make_table

STEP_MIN = 5
STEP = pd.Timedelta(minutes=STEP_MIN)
LONGEST_GAP_MIN = 45
SMOOTHED_OVER = 7
"""Points of the grid."""
LAG_MIN = (4.0, 12.0)
"""People's and sensors' lags in the literature: 4 to 10 min, and up to 7 between two sensors of one person (Boyne et
al., Diabetes 2003;52:2790)."""
NIGHT_H = (0, 6)
DAY_H = (9, 22)
WAKING_H = (6.1, 7.1)
METER_SD = (0.045, 0.06)
"""Of what all checks by one meter share: 43 systems' biases lie at -14.1 to 12.4 %, SD 0.06
(PMC3570840); of those that comply with ISO 15197:2013 0.045."""
VIAL_SD = 0.02
"""Of what the strips of one vial share besides: four lots of five systems, median 0.015, root mean square 0.033
(doi 10.1177/193229681200600511, PMC3570841). It is in the figure above where there is one wear."""
CHECK_SD = 0.06
"""Of a single check: 0.024 in trained hands (doi 10.1177/1932296818821105), more in wearers'; with the meter's it is
0.075 to 0.085, and 0.077 is what ISO 15197:2013 asks at most (95 of 100 within 15 %)."""


@dataclass(frozen=True, eq=False)
class Curve:
    """Glucose on a grid of five minutes, NaN where nothing was seen.

    Attributes
    ----------
    time : DatetimeIndex, shape (g,)
    mg_dl : numpy.ndarray, shape (g,)
    """

    time: pd.DatetimeIndex
    mg_dl: np.ndarray

    def at(self, times: pd.DatetimeIndex) -> np.ndarray:
        """Between the points of the grid along straight lines, NaN beside a gap, shape (n,)."""
        minutes = np.asarray((times - self.time[0]) / pd.Timedelta(minutes=1), dtype=float)
        points = np.arange(len(self.time)) * STEP_MIN
        return np.interp(minutes, points, self.mg_dl, left=np.nan, right=np.nan)

    def between(self, start: pd.Timestamp, end: pd.Timestamp) -> Curve:
        """The part from one moment to another."""
        inside = (self.time >= start) & (self.time < end)
        return Curve(self.time[inside], self.mg_dl[inside])

    @property
    def known(self) -> np.ndarray:
        """Where something was seen, shape (g,)."""
        return np.isfinite(self.mg_dl)

    @property
    def hours(self) -> np.ndarray:
        """Of the day, shape (g,)."""
        return np.asarray(self.time.hour + self.time.minute / 60, dtype=float)

    def figures(self, low: float, high: float) -> dict[str, float]:
        """Mean, overnight mean, SD and minutes a day below, in and above a range."""
        values, hours = self.mg_dl[self.known], self.hours[self.known]
        night = (hours >= NIGHT_H[0]) & (hours < NIGHT_H[1])
        below, above = np.mean(values < low) * 1440, np.mean(values > high) * 1440
        return {
            "mean": float(values.mean()), "overnight mean": float(values[night].mean()) if night.any() else np.nan,
            "SD": float(values.std(ddof=1)), "minutes below": float(below),
            "minutes in range": float(1440 - below - above), "minutes above": float(above),
        }  # fmt: skip

    def mean_of_hours(self) -> float:
        """Mean to which every hour of the day adds alike."""
        of_hour = pd.Series(self.mg_dl).groupby(self.hours.astype(int)).mean()
        return float(of_hour.mean())

    def rises(self, times: pd.DatetimeIndex) -> np.ndarray:
        """The highest of the two hours after each moment over the mean of the half hour before, shape (n,)."""
        before, after = np.arange(-30, 0, STEP_MIN), np.arange(0, 121, STEP_MIN)
        found = [self.at(times + pd.Timedelta(minutes=int(m))) for m in (*before, *after)]
        around = np.array(found).T.reshape(len(times), len(before) + len(after))
        return around[:, len(before) :].max(axis=1) - around[:, : len(before)].mean(axis=1)


def draw_curve(wear: WearPeriod, shift_min: float = 0.0) -> Curve:
    """A sensor's readings as a smooth curve, its clock moved on by some minutes."""
    readings = wear.glucose.drop_duplicates("time").sort_values("time")
    times = pd.DatetimeIndex(readings["time"]) + pd.Timedelta(minutes=shift_min)
    grid = pd.date_range(times[0].ceil(STEP), times[-1], freq=STEP, unit="us")
    place, points = times.as_unit("us").asi8 / 60e6, grid.asi8 / 60e6
    values = np.interp(points, place, readings["glucose_mg_dl"].to_numpy(dtype=float))
    after = np.clip(np.searchsorted(place, points), 1, len(place) - 1)
    values[(place[after] - place[after - 1] > LONGEST_GAP_MIN) & (place[after] > points)] = np.nan
    return Curve(grid, smooth_runs(values))


def smooth_runs(values: np.ndarray, deriv: int = 0) -> np.ndarray:
    """Each unbroken run by local quadratics, or its slope a minute; a run that is too short stays, and is flat."""
    out = values.copy() if deriv == 0 else np.where(np.isfinite(values), 0.0, np.nan)
    edges = np.flatnonzero(np.diff(np.r_[False, np.isfinite(values), False].astype(int)))
    for first, stop in edges.reshape(-1, 2):
        if stop - first >= SMOOTHED_OVER:
            out[first:stop] = savgol_filter(values[first:stop], SMOOTHED_OVER, 2, deriv=deriv, delta=STEP_MIN)
    return out


def mix(first: Curve, second: Curve, share: float) -> Curve:
    """A curve between two: `share` of the way from the first to the second, where both are known."""
    start, end = max(first.time[0], second.time[0]), min(first.time[-1], second.time[-1])
    grid = pd.date_range(start.ceil(STEP), end, freq=STEP, unit="us")
    return Curve(grid, first.at(grid) * (1 - share) + second.at(grid) * share)


def run_ahead(rng: np.random.Generator, shown: Curve) -> Curve:
    """The blood behind what a sensor shows, if its lag is one of 4 to 12 min and of either kind."""
    lag_min = rng.uniform(*LAG_MIN)
    if rng.random() < 0.5:
        return Curve(shown.time, shown.at(shown.time + pd.Timedelta(minutes=lag_min)))
    return Curve(shown.time, shown.mg_dl + lag_min * smooth_runs(shown.mg_dl, deriv=1))


def choose_moments(rng: np.random.Generator, blood: Curve, checks: int, waking: int = 0) -> pd.DatetimeIndex:
    """Moments of checks, one in each equal part of the time, by day; `waking` of them shortly after six.

    Parameters
    ----------
    rng : numpy.random.Generator
    blood : Curve
        Checks are taken where it is known.
    checks, waking : int
        All of them, and those on waking.
    """
    part = np.arange(len(blood.time)) * checks // len(blood.time)
    early = set(np.round((np.arange(waking) + 0.5) * checks / max(waking, 1) - 0.5).astype(int))
    chosen = []
    for k in range(checks):
        first, last = WAKING_H if k in early else DAY_H
        open_to = blood.known & (blood.hours >= first) & (blood.hours < last)
        here = np.flatnonzero(open_to & (part == k))
        here = here if len(here) else np.flatnonzero(open_to)
        chosen.append(rng.choice(here))
    return blood.time[np.sort(np.unique(chosen))]


def draw_meter(rng: np.random.Generator, draw: int = 0, draws: int = 1) -> float:
    """What one meter multiplies all its checks by.

    Parameters
    ----------
    rng : numpy.random.Generator
    draw, draws : int
        Which draw of how many: each takes its meter from its own part of the distribution, so that chance among few
        meters, the largest error of a mean with many checks, does not pass for a fault of what is judged.
    """
    return 1 + float(ndtri((draw + rng.random()) / draws)) * rng.uniform(*METER_SD)


def take_checks(rng: np.random.Generator, blood: Curve, moments: pd.DatetimeIndex, meter: float) -> pd.DataFrame:
    """A table of finger-sticks: blood by a meter, each with an error of its own."""
    shown = np.round(blood.at(moments) * meter * (1 + CHECK_SD * rng.standard_normal(len(moments))))
    rows = [
        {"time": time, "glucose_mg_dl": float(value), "source": "fingerstick"}
        for time, value in zip(moments, shown, strict=True)
    ]
    return make_table("checks", *rows)
