"""What can be believed of this wear? Runs every flag in order and keeps the reasons."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.cleaning import flags as f
from glucolab.cleaning.gaps import count_minutes, find_gaps, minutes_since_1970, usable_minutes
from glucolab.cleaning.jumps import flag_jump
from glucolab.cleaning.pressure import flag_pressure
from glucolab.cleaning.spans import empty_spans, make_spans, mask_to_spans
from glucolab.record import WearPeriod
from glucolab.record.outputs import FLAGS
from glucolab.units import glucose_to_mg_dl

RUNNING_DAYS = 60.0
"""A running wear's reading later than this, or than 1.5 times the sensor's life, has a wrong date; assumed. Too small,
a long-lived sensor loses its last readings; too large, one wrong date stretches the wear. [days]"""

ONE_READING = ["time", "glucose_mg_dl", "taken"]
"""Rows that agree in these are one reading, written twice."""


@dataclass(frozen=True, eq=False, repr=False)
class CleanRecord:
    """A wear's readings with the reason for each that is not used.

    Attributes
    ----------
    readings : DataFrame
        Ascending in time: ``time, glucose_mg_dl, taken, line, row`` (place in the file), a boolean
        column a flag, ``excluded``.
    spans : DataFrame
        ``start, end, minutes, flag, action``.
    gaps : DataFrame
        ``start, end, minutes, kind``.
    interval_min : float
        Sampling interval. [min]
    start, end : Timestamp
        Insertion; removal, or the last reading's end while running. [UTC]
    warmed_up : Timestamp
        End of warm-up. [UTC]
    coverage : float
        0-1.
    """

    readings: pd.DataFrame
    spans: pd.DataFrame
    gaps: pd.DataFrame
    interval_min: float
    start: pd.Timestamp
    end: pd.Timestamp
    warmed_up: pd.Timestamp
    coverage: float

    def __repr__(self) -> str:
        kept = int((~self.readings["excluded"]).sum())
        return (
            f"CleanRecord of {len(self.readings)} readings every {self.interval_min:g} min, {kept} usable: "
            f"{self.coverage:.0%} of the time; readings, spans ({len(self.spans)}), gaps ({len(self.gaps)}), usable"
        )

    @property
    def flag_names(self) -> list[str]:
        """Flags in the contract's order, each a column of `readings`."""
        return list(FLAGS)

    @property
    def usable(self) -> pd.Series:
        """Usable readings by time, ascending, none twice. [mg/dL]"""
        good = self.readings[~self.readings["excluded"]]
        return pd.Series(good["glucose_mg_dl"].to_numpy(), index=pd.DatetimeIndex(good["time"]))

    def minutes_between(self, edges: pd.DatetimeIndex) -> np.ndarray:
        """Usable minutes between neighbouring edges, shape (m - 1,). [min]"""
        begins, ends = usable_minutes(pd.DatetimeIndex(self.usable.index), self.interval_min, self.warmed_up, self.end)
        return count_minutes(begins, ends, edges.as_unit("us").asi8 / 60e6)


