"""Is each answer a row of its own: a time, what was asked, and the answer? Then the answers of a time are one row."""

from __future__ import annotations

from dataclasses import replace

from glucolab.reading.bringing.cells.moments import take_apart
from glucolab.reading.bringing.grids.grid import Grid
from glucolab.reading.bringing.vocabulary.matching import likeness, split_name
from glucolab.reading.bringing.vocabulary.words import COLUMNS

_QUESTIONS = tuple(word for table in ("feelings", "days") for words in COLUMNS[table].values() for word in words)
_MOST = 0.7
_LEAST_LIKENESS = 0.5
_LEAST_ROWS = 4
"""Fewer rows than these show no such form. Assumed."""


def fold_answers(grid: Grid) -> Grid:
    """A grid with a row a time and a column a question, where each answer stood in a row of its own.

    Parameters
    ----------
    grid : Grid

    Returns
    -------
    Grid
        The same where it has another form: times, a column of which two texts or more name marks of feelings or
        figures of days, and one more.
    """
    if len(grid.rows) <= _LEAST_ROWS:
        return grid
    header, body = grid.rows[0], grid.rows[1:]
    places = [place for place, name in enumerate(header) if name]
    times = [place for place in places if _share(body, place, lambda cell: take_apart(cell) is not None) >= _MOST]
    asked = [place for place in places if place not in times and _names_questions(body, place)]
    answers = [place for place in places if place not in (*times, *asked)]
    if not times or len(asked) != 1 or len(answers) != 1:
        return grid
    question, answer = asked[0], answers[0]
    names = list(dict.fromkeys(row[question] for row in body if row[question]))
    rows: dict[tuple[object, ...], tuple[int, dict[str, str]]] = {}
    for i, row in enumerate(body):
        when = tuple(row[place] for place in times)
        again = sum(1 for key, (_, told) in rows.items() if key[0] == when and row[question] in told)
        rows.setdefault((when, again), (i, {}))[1][row[question]] = row[answer]
    folded = [[*key[0], *(told.get(name, "") for name in names)] for key, (_, told) in rows.items()]  # type: ignore[misc]
    return replace(
        grid,
        rows=[[*(header[place] for place in times), *names], *folded],
        lines=[grid.lines[0], *(grid.lines[1 + i] for i, _ in rows.values())],
        said=(*grid.said, f'each row is one answer, to "{header[question]}": those of one time are put together'),
        header=grid.lines[0],
        delimiter="",
    )


def _share(body: list[list[str]], place: int, holds: object) -> float:
    """Share of the filled cells of a column of which something is true. [0-1]"""
    filled = [row[place] for row in body if row[place]]
    return sum(bool(holds(cell)) for cell in filled) / len(filled) if filled else 0.0  # type: ignore[operator]


def _names_questions(body: list[list[str]], place: int) -> bool:
    cells = {row[place] for row in body if row[place]}
    named = {cell for cell in cells if likeness(split_name(cell)[0], _QUESTIONS) >= _LEAST_LIKENESS}
    return len(named) > 1 and _share(body, place, named.__contains__) >= _MOST
