"""How is each foreign column read? What its order of dates, marks, units and scales come to, settled in one place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.clocks import want_halves
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.daytime_sleep import settle_daytime
from glucolab.reading.bringing.inferring.glucose_units import settle_glucose_unit
from glucolab.reading.bringing.inferring.lengths import clock_spans, settle_length
from glucolab.reading.bringing.inferring.methods import find_finger
from glucolab.reading.bringing.inferring.notes import build_kinds, build_travel_zone, is_travel_zone
from glucolab.reading.bringing.inferring.nutrients import settle_nutrient
from glucolab.reading.bringing.inferring.running import settle_running
from glucolab.reading.bringing.inferring.times import Dates, Timing, settle_order
from glucolab.reading.bringing.inferring.values import (
    settle_amount,
    settle_decimal,
    truth_words,
    units_in_cells,
)
from glucolab.reading.bringing.inferring.zones import settle_zones
from glucolab.reading.bringing.mapping.apply import unit_of
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.cautions import is_goal
from glucolab.reading.bringing.vocabulary.matching import find_word, likeness, split_name
from glucolab.reading.bringing.vocabulary.units import LABORATORY_UNITS
from glucolab.reading.bringing.vocabulary.words import CHOICES, UNIT, WALKS
from glucolab.reading.text import plain, show
from glucolab.record import INPUT_TABLES, OUTPUT_TABLES

_ANYWHERE = Dates(None, None)
_MOST_CODES = 6
"""A column of more different texts is no list of codes. Assumed."""


def build_sources(
    table: str,
    timing: Timing,
    columns: dict[str, Facts],
    facts: Sequence[Facts],
    context: Sequence[str],
    dates: Dates,
    answers: Answers,
    said: list[str],
) -> tuple[dict[str, Source], str]:
    """The source of each column of ours, and the decimal mark of the file.

    Parameters
    ----------
    table : str
    timing : Timing
    columns : dict of str to Facts
        The file's column for each of ours, times apart.
    facts : sequence of Facts
        All columns of the file.
    context : sequence of str
        Cells of the lines above the table.
    dates : Dates
        Of the wear.
    answers : Answers
    said : list of str
        Grows by how the file was understood.
    """
    by_name = {f.name: f for f in facts}
    running: tuple[str, ...] = ()
    if table in ("movement", "meals", "days"):
        times = [by_name[name] for name in next(iter(timing.sources.values())).columns]
        columns, running = settle_running(table, columns, times, answers, said)
    used = {name for source in timing.sources.values() for name in source.columns}
    sources = _settle_times(table, timing, used, facts, context, dates, answers, said)
    spans = _find_spans(sources, timing, facts)
    if table == "sleep":
        sources = settle_daytime(sources, facts, spans, answers)
    lengths = [source for source in sources.values() if source.reads.startswith("length")]
    taken = {f.name for f in columns.values()} | used
    covariates = _find_covariates(table, facts, taken, said)
    numbers = {name: f for name, f in columns.items() if f.is_number and _is_amount(table, name)}
    numbers |= {
        source.columns[0]: by_name[source.columns[0]] for source in lengths if by_name[source.columns[0]].is_number
    }
    decimal = settle_decimal(numbers | {n: f for n, f in covariates.items() if f.is_number}, answers, said)
    for name, source in sources.items():
        if source.reads.startswith("length"):
            f = by_name[source.columns[0]]
            sources[name] = settle_length(source, f, spans, table == "sleep", decimal, answers, said)
    for name, f in columns.items():
        if unit_of(name) == "min":
            is_sleep = name == "asleep_min"
            source = settle_length(Source((f.name,)), f, spans if is_sleep else {}, is_sleep, decimal, answers, said)
            sources[name] = source
        else:
            sources |= _build(table, name, columns, facts, " ".join(context), decimal, answers, said)
    sources |= {name: replace(sources[name], reads="running") for name in running if name in sources}
    sources |= {name: Source((f.name,), words=truth_words(f.filled) or {}) for name, f in covariates.items()}
    if table == "notes":
        sources |= build_kinds(columns, answers, said) | build_travel_zone(facts, said)
    if table == "activity" and "kind" not in sources:
        kind = answers.said.get("kind", "")
        sources["kind"] = Source(always=kind or "movement")
        said.append(
            f'no column says what kind of movement it was: "{sources["kind"].always}" is written (or --say kind=walk)'
        )
    if table == "checks" and "source" not in sources and (word := find_finger([*(f.name for f in facts), *context])):
        sources["source"] = Source(always="fingerstick")
        said.append(f'"{show(word)}" says that they are finger-sticks')
    return _labs_unit(table, sources, columns, said), decimal


def _settle_times(
    table: str, timing: Timing, used: set[str], facts: Sequence[Facts], context: Sequence[str], dates: Dates,
    answers: Answers, said: list[str],
) -> dict[str, Source]:  # fmt: skip
    """The sources of the times, with the order of their dates, their year and their zone."""
    if table not in ("days", "labs"):
        want_halves([f for f in facts if f.name in used], [f for f in facts if f.name not in used])
    dated = [f for f in facts if f.name in used and (f.is_moment or f.is_day)]
    order = settle_order(dated, _ANYWHERE if table == "labs" else dates, answers, said)
    years = {f.name: f.year for f in facts if f.year}
    sources = {
        name: replace(source, order=order, year=next((years[c] for c in source.columns if c in years), ""))
        for name, source in timing.sources.items()
    }
    if table in ("days", "labs"):
        return sources
    stated = [f for f in facts if table != "notes" or not is_travel_zone(f)]
    return settle_zones(sources, stated, context, answers, said)


def _find_spans(sources: dict[str, Source], timing: Timing, facts: Sequence[Facts]) -> dict[int, float]:
    """Minutes from start to end of each row, where the file has both. [min]"""
    start, end = sources.get("start"), sources.get("end")
    if start is None:
        return {}
    ends = list(end.columns) if end is not None and not end.reads else list(timing.beside)
    by_name = {f.name: f for f in facts}
    return clock_spans([by_name[one] for one in start.columns], [by_name[one] for one in ends])


def _is_amount(table: str, name: str) -> bool:
    return any(column.name == name and column.kind == "number" for column in INPUT_TABLES[table].columns)


def _build(
    table: str, name: str, columns: dict[str, Facts], facts: Sequence[Facts], context: str, mark: str,
    answers: Answers, said: list[str],
) -> dict[str, Source]:  # fmt: skip
    """The source of one column, or of the two limits that stand in one; none if its unit does not fit."""
    f = columns[name]
    source = Source((f.name,))
    if name == "range":
        return {bound: Source((f.name,), bound=bound) for bound in ("low", "high")}
    if name == "glucose":
        units = next((g for g in facts if likeness(g.bare, UNIT) > 0 and g is not f and not g.is_number), None)
        source = settle_glucose_unit(source, f, units, context, mark, answers, said)
        return {name: source} if not f.beside else _build_turns(source, f, columns, said)
    two = next((c.choices for c in INPUT_TABLES[table].columns if c.name == name and len(c.choices) == 2), ())
    if two and (truths := truth_words(f.filled)) and (yes := find_word(f.bare, CHOICES[name])):
        no = next(choice for choice in two if choice != yes)
        said.append(f'yes below "{show(f.name)}" is read as {yes}, no as {no}')
        return {name: replace(source, words={cell: yes if truth == "1" else no for cell, truth in truths.items()})}
    if name == "taken":
        return _build_taken(source, f, answers, said)
    unit = unit_of(name)
    if _is_amount(table, name):
        settled = settle_amount(name, source, f, unit, mark, answers, said)
        if settled is not None and table == "meals":
            settled = settle_nutrient(name, settled, f, columns, facts, context, mark, answers, said)
        return {name: settled} if settled is not None else {}
    if (table, name) == ("activity", "kind"):
        walks = {cell: "walk" for cell in dict.fromkeys(f.filled) if likeness(cell, WALKS) > 0 and cell != "walk"}
        if walks:
            said.append(f"{', '.join(f'“{show(cell)}”' for cell in walks)} is brought as walk")
        return {name: replace(source, words=walks)}
    return {name: source}


def _build_turns(settled: Source, f: Facts, columns: dict[str, Facts], said: list[str]) -> dict[str, Source]:
    """Glucose out of two columns that take turns, and how each was taken where their names say it."""
    both = (f.name, f.beside)
    said.append(f'"{show(f.name)}" and "{show(f.beside)}" take turns, a row fills one of them: both are brought')
    ways = {one: find_word(split_name(one)[0], CHOICES["taken"]) for one in both}
    sources = {"glucose": replace(settled, columns=both)}
    if "taken" not in columns and all(ways.values()) and len(set(ways.values())) == 2:
        sources["taken"] = Source(both, words={one: way for one, way in ways.items() if way})
    return sources


def _build_taken(source: Source, f: Facts, answers: Answers, said: list[str]) -> dict[str, Source]:
    """How readings were taken, where the words say it; codes are asked, and a column without such words stays out."""
    cells = sorted(set(f.filled))
    if all(find_word(cell, CHOICES["taken"]) for cell in cells):
        return {"taken": source}
    if len(cells) == 1 or len(cells) > _MOST_CODES:
        return {}
    first, last = (" and ".join(f'"{show(cell)}"' for cell in part) for part in (cells[:1], cells[1:]))
    choices = (
        ("leave_out", "it does not matter: every row is a reading of the sensor"),
        ("automatic_first", f"{first} came by itself, {last} by hand"),
        ("by_hand_first", f"{first} by hand, {last} came by itself"),
    )
    text = f'"{show(f.name)}" holds {first} and {last}, which is not known here'
    answer = answers.ask(Question("taken", text, choices))
    if answer == "leave_out":
        return {}
    ways = ("automatic", "by_hand") if answer == "automatic_first" else ("by_hand", "automatic")
    words = {cell: ways[0] if cell == cells[0] else ways[1] for cell in cells}
    said.append(f'"{show(f.name)}" is read as you said')
    return {"taken": replace(source, words=words)}


def _find_covariates(table: str, facts: Sequence[Facts], taken: set[str], said: list[str]) -> dict[str, Facts]:
    """Further columns of days that are numbers or truths, under names that may stand in days.csv."""
    if table != "days":
        return {}
    found: dict[str, Facts] = {}
    refused = {column.name for column in OUTPUT_TABLES["daily"].columns} | set(INPUT_TABLES["days"].names)
    for f in facts:
        if f.name in taken or is_goal(f.name) or f.is_time or not (f.is_number or truth_words(f.filled)):
            continue
        name = plain(f.name).replace(" ", "_")
        if name in refused or name in found:
            said.append(f'"{show(f.name)}" is not brought: {name} is the name of another column')
        elif name:
            found[name] = f
    if found:
        said.append(f"further columns of days are covariates: {', '.join(found)}")
    return found


def _labs_unit(table: str, sources: dict[str, Source], columns: dict[str, Facts], said: list[str]) -> dict[str, Source]:
    """Laboratory values whose unit stands in the header of the value, or in letters that labs.csv does not write."""
    if table != "labs":
        return sources
    if "unit" in sources:
        written = {cell: LABORATORY_UNITS.get("".join(cell.lower().split()), "") for cell in columns["unit"].filled}
        words = {cell: unit for cell, unit in written.items() if unit}
        return sources | {"unit": replace(sources["unit"], words=words)}
    if in_cells := units_in_cells(columns["value"].filled):
        said.append(f'units stand beside the values of "{show(columns["value"].name)}"')
        return sources | {"unit": Source((columns["value"].name,), words=in_cells)}
    unit = columns["value"].inside[0]
    said.append(f"every value is in {unit}")
    return sources | {"unit": Source(always=unit)}
