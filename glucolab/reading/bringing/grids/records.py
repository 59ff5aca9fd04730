"""Which table is in a JSON file that is of no standard? A list of records as a grid of text."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.grid import MOST_CELLS, Grid, square
from glucolab.reading.text import show

_DEEPEST = 4
"""Records are looked for so deep, and their own parts become columns so deep."""


def looks_like_json(data: bytes) -> bool:
    """True for what begins as JSON does."""
    return data[:200].lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"[")


def read_records(data: bytes, file: str) -> Grid:
    """Read the one list of records in a JSON file, or in one with a record a line.

    Parameters
    ----------
    data : bytes
    file : str
        Name of the file, for messages.

    Returns
    -------
    Grid
        What stands beside the list comes before its header, a row each; parts of a record are columns of their own.

    Raises
    ------
    NothingToDo
        If it is no sound JSON, or holds no list of records or more than one.
    """
    found = _load(data, file)
    lists = list(_find_lists(found, "", 0))
    if isinstance(found, dict) and not lists and (columns := _columns(found)):
        lists = [("", columns)]
    if not lists:
        raise NothingToDo(f"{file} is JSON, but neither of a standard that is known here nor a list of records")
    if len(lists) > 1:
        names = ", ".join(f'"{show(name)}"' for name, _ in lists)
        raise NothingToDo(f"{file} holds more than one list of records ({names}): save each in a file of its own")
    flat = [dict(_flatten(entry, "", 0)) for entry in lists[0][1]]
    header = list(dict.fromkeys(key for entry in flat for key in entry))
    if len(header) * len(flat) > MOST_CELLS:
        raise NothingToDo(f"{file} has more than {MOST_CELLS:,} cells: that is no person's log")
    beside = [[f"{_spaced(key)}: {_text(value)}"] for key, value in _scalars(found)] if isinstance(found, dict) else []
    rows = [*beside, header, *([entry.get(key, "") for key in header] for entry in flat)]
    rows = [row + [""] * (max(len(header), 1) - len(row)) for row in rows]
    rows, lines = square(rows, list(range(1, len(rows) + 1)))
    said = f'it is JSON, whose first record is "line {len(beside) + 2}" below'
    return Grid(file, rows, lines, (said,), header=len(beside) + 1)


def _load(data: bytes, file: str) -> Any:
    try:
        text = data.decode("utf-8-sig")
        try:
            return json.loads(text, parse_float=_Number, parse_int=_Number)
        except ValueError:
            lines = [line for line in text.splitlines() if line.strip()]
            return [json.loads(line, parse_float=_Number, parse_int=_Number) for line in lines]
    except (ValueError, RecursionError) as fault:
        raise NothingToDo(f"{file} is no sound JSON: {show(str(fault), most=120)}") from None


class _Number(str):
    """A number as it is written."""


def _find_lists(found: Any, name: str, depth: int) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Every list of records, with the key under which it stands."""
    if isinstance(found, list) and found and all(isinstance(entry, dict) for entry in found):
        yield name, found
    elif isinstance(found, list) and len(found) > 1 and all(isinstance(entry, list) for entry in found):
        head = found[0]
        if all(isinstance(cell, str) and not isinstance(cell, _Number) for cell in head):
            yield name, [dict(zip(head, entry, strict=False)) for entry in found[1:]]
    elif isinstance(found, dict) and depth < _DEEPEST:
        for key, value in found.items():
            yield from _find_lists(value, key, depth + 1)


def _columns(found: dict[str, Any]) -> list[dict[str, Any]]:
    """Records of columns that are lists of one length; none if they are not."""
    lists = {key: value for key, value in found.items() if isinstance(value, list)}
    if len(lists) < 2 or len({len(value) for value in lists.values()}) != 1:
        return []
    return [dict(zip(lists, row, strict=True)) for row in zip(*lists.values(), strict=True)]


def _flatten(entry: dict[str, Any], before: str, depth: int) -> Iterator[tuple[str, str]]:
    for key, value in entry.items():
        name = f"{before} {_spaced(key)}".strip()
        if isinstance(value, dict) and depth < _DEEPEST:
            yield from _flatten(value, name, depth + 1)
        else:
            yield name, _text(value)


def _scalars(found: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, value in found.items():
        if isinstance(value, str | bool):
            yield key, value


def _spaced(key: str) -> str:
    """A key with spaces where its words begin with capitals."""
    return re.sub(r"(?<=[a-z\d])(?=[A-Z])", " ", key)


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    return " ".join(str(value).split()) if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
