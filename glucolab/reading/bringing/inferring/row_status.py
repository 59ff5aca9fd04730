"""Which rows never were? Meals that were planned or skipped, sessions that were cancelled, values that are void."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Words
from glucolab.reading.bringing.vocabulary.doubts import was_not_read
from glucolab.reading.bringing.vocabulary.rows import never_was
from glucolab.reading.text import show

_MOST_STATUSES = 12
"""A column of more different texts is no status. Assumed."""


def find_never_was(facts: Sequence[Facts], used: set[str], is_read: bool, said: list[str]) -> tuple[Words, ...]:
    """The columns, and their cells, by which rows that never were are left out.

    Parameters
    ----------
    facts : sequence of Facts
        All columns of the file.
    used : set of str
        Those of them that are brought: what they say is in the study, and is no status.
    is_read : bool
        The rows are values that a sensor or meter read: what was put between them is left out too.
    said : list of str
        Grows by what was found.
    """
    found: list[Words] = []
    for f in facts:
        cells = tuple(dict.fromkeys(f.filled))
        if f.name in used or f.is_time or len(cells) > _MOST_STATUSES:
            continue
        if words := tuple(cell for cell in cells if never_was(f.bare, cell)):
            listed = ", ".join(f'"{show(word)}"' for word in words)
            said.append(
                f'rows whose "{show(f.name)}" is {listed} say that they never were, or are void: they are left out'
            )
            found.append((f.name, words))
        if words := tuple(cell for cell in cells if is_read and was_not_read(f.bare, cell)):
            listed = ", ".join(f'"{show(word)}"' for word in words)
            said.append(f'rows whose "{show(f.name)}" is {listed} were not measured: they are left out')
            found.append((f.name, words))
    return tuple(found)
