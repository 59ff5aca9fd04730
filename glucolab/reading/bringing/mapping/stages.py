"""When did somebody sleep whose tracker wrote stages? Rows of stages joined to a sleep each; awake ones are none."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import Problem
from glucolab.reading.bringing.mapping.times import settle
from glucolab.reading.bringing.vocabulary.cautions import find_stage
from glucolab.reading.bringing.vocabulary.words import KINDS_OF_ROW
from glucolab.reading.tables import count_many
from glucolab.reading.text import plain, show

_LONGEST_BREAK = pd.Timedelta(hours=1)
"""Stages with a longer time between them are of two sleeps. Assumed: shorter parts a night at a lost signal, longer
adds a nap to the night."""


def join_stages(
    frame: pd.DataFrame, cells: Sequence[str], zones: ZoneSpans, file: str
) -> tuple[pd.DataFrame, str, list[Problem]]:
    """Rows of stages as a row a sleep.

    Parameters
    ----------
    frame : pandas.DataFrame
        With `start` and `end`, indexed by line.
    cells : sequence of str, shape (n,)
        Names of the stages.
    zones : ZoneSpans
        What the wearer's clocks showed.
    file : str
        For messages.

    Returns
    -------
    frame : pandas.DataFrame
        From the first stage asleep to the last, with the minutes asleep and how often awake between; indexed by the
        line of the first.
    said : str
    problems : list of Problem
        Rows whose stage is not known.
    """
    stages = [_stage_of(cell) for cell in cells]
    lines = frame.index.tolist()
    unknown = [
        Problem(file, f'stage "{show(cell)}" is none that is known; the row is left out', line)
        for cell, stage, line in zip(cells, stages, lines, strict=True)
        if stage is None
    ]
    starts, ends = settle(frame["start"].tolist(), zones), settle(frame["end"].tolist(), zones)
    known = [i for i in np.argsort(starts.asi8, kind="stable").tolist() if stages[i] is not None]
    sleeps, last = list[list[int]](), pd.Timestamp.min.tz_localize("UTC")
    for i in known:
        if not sleeps or starts[i] - last > _LONGEST_BREAK:
            sleeps.append([])
        sleeps[-1].append(i)
        last = max(last, ends[i])
    rows, at = [], []
    for sleep in sleeps:
        asleep = [i for i in sleep if stages[i] == "asleep"]
        if not asleep:
            continue
        inside = [stages[i] for i in sleep[sleep.index(asleep[0]) : sleep.index(asleep[-1]) + 1]]
        awakenings = sum(a == "asleep" and b == "awake" for a, b in pairwise(inside))
        minutes = sum((ends[i] - starts[i]) / pd.Timedelta(minutes=1) for i in asleep)
        rows.append((frame["start"].iloc[asleep[0]], frame["end"].iloc[asleep[-1]], f"{minutes:.6g}", str(awakenings)))
        at.append(lines[asleep[0]])
    joined = pd.DataFrame(
        rows, columns=["start", "end", "asleep_min", "awakenings"], index=pd.Index(at, name="line"), dtype=object
    )
    said = f"{len(known)} rows of stages are joined to {len(rows)} sleeps: what was awake is not counted as asleep"
    return joined, said, count_many(unknown, "rows of stages")


def _stage_of(cell: str) -> str | None:
    return find_stage(cell) or ("asleep" if plain(cell) in (*KINDS_OF_ROW["sleep"], "asleep", "sleeping") else None)
