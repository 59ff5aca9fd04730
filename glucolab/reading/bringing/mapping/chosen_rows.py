"""Which rows of a foreign table count? Those that its mapping keeps, the last state of a record, a session once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.grids.layout import Layout
from glucolab.reading.bringing.mapping.mapping import Mapping
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.words import TOTALS
from glucolab.reading.tables import count_many
from glucolab.reading.text import plain, show

_MOST_WORDS = 30
_MOST_TRAILING = 3


def choose_rows(layout: Layout, mapping: Mapping, file: str) -> tuple[Layout, list[Problem]]:
    """The rows that the mapping keeps and does not leave out, and what is told of the others."""
    mine, problems = list(range(len(layout.rows))), list[Problem]()
    if mapping.latest:
        mine, problems = _take_latest(layout, mapping.latest, file)
    chosen = [(*one, True) for one in mapping.keep] + [(*one, False) for one in mapping.leave]
    for column, words, keeps in chosen:
        place = layout.place(column)
        if place is None:
            raise NothingToDo(f'{file} has no column "{show(column)}" by which rows are chosen')
        known = {plain(word) or word for word in words}
        cells = [row[place] for row in layout.rows]
        gone = [i for i in mine if ((plain(cells[i]) or cells[i]) in known) != keeps]
        mine = sorted(set(mine) - set(gone))
        for word in dict.fromkeys(cells[i] for i in gone):
            lines = [layout.lines[i] for i in gone if cells[i] == word]
            where = f"{len(lines)} rows, lines {lines[0]} to {lines[-1]}"
            text = f'"{show(column)}" is "{show(word)}" in {where}: not brought'
            problems.append(Problem(file, text, left_out=False))
    rows, lines = [layout.rows[i] for i in mine], [layout.lines[i] for i in mine]
    return replace(layout, rows=rows, lines=lines), problems[:_MOST_WORDS]


def _take_latest(layout: Layout, columns: tuple[str, ...], file: str) -> tuple[list[int], list[Problem]]:
    """The last state of each record, as numbers or else as texts order them; a row without a record's name stands."""
    places = [layout.place(column) for column in columns]
    if None in places:
        raise NothingToDo(f'{file} has no columns "{show(columns[0])}" and "{show(columns[1])}" that order records')
    names, states = (layout.cells(place) for place in places if place is not None)
    numbers = read_amounts(states, ".").values
    order = sorted(range(len(states)), key=lambda i: (numbers[i] if np.isfinite(numbers).all() else 0.0, states[i], i))
    last = {names[i]: i for i in order if names[i]}
    gone = [i for i, name in enumerate(names) if name and last[name] != i]
    problems = [
        Problem(
            file,
            f'an earlier state of "{show(names[i])}", which line {layout.lines[last[names[i]]]} replaces: not brought',
            layout.lines[i],
        )
        for i in gone
    ]
    return sorted(set(range(len(names))) - set(gone)), count_many(problems, "earlier states")


def join_sessions(frame: pd.DataFrame, said: list[str]) -> pd.DataFrame:
    """Rows of one start and one length as one session, which did all that they name."""
    groups = frame.groupby(["start", "minutes"], sort=False)
    joined = frame[~frame.duplicated(["start", "minutes"])].copy()
    for name in [name for name in ("kind", "note") if name in frame]:
        texts = groups[name].agg(lambda cells: ", ".join(dict.fromkeys(filter(None, cells))))
        joined[name] = texts.to_numpy()
    said.append(f"{len(frame)} rows are joined to {len(joined)} sessions, as you said")
    return joined


def find_trailing(kept: np.ndarray, rows: Sequence[Sequence[str]]) -> set[int]:
    """Rows that are no rows: sums and averages anywhere, and remarks at the end, nearly blank."""
    found = set()
    for i in np.flatnonzero(~kept).tolist():
        filled = [cell for cell in rows[i] if cell]
        is_sum = any(likeness(cell, TOTALS) >= 0.5 and not re.search(r"\d", cell) for cell in filled[:2])
        at_end = not kept[i:].any() and len(rows) - i <= _MOST_TRAILING and len(filled) == 1
        if is_sum or at_end:
            found.add(i)
    return found
