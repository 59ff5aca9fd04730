"""Do rows of one file tell of the same moment, or the same day? Days are joined; of others it is said."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence

import pandas as pd

from glucolab.errors import Problem
from glucolab.reading.text import show

Told = Callable[[object, str], Problem]
"""Makes a problem of a row's place in its file and a text."""


def join_days(rows: pd.DataFrame, tell: Told) -> tuple[pd.DataFrame, list[Problem]]:
    """Rows of days with each day once: what an earlier row leaves empty is filled, what it says otherwise stays.

    Parameters
    ----------
    rows : pandas.DataFrame
        With `date`, indexed by their place in the file.
    tell : callable

    Returns
    -------
    rows : pandas.DataFrame
    problems : list of Problem
        A cell each that is not taken.
    """
    if rows["date"].is_unique:
        return rows, []
    first: dict[str, int] = {}
    cells = {name: rows[name].tolist() for name in rows}
    problems = []
    for i, date in enumerate(cells["date"]):
        j = first.setdefault(date, i)
        for name in cells if j != i else ():
            here, there = cells[name][i], cells[name][j]
            if here and not there:
                cells[name][j] = here
            elif here and here != there:
                text = (
                    f'date {date} stands twice: {name} "{show(here)}" is not taken, the row before says "{show(there)}"'
                )
                problems.append(tell(rows.index[i], text))
    joined = pd.DataFrame(cells, index=rows.index, dtype=object).iloc[sorted(first.values())]
    return joined, problems


def join_readings(rows: pd.DataFrame, times: pd.DatetimeIndex, file: str) -> tuple[pd.DataFrame, list[Problem]]:
    """Readings without those that stand there before with the same value: a sensor reads once at a time.

    Parameters
    ----------
    rows : pandas.DataFrame
        With `time` and `glucose`.
    times : pandas.DatetimeIndex, shape (n,)
        UTC of their times, NaT where that is not known.
    file : str

    Returns
    -------
    rows : pandas.DataFrame
    problems : list of Problem
    """
    again = pd.DataFrame({"at": times, "value": rows["glucose"].to_numpy()}).duplicated().to_numpy() & times.notna()
    if not again.any():
        return rows, []
    count = int(again.sum())
    what = "reading stands" if count == 1 else "readings stand"
    text = f"{count} {what} there twice, such as that of {rows['time'][again].iloc[0]}: each is brought once"
    return rows[~again], [Problem(file, text, left_out=False)]


def word_repeats(rows: pd.DataFrame, keys: Sequence[Hashable | None], file: str) -> list[Problem]:
    """What is to be known of rows whose key an earlier row has: how many, and whether they say the same.

    Parameters
    ----------
    rows : pandas.DataFrame, shape (n, c)
    keys : sequence, shape (n,)
        The moment, and what tells rows of one moment apart; None where there is none.
    file : str
    """
    if len(set(keys)) == len(keys):
        return []
    first: dict[Hashable, int] = {}
    alike, other = list[int](), list[int]()
    cells = list(zip(*(rows[name].tolist() for name in rows), strict=True))
    for i, key in enumerate(keys):
        if key is None or (j := first.setdefault(key, i)) == i:
            continue
        (alike if _without_time(rows, cells[i]) == _without_time(rows, cells[j]) else other).append(i)
    time = next(name for name in ("time", "start", "date") if name in rows)
    return [
        Problem(file, f"{_word(len(found), what)}, such as {rows[time].iloc[found[0]]}: all are kept", left_out=False)
        for found, what in ((alike, "with the same values"), (other, "with other values"))
        if found
    ]


def _without_time(rows: pd.DataFrame, cells: tuple[str, ...]) -> list[str]:
    return [cell for name, cell in zip(rows.columns, cells, strict=True) if name not in ("time", "start")]


def _word(count: int, what: str) -> str:
    return (
        f"{count} row is of the same time as one before, {what}"
        if count == 1
        else f"{count} rows are of the same time as ones before, {what}"
    )
