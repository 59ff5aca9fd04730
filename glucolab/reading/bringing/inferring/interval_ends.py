"""Are the times of a table those at which its intervals end? Steps of a quarter belong to the quarter before."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.kinds import find_cadence
from glucolab.reading.bringing.inferring.remarks import move_times
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.words import END, START
from glucolab.reading.text import show


def settle_interval_ends(
    table: str, sources: dict[str, Source], facts: Sequence[Facts], said: list[str]
) -> dict[str, Source]:
    """Sources of movement, their times moved to when their intervals begin where a name says that they end then."""
    if table != "movement":
        return sources
    by_name = {f.name: f for f in facts}
    bare = [by_name[name].bare for name in sources["time"].columns]
    if not any(likeness(name, END) > likeness(name, START) for name in bare):
        return sources
    step = find_cadence(sources["time"], facts).step_min
    said.append(f'"{show(bare[-1])}" is when an interval ends: times are moved back by {step:g} min, to when it begins')
    return move_times(sources, -step)
