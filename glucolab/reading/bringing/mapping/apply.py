"""What does a foreign table hold in our words? Rows of the contract by its mapping, and what was left out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans
from glucolab.errors import NothingToDo, Problem
from glucolab.reading.bringing.cells.amounts import read_amounts
from glucolab.reading.bringing.grids.grid import Grid
from glucolab.reading.bringing.grids.layout import Layout, lay_out
from glucolab.reading.bringing.mapping.choices import read_choice, read_text, read_truth
from glucolab.reading.bringing.mapping.chosen_rows import choose_rows, find_trailing, join_sessions
from glucolab.reading.bringing.mapping.glucose import read_glucose
from glucolab.reading.bringing.mapping.import_result import Brought
from glucolab.reading.bringing.mapping.mapping import LOCAL, Mapping, Source
from glucolab.reading.bringing.mapping.overlaps import word_overlaps
from glucolab.reading.bringing.mapping.quantities import read_quantity
from glucolab.reading.bringing.mapping.repeated_hour import find_untold
from glucolab.reading.bringing.mapping.stages import join_stages
from glucolab.reading.bringing.mapping.times import (
    end_after,
    keep_clock,
    minutes_between,
    place_in_zones,
    read_clocks,
    read_dates,
    read_night,
    read_times,
    settle,
    shift_times,
)
from glucolab.reading.bringing.vocabulary.analytes import cannot_be
from glucolab.reading.cells import Faults, Texts
from glucolab.reading.tables import count_many
from glucolab.reading.text import show
from glucolab.record import INPUT_TABLES, Column

_DAY = 1440.0
_MOST_CODES, _MOST_WRONG = 2, 0.1
"""More different cells than these, in more than this share of a column, that cannot be what it is read as: it is
something else. Assumed: more lets a column in another unit pass cell by cell, less loses one for typing errors."""


class _Reader:
    """Reads the columns of one body, each from its source; keeps what was wrong with cells."""

    def __init__(self, layout: Layout, mapping: Mapping, zones: ZoneSpans, file: str):
        self.layout, self.mapping, self.zones, self.file = layout, mapping, zones, file
        self.texts: dict[str, Texts] = {}
        self.units: Texts = [""] * len(layout.rows)
        self.faults: dict[str, Faults] = {}
        self.said: list[str] = []

    def read(self, name: str, column: Column) -> None:
        """Read one column of ours."""
        source = self.mapping.sources[name]
        if source.always:
            self.texts[name], self.faults[name] = [source.always] * len(self.layout.rows), {}
            return
        cells = [self._cells(written, name) for written in source.columns]
        if name in ("glucose", "taken") and len(cells) == 2:  # a row fills one of the two
            which = [source.columns[0 if one else 1] if one or other else "" for one, other in zip(*cells, strict=True)]
            joined = [one or other for one, other in zip(*cells, strict=True)]
            cells = [joined if name == "glucose" else which]
        texts, self.faults[name] = self._read_kind(name, column, source, cells)
        self.texts[name] = self._differ(texts) if source.reads == "running" else texts

    def end_next_day(self) -> None:
        """Ends before their starts, which have one date with them, on the day after."""
        starts, ends = (settle(self.texts[name], self.zones) for name in ("start", "end"))
        before = np.flatnonzero(ends < starts)
        for i in before.tolist():
            self.texts["end"][i] = shift_times([self.texts["end"][i]], _DAY)[0]

    def _differ(self, texts: Texts) -> Texts:
        """What a running total grew by since the row before, in the order of time; where it falls it began anew.

        The first row of meals is that of a day, which begins with nothing; of all else it tells nothing.
        """
        moments = settle(self.texts["time"], self.zones) if "time" in self.texts else self.texts["date"]
        order = np.argsort(moments, kind="stable")
        totals = _numbers(texts)[order]
        before = pd.Series(totals).ffill().shift().to_numpy()
        grown = np.where(totals < before, totals, totals - before)
        if self.mapping.table == "meals":
            grown = np.where(np.isnan(before), totals, grown)
        found = np.empty(len(texts))
        found[order] = grown
        return [f"{value:.10g}" if np.isfinite(value) else "" for value in found]

    def _place(self, texts: Texts, faults: Faults, source: Source, name: str) -> tuple[Texts, Faults]:
        """Times in the zone that is stated for them; those of no zone that the wearer's clocks skipped are named."""
        if source.zone not in ("", LOCAL) or source.zone_from:
            zones = self._cells(source.zone_from, name) if source.zone_from else None
            texts, more = place_in_zones(texts, source, zones, name)
            return texts, faults | more
        texts, more, said = keep_clock(texts, self.zones, name)
        self.said += [said] if said else []
        return texts, faults | more

    def _cells(self, written: str, name: str) -> Texts:
        place = self.layout.place(written)
        if place is None:
            there = ", ".join(map(show, self.layout.names))
            raise NothingToDo(f'{self.file} has no column "{show(written)}" for {name}; it has {there}')
        return self.layout.cells(place)

    def _read_kind(self, name: str, column: Column, source: Source, cells: list[Texts]) -> tuple[Texts, Faults]:
        mark = self.mapping.decimal
        if source.reads == "length_after_start":
            lengths, faults = read_quantity(cells[0], source, Column(name, "number", "", low=0.0), "min", mark)
            return end_after(self.texts["start"], _numbers(lengths), self.zones), faults
        if source.reads == "end":
            ends, faults = self._place(*read_times(cells, source, name), source, name)
            minutes = minutes_between(self.texts["start"], ends, self.zones)
            minutes += np.where((len(cells) == 2) & (minutes < 0), _DAY, 0.0)  # one date, and the end after midnight
            return [f"{m:.6g}" if np.isfinite(m) else "" for m in minutes], faults
        if source.night:
            return self._place(*read_night(cells, source, name, is_end=name == "end"), source, name)
        if column.kind == "time":
            return self._place(*read_times(cells, source, name), source, name)
        if column.kind == "date":
            return read_dates(cells[0], source, name)
        if column.kind == "clock":
            return read_clocks(cells[0], source, name)
        if column.kind == "choice":
            return read_choice(cells[0], source, column)
        if column.kind == "true_false":
            return read_truth(cells[0], source, column)
        if column.kind == "number":
            if name == "glucose":
                stated = self._cells(source.unit_from, name) if source.unit_from else None
                texts, self.units, faults = read_glucose(cells[0], source, stated, mark)
                return texts, faults
            eaten = self._cells(source.of, name) if source.of else None
            return read_quantity(cells[0], source, column, unit_of(name), mark, eaten)
        return read_text([": ".join(filter(None, texts)) for texts in zip(*cells, strict=True)], source)


