"""What do study.toml and wear.toml say? Their keys, checked against the schema, each fault with its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from glucolab.clock import is_zone
from glucolab.errors import Problem
from glucolab.reading.cells import FIRST_YEAR, LAST_YEAR
from glucolab.reading.text import UnreadableError, decode, did_you_mean, is_plain, show
from glucolab.record import Key

_STATEMENT = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=\s*(.*)")
_SECTION = re.compile(r"\s*\[\s*([A-Za-z0-9_.-]+)\s*\]")
_AT_LINE = re.compile(r"at line (\d+)")
_WITHOUT_SECONDS = re.compile(
    r"^(\s*[A-Za-z0-9_-]+\s*=\s*\d{4}-\d\d-\d\d[T ]\d\d:\d\d)((?:Z|[+-]\d\d:\d\d)?\s*(?:#.*)?)$", re.MULTILINE
)
"""Allowed since TOML 1.1, and not yet by Python's reader."""
_OPENED = re.compile(r"\"{3}|'{3}|=\s*[\[{]")
_MOST_FAULTS = 50
_MOST_BYTES = 100_000
"""A settings file is written by hand."""


@dataclass(frozen=True)
class Settings:
    """The keys of a TOML file that can be used, defaults filled in.

    Attributes
    ----------
    values : mapping of (section, key) to value
        Section "" for keys of the file itself.
    problems : tuple of Problem
    missing : tuple of str
        Required keys that are absent or cannot be used.
    spoilt : frozenset of (section, key)
        Keys that are there but cannot be used.
    lines : mapping of (section, key) to int
        Where each key stands.
    """

    values: Mapping[tuple[str, str], Any]
    problems: tuple[Problem, ...]
    missing: tuple[str, ...]
    spoilt: frozenset[tuple[str, str]]
    lines: Mapping[tuple[str, str], int]


def read_settings(
    data: bytes, schema: Mapping[str, Sequence[Key]], file: str, free: Mapping[str, Key] | None = None
) -> Settings:
    """Read a TOML file against its schema.

    A line that is no TOML is reported and passed over, so that one slip does not hide the others.

    Parameters
    ----------
    data : bytes
        The file.
    schema : mapping of str to sequence of Key
        Keys by section; section "" holds the keys before any section.
    file : str
        Path below the study folder, for the problems.
    free : mapping of str to Key, optional
        Sections whose keys the file names itself, and of which kind each value is.

    Raises
    ------
    UnreadableError
        If the file is in UTF-16, or too long to be one of settings.
    """
    if len(data) > _MOST_BYTES:
        raise UnreadableError(f"is longer than {_MOST_BYTES // 1000} kB, which no file of settings is")
    text = decode(data).replace("\r\n", "\n").replace("\r", "\n")
    document, lines, spoilt, problems = _load(text.encode("utf-8", "replace").decode(), file)
    problems += [
        Problem(file, "holds bytes that are not UTF-8: save the file as UTF-8", i, left_out=False)
        for i, line in enumerate(text.split("\n"), start=1)
        if not is_plain(line.replace("\0", ""))
    ]
    places = _find_lines(lines)
    values: dict[tuple[str, str], Any] = {}
    missing: list[str] = []
    for section, keys in schema.items():
        table = document if not section else document.get(section, {})
        if not isinstance(table, dict):
            problems.append(
                Problem(file, f"{section} is a value: write it as a section, [{section}]", places.get(("", section)))
            )
            table = {}
        for key in keys:
            place = (section, key.name)
            values[place] = key.default
            if key.name in table:
                value, fault = _check(table[key.name], key)
                values[place] = key.default if fault else value
                if fault:
                    spoilt.add(place)
                    problems.append(Problem(file, f"{key.name} {fault}", places.get(place)))
            elif key.required and place not in spoilt:
                where = f" in [{section}]" if section else ""
                problems.append(Problem(file, f"{key.name} is missing{where}: {key.text}"))
            if key.required and values[place] is None:
                missing.append(key.name)
    problems += _take_free(document, free or {}, values, places, file)
    problems += _doubt_unknown(document, schema, places, file)
    return Settings(
        values, tuple(sorted(problems, key=lambda p: p.line or 0)), tuple(missing), frozenset(spoilt), places
    )


def _take_free(
    document: dict[str, Any], free: Mapping[str, Key], values: dict[tuple[str, str], Any],
    places: Mapping[tuple[str, str], int], file: str,
) -> list[Problem]:  # fmt: skip
    """Move sections whose keys the file names itself out of the document into the values."""
    problems = []
    for section, key in free.items():
        table = document.pop(section, {})
        if not isinstance(table, dict):
            fault = f"{section} is a value: write it as a section, [{section}]"
            problems.append(Problem(file, fault, places.get(("", section))))
            continue
        for name, given in table.items():
            value, fault = _check(given, key)
            if fault:
                problems.append(Problem(file, f"{show(name)} {fault}", places.get((section, name))))
            else:
                values[section, name] = value
    return problems


