"""How are the records of a document gathered? Rows by table, and what was left out by the number of its entry."""

from __future__ import annotations

from collections import Counter

import pandas as pd

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.cells import parse_times
from glucolab.reading.tables import count_many
from glucolab.record import INPUT_TABLES


class LeftOutError(Exception):
    """A record that cannot be used, and why."""


class Entries:
    """Rows of the contract on their way out of a document."""

    def __init__(self, file: str, what: str):
        self.file, self.what = file, what
        self.rows: dict[str, list[dict[str, str]]] = {}
        self.places: dict[str, list[int]] = {}
        self.problems: dict[str, list[Problem]] = {}
        self.passed: Counter[str] = Counter()

    def add(self, place: int, table: str, **cells: str) -> None:
        """One row."""
        self.rows.setdefault(table, []).append(cells)
        self.places.setdefault(table, []).append(place)

    def leave_out(self, place: int, why: str, *, left_out: bool = True) -> None:
        """One record that is not used."""
        problem = Problem(self.file, f"entry {place}: {why}", left_out=left_out)
        self.problems.setdefault(why.split('"')[0], []).append(problem)

    def pass_over(self, kind: str) -> None:
        """One record of a kind that is not looked for."""
        self.passed[kind] += 1

    def finish(self, *said: str) -> Brought:
        """Everything that was gathered.

        Raises
        ------
        NothingToDo
            If there is no row.
        """
        tables = {}
        for table, rows in self.rows.items():
            names = [name for name in (*INPUT_TABLES[table].names, "unit") if any(name in row for row in rows)]
            names += sorted({name for row in rows for name in row} - set(names))
            index = pd.Index(self.places[table], name="entry")
            tables[table] = pd.DataFrame(
                [{n: row.get(n, "") for n in names} for row in rows], index=index, dtype=object
            )
        problems = [one for found in self.problems.values() for one in count_many(found, "entries")]
        passed = [f"passed over: {count} of {kind}" for kind, count in self.passed.items()]
        if not tables:
            why = problems[0].text if problems else "; ".join(passed) or "it is empty"
            raise NothingToDo(f"{self.file} holds nothing that can be brought: {why}", tuple(problems))
        return Brought(self.file, tables, (self.what, *said, *passed), tuple(problems))


def need_time(text: object, name: str) -> str:
    """A moment as the contract writes it.

    Raises
    ------
    LeftOutError
        If it is none.
    """
    if not isinstance(text, str) or not text:
        raise LeftOutError(f"it has no {name}")
    if faults := parse_times([text], name)[1]:
        raise LeftOutError(faults[0].split(":")[0] if "write it" in faults[0] else faults[0])
    return text
