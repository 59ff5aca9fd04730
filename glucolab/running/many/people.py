"""How do many studies become tables over all people? One person after the other, as CSV and as Parquet."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable
from contextlib import ExitStack
from pathlib import Path

from glucolab.record import PEOPLE_OUTPUTS, Table
from glucolab.running.many.person import TableRows


def write_people(folder: Path, rows: Iterable[TableRows]) -> list[Path]:
    """Write the tables over all people; memory does not grow with their number.

    Each file takes the place of an earlier one when it is whole.

    Parameters
    ----------
    folder : Path
        Must exist.
    rows : iterable of dict
        Of one person after the other, as text by name of :data:`glucolab.record.PEOPLE_OUTPUTS`.

    Returns
    -------
    list of Path

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    new = {name: folder / f".{name}.csv.new" for name in PEOPLE_OUTPUTS}
    parquet = {name: folder / f".{name}.parquet.new" for name in PEOPLE_OUTPUTS}
    try:
        _write_csv(new, rows)
        for name, table in PEOPLE_OUTPUTS.items():
            _write_parquet(new[name], parquet[name], table)
        done = []
        for name in PEOPLE_OUTPUTS:
            for written, path in ((new[name], folder / f"{name}.csv"), (parquet[name], folder / f"{name}.parquet")):
                os.replace(written, path)
                done.append(path)
        return done
    finally:
        for path in (*new.values(), *parquet.values()):
            path.unlink(missing_ok=True)


def _write_csv(paths: dict[str, Path], rows: Iterable[TableRows]) -> None:
    with ExitStack() as files:
        writers = {}
        for name, path in paths.items():
            file = files.enter_context(path.open("w", encoding="utf-8", newline=""))
            writers[name] = csv.writer(file, lineterminator="\n")
            writers[name].writerow(PEOPLE_OUTPUTS[name].names)
        for of_person in rows:
            for name, cells in of_person.items():
                writers[name].writerows(cells)


def _write_parquet(csv_file: Path, parquet_file: Path, table: Table) -> None:
    """The same table with types: dates, whole numbers, numbers, text."""
    import polars as pl

    kinds = {"number": pl.Float64, "count": pl.Int64, "date": pl.Date}
    schema = {column.name: kinds.get(column.kind, pl.String) for column in table.columns}
    pl.scan_csv(csv_file, schema=schema, encoding="utf8").sink_parquet(parquet_file)
