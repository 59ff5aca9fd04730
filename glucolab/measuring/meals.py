"""What followed each meal? Rises, times to peak, areas, dips, and when not to use them."""

from __future__ import annotations

import numpy as np
import pandas as pd
from pandas.arrays import BooleanArray

from glucolab.aligning.smoother import GRID_MIN
from glucolab.aligning.trace_record import DrawnTrace
from glucolab.cleaning.clean import CleanRecord
from glucolab.cleaning.spans import spans_to_mask
from glucolab.conventions import WALK_WITHIN_MIN, is_easy, is_exercise
from glucolab.intervals import central_interval, widen
from glucolab.measuring.area import area_by_step
from glucolab.measuring.occasions import find_occasions
from glucolab.measuring.walks import is_seen_after
from glucolab.record import WearPeriod
from glucolab.record.outputs import MEAL_RESPONSES

LEAST_RISE_MG_DL = 10.0
"""A smaller rise has no time to peak; the contract's. Lower, it is noise's; higher, flat meals have none. [mg/dL]"""
DIP_MG_DL = 10.0
"""From here on a fall below baseline is counted as a dip; the contract's. Lower counts noise, higher misses some.
[mg/dL]"""
_LEAST_COVERAGE = 0.8
"""Of a meal's window; the contract's. Lower, areas rest on what was bridged; higher, meals are lost. [0-1]"""
SHARED_RISE_SD_MG_DL = 6.0
"""SD of what a sensor adds to all rises of a wear alike, whatever their size [mg/dL]: in 21 open pairs of sensors with
checks, the means of a person's rises are off by 5 to 7 beyond what offset, gain and noise explain, of small rises as of
large ones. Too small, a rise looks surer than it is; too large, it says nothing."""
RETURN_ABOVE_MG_DL = 5.0
"""Glucose is back so far above baseline; the contract's. Lower, noise delays it; higher, it comes too early. [mg/dL]"""
_BEFORE, _TWO_H, _THREE_H, _FOUR_H = 6, 24, 36, 48
"""Baseline and windows; the contract's, common practice. A late peak lies past two hours and is cut. [grid steps]"""


def measure_meal_responses(wear: WearPeriod, clean: CleanRecord, trace: DrawnTrace) -> pd.DataFrame:
    """Response of blood glucose to every occasion, by the contract's definitions.

    Parameters
    ----------
    wear : WearPeriod
        As :func:`glucolab.add_movement` leaves it.
    clean : CleanRecord
    trace : DrawnTrace

    Returns
    -------
    DataFrame
        Columns of ``meal_responses.csv``, ``line`` (of meals.csv) and ``dip_chance`` (share of the draws in which
        glucose dips, NaN where that cannot be seen). `rise_mg_dl`, its interval
        and the areas are taken over the trace's draws, so that noise does not raise a maximum and
        lag, gain and what a sensor adds to all rises alike are in the interval; a figure is empty
        where the trace cannot carry it.

    Notes
    -----
    Rise: highest value from 0 to 120 min minus the mean of the half hour before; area:
    :func:`glucolab.incremental_area`; dip: that mean minus the lowest value from 120 to 180 min. ``reason`` says why a
    response may not be used.

    References
    ----------
    .. [1] FAO Food and Nutrition Paper 66 (1998), chapter 4.
    .. [2] ISO 26642:2010, food products: determination of the glycaemic index.
    .. [3] Wyatt et al., Nat Metab 2021;3:523-529.

    Examples
    --------
    >>> import glucolab as gl
    >>> wear = gl.simulate.example_wear()
    >>> clean = gl.clean_wear(wear)
    >>> trace = gl.estimate_trace(wear, clean)
    >>> meals = gl.measure_meal_responses(wear, clean, trace)
    >>> usable = meals[meals["usable_2h"]]
    >>> (usable["rise_low_mg_dl"] <= usable["rise_high_mg_dl"]).all(), (usable["reason"] == "").all()
    (np.True_, np.False_)
    """
    occasions = find_occasions(wear.meals)
    out = occasions.copy()
    out["walk_after"], out["walk_source"] = _walked_after(occasions["time"], wear)
    window = _Window(trace, pd.DatetimeIndex(occasions["time"]))
    figures = window.figures()
    for name, values in figures.items():
        out[name] = values
    next_time = occasions["time"].where(~occasions["minor"]).bfill().shift(-1)
    out["return_min"] = window.returns(next_time)
    edges = [pd.DatetimeIndex(occasions["time"] + pd.Timedelta(hours=h)) for h in (0, 2, 3)]
    two, three = (_covered(clean, edges[0], edge) for edge in edges[1:])
    out["coverage"] = two / 120
    early, late = (_reasons(wear, clean, out, minutes, share, next_time)
                   for minutes, share in ((120, two / 120), (180, three / 180)))  # fmt: skip
    out["usable_2h"] = pd.array(early == "", dtype="boolean")
    out["usable_3h"] = pd.array(late == "", dtype="boolean")
    out["reason"] = np.where(early != "", early, late)
    out.loc[(three / 180 < _LEAST_COVERAGE).to_numpy(), ["iauc_3h_mg_dl_min", "net_area_3h_mg_dl_min"]] = np.nan
    out.loc[(two / 120 < _LEAST_COVERAGE).to_numpy(), "iauc_2h_mg_dl_min"] = np.nan
    return out[[*MEAL_RESPONSES.names, "line", "dip_chance"]]


