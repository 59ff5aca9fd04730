"""Would a break show in a few people's traces? A small run, what it must hold, and its widths beside those kept.

Of few people only what any working estimator does is asked; the full table says where nine in ten is not reached yet.
Widths of fixed draws are no chance result, so that an interval cut or grown shows in them, whoever it is cut for:
`python -m tests.known_truth.real_traces --pin` writes them anew, and the difference is read like one of code.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from tests.known_truth.real_traces.judging import PARTS, Size, run
from tests.known_truth.real_traces.recordings import Recorded
from tests.known_truth.real_traces.rows import Row, find_halves, holds, keep_known

FEW = {"a": 2, "b": 1, "c": 1, "d": 3, "e": 3, "f": 1, "g": 1, "h": 1}
"""People of each folder in the small run; a study of d and e takes three of one model."""
PINNED = Path(__file__).with_name("pinned.csv")
TOLERANCE = 0.02
"""Of a median half-width."""


class Group(NamedTuple):
    """Figures that are counted together, as each alone is too few: parts, names, and the least share that holds."""

    parts: str
    figures: tuple[str, ...]
    least: float


GROUPS = {
    "means": Group("ab", ("mean", "overnight mean"), 0.7),
    "spread": Group("b", ("SD",), 0.4),
    "rises": Group("ab", ("meal rise",), 0.55),
    "changes": Group("c", ("change as worn",), 0.8),
    "nil": Group("d", (), 0.75),
    "planted": Group("e", (), 0.6),
}


def run_few(people: Sequence[Recorded]) -> list[Row]:
    """All parts of a few people of each folder, drawn once."""
    folders = [one.name.partition("/")[0] for one in people]
    place = [folders[:i].count(folder) for i, folder in enumerate(folders)]
    few = {part: [one for one, k in zip(people, place, strict=True) if k < FEW[part]] for part in PARTS}
    return [row for part in PARTS for row in run(few[part], part, Size(draws=1, rounds=1))]


def find_broken(rows: Sequence[Row]) -> dict[str, float]:
    """Groups of figures that hold less than they must, and what they hold."""
    known = keep_known(pd.DataFrame(rows, columns=Row._fields))
    found = {}
    for name, group in GROUPS.items():
        mine = known[known["kind"].str[0].isin(list(group.parts))]
        if group.figures:
            mine = mine[mine["figure"].isin(group.figures)]
        share = float(holds(mine).mean())
        if len(mine) and share < group.least:
            found[name] = share
    return found


def narrow(rows: Sequence[Row], by: float) -> list[Row]:
    """The same estimates with intervals `by` times as wide: a fault planted in what is judged."""
    return [
        row._replace(
            low=row.estimate + by * (row.low - row.estimate), high=row.estimate + by * (row.high - row.estimate)
        )
        for row in rows
    ]


def tabulate_few(rows: Sequence[Row]) -> pd.DataFrame:
    """What is kept: kind, figure, number of intervals, median half-width."""
    known = keep_known(pd.DataFrame(rows, columns=Row._fields))
    halves = find_halves(known).groupby([known["kind"], known["figure"]], sort=False)
    return halves.agg(n="size", half="median").reset_index()


def find_moved(kept: pd.DataFrame, found: pd.DataFrame) -> list[str]:
    """Figures whose half-width or number is another one than was kept, in words."""
    both = kept.merge(found, on=["kind", "figure"], how="outer", suffixes=("", "_found"))
    wide = (both["half_found"] - both["half"]).abs() > TOLERANCE * both["half"] + 1e-9
    moved = wide | (both["n"] != both["n_found"])  # a figure that only one of both has differs in n
    return [
        f"{row.kind}, {row.figure}: {row.half_found:.4g} (n {row.n_found}) instead of {row.half:.4g} (n {row.n})"
        for row in both[moved].itertuples()
    ]
