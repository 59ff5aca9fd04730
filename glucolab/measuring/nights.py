"""When was the night? The longest sleep that ends in the morning, else the clock."""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.clock import Days, ZoneSpans, day_starts, local_hours
from glucolab.conventions import CLOCK_NIGHT_H, ends_a_night
from glucolab.record import WearPeriod


def choose_tracker(sleep: pd.DataFrame, days: Days, zones: ZoneSpans) -> str | None:
    """The sleep tracker with most nights; None where no sleep is logged.

    Ties go to the one whose first night began first.
    """
    ends_at_night = sleep[_night_rows(sleep, zones)].sort_values(["start", "source"], kind="stable")
    if not len(ends_at_night):
        return None
    source = ends_at_night["source"].fillna("")
    nights = pd.Series(days.of(ends_at_night["end"]), index=source.index).groupby(source, sort=False).nunique()
    return str(nights.idxmax())


def _night_rows(sleep: pd.DataFrame, zones: ZoneSpans) -> np.ndarray:
    hours = local_hours(pd.DatetimeIndex(sleep["end"]), zones)
    return ends_a_night(hours)


def find_nights(wear: WearPeriod, days: Days) -> pd.DataFrame:
    """The night that ends on each local day.

    Parameters
    ----------
    wear : WearPeriod
    days : Days

    Returns
    -------
    DataFrame
        A row a day: ``start, end`` [UTC], ``asleep_h`` [h] (NaN by the clock), ``night_source``
        (the tracker's name, "sleep" where it has none, "clock" for 00:00-06:00).
    """
    starts = days.edges[:-1]
    nights = pd.DataFrame({"start": starts, "end": day_starts_later(days, wear.zones)})
    nights["asleep_h"] = np.nan
    nights["night_source"] = pd.Series("clock", index=nights.index, dtype="str")
    sleep = wear.sleep
    tracker = choose_tracker(sleep, days, wear.zones)
    if tracker is None:
        return nights
    mine = sleep[_night_rows(sleep, wear.zones) & (sleep["source"].fillna("") == tracker).to_numpy()].copy()
    mine["day"] = days.of(mine["end"])
    mine["length"] = mine["end"] - mine["start"]
    longest = mine[mine["day"] >= 0].sort_values("length").groupby("day").tail(1).set_index("day")
    asleep = longest["asleep_min"].fillna(longest["length"].dt.total_seconds() / 60) / 60
    nights.loc[longest.index, "start"] = longest["start"]
    nights.loc[longest.index, "end"] = longest["end"]
    nights.loc[longest.index, "asleep_h"] = asleep
    nights.loc[longest.index, "night_source"] = tracker or "sleep"
    return nights


def day_starts_later(days: Days, zones: ZoneSpans) -> pd.DatetimeIndex:
    """Six in the morning of each local day. [UTC]"""
    return day_starts(days.dates + pd.Timedelta(hours=CLOCK_NIGHT_H[1]), zones)
