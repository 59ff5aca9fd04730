"""Is a foreign table one of notes, and what kind of note is each? A diary's rows: a time, a text, perhaps a tag."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.zones import find_zone
from glucolab.reading.bringing.inferring.ambiguities import Answers
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.times import Timing, find_moment, find_start_and_end
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.matching import find_word, likeness
from glucolab.reading.bringing.vocabulary.words import CHOICES, KINDS_OF_ROW, NOTE, OF_NOTES
from glucolab.reading.text import show
from glucolab.record import INPUT_TABLES

OTHER = "other"
_HALF = 0.5
"""Share of the tags of a column that must be kinds of note before they say what the table is. Assumed."""


def find_note_timing(facts: Sequence[Facts], answers: Answers) -> Timing | None:
    """When notes begin, and where it is written when they end."""
    span = find_start_and_end(facts, False, answers)
    if span is None:
        return find_moment(facts, (), answers, "start")
    last = span.sources["minutes"]
    end = replace(last, reads="" if last.reads == "end" else "length_after_start")
    return Timing({"start": span.sources["start"], "end": end}, span.used, span.worth)


def is_of_notes(columns: dict[str, Facts], timing: Timing, facts: Sequence[Facts], hints: Sequence[str]) -> bool:
    """True if a name of the file says notes, its tags are kinds of note, or nothing stands in it but time and note."""
    if any(likeness(hint, OF_NOTES) > 0 and find_word(hint, KINDS_OF_ROW) in (None, OTHER) for hint in hints):
        return True
    kind = columns.get("kind")
    if kind is not None:
        tags = set(kind.filled)
        return sum(find_word(tag, CHOICES["kind"]) is not None for tag in tags) >= _HALF * len(tags)
    left = [f for f in facts if f.place not in timing.used and f.filled and f is not columns["note"]]
    return not left and likeness(columns["note"].bare, NOTE) > 0


def is_travel_zone(f: Facts) -> bool:
    """True for a column of names of zones: in notes it says what clocks show after a journey, not in what they are."""
    return all("/" in find_zone(cell) for cell in set(f.filled))


def build_travel_zone(facts: Sequence[Facts], said: list[str]) -> dict[str, Source]:
    """The zone of a journey, where a column names it."""
    column = next((f for f in facts if not f.is_number and not f.is_time and is_travel_zone(f)), None)
    if column is None:
        return {}
    said.append(f'"{show(column.name)}" is the zone that clocks showed from a journey on')
    return {"time_zone": Source((column.name,))}


def build_kinds(columns: dict[str, Facts], answers: Answers, said: list[str]) -> dict[str, Source]:
    """Kind and text of notes. A tag that is no kind of ours comes as another note; all tags then stand in their texts.

    Raises
    ------
    NothingToDo
        If a kind was said that is none.
    """
    kinds = next(column.choices for column in INPUT_TABLES["notes"].columns if column.name == "kind")
    note = columns.get("note")
    if "kind" not in columns:
        always = answers.said.get("kind", OTHER)
        if always not in kinds:
            raise NothingToDo(f'kind cannot be "{show(always)}" here: it is one of {", ".join(kinds)}')
        said.append(f'no column says what kind of note it is: "{always}" is written (or --say kind=illness)')
        return {"kind": Source(always=always)} | ({"note": Source((note.name,))} if note else {})
    tags = columns["kind"]
    meant = {tag: find_word(tag, CHOICES["kind"]) for tag in dict.fromkeys(tags.filled)}
    if unknown := [f"“{show(tag)}”" for tag, kind in meant.items() if kind is None]:
        said.append(f"{', '.join(unknown)}: no kind of note here, so it comes as {OTHER}, its word in the note")
    texts = [f.name for f in (tags if unknown or not note else None, note) if f]
    words = {tag: kind or OTHER for tag, kind in meant.items()}
    return {"kind": Source((tags.name,), words=words), "note": Source(tuple(texts))}