def clean_wear(wear: WearPeriod) -> CleanRecord:
    """Flag a wear's readings, turn flags into spans, find the gaps.

    Parameters
    ----------
    wear : WearPeriod
        Of n readings: from a study that was read, or from :func:`glucolab.wear_from_frame`.

    Returns
    -------
    CleanRecord
        ``usable`` is the Series of readings that can be believed [mg/dL]; ``readings`` has all n with a column a flag,
        ``spans`` and ``gaps`` say when and why not.

    Notes
    -----
    Flags run in one order, each on what earlier ones left: clock, duplicate, limit, stuck, jump, noted, warm-up,
    pressure, loosening; the last notes a reading, the others take it out. All are limits on single readings but
    pressure: each night is a Gaussian process, and every span in sleep is tried as a low of what lying on the sensor
    does against it. Limits of validity: sensors that read every 1 to 15 minutes; lows of diabetes are judged by what
    nights of people without it do.

    References
    ----------
    .. [1] Baysal et al., J Diabetes Sci Technol 2014;8:1091-1096 (PMC4455457).

    Examples
    --------
    >>> import glucolab as gl
    >>> clean = gl.clean_wear(gl.simulate.example_wear())
    >>> clean.readings.loc[clean.readings["warm_up"], "excluded"].all()
    np.True_
    >>> clean.usable.index.is_monotonic_increasing, 0 < clean.coverage <= 1
    (True, True)
    """
    raw = wear.glucose
    in_file_order = pd.Series(raw["glucose_mg_dl"].to_numpy(), index=pd.DatetimeIndex(raw["time"]))
    clock = f.flag_clock(in_file_order, start=wear.start, end=_latest(wear)).to_numpy()
    interval_min = sampling_interval(wear, raw["time"][~clock])
    # by content, so that the order of the file's rows decides nothing: of one moment the automatic ones first
    order = np.lexsort((raw["glucose_mg_dl"], raw["taken"] == "by_hand", pd.DatetimeIndex(raw["time"]).asi8))
    readings = raw.iloc[order].reset_index()[["time", "glucose_mg_dl", "taken", "line"]]
    readings["row"] = order
    end = wear.end if wear.end is not None else _last_moment(readings, clock[order], wear, interval_min)
    marks, noted = _run_flags(wear, readings, clock[order], interval_min)
    for name, mask in marks.items():
        readings[name] = mask
    noting = ("loosening",)
    readings["excluded"] = np.logical_or.reduce([m for name, m in marks.items() if name not in noting])
    warmed_up = min(wear.start + pd.Timedelta(hours=wear.warm_up_hours), end)
    spans = _spans(wear, readings, noted, interval_min, warmed_up)
    usable = pd.DatetimeIndex(readings.loc[~readings["excluded"], "time"])
    gaps = find_gaps(wear, usable, readings.drop_duplicates(ONE_READING), interval_min, warmed_up, end)
    begins, ends = usable_minutes(usable, interval_min, warmed_up, end)
    possible = minutes_since_1970(end) - minutes_since_1970(warmed_up)
    coverage = float((ends - begins).sum() / possible) if possible > 0 else 0.0
    return CleanRecord(readings, spans, gaps, interval_min, wear.start, end, warmed_up, coverage)


def _latest(wear: WearPeriod) -> pd.Timestamp:
    """Removal; while running, the last moment that can be believed of it."""
    if wear.end is not None:
        return wear.end
    return wear.start + pd.Timedelta(days=max(RUNNING_DAYS, 1.5 * (wear.life_days or 0.0)))


def sampling_interval(wear: WearPeriod, times: pd.Series) -> float:
    """The wear's `interval_min`, else the median step between its automatic readings. [min]

    Steps over an hour are pauses, not sampling; a single reading counts as five minutes.
    """
    if wear.interval_min is not None:
        return wear.interval_min
    taken = wear.glucose["taken"].reindex(times.index)
    automatic = times[taken != "by_hand"]
    stamps = np.unique(pd.DatetimeIndex(automatic if len(automatic) > 2 else times).asi8) / 60e6
    steps = np.diff(stamps)
    steps = steps[steps <= 60]
    if not len(steps):
        return 5.0
    return float(max(round(np.median(steps) * 2) / 2, 0.5))


def _last_moment(readings: pd.DataFrame, clock: np.ndarray, wear: WearPeriod, interval_min: float) -> pd.Timestamp:
    """End of the last reading's interval: how far a running wear has come."""
    known = readings.loc[~clock, "time"]
    return (known.max() if len(known) else wear.start) + pd.Timedelta(minutes=interval_min)