class _Window:
    """The trace around each occasion, draws included."""

    def __init__(self, trace: DrawnTrace, times: pd.DatetimeIndex) -> None:
        self.trace, self.times = trace, times
        self.place = trace.cells(times)
        self.first = np.ceil(self.place - 1e-9).astype(int)
        self.offset_min = (self.first - self.place) * GRID_MIN
        g = len(trace.time)
        self.steps = self.first[:, None] + np.arange(-_BEFORE, _FOUR_H + 1)
        self.inside = (self.steps >= 0) & (self.steps < g)
        self.steps = np.clip(self.steps, 0, g - 1)
        self.known = self.inside & ~np.isnan(trace.glucose_mg_dl[self.steps])
        self.mean = np.where(self.known, trace.glucose_mg_dl[self.steps], np.nan)
        self.draws = np.where(self.known, trace.draws[:, self.steps], np.nan)
        self.enough_before = self.known[:, :_BEFORE].sum(axis=1) >= 2

    def _upto(self, minutes: float) -> np.ndarray:
        """True for grid points from the occasion to `minutes` after, shape (n, steps)."""
        after = self.offset_min[:, None] + np.arange(-_BEFORE, _FOUR_H + 1) * GRID_MIN
        return (after >= -1e-6) & (after <= minutes + 1e-6)

    def _complete(self, minutes: float) -> np.ndarray:
        return (self.known | ~self._upto(minutes)).all(axis=1)

    def figures(self) -> dict[str, np.ndarray]:
        n = len(self.times)
        names = ("baseline_mg_dl", "rise_mg_dl", "rise_low_mg_dl", "rise_high_mg_dl", "time_to_peak_min",
                 "iauc_2h_mg_dl_min", "iauc_3h_mg_dl_min", "net_area_3h_mg_dl_min", "dip_mg_dl",
                 "dip_chance")  # fmt: skip
        out = {name: np.full(n, np.nan) for name in names}
        if not n:
            return out
        base = _mean_where(self.draws[:, :, :_BEFORE], self.known[:, :_BEFORE])
        self.base_mean = np.where(
            self.enough_before, _mean_where(self.mean[:, :_BEFORE], self.known[:, :_BEFORE]), np.nan
        )
        out["baseline_mg_dl"] = self.base_mean
        two, three = self._upto(120), self._upto(180)
        good2 = self.enough_before & self._complete(120)
        rise = _max_where(self.draws, two) - base
        if good2.any():
            picked = rise[:, good2]
            out["rise_mg_dl"][good2] = picked.mean(axis=0)
            ends = widen(picked.mean(axis=0), *central_interval(picked), SHARED_RISE_SD_MG_DL)
            _, out["rise_low_mg_dl"][good2], out["rise_high_mg_dl"][good2] = ends
        out["time_to_peak_min"] = self._time_to_peak(two, good2, out["rise_mg_dl"])
        good3 = self.enough_before & self._complete(180)
        above = self._above(base)
        areas = area_by_step(np.arange(_THREE_H + 1) * GRID_MIN, above).mean(axis=0)
        for name, good, steps in (("iauc_2h_mg_dl_min", good2, _TWO_H), ("iauc_3h_mg_dl_min", good3, _THREE_H)):
            out[name][good] = areas[good, :steps].sum(axis=1)
        out["net_area_3h_mg_dl_min"][good3] = np.trapezoid(above.mean(axis=0), dx=GRID_MIN)[good3]
        late = three & ~self._upto(120 - 1e-3)
        lowest = np.nanmin(np.where(late & good3[:, None], self.mean, np.inf), axis=1)
        out["dip_mg_dl"][good3] = np.maximum(self.base_mean - lowest, 0)[good3]
        fallen = base + _max_where(-self.draws, late) >= DIP_MG_DL
        out["dip_chance"][good3] = fallen.mean(axis=0)[good3]
        return out

    def _above(self, base: np.ndarray) -> np.ndarray:
        """The curve above its baseline at t, t + 5, … min over three hours, shape (draws, n, steps + 1)."""
        part = np.where(self.offset_min > 0, 1 - self.offset_min / GRID_MIN, 0.0)[:, None]
        curve = self.draws[:, :, _BEFORE : _BEFORE + _THREE_H + 1]
        before = self.draws[:, :, _BEFORE - 1 : _BEFORE + _THREE_H]
        return np.where(part > 0, before * (1 - part) + curve * part, curve) - base[:, :, None]

    def _time_to_peak(self, two: np.ndarray, good: np.ndarray, rise: np.ndarray) -> np.ndarray:
        values = np.where(two & self.known, self.mean, -np.inf)
        peak = values.argmax(axis=1)
        last = two.shape[1] - 1 - two[:, ::-1].argmax(axis=1)
        minutes = self.offset_min + (peak - _BEFORE) * GRID_MIN
        shown = good & (np.nan_to_num(rise, nan=0.0) >= LEAST_RISE_MG_DL) & (peak < last)
        self.peak = np.where(good, peak, -1)
        return np.where(shown, minutes, np.nan)

    def returns(self, next_time: pd.Series) -> np.ndarray:
        """Minutes to the first quarter of an hour after the peak at or under baseline + 5."""
        out = np.full(len(self.times), np.nan)
        if not len(out):
            return out
        low = (self.mean <= self.base_mean[:, None] + RETURN_ABOVE_MG_DL) & self.known
        # a quarter of an hour is three grid points
        quiet = low[:, :-2] & low[:, 1:-1] & low[:, 2:]
        quiet &= (np.arange(quiet.shape[1]) >= self.peak[:, None]) & (self.peak >= 0)[:, None]
        first = quiet.argmax(axis=1)
        minutes = self.offset_min + (first - _BEFORE) * GRID_MIN
        until = np.asarray((next_time - pd.Series(self.times)).dt.total_seconds() / 60)
        found = quiet.any(axis=1) & (minutes < 240) & ~(minutes >= until)
        return np.where(found, minutes, np.nan)


