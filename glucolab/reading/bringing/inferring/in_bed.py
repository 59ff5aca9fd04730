"""When did a sleep begin: in bed, or asleep? A log that says both, and when one woke and got up, is asked."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.words import TO_BED, WOKE
from glucolab.reading.text import show

_NOON_MIN, _DAY_MIN = 720, 1440


def settle_in_bed(columns: Sequence[Facts], answers: Answers) -> list[Facts]:
    """The columns of times without those of two beginnings, or two ends, that the wearer does not mean.

    Parameters
    ----------
    columns : sequence of Facts
        Columns of moments or clock times.
    answers : Answers
    """
    kinds = {f.place: likeness(f.bare, TO_BED) - likeness(f.bare, WOKE) for f in columns}
    starts = sorted((f for f in columns if kinds[f.place] > 0), key=_minute)
    ends = sorted((f for f in columns if kinds[f.place] < 0), key=_minute)
    if not (len(starts) == 2 and len(ends) in (1, 2)) and not (len(starts) == 1 and len(ends) == 2):
        return list(columns)
    outer, inner = (starts[0], ends[-1]), (starts[-1], ends[0])
    if _minute(outer[0]) == _minute(inner[0]) and _minute(outer[1]) == _minute(inner[1]):
        return list(columns)
    choices = tuple(
        (answer, f'from "{show(first.name)}" to "{show(last.name)}"')
        for answer, (first, last) in (("asleep", inner), ("in_bed", outer))
    )
    answer = answers.ask(Question("bed", "a night has more than one beginning or end", choices))
    kept = inner if answer == "asleep" else outer
    gone = {f.place for f in (*starts, *ends)} - {f.place for f in kept}
    return [f for f in columns if f.place not in gone]


def _minute(f: Facts) -> float:
    """Minutes from noon to the first time of a column, so that a night runs on over midnight."""
    clock = next((one.clock for one in f.written if one and one.clock), (0, 0, 0))
    return (60 * clock[0] + clock[1] - _NOON_MIN) % _DAY_MIN
