"""Does somebody sleep by day, or are the times those of another zone? What a log of sleep leaves open is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from glucolab.reading.bringing.cells.moments import SINCE_1970
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import LOCAL, Source
from glucolab.reading.text import show

_LEAST_SLEEP_MIN = 180
"""Shorter ones are naps, which are of the day. Assumed. [min]"""
_LEAST_SLEEPS = 4
"""So many long sleeps tell when somebody sleeps. Assumed."""
_DAY_FROM_H, _DAY_TO_H = 11.0, 22.0
"""The middle of most people's sleep lies between 1 and 9 in the morning; those whose median lies in here work by night,
or their times are of another zone. Assumed. [h]"""


def settle_daytime(
    sources: dict[str, Source], facts: Sequence[Facts], spans: dict[int, float], answers: Answers
) -> dict[str, Source]:
    """Sources of a log of sleep; where it states no zone and most sleeps lie in the day, their zone is asked.

    Parameters
    ----------
    sources : dict of str to Source
        Of times, by our column, with the zone that the file states.
    facts : sequence of Facts
        All columns of the file.
    spans : dict of int to float
        Minutes from start to end of each row. [min]
    answers : Answers
    """
    start = sources["start"]
    clock = next(f for f in facts if f.name == start.columns[-1])
    stated = any((s.zone or s.zone_from or s.since in SINCE_1970) for s in sources.values())
    if stated or any(one is not None and one.offset for one in clock.written):
        return sources
    starts = {
        row: 60 * one.clock[0] + one.clock[1]
        for row, one in zip(clock.rows, clock.written, strict=True)
        if one and one.clock
    }
    long = sorted(row for row in starts.keys() & spans.keys() if spans[row] >= _LEAST_SLEEP_MIN)
    middles = np.array([(starts[row] + spans[row] / 2) % 1440 / 60 for row in long])
    by_day = (middles >= _DAY_FROM_H) & (middles <= _DAY_TO_H)
    if len(long) < _LEAST_SLEEPS or 2 * by_day.sum() <= len(long):
        return sources
    cell = show(clock.filled[clock.rows.index(long[int(by_day.argmax())])])
    text = f'most sleeps lie in the day, such as the one from "{cell}", and no zone is stated'
    choices = ((LOCAL, "the wearer slept by day"), ("UTC", "the times are in UTC"))
    if answers.ask(Question("zone", text, choices)) == LOCAL:
        return sources
    return {name: s if s.reads else replace(s, zone="UTC") for name, s in sources.items()}