def _mean_where(values: np.ndarray, known: np.ndarray) -> np.ndarray:
    return np.where(known, values, 0).sum(axis=-1) / np.maximum(known.sum(axis=-1), 1)


def _max_where(values: np.ndarray, where: np.ndarray) -> np.ndarray:
    return np.where(where & ~np.isnan(values), values, -np.inf).max(axis=-1)


def _walked_after(times: pd.Series, wear: WearPeriod) -> tuple[BooleanArray, pd.Series]:
    """Whether a walk or light effort of five minutes or more starts within 45 min after, and who says so.

    Not known where nothing was logged and no wrist would have shown a walk.
    """
    logged, found = (_starts_after(times, walks) for walks in (wear.activity, wear.found_walks))
    known = wear.has("activity") | is_seen_after(wear, times) | found
    source = np.where(logged, "logged", np.where(found, "found", ""))
    return BooleanArray(logged | found, ~known), pd.Series(source, times.index, dtype="str")


def _starts_after(times: pd.Series, activity: pd.DataFrame) -> np.ndarray:
    """True where something easy starts within 45 min after, shape (m,)."""
    start = np.sort(pd.DatetimeIndex(activity.loc[is_easy(activity), "start"]).as_unit("us").asi8)
    begin = pd.DatetimeIndex(times).as_unit("us")
    last = np.searchsorted(start, (begin + pd.Timedelta(minutes=WALK_WITHIN_MIN)).asi8, side="right")
    return last > np.searchsorted(start, begin.asi8)


