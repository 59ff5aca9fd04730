"""May a word that nobody knows here change what a column means? Columns with such words in their names are asked."""

from __future__ import annotations

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.known_words import find_unknown
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.text import show
from glucolab.record import INPUT_TABLES

_BY_CELLS = (("labs", "analyte"), ("activity", "kind"))
"""Columns of ours that the cells themselves tell."""


def settle_unknown_words(table: str, sources: dict[str, Source], answers: Answers) -> dict[str, Source]:
    """The sources, without those that the wearer leaves out because of a word in the name of their columns.

    Covariates of days keep their own names, so that no word of them is lost.

    Raises
    ------
    NothingToDo
        If a column that the table needs is left out.
    """
    schema = {column.name: column.required for column in INPUT_TABLES[table].columns}
    doubtful = {
        name: unknown
        for name, source in sources.items()
        if name in schema
        and (table, name) not in _BY_CELLS
        and (unknown := [(c, word) for c in source.columns for word in find_unknown(c)])
    }
    if not doubtful:
        return sources
    listed = "; ".join(
        f'"{word}" in "{show(column)}", read as {name}' for name, found in doubtful.items() for column, word in found
    )
    choices = (("as_shown", "they change nothing"), ("leave_out", "these columns are not brought"))
    text = f"words that are not known here may change what a column means: {listed}"
    if answers.ask(Question("words", text, choices)) == "as_shown":
        return sources
    if needed := [name for name in doubtful if schema[name]]:
        raise NothingToDo(f"without {' and '.join(needed)} there is no table of {table}; nothing was written")
    return {name: source for name, source in sources.items() if name not in doubtful}


def want_values(table: str, sources: dict[str, Source]) -> None:
    """Refuse a table of which nothing but its times is left.

    Raises
    ------
    NothingToDo
    """
    if table in ("movement", "feelings", "days") and not sources.keys() - {"time", "date", "source"}:
        raise NothingToDo(f"no column of {table} is left that can be brought; nothing was written")
