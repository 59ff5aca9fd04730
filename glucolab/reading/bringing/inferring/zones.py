"""In which zone are times written? What a header, a column or the lines above state; what is unclear is asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.cells.moments import SINCE_1970, take_apart
from glucolab.reading.bringing.cells.zones import LETTERS, find_letters, find_zone, from_number, is_letters
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import LOCAL, Source
from glucolab.reading.bringing.vocabulary.cautions import names_local, names_offset, names_times
from glucolab.reading.text import plain, show

_FEW_WORDS = 3
"""A cell above the table with no more words than this states its zone and nothing else. Assumed."""
_WEAR = ("local", "as the wearer's clocks showed")


def settle_zones(
    sources: dict[str, Source], facts: Sequence[Facts], context: Sequence[str], answers: Answers, said: list[str]
) -> dict[str, Source]:
    """Sources of times with the zone that the file states for them.

    Parameters
    ----------
    sources : dict of str to Source
        Of times, by our column.
    facts : sequence of Facts
        All columns of the file.
    context : sequence of str
        Cells of the lines above the table.
    answers : Answers
    said : list of str
        Grows by what was found.
    """
    by_name = {f.name: f for f in facts}
    used = {name for source in sources.values() for name in source.columns}
    column = _find_column(facts, used)
    unclear = next((f for f in facts if f.name not in used and not f.is_time and _may_say_zone(f)), None)
    above = _find_above(context)
    settled = {}
    for name, source in sources.items():
        if not source.columns or source.since in SINCE_1970 or source.reads.startswith("length"):
            settled[name] = source
            continue
        columns = [by_name[one] for one in source.columns]
        if any(_has_offsets(f) for f in columns):
            settled[name] = _settle_offsets(source, columns, context, answers)
            continue
        text = " ".join(f.name for f in columns)
        zone, letters = find_zone(text), find_letters(text)
        if not zone and not letters:  # local times are told which clocks are meant by the column beside them
            if column is not None and names_local(text) and {find_zone(cell) for cell in column.filled} == {"UTC"}:
                settled[name] = _settle_unclear(source, column, answers)
                continue
            if column is not None:
                said.append(f'"{show(text)}" is read by the zone in column "{show(column.name)}"')
                settled[name] = replace(source, zone_from=column.name)
                continue
            if unclear is not None:
                settled[name] = _settle_unclear(source, unclear, answers)
                continue
            if not names_local(text):
                zone, letters = find_zone(above), find_letters(above)
        settled[name] = _settle(source, text, zone, letters, answers, said)
    return settled


def _settle_offsets(source: Source, columns: Sequence[Facts], context: Sequence[str], answers: Answers) -> Source:
    """Times that end in Z though their column, or a line above the table, says that they are local: asked."""
    offsets = {one.offset for f in columns for one in f.written if one is not None and one.clock}
    name = " ".join(f.name for f in columns)
    local = name if names_local(name) or find_zone(name) not in ("", "UTC") else ""
    local = local or next((cell for cell in context if names_local(cell)), "")
    if offsets != {"+00:00"} or not local:
        return source
    text = f'"{show(columns[-1].filled[0])}" says UTC, and "{show(local)}" says that it is local'
    choices = ((LOCAL, "the wearer's clocks showed it: Z does not count"), ("UTC", "it is in UTC, as is written"))
    return replace(source, zone=LOCAL) if answers.ask(Question("zone", text, choices)) == LOCAL else source


def _settle(source: Source, text: str, zone: str, letters: str, answers: Answers, said: list[str]) -> Source:
    if zone:
        said.append(f'"{show(text)}" is in {zone}')
        return replace(source, zone=zone)
    if not letters:
        return source
    choices = (_WEAR, *_offsets_of(letters), ("UTC", "UTC itself"))
    said_zone = answers.ask(Question("zone", f'"{letters}" with the times may be read in more than one way', choices))
    return source if said_zone == "local" else replace(source, zone=said_zone)


def _settle_unclear(source: Source, column: Facts, answers: Answers) -> Source:
    """A zone in a column whose words are not known for one, or speak against what the header says."""
    cell = show(column.filled[0])
    choices = (_WEAR, *_offsets_of(find_letters(column.filled[0].upper())), ("UTC", "UTC itself"))
    text = f'column "{show(column.name)}" says "{cell}", which is no zone that is certain'
    said_zone = answers.ask(Question("zone", text, choices))
    return source if said_zone == "local" else replace(source, zone=said_zone)


def _offsets_of(letters: str) -> tuple[tuple[str, str], ...]:
    return tuple((offset, f"always {offset} from UTC") for offset in LETTERS.get(letters, ()))


def _may_say_zone(f: Facts) -> bool:
    """True for a column that is named for a zone, or each of whose cells names one, by letters of two meanings too."""
    return names_offset(f.bare) or all(is_letters(cell) or find_zone(cell) for cell in set(f.filled))


def _has_offsets(f: Facts) -> bool:
    return any(one is not None and one.offset for one in f.written)


def _find_above(context: Sequence[str]) -> str:
    """The cell above the table that states a zone for its times; a moment with a zone is only its own."""
    for before, cell in zip(("", *context), context, strict=False):
        if re.search(r"\d{1,2}:\d\d", cell) and not find_zone(re.sub(r"\d{1,4}[-/.]\d.*", "", cell)):
            continue
        stated = bool(find_zone(cell) or find_letters(cell)) and take_apart(cell) is None
        if stated and (names_times(f"{before} {cell}") or len(plain(cell).split()) <= _FEW_WORDS):
            return cell
    return ""


def _find_column(facts: Sequence[Facts], used: set[str]) -> Facts | None:
    """The column that states the offset or the zone of each row; None where there is none."""
    for f in facts:
        if f.name in used:
            continue
        if not f.is_number and all(find_zone(cell) for cell in set(f.filled)):
            return f
        if names_offset(f.bare) and f.is_number and all(map(from_number, _numbers(f))):
            return f
    return None


def _numbers(f: Facts) -> np.ndarray:
    values = read_amounts(f.filled, ".").values
    return np.where(np.isfinite(values), values, 1e9)