def _covered(clean: CleanRecord, start: pd.DatetimeIndex, end: pd.DatetimeIndex) -> pd.Series:
    """Usable minutes within each span, shape (n,). [min]"""
    edges = pd.DatetimeIndex(start.append(end))
    order = np.argsort(edges.asi8, kind="stable")
    cumulative = np.empty(len(edges))
    cumulative[order] = np.r_[0.0, np.cumsum(clean.minutes_between(edges[order]))] if len(edges) else []
    return pd.Series(cumulative[len(start) :] - cumulative[: len(start)])


def exercise_spans(activity: pd.DataFrame) -> pd.DataFrame:
    """Exercise as a reason for a rise of its own: ``start, end, line``."""
    mine = activity[is_exercise(activity)]
    end = mine["start"] + pd.to_timedelta(mine["minutes"], unit="min")
    return pd.DataFrame({"start": mine["start"], "end": end, "line": mine.index})


def _reasons(
    wear: WearPeriod, clean: CleanRecord, out: pd.DataFrame, minutes: int, share: pd.Series, next_time: pd.Series
) -> np.ndarray:
    """Why the figures of each occasion over `minutes` are not to be used, empty where they are."""
    begin = out["time"] - pd.Timedelta(minutes=30)
    stop = out["time"] + pd.Timedelta(minutes=minutes)
    figure = "iauc_2h_mg_dl_min" if minutes == 120 else "iauc_3h_mg_dl_min"
    outside = (begin < clean.start) | (stop > clean.end)
    excluded = clean.spans[(clean.spans["action"] == "exclude") & (clean.spans["flag"] != "duplicate")]
    holey = (share < _LEAST_COVERAGE) | out[figure].isna()
    flagged = _any_overlap(begin, stop, excluded["start"], excluded["end"])
    exercise = exercise_spans(wear.activity)
    checks = {
        "no_baseline": out["baseline_mg_dl"].isna(),
        "gap": holey & ~flagged & ~out["baseline_mg_dl"].isna(),
        "flagged": holey & flagged,
        "next_occasion": next_time < stop,
        "exercise": pd.Series(_any_overlap(begin, stop, exercise["start"], exercise["end"]), index=out.index),
        "outside_wear": outside,
        "time_uncertain": _zone_in_doubt(wear, out["time"]) | out["time_uncertain"],
        "minor": out["minor"],
    }
    words = np.full(len(out), "", dtype=object)
    for name, where in checks.items():
        where = np.asarray(where, dtype=bool)
        words[where] = [f"{word};{name}" if word else name for word in words[where]]
    return words


def _any_overlap(begin: pd.Series, stop: pd.Series, starts: pd.Series, ends: pd.Series) -> np.ndarray:
    """True where a span of the first kind meets any of the second, shape (n,)."""
    opened = np.searchsorted(
        np.sort(pd.DatetimeIndex(starts).as_unit("us").asi8), pd.DatetimeIndex(stop).as_unit("us").asi8
    )
    closed = np.searchsorted(
        np.sort(pd.DatetimeIndex(ends).as_unit("us").asi8), pd.DatetimeIndex(begin).as_unit("us").asi8, side="right"
    )
    return opened > closed


def _zone_in_doubt(wear: WearPeriod, times: pd.Series) -> np.ndarray:
    """Within three hours of a change of zone nobody knows which clock a written time was read from."""
    changes = pd.DatetimeIndex(wear.zones.changes, tz="UTC")
    margin = pd.Timedelta(hours=3)
    return spans_to_mask(pd.DatetimeIndex(times), changes - margin, changes + margin)
