"""How is a mapping kept? The text of its small TOML file, and what a file says that somebody wrote or changed."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping as Dictionary
from dataclasses import fields
from pathlib import Path
from typing import Any

from glucolab.clock import is_zone
from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.moments import DIGITS, MINUTES, ORDERS, SERIAL, SINCE_1970
from glucolab.reading.bringing.cells.zones import find_zone, offset_of
from glucolab.reading.bringing.mapping.mapping import BRINGABLE, LOCAL, NIGHTS, PARTS_OF_LENGTHS, Mapping, Source, Words
from glucolab.reading.text import did_you_mean, show
from glucolab.record import INPUT_TABLES

_ALLOWED = {
    "order": tuple(ORDERS),
    "since": (*SINCE_1970, SERIAL, MINUTES, DIGITS),
    "night": NIGHTS,
    "late": ("next_day",),
    "reads": ("running", "length", "end", "length_after_start"),
    "parts": PARTS_OF_LENGTHS,
    "bound": ("low", "high"),
}
_TOP = ("table", "header", "decimal", "sheet", "stages", "latest", "joins", "keep", "leave", "columns")
_PLAIN = tuple(f.name for f in fields(Source) if f.name != "columns")
_NO_TEXTS = ("shift_min", "scale", "words")


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
    if mapping.latest:
        lines.append(f"latest = {_toml(mapping.latest)}")
    if mapping.joins:
        lines.append("joins = true")
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
    latest, joins = found.get("latest", []), found.get("joins", False)
    if not isinstance(latest, list) or len(latest) not in (0, 2) or not all(isinstance(one, str) for one in latest):
        faults.append("latest must be two columns: one that tells records apart, and one that orders their states")
        latest = []
    if not isinstance(joins, bool):
        faults.append("joins must be true or false")
    if table not in BRINGABLE or not isinstance(columns, dict):
        return None
    sources = {name: _read_source(name, one, table, faults) for name, one in columns.items()}
    missing = [c.name for c in INPUT_TABLES[table].columns if c.required and c.name not in sources]
    if missing:
        faults.append(f"nothing says where {' and '.join(missing)} of {table} come from")
    texts = found.get("stages", ""), found.get("sheet", "")
    chosen_rows = chosen["keep"], chosen["leave"]
    return Mapping(table, sources, tuple(header), decimal, *chosen_rows, *texts, tuple(latest), joins is True)


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
    if not re.fullmatch(r"(?:\d{4})?", str(found.get("year", ""))):
        faults.append(f'{place}: year must be a text such as "2026"')
    faults += _check_kinds(place, found)
    texts = {key: found[key] for key in _PLAIN if key not in _NO_TEXTS and isinstance(found.get(key), str)}
    scale, shift = found.get("scale", []), found.get("shift_min", 0.0)
    words = found.get("words", {})
    return Source(
        tuple(columns),
        **texts,
        shift_min=float(shift) if _is_number(shift) else 0.0,
        scale=tuple(map(float, scale)) if _is_scale(scale) else (),
        words=words if isinstance(words, dict) else {},
    )


def _is_number(found: Any) -> bool:
    return isinstance(found, int | float) and not isinstance(found, bool)


def _is_scale(found: Any) -> bool:
    numbers = isinstance(found, list) and all(map(_is_number, found))
    return numbers and len(found) == 2 and found[0] != found[1]


def _check_kinds(place: str, found: Dictionary[str, Any]) -> list[str]:
    faults = [
        f"{place}: {key} must be a text"
        for key in _PLAIN
        if key not in _NO_TEXTS and key in found and not isinstance(found[key], str)
    ]
    if "scale" in found and not _is_scale(found["scale"]):
        faults.append(f"{place}: scale must be the marks that are 0 and 10 here, such as [1, 5]")
    if not _is_number(found.get("shift_min", 0.0)):
        faults.append(f"{place}: shift_min must be a number of minutes")
    words = found.get("words", {})
    if not isinstance(words, dict) or not all(isinstance(v, str) for v in words.values()):
        faults.append(f"{place}: words must say for each text of the file a text of ours")
    zone = found.get("zone", "")
    if isinstance(zone, str) and zone not in ("", LOCAL) and not is_zone(zone) and not offset_of(find_zone(zone)):
        faults.append(f'{place}: zone "{show(zone)}" is no zone such as Europe/Lisbon or +01:00')
    return faults
