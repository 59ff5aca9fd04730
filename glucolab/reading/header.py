"""Which column is which? The names in a header against the schema, and what is wrong with them."""

from __future__ import annotations

from glucolab.errors import Problem
from glucolab.reading.text import TextRows, UnreadableError, did_you_mean, header_name, show
from glucolab.record import OUTPUT_TABLES, Table
from glucolab.record.study import INSIDE_NAMES

_OWN_NAMES = {"line", "limit", "time_source", "time_uncertain", *INSIDE_NAMES.values()}
"""Names that the record itself gives; no further column may carry one."""

_LONGEST_NAME = 100
_MOST_COLUMNS = 1000


def match_header(rows: TextRows, table: Table, file: str) -> tuple[dict[str, list[str]], list[Problem]]:
    """The cells of every column that can be named, and what is wrong with the header.

    Raises
    ------
    UnreadableError
        If a required column is missing, or there are far too many.
    """
    if len(rows.header) > _MOST_COLUMNS:
        raise UnreadableError(f"has {len(rows.header):,} columns: no table has so many", rows.header_line)
    written: dict[str, list[str]] = {}
    problems = []
    refused = _refused_names(table)
    for place, (title, cells) in enumerate(zip(rows.header, rows.columns, strict=True), start=1):
        name = header_name(title)
        fault = _find_fault(name, place, written, refused)
        if fault and (name or any(cells)):
            problems.append(Problem(file, fault, rows.header_line))
        elif not fault:
            written[name] = cells
    strange = [name for name in written if name not in table.names]
    missing = [column.name for column in table.columns if column.required and column.name not in written]
    if missing:
        others = [header_name(title) for title in rows.header if header_name(title) not in table.names]
        near = [f'"{show(name)}"{hint}' for name in others if (hint := did_you_mean(name, missing))]
        raise UnreadableError("; ".join([f"column {' and column '.join(missing)} is missing", *near]), rows.header_line)
    absent = [name for name in table.names if name not in written]
    for name in strange:
        if hint := did_you_mean(name, absent):
            problems.append(
                Problem(file, f'column "{show(name)}" is not known{hint}', rows.header_line, left_out=False)
            )
    return written, problems


def _find_fault(name: str, place: int, written: dict[str, list[str]], refused: set[str]) -> str:
    if not name:
        return f"column {place} has no name and is not read"
    if not name.isprintable() or len(name) > _LONGEST_NAME:
        return f'the name of column {place}, "{show(name)}", is not short, plain UTF-8 text; the column is not read'
    if name in written:
        return f'column "{show(name)}" stands twice: only the first is read'
    if name in refused:
        return f'column "{show(name)}" has a name of the tool\'s own and is not read: rename it'
    return ""


def _refused_names(table: Table) -> set[str]:
    outputs = set(OUTPUT_TABLES["daily"].names) if table.covariates else set()
    return (outputs | _OWN_NAMES) - set(table.names)