def _run_flags(
    wear: WearPeriod, readings: pd.DataFrame, clock: np.ndarray, interval_min: float
) -> tuple[dict[str, np.ndarray], pd.DataFrame]:
    """Masks by flag, each computed on what the earlier flags left; and the noted spans."""
    left = pd.Series(readings["glucose_mg_dl"].to_numpy(), index=pd.DatetimeIndex(readings["time"]))
    by_hand = (readings["taken"] == "by_hand").to_numpy()
    marks: dict[str, np.ndarray] = {"clock": clock}

    left = left.mask(clock)
    marks["duplicate"] = f.flag_duplicate(left, interval_min=interval_min, by_hand=by_hand).to_numpy(dtype=bool)
    once = ~marks["duplicate"]  # what stands for one moment with another would part neighbours from each other
    left = raw = left[once]

    def apply(name: str, mask: pd.Series) -> None:
        nonlocal left
        marks[name] = np.zeros(len(once), dtype=bool)
        marks[name][once] = mask
        if name != "loosening":
            left = left.mask(mask)

    # a limit written in mmol/L with one decimal is off by up to half of it
    step = 0.5 * glucose_to_mg_dl(0.1, wear.unit) if wear.unit == "mmol/L" else 0.0
    floor, ceiling = wear.reads_from_mg_dl + step, wear.reads_to_mg_dl - step
    apply("limit", f.flag_limit(left, floor_mg_dl=floor, ceiling_mg_dl=ceiling))
    apply("stuck", f.flag_stuck(left, interval_min=interval_min, zones=wear.zones))
    apply("jump", flag_jump(left, interval_min=interval_min))
    apply("noted", f.flag_noted(left, notes=wear.notes))
    # warm-up comes after the others so that a jump in the first hours is named too
    warm = f.flag_warm_up(left, start=wear.start, warm_up_hours=wear.warm_up_hours)
    apply("warm_up", warm)
    # readings at the floor are part of a low, though their value is censored
    limit, warming = marks["limit"][once], marks["warm_up"][once]
    seen = left.where(left.notna() | ~limit | (raw > floor) | warming, raw)
    pressed = flag_pressure(seen, interval_min=interval_min, zones=wear.zones, sleep=wear.sleep, meals=wear.meals)
    apply("pressure", pressed & left.notna())
    apply("loosening", f.flag_loosening(left, interval_min=interval_min))
    return {name: marks[name] for name in FLAGS}, wear.notes


def _spans(
    wear: WearPeriod, readings: pd.DataFrame, notes: pd.DataFrame, interval_min: float, warmed_up: pd.Timestamp
) -> pd.DataFrame:
    """Every flag's spans; notes of kinds that exclude nothing are kept as spans too."""
    parts = []
    for flag in FLAGS:
        if flag == "warm_up":
            if warmed_up > wear.start:
                parts.append(make_spans(pd.DatetimeIndex([wear.start]), pd.DatetimeIndex([warmed_up]), flag, "exclude"))
            continue
        action = "note" if flag == "loosening" else "exclude"
        judged = readings if flag == "duplicate" else readings[~readings["duplicate"]]
        mask = pd.Series(judged[flag].to_numpy(), index=pd.DatetimeIndex(judged["time"]))
        if flag != "noted" and mask.any():
            parts.append(mask_to_spans(mask, interval_min, flag, action))
    end = notes["end"].fillna(notes["start"] + pd.Timedelta(hours=1))
    for kinds, action in ((f.EXCLUDING_NOTES, "exclude"), (None, "note")):
        mine = notes["kind"].isin(f.EXCLUDING_NOTES)
        mine = mine if kinds else ~mine
        if mine.any():
            parts.append(
                make_spans(pd.DatetimeIndex(notes.loc[mine, "start"]), pd.DatetimeIndex(end[mine]), "noted", action)
            )
    parts = [p for p in parts if len(p)]
    if not parts:
        return empty_spans()
    return pd.concat(parts, ignore_index=True).sort_values(["start", "flag"], ignore_index=True)
