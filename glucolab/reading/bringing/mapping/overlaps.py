"""Do two sleeps of one file overlap? One of them has a wrong date, and which one is for the wearer to see."""

from __future__ import annotations

import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import Problem
from glucolab.reading.bringing.mapping.times import settle
from glucolab.reading.tables import count_many

_LEAST_OVERLAP = pd.Timedelta(minutes=30)
"""Sleeps of one person that overlap by less are rounded. Assumed."""


def word_overlaps(frame: pd.DataFrame, zones: ZoneSpans, file: str) -> list[Problem]:
    """A problem for each sleep that begins well before another one of its tracker ended.

    Parameters
    ----------
    frame : pandas.DataFrame
        Sleeps: `start`, `end` and perhaps `source`, indexed by line.
    zones : ZoneSpans
        What the wearer's clocks showed.
    file : str
        For messages.
    """
    spans = pd.DataFrame(
        {
            "start": settle(frame["start"].tolist(), zones),
            "end": settle(frame["end"].tolist(), zones),
            "line": frame.index,
            "source": frame["source"].to_numpy() if "source" in frame else "",
        }
    ).sort_values("start", kind="stable")
    before = spans.groupby("source")[["end", "line"]].shift()
    over = spans["start"] + _LEAST_OVERLAP < before["end"]
    problems = [
        Problem(file, f"this sleep overlaps the one on line {other:.0f}: is its date right?", int(line), left_out=False)
        for line, other in zip(spans.loc[over, "line"], before.loc[over, "line"], strict=True)
    ]
    return count_many(problems, "sleeps")
