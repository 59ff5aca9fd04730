"""What does a JSON file hold? Resources of FHIR or data points of Open mHealth, read with their numbers as written."""

from __future__ import annotations

import json
from typing import Any

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.standards.fhir import is_fhir, read_fhir
from glucolab.reading.standards.open_mhealth import is_open_mhealth, read_open_mhealth
from glucolab.reading.standards.parts import NumberText
from glucolab.reading.text import show

_MOST_ENTRIES = 2_000_000


def read_documents(data: bytes, file: str) -> Brought | None:
    """Read a JSON file, or one with a JSON document a line.

    Parameters
    ----------
    data : bytes
    file : str
        Name of the file, for messages.

    Returns
    -------
    Brought or None
        None if no record of it is of these standards: it may be a table.

    Raises
    ------
    NothingToDo
        If it is no sound JSON, or only some of its records are of these standards.
    """
    found = _load(data, file)
    entries = found if isinstance(found, list) else [found]
    known = [entry for entry in entries if isinstance(entry, dict) and (is_fhir(entry) or is_open_mhealth(entry))]
    if not known:
        return None
    if len(entries) > _MOST_ENTRIES or not all(isinstance(entry, dict) for entry in entries):
        raise NothingToDo(f"{file} is JSON, but no list of records")
    if entries and all(is_fhir(entry) for entry in entries):
        return read_fhir(entries, file)
    if entries and all(is_open_mhealth(entry) for entry in entries):
        return read_open_mhealth(entries, file)
    raise NothingToDo(f"{file} is JSON, but neither FHIR resources nor Open mHealth data points")


def _load(data: bytes, file: str) -> Any:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise NothingToDo(f"{file} is not UTF-8 text, as JSON must be") from None
    try:
        return _parse(text)
    except (ValueError, RecursionError) as fault:
        lines = [line for line in text.splitlines() if line.strip()]
        if len(lines) > 1 and lines[0].rstrip().endswith(("}", "]")):
            return [_parse_line(line, number, file) for number, line in enumerate(lines, start=1)]
        raise NothingToDo(f"{file} is no sound JSON: {_word(fault)}") from None


def _parse_line(line: str, number: int, file: str) -> Any:
    try:
        return _parse(line)
    except (ValueError, RecursionError) as fault:
        raise NothingToDo(f"{file} line {number} is no sound JSON: {_word(fault)}") from None


def _word(fault: Exception) -> str:
    return "it is nested too deeply" if isinstance(fault, RecursionError) else show(str(fault), most=120)


def _parse(text: str) -> Any:
    return json.loads(
        text,
        parse_float=NumberText,
        parse_int=NumberText,
        parse_constant=_refuse_constant,
        object_pairs_hook=_want_keys_once,
    )


def _refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is no number of JSON")


def _want_keys_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(key for i, (key, _) in enumerate(pairs) if key in dict(pairs[:i]))
        raise ValueError(f'"{show(twice)}" stands twice in one record')
    return found
