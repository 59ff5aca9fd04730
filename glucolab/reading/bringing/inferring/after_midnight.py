"""Is a clock time after midnight, last under a date, of that date or of the night that follows? It is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.mapping.times import find_late
from glucolab.reading.text import show

_EATEN = ("meals", "feelings", "activity", "notes")


def settle_late(
    table: str, sources: dict[str, Source], facts: Sequence[Facts], answers: Answers, said: list[str]
) -> dict[str, Source]:
    """The sources, times after midnight at the end of a date on the next day where the wearer says so.

    Only where all other rows run forward within their date: in a table of no order nothing can be told.
    """
    name = "start" if "start" in sources else "time"
    source = sources.get(name)
    if table not in _EATEN or source is None or len(source.columns) != 2:
        return sources
    by_name = {f.name: f for f in facts}
    day, clock = (by_name[one] for one in source.columns)
    if day.rows != clock.rows:
        return sources
    days = [one.numbers if one else None for one in day.written]
    clocks = [one.clock if one else None for one in clock.written]
    late = find_late(days, clocks)
    if not late or not _run_forward(days, clocks, late):
        return sources
    cell = " ".join((day.filled[late[0]], clock.filled[late[0]]))
    text = f'"{show(cell)}" stands after later times of its date'
    choices = (("next_day", "it is of the night that follows"), ("as_written", "it is of that date"))
    if answers.ask(Question("late", text, choices)) == "as_written":
        return sources
    said.append(f"{len(late)} times after midnight are of the next day, as you said")
    return sources | {name: replace(source, late="next_day")}


def _run_forward(days: Sequence[object], clocks: Sequence[tuple[int, int, int] | None], late: Sequence[int]) -> bool:
    others = [i for i in range(len(days)) if i not in late]
    pairs = [(i, j) for i, j in pairwise(others) if days[i] == days[j]]
    return all(one <= other for i, j in pairs if (one := clocks[i]) and (other := clocks[j]))