def unit_of(name: str) -> str:
    """The unit that a column's name ends in, in the words of `amounts.FACTORS`; "" for none."""
    if name == "minutes":
        return "min"
    end = name.rsplit("_", 1)[-1]
    return end if "_" in name and end in ("g", "mg", "kcal", "min", "bpm", "ms") else ""


def _numbers(texts: Texts) -> np.ndarray:
    return np.array([float(text) if text else np.nan for text in texts], dtype=float)


def apply_mapping(grid: Grid, mapping: Mapping, zones: ZoneSpans) -> Brought:
    """Rows of the contract out of a foreign table.

    Parameters
    ----------
    grid : Grid
    mapping : Mapping
    zones : ZoneSpans
        What the wearer's clocks showed.

    Returns
    -------
    Brought
        Its one table may be empty, if no row could be read.

    Raises
    ------
    NothingToDo
        If the mapping names a line or a column that the file has not.
    """
    whole = lay_out(grid, mapping.header)
    layout, passed = choose_rows(whole, mapping, grid.file)
    table = INPUT_TABLES[mapping.table]
    reader = _Reader(layout, mapping, zones, grid.file)
    known = {column.name: column for column in table.columns}
    for name in sorted(mapping.sources, key=lambda name: name not in ("start", "time", "date")):
        reader.read(name, known.get(name, _named_covariate(name)))
    if mapping.table == "labs":
        _refuse_impossible(reader)
    if mapping.table == "notes" and len(mapping.sources.get("end", Source()).columns) == 2:
        reader.end_next_day()
    if mapping.table in ("glucose", "movement"):
        _refuse_untold(reader)
    needed: list[tuple[str, ...]] = [(column.name,) for column in table.columns if column.required]
    if mapping.table == "meals":
        needed.insert(0, ("time", "photo"))
    required = {name for names in needed for name in names}
    values = tuple(name for name in mapping.sources if name not in ("time", "date", "source"))
    if mapping.table in ("movement", "feelings", "days"):
        needed.append(values)
    misread = _empty_misread(reader, required, grid.file)
    kept, problems = _sort_out(reader, needed, grid.file)
    problems += misread
    faults = [Problem(grid.file, text, line) for line, text in (*grid.faults, *whole.faults)]
    columns = {name: reader.texts[name] for name in _in_order(mapping, list(known))}
    frame = pd.DataFrame(columns, index=pd.Index(layout.lines, name="line"), dtype=object)
    if "glucose" in frame:
        frame["unit"] = reader.units
    frame = frame[kept]
    if mapping.stages:
        place = layout.place(mapping.stages)
        if place is None:
            raise NothingToDo(f'{grid.file} has no column "{show(mapping.stages)}" of stages')
        cells = [cell for cell, is_kept in zip(layout.cells(place), kept, strict=True) if is_kept]
        frame, said, more = join_stages(frame, cells, zones, grid.file)
        reader.said.append(said)
        problems += more
    problems += word_overlaps(frame, zones, grid.file) if mapping.table == "sleep" else []
    if mapping.joins:
        frame = join_sessions(frame, reader.said)
    return Brought(grid.file, {mapping.table: frame}, tuple(reader.said), (*faults, *passed, *problems))


