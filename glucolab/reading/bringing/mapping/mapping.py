"""Which column is what? The mapping of a foreign table into one of ours, and the small file in which it is kept."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping as Dictionary
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from glucolab.clock import is_zone
from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.moments import DIGITS, MINUTES, ORDERS, SERIAL, SINCE_1970
from glucolab.reading.bringing.cells.zones import find_zone, offset_of
from glucolab.reading.text import did_you_mean, show
from glucolab.record import INPUT_TABLES

NIGHTS = ("evening", "morning")
Words = tuple[str, tuple[str, ...]]
"""A column of the file, and cells of it."""
LOCAL = "local"
"""Stands for a zone where an offset that is written does not count."""
_PARTS = ("h:m", "m:s", "h.mm")
BRINGABLE = ("glucose", "meals", "activity", "movement", "sleep", "days", "feelings", "checks", "labs", "notes")


@dataclass(frozen=True)
class Source:
    """Where a column of ours comes from, and how it is read.

    Attributes
    ----------
    columns : tuple of str
        The file's columns: one; or a date and a clock time; or for a length of time the end of it; or two of glucose,
        of which a row fills one, and whose names say how it was taken; or two texts, which are joined.
    always : str
        The same text in every row, in place of columns.
    order : str
        How dates are written, out of `moments.ORDERS`.
    since : str
        "seconds since 1970", "milliseconds since 1970", "days since 1899-12-30", or for clock times "minutes since
        midnight" or "hours and minutes as one number".
    zone : str
        IANA name or offset (+05:30) of times without an offset; "" for what the wearer's clocks showed; "local" where
        they showed it in spite of an offset that is written.
    zone_from : str
        The file's column that says the same of each row, as a name, an offset, or a number of hours.
    night : str
        For a sleep with one date: "evening" if it is that of the evening, "morning" if that of the waking.
    reads : str
        "length": minutes are a length of time; "end": they last until the time in the columns; "length_after_start":
        an end is so long after the start.
    parts : str
        What 1:20 means as a length: "h:m" or "m:s"; "h.mm": 7.30 is 7 hours 30 minutes.
    unit : str
        Of the values: a unit of glucose, or one that is turned into ours, such as "kJ", or "12 g" for exchanges.
    of : str
        The file's column of grams that were eaten: the values are of 100 of them.
    unit_from : str
        The file's column that says the unit.
    scale : tuple of float
        The marks that are turned into 0 and into 10: the lowest and the highest, or these changed over.
    bound : str
        "low" or "high": the limit in a range such as 3.5-5.0.
    words : dict of str to str
        What a cell's text stands for.
    """

    columns: tuple[str, ...] = ()
    always: str = ""
    order: str = ""
    since: str = ""
    zone: str = ""
    zone_from: str = ""
    night: str = ""
    reads: str = ""
    parts: str = ""
    unit: str = ""
    of: str = ""
    unit_from: str = ""
    scale: tuple[float, ...] = ()
    bound: str = ""
    words: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Mapping:
    """How a foreign table becomes one of ours.

    Attributes
    ----------
    table : str
        The table of ours.
    sources : dict of str to Source
        By our column.
    header : tuple of int
        Line of the file on which the header stands, or its two lines; empty if it has none.
    decimal : {".", ","}
    keep : tuple of (str, tuple of str)
        Columns of the file with words: only rows are kept whose cell in each of them is one of its words.
    leave : tuple of (str, tuple of str)
        The same of rows that are left out, such as totals.
    stages : str
        The column of stages of sleep, whose rows are joined to a row a sleep.
    sheet : str
        Of a spreadsheet.
    """

    table: str
    sources: dict[str, Source]
    header: tuple[int, ...]
    decimal: str = "."
    keep: tuple[Words, ...] = ()
    leave: tuple[Words, ...] = ()
    stages: str = ""
    sheet: str = ""


_ALLOWED = {
    "order": tuple(ORDERS),
    "since": (*SINCE_1970, SERIAL, MINUTES, DIGITS),
    "night": NIGHTS,
    "reads": ("length", "end", "length_after_start"),
    "parts": _PARTS,
    "bound": ("low", "high"),
}
_TOP = ("table", "header", "decimal", "sheet", "stages", "keep", "leave", "columns")
_PLAIN = tuple(f.name for f in fields(Source) if f.name != "columns")


def mapping_text(mapping: Mapping) -> str:
    """A mapping as the text of its TOML file."""
    lines = [
        "# How a foreign table comes in. `from` names the file's columns as its header does, or by place: #1, #2.",
        f"table = {_toml(mapping.table)}",
        f"header = [{', '.join(map(str, mapping.header))}]  # lines of the file on which it stands; []: there is none",
        f"decimal = {_toml(mapping.decimal)}",
    ]
    if mapping.sheet:
        lines.append(f"sheet = {_toml(mapping.sheet)}")
    if mapping.stages:
        lines.append(f"stages = {_toml(mapping.stages)}")
    for key, listed in (("keep", mapping.keep), ("leave", mapping.leave)):
        for column, words in listed:
            lines += ["", f"[[{key}]]", f"column = {_toml(column)}", f"words = {_toml(words)}"]
    for name, source in mapping.sources.items():
        lines += ["", f"[columns.{_toml_key(name)}]"]
        if source.columns:
            lines.append(f"from = {_toml(source.columns if len(source.columns) > 1 else source.columns[0])}")
        lines += [f"{key} = {_toml(value)}" for key in _PLAIN if (value := getattr(source, key))]
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_toml_key(k)} = {_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _toml_key(name: str) -> str:
    return name if name.isascii() and name.replace("_", "").isalnum() else _toml(name)


def read_mapping(path: Path) -> Mapping:
    """Read the TOML file of a mapping.

    Raises
    ------
    NothingToDo
        If it cannot be read, or a key or value in it is not known; all such faults in one sentence.
    """
    try:
        with open(path, "rb") as file:
            found = tomllib.load(file)
    except OSError as fault:
        raise NothingToDo(f"{path} cannot be read: {(fault.strerror or 'it went wrong').lower()}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as fault:
        raise NothingToDo(f"{path} is not TOML: {show(str(fault), most=150)}") from None
    faults: list[str] = []
    mapping = _read_top(found, faults)
    if mapping is None or faults:
        raise NothingToDo(f"{path.name}: {'; '.join(faults)}")
    return mapping


def _read_top(found: Dictionary[str, Any], faults: list[str]) -> Mapping | None:
    faults += [f'"{show(key)}" is not known{did_you_mean(key, _TOP)}' for key in found if key not in _TOP]
    table, columns = found.get("table"), found.get("columns")
    if table not in BRINGABLE:
        faults.append(f"table must be one of {', '.join(BRINGABLE)}")
    if not isinstance(columns, dict) or not columns:
        faults.append("it has no [columns.…] that say where a column comes from")
    header, decimal = found.get("header", [1]), found.get("decimal", ".")
    if not isinstance(header, list) or len(header) > 2 or not all(type(line) is int and line > 0 for line in header):
        faults.append("header must be a list of the line on which it stands, or of two lines, such as [1]")
    if decimal not in (".", ","):
        faults.append('decimal must be "." or ","')
    chosen = {key: _read_words(key, found.get(key, {}), faults) for key in ("keep", "leave")}
    faults += [f"{key} must be a text" for key in ("sheet", "stages") if not isinstance(found.get(key, ""), str)]
    if table not in BRINGABLE or not isinstance(columns, dict):
        return None
    sources = {name: _read_source(name, one, table, faults) for name, one in columns.items()}
    missing = [c.name for c in INPUT_TABLES[table].columns if c.required and c.name not in sources]
    if missing:
        faults.append(f"nothing says where {' and '.join(missing)} of {table} come from")
    texts = found.get("stages", ""), found.get("sheet", "")
    return Mapping(table, sources, tuple(header), decimal, chosen["keep"], chosen["leave"], *texts)


def _read_words(key: str, found: Any, faults: list[str]) -> tuple[Words, ...]:
    """Columns and words by which rows are kept or left, of a table of TOML or of several."""
    read: list[Words] = []
    for one in found if isinstance(found, list) else [found] if found else []:
        words, column = (one.get("words"), one.get("column")) if isinstance(one, dict) else (None, None)
        if isinstance(words, list) and isinstance(column, str) and all(isinstance(w, str) for w in words):
            read.append((column, tuple(words)))
        else:
            faults.append(f"[[{key}]] needs column, a text, and words, a list of texts")
    return tuple(read)


def _read_source(name: str, found: Any, table: str, faults: list[str]) -> Source:
    place = f"columns.{show(name)}"
    if not isinstance(found, dict):
        faults.append(f"{place} must be a table of keys")
        return Source()
    schema = INPUT_TABLES[table]
    if name not in schema.names and not schema.covariates:
        faults.append(f"{table} has no column {show(name)}{did_you_mean(name, schema.names)}")
    faults += [
        f'{place}: "{show(k)}" is not known{did_you_mean(k, ("from", *_PLAIN))}'
        for k in found
        if k not in ("from", *_PLAIN)
    ]
    columns = found.get("from", [])
    columns = [columns] if isinstance(columns, str) else columns
    if not isinstance(columns, list) or len(columns) > 2 or not all(isinstance(c, str) for c in columns):
        faults.append(f"{place}: from must name one column, or two: a date and a clock time")
        columns = []
    if bool(columns) == bool(found.get("always")):
        faults.append(f"{place} needs either from or always")
    for key, allowed in _ALLOWED.items():
        if key in found and found[key] not in allowed:
            faults.append(f"{place}: {key} must be one of {', '.join(allowed)}")
    faults += _check_kinds(place, found)
    texts = {key: found[key] for key in _PLAIN if key not in ("scale", "words") and isinstance(found.get(key), str)}
    scale = found.get("scale", [])
    words = found.get("words", {})
    return Source(
        tuple(columns),
        **texts,
        scale=tuple(map(float, scale)) if _is_scale(scale) else (),
        words=words if isinstance(words, dict) else {},
    )


def _is_scale(found: Any) -> bool:
    numbers = isinstance(found, list) and all(isinstance(v, int | float) and not isinstance(v, bool) for v in found)
    return numbers and len(found) == 2 and found[0] != found[1]


def _check_kinds(place: str, found: Dictionary[str, Any]) -> list[str]:
    faults = [
        f"{place}: {key} must be a text"
        for key in _PLAIN
        if key not in ("scale", "words") and key in found and not isinstance(found[key], str)
    ]
    if "scale" in found and not _is_scale(found["scale"]):
        faults.append(f"{place}: scale must be the marks that are 0 and 10 here, such as [1, 5]")
    words = found.get("words", {})
    if not isinstance(words, dict) or not all(isinstance(v, str) for v in words.values()):
        faults.append(f"{place}: words must say for each text of the file a text of ours")
    zone = found.get("zone", "")
    if isinstance(zone, str) and zone not in ("", LOCAL) and not is_zone(zone) and not offset_of(find_zone(zone)):
        faults.append(f'{place}: zone "{show(zone)}" is no zone such as Europe/Lisbon or +01:00')
    return faults