def _load(text: str, file: str) -> tuple[dict[str, Any], list[str], set[tuple[str, str]], list[Problem]]:
    """The document, the lines it was read from, keys on lines that cannot be read, and those lines' faults."""
    lines = _WITHOUT_SECONDS.sub(r"\1:00\2", text).split("\n")
    spoilt: set[tuple[str, str]] = set()
    problems: list[Problem] = []
    while len(problems) < _MOST_FAULTS:
        try:
            return tomllib.loads("\n".join(lines) + "\n"), lines, spoilt, problems
        except (ValueError, RecursionError) as fault:
            at = _find_fault(lines, str(fault))
            problems.append(Problem(file, _word_fault(lines[at], str(fault)), at + 1))
            spoilt |= {place for place, line in _find_lines(lines).items() if line == at + 1}
            lines[at] = ""
    problems.append(Problem(file, "has more lines that cannot be read; nothing of it is used"))
    return {}, lines, spoilt | set(_find_lines(lines)), problems


def _find_fault(lines: list[str], fault: str) -> int:
    """Position of the line to blame."""
    written = [i for i, line in enumerate(lines) if line.strip(" \t")]
    if at := _AT_LINE.search(fault):
        return max((i for i in written if i < int(at[1])), default=written[0])
    if "end of document" in fault:
        return max((i for i in written if _OPENED.search(lines[i])), default=written[-1])
    return max(written, key=lambda i: len(lines[i]))


def _word_fault(line: str, fault: str) -> str:
    statement = _STATEMENT.match(line)
    key, value = (statement[1], statement[2].split("#")[0].strip()) if statement else ("", "")
    if "overwrite" in fault or "twice" in fault:
        return f'"{show(line.strip())}" stands twice'
    if statement and not value:
        return f"{key} has no value yet"
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        return f"{key} needs a decimal point: write {value.replace(',', '.')}"
    if value.lower() in ("true", "false"):
        return f"{key} needs small letters: write {value.lower()}"
    if re.fullmatch(r"[^\W\d][^\"']*", value):
        return f'{key} needs quotation marks: write "{show(value)}"'
    if statement:
        return f'{key} "{show(value)}" cannot be read'
    return f'"{show(line.strip())}" cannot be read: write key = value'


def _find_lines(lines: Sequence[str]) -> dict[tuple[str, str], int]:
    """Line of every key, by section and name; sections themselves stand under ""."""
    section = ""
    places: dict[tuple[str, str], int] = {}
    for i, line in enumerate(lines, start=1):
        if head := _SECTION.match(line):
            section = head[1]
            places.setdefault(("", section), i)
        elif statement := _STATEMENT.match(line):
            places.setdefault((section, statement[1]), i)
    return places


_FITS: dict[str, Callable[[Any], bool]] = {
    "text": lambda value: isinstance(value, str),
    "zone": lambda value: isinstance(value, str) and is_zone(value),
    "true_false": lambda value: isinstance(value, bool),
    "number": lambda value: isinstance(value, int | float) and not isinstance(value, bool),
    "time": lambda value: isinstance(value, datetime),
    "date": lambda value: isinstance(value, date) and not isinstance(value, datetime),
}
_WANTED = {
    "text": "text: put quotation marks around it",
    "zone": "a time zone such as Europe/Lisbon",
    "true_false": "true or false",
    "number": "a number",
    "time": "a time such as 2026-02-03T08:10:00",
    "date": "a date such as 2026-02-03",
}


def _check(value: Any, key: Key) -> tuple[Any, str]:
    """The value as the record holds it, and what is wrong with it."""
    shown = f'"{show(str(value))}"'
    if key.kind == "choice":
        match = {choice.lower(): choice for choice in key.choices}.get(value.lower() if isinstance(value, str) else "")
        return match, "" if match else f"{shown} is none of {', '.join(key.choices)}"
    if not _FITS[key.kind](value):
        bare = " (write it without quotation marks)" if isinstance(value, str) and key.kind != "zone" else ""
        return None, f"{shown} is not {_WANTED[key.kind]}{bare}"
    if isinstance(value, date) and not FIRST_YEAR <= value.year < LAST_YEAR:
        return None, f"{shown} lies outside the years {FIRST_YEAR} to {LAST_YEAR - 1}"
    if key.kind == "number":
        if key.low is not None and key.high is not None and not key.low <= value <= key.high:
            return None, f"{shown} is outside {key.low:g} to {key.high:g}"
        return float(value), ""
    return value, ""


def _doubt_unknown(
    document: dict[str, Any], schema: Mapping[str, Sequence[Key]], places: Mapping[tuple[str, str], int], file: str
) -> list[Problem]:
    """Warnings of keys and sections that the schema does not name."""
    problems = []
    top = [key.name for key in schema.get("", ())]
    for name, value in document.items():
        if name in schema and isinstance(value, dict):
            known = [key.name for key in schema[name]]
            for key in [key for key in value if key not in known]:
                text = f'key "{show(key)}" in [{name}] is not known and not used{did_you_mean(key, known)}'
                problems.append(Problem(file, text, places.get((name, key)), left_out=False))
        elif name not in top and name not in schema:
            homes = [section for section, keys in schema.items() if section and name in {key.name for key in keys}]
            hint = f": write it below [{homes[0]}]" if homes else did_you_mean(name, [*top, *filter(None, schema)])
            what = f"section [{show(name)}]" if isinstance(value, dict) else f'key "{show(name)}"'
            problems.append(
                Problem(file, f"{what} is not known and not used{hint}", places.get(("", name)), left_out=False)
            )
    return problems
