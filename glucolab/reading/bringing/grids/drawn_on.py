"""On which day was the blood of a laboratory's sheet drawn? Its rows say none: one of the lines above them does."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.reading.bringing.cells.in_sentences import find_moment_in
from glucolab.reading.bringing.cells.moments import take_apart
from glucolab.reading.bringing.vocabulary.analytes import names_analytes
from glucolab.reading.bringing.vocabulary.doubts import names_birth, names_draw, names_report
from glucolab.reading.text import show


def take_drawn_on(
    names: list[str], rows: list[list[str]], preamble: Sequence[str]
) -> tuple[list[str], list[list[str]], tuple[str, ...]]:
    """Names and rows with the moment of the draw in each row, where a table of analytes has no date of its own.

    Of several dates above the table the one counts that is called that of the draw; dates of birth and of reports
    never do. Where it is not clear the table is left as it is, and has no date.

    Returns
    -------
    names : list of str
    rows : list of list of str
    said : tuple of str
    """
    columns = [[row[place] for row in rows if row[place]] for place in range(len(names))]
    if not any(names_analytes(cells) for cells in columns) or any(map(_holds_times, columns)):
        return names, rows, ()
    found = {text: moment for text in preamble if not names_birth(text) and (moment := find_moment_in(text))}
    called = {text: moment for text, moment in found.items() if names_draw(text)}
    others = {text: moment for text, moment in found.items() if not names_report(text)}
    chosen = called or others
    if len(set(chosen.values())) != 1:
        return names, rows, ()
    text, moment = next(iter(chosen.items()))
    return [*names, "date drawn"], [[*row, moment] for row in rows], (f'"{show(text)}": that is when it was drawn',)


def _holds_times(cells: Sequence[str]) -> bool:
    times = [one for cell in cells if (one := take_apart(cell)) is not None and one.numbers is not None]
    return 2 * len(times) >= len(cells) > 0
