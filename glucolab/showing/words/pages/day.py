"""What happened on one day? Its events in order of time, each in a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from glucolab.clock import to_local
from glucolab.record import FLAGS
from glucolab.showing.display import Display, is_known, write_number
from glucolab.showing.words.common import (
    FLAG_WORDS,
    GAP_WORDS,
    LINK_WORDS,
    join_words,
    say_duration,
    say_reasons,
    say_rise,
)

if TYPE_CHECKING:
    from glucolab.results import WearAnalysis

LONG_SPAN_MIN = 30.0

_Placed = tuple[pd.Timestamp, str, str]
"""When, of what kind, and the words."""


@dataclass(frozen=True)
class Event:
    """One line of a day."""

    time: str
    kind: str
    text: str


def list_events(result: WearAnalysis, display: Display) -> dict[int, list[Event]]:
    """Events of each day of a wear, by position of the day, in order of time.

    Parameters
    ----------
    result : WearAnalysis
    display : Display
    """
    wear = result.wear
    lines = [
        *_meals(result, display), *_rises(result, display), *_spans(result), *_checks(wear.checks, display),
        *((row.start, "movement", _movement(row)) for row in (*_rows(wear.activity), *_rows(wear.found_walks))),
        *((row.start, "note", _with_note(row.kind, row.note)) for row in _rows(wear.notes)),
        *((row.time, "feeling", _feeling(row)) for row in _rows(wear.feelings)),
    ]  # fmt: skip
    lines = [line for line in lines if is_known(line[0])]
    if not lines:
        return {}
    times = pd.DatetimeIndex([line[0] for line in lines])
    places, local = result.days.of(times), to_local(times, wear.zones)
    days: dict[int, list[Event]] = {}
    for i in times.argsort(kind="stable").tolist():
        days.setdefault(int(places[i]), []).append(Event(f"{local[i]:%H:%M}", lines[i][1], lines[i][2]))
    return days


def _rows(table: pd.DataFrame) -> Iterator[Any]:
    """Its rows, each with its cells by name."""
    return iter(table.itertuples())


def _with_note(text: str, note: object) -> str:
    return f"{text}: {note}" if is_known(note) and note else str(text)


def _meals(result: WearAnalysis, display: Display) -> list[_Placed]:
    return [(row.time, "food", _meal(row, display)) for row in _rows(result.tables["meal_responses"])]


def _meal(row: Any, display: Display) -> str:
    carbs = f", {write_number(row.carbs_g)} g carbohydrate" if display.numbers and is_known(row.carbs_g) else ""
    if not is_known(row.usable_2h) or not row.usable_2h:
        why = say_reasons(row.reason) if is_known(row.reason) else ""
        return f"{row.name}{carbs}; response not used: {why}" if why else f"{row.name}{carbs}"
    return f"{row.name}{carbs}; {say_rise(row, display)}" if display.numbers else str(row.name)


def _rises(result: WearAnalysis, display: Display) -> list[_Placed]:
    lines = []
    for row in _rows(result.tables["excursions"]):
        links = [LINK_WORDS.get(link, link) for link in str(row.linked_to).split(";")]
        height = (
            f", {display.size(row.rise_mg_dl)} {display.unit} above the median at its highest"
            if display.numbers
            else ""
        )
        lines.append((row.start, "rise", f"rise of {say_duration(row.minutes)}{height}: {join_words(links)}"))
    return lines


def _spans(result: WearAnalysis) -> list[_Placed]:
    """Long spans set aside or missing."""
    flags, gaps = result.tables["flags"], result.tables["gaps"]
    lines = [
        (row.start, "aside", _flagged(row))
        for row in _rows(flags) if row.minutes >= LONG_SPAN_MIN and row.flag in FLAGS
    ]  # fmt: skip
    missing = gaps[(gaps["minutes"] >= LONG_SPAN_MIN) & (gaps["kind"] != "flagged")]
    return lines + [
        (row.start, "gap", f"{say_duration(row.minutes)} missing: {GAP_WORDS.get(row.kind, row.kind)}")
        for row in _rows(missing)
    ]


def _flagged(row: Any) -> str:
    done = "set aside" if row.action == "exclude" else "noted"
    return f"{say_duration(row.minutes)} {done}: {FLAG_WORDS.get(row.flag, row.flag)}"


def _checks(checks: pd.DataFrame, display: Display) -> list[_Placed]:
    figure = [f" {display.level(v)} {display.unit}" if display.numbers else "" for v in checks["glucose_mg_dl"]]
    return [(time, "check", f"blood value{text}") for time, text in zip(checks["time"], figure, strict=True)]


def _movement(row: Any) -> str:
    effort = f", {row.effort}" if is_known(row.effort) else ""
    return _with_note(f"{row.kind}, {say_duration(row.minutes)}{effort}", row.note)


def _feeling(row: Any) -> str:
    felt = [
        f"{name} {write_number(getattr(row, name))}"
        for name in ("energy", "focus", "hunger", "stress")
        if is_known(getattr(row, name))
    ]
    return _with_note(f"felt: {', '.join(felt)} of 10", row.note) if felt else _with_note("felt", row.note)
