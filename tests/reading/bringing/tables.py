"""How is a table read in a test? The whole way from a file's text to rows of the contract."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.reading.bringing.grids.any_file import read_grid
from glucolab.reading.bringing.inferring.ambiguities import Answers
from glucolab.reading.bringing.inferring.table import Guess, guess_mapping
from glucolab.reading.bringing.inferring.times import Dates
from glucolab.reading.bringing.mapping.apply import apply_mapping
from glucolab.reading.bringing.mapping.import_result import Brought

WEAR = Dates(date(2026, 2, 2), date(2026, 2, 16))
BERLIN = ZoneSpans(("Europe/Berlin",))


def guess(path: Path, dates: Dates = WEAR, table: str | None = None, **said: str) -> Guess:
    """The mapping that is proposed for a file."""
    return guess_mapping(read_grid(path), dates, Answers(said), table=table)


def bring(path: Path, dates: Dates = WEAR, table: str | None = None, **said: str) -> tuple[str, pd.DataFrame, Brought]:
    """Table, rows and everything of a file, by the mapping that is proposed for it."""
    found = guess(path, dates, table, **said)
    brought = apply_mapping(read_grid(path), found.mapping, BERLIN)
    ((name, rows),) = brought.tables.items()
    return name, rows, brought
