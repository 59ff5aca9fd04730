"""Which cells has a Parquet file? Its columns as a grid of text, by polars, an extra of the package."""

from __future__ import annotations

import io
from typing import Any

from glucolab.errors import NothingToDo, is_own_fault
from glucolab.reading.bringing.grids.grid import MOST_CELLS, Grid, square
from glucolab.reading.text import show

_MAGIC = b"PAR1"
_INSTALL = 'pip install "glucolab[many]"'


def is_parquet(data: bytes) -> bool:
    """True for a Parquet file."""
    return data.startswith(_MAGIC) and data.endswith(_MAGIC)


def read_parquet(data: bytes, file: str) -> Grid:
    """Read a Parquet file.

    Parameters
    ----------
    data : bytes
    file : str
        Name of the file, for messages.

    Returns
    -------
    Grid
        Dates and times as ISO 8601, with their offset where the column has a zone.

    Raises
    ------
    NothingToDo
        If polars is not installed, or the file is broken or too large to be a person's log.
    """
    try:
        import polars
    except ImportError:
        raise NothingToDo(f"{file} is a Parquet file, and nothing that reads it is installed: {_INSTALL}") from None
    try:
        lazy = polars.scan_parquet(io.BytesIO(data))
        names = lazy.collect_schema().names()
        count = lazy.select(polars.len()).collect().item()
        if count * len(names) > MOST_CELLS:
            raise NothingToDo(f"{file} has more than {MOST_CELLS:,} cells: that is no person's log")
        rows = [list(map(_text, row)) for row in lazy.collect().iter_rows()]
    except NothingToDo:
        raise
    except Exception as fault:  # a broken file fails anywhere in the library that reads it, with any error
        if is_own_fault(fault):
            raise
        raise NothingToDo(f"{file} cannot be read as Parquet: {show(str(fault), most=120)}") from None
    grid = square([names, *rows], list(range(1, len(rows) + 2)))
    return Grid(file, *grid, ('it is Parquet, whose first row is "line 2" below',), header=1)


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:.12g}"
    if hasattr(value, "isoformat"):
        return str(value.isoformat())
    return " ".join(str(value).split())