def _refuse_impossible(reader: _Reader) -> None:
    """Leave out laboratory values that nobody has in their unit: unit or value is wrong."""
    texts = reader.texts
    for i, (analyte, value, unit) in enumerate(zip(texts["analyte"], texts["value"], texts["unit"], strict=True)):
        number = _numbers([value.lstrip("<>")])[0]
        if np.isfinite(number) and cannot_be(analyte, number, unit):
            text = f'value "{show(value)}" of "{show(analyte)}" cannot be in {show(unit)}'
            reader.faults["value"][i], texts["value"][i] = text, ""


def _refuse_untold(reader: _Reader) -> None:
    """Leave out readings of which nothing tells whether they are of the first or the second of two equal hours."""
    times = reader.texts["time"]
    read = [texts for name, texts in reader.texts.items() if name != "time"]
    untold = find_untold(times, list(map("\n".join, zip(*read, strict=True))), reader.zones, "time")
    reader.texts["time"] = ["" if i in untold else text for i, text in enumerate(times)] if untold else times
    reader.faults["time"] |= untold


def _empty_misread(reader: _Reader, required: set[str], file: str) -> list[Problem]:
    """Empty columns of which so many cells cannot be what they are read as that the others are none either.

    One or two cells that stand again and again are a device's codes for nothing, and say nothing of the others.
    """
    problems = []
    for name in [name for name in reader.faults if name not in required]:
        source, faults = reader.mapping.sources[name], reader.faults[name]
        place = reader.layout.place(source.columns[0]) if len(source.columns) == 1 else None
        cells = reader.layout.cells(place) if place is not None else []
        numbers = np.isfinite(read_amounts(cells, reader.mapping.decimal).values)
        wrong = [i for i in faults if numbers.any() and numbers[i]]
        if len({cells[i] for i in wrong}) > _MOST_CODES and len(wrong) > _MOST_WRONG * numbers.sum():
            text = f"{len(wrong)} of {numbers.sum()} numbers cannot be {name} ({faults[wrong[0]]}): it is not brought"
            problems.append(Problem(file, text))
            reader.texts[name], reader.faults[name] = [""] * len(cells), {}
    return problems


def _in_order(mapping: Mapping, names: list[str]) -> list[str]:
    return sorted(mapping.sources, key=lambda name: names.index(name) if name in names else len(names))


def _named_covariate(name: str) -> Column:
    """A further column of days: a number, or a truth where the guess found words of truth."""
    return Column(name, "number", "")


def _sort_out(reader: _Reader, needed: Sequence[tuple[str, ...]], file: str) -> tuple[np.ndarray, list[Problem]]:
    """Which rows are kept, and what is told of the others: rows of sums and remarks, and rows that cannot be read.

    A row needs one of the columns of each entry of `needed`.
    """
    lines, rows = reader.layout.lines, reader.layout.rows
    kept = np.ones(len(rows), dtype=bool)
    for names in needed:
        columns = [reader.texts[name] for name in names if name in reader.texts]
        for i, texts in enumerate(zip(*columns, strict=True)):
            if not any(texts):
                kept[i] = False
                reader.faults.setdefault(names[0], {}).setdefault(i, f"{' and '.join(names)} is empty")
    required = {names[0] for names in needed}
    problems: list[Problem] = []
    trailing = find_trailing(kept, rows)
    for i in trailing:
        what = next((cell for cell in rows[i] if cell), "")
        problems.append(Problem(file, f'"{show(what)}" is no row of the table', lines[i], left_out=False))
    for name, faults in reader.faults.items():
        found = [
            Problem(
                file,
                f"{text}; the cell is left empty" if kept[i] else f"{text}; the row is left out",
                lines[i],
            )
            for i, text in sorted(faults.items())
            if i not in trailing and (kept[i] or name in required)
        ]
        problems += count_many(found, f"cells of {name}")
    return kept, sorted(problems, key=lambda problem: problem.line or 0)
