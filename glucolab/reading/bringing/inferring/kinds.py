"""Can the content of a file be what its columns are called? What speaks against a table of ours, and for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from glucolab.reading.bringing.cells.amounts import find_unit, read_amounts, read_length
from glucolab.reading.bringing.cells.moments import DIGITS, MINUTES, SERIAL, SINCE_1970, take_digits
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.lengths import clock_spans
from glucolab.reading.bringing.inferring.notes import is_of_notes
from glucolab.reading.bringing.inferring.rivals import find_meals_beside
from glucolab.reading.bringing.inferring.times import Timing
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.analytes import names_analytes, names_laboratory
from glucolab.reading.bringing.vocabulary.cautions import (
    find_stage,
    names_food,
    names_move,
    names_moves,
)
from glucolab.reading.bringing.vocabulary.matching import likeness
from glucolab.reading.bringing.vocabulary.remarks import names_record
from glucolab.reading.bringing.vocabulary.units import GLUCOSE_UNIT_WORDS, OTHER_CONCENTRATIONS
from glucolab.reading.bringing.vocabulary.words import COLUMNS, GENERIC_GLUCOSE, KINDS_OF_ROW, TO_BED, WOKE
from glucolab.reading.text import plain, show

LONGEST_STEP_MIN = 61.0
"""Sensors write a value each 1 to 15 min, and exports of them at least one an hour. Common practice, no source."""
_SURE_STEP_MIN, _SURE_COUNT = 30.0, 24
"""So many values so close are no finger-sticks. A glucose tolerance test has up to nine. Assumed."""
_ONE_PAIR = 2.0
"""Two values minutes apart on a day say nothing of a step. [values a day]"""
_LONGER = 0.75
"""Share of the steps below which `longer_step_min` lies: of pairs of finger-sticks, as many are long. Assumed."""
_SHORTEST_NIGHT_MIN, LONGEST_NIGHT_MIN = 120.0, 960.0
"""Between these lies the median of the sleeps that a log holds. Assumed."""
_SHORTEST_MOVE_MIN, _LONGEST_MOVE_MIN = 2.0, 360.0
"""Half of what a log of movement holds lies between. Assumed: noises of a night last seconds, nights hours."""
_LEAST_BETWEEN_MIN = 5.0
"""One person's marks of how they feel lie further apart. Assumed: less lets a survey of many pass."""
_HALF, _MOST = 0.5, 0.9
_DAY_MIN = 1440


@dataclass(frozen=True)
class Cadence:
    """How close in time the rows of a table stand.

    Attributes
    ----------
    count : int
        Rows whose time is known.
    step_min : float
        Median step between following ones of a day, NaN if there is none. [min]
    longer_step_min : float
        What three in four of these steps are below. [min]
    per_day : float
        Median number of them a day.
    """

    count: int
    step_min: float
    longer_step_min: float
    per_day: float

    @property
    def is_dense(self) -> bool:
        """As a sensor's values stand, and not as a few pairs of finger-sticks do."""
        return self.longer_step_min <= LONGEST_STEP_MIN and self.per_day > _ONE_PAIR

    @property
    def is_surely_sensor(self) -> bool:
        """As no finger-sticks stand."""
        return self.is_dense and self.step_min <= _SURE_STEP_MIN and self.count >= _SURE_COUNT


def find_cadence(source: Source, facts: Sequence[Facts]) -> Cadence:
    """How close the moments of a source stand, whatever the order of its rows and of its dates."""
    steps: list[np.ndarray] = []
    days = read_days(source, facts)
    for minutes in days.values():
        step = np.diff(np.unique(minutes))
        steps.append(step)
    known = np.concatenate(steps) if steps else np.array([])
    counts = [len(minutes) for minutes in days.values()]
    return Cadence(
        sum(counts),
        float(np.median(known)) if known.size else np.nan,
        float(np.quantile(known, _LONGER)) if known.size else np.nan,
        float(np.median(counts)) if counts else np.nan,
    )


def read_days(source: Source, facts: Sequence[Facts]) -> dict[object, list[float]]:
    """Minutes of the day of every row, by its date as it is written."""
    by_name = {f.name: f for f in facts}
    first, last = by_name[source.columns[0]], by_name[source.columns[-1]]
    found: dict[object, list[float]] = {}
    if source.since in SINCE_1970:
        for cell in first.filled:
            minutes = float(cell) / SINCE_1970[source.since] / 60
            found.setdefault(minutes // _DAY_MIN, []).append(minutes % _DAY_MIN)
        return found
    if source.since == SERIAL:
        for cell in first.filled:
            day, part = divmod(float(cell.replace(",", ".")), 1)
            found.setdefault(day, []).append(part * _DAY_MIN)
        return found
    taken = [take_digits(cell) for cell in last.filled] if source.since == DIGITS else last.written
    clocks = dict(zip(last.rows, taken, strict=True))
    if source.since == MINUTES:
        values = dict(zip(last.rows, read_amounts(last.filled, ".").values, strict=True))
    dates = dict(zip(first.rows, first.written, strict=True))
    date = None
    for row in last.rows:
        written = dates.get(row)
        date = written.numbers if written and written.numbers else date
        clock = clocks[row]
        if source.since == MINUTES:
            found.setdefault(date, []).append(float(values[row]))
        elif clock and clock.clock:
            found.setdefault(date, []).append(60 * clock.clock[0] + clock.clock[1] + clock.clock[2] / 60)
    return found


def find_contradiction(table: str, timing: Timing, columns: dict[str, Facts], facts: Sequence[Facts]) -> str:
    """Why a file cannot be a table of ours though it has the columns for it; "" if it can."""
    if table == "days":
        return _refuse_days(timing, facts)
    if table in ("sleep", "activity"):
        return _refuse_spans(table, timing, columns, facts)
    if table == "labs":
        return _refuse_labs(timing, columns, facts)
    if table == "meals" and (reason := find_meals_beside(timing, facts)):
        return reason
    if table == "meals" and names_moves(columns["name"].filled):
        return f'"{show(columns["name"].name)}" names kinds of movement, not food'
    if table in ("glucose", "checks"):
        listing = next((f for f in facts if _is_text(f) and names_analytes(f.filled)), None)
        values = columns["glucose"]
        if listing is not None and 2 * len(listing.filled) >= len(values.filled):
            return f'"{show(listing.name)}" names what a laboratory measures beside glucose'
    if table in ("checks", "movement", "feelings"):
        cadence = find_cadence(timing.sources["time"], facts)
        if table == "checks" and cadence.is_surely_sensor:
            return f"a value every {cadence.step_min:.3g} minutes is a sensor's, and no finger-stick"
        if table == "feelings" and cadence.count > 2 and cadence.step_min < _LEAST_BETWEEN_MIN:
            return f"marks {cadence.step_min:.2g} minutes apart are those of several people"
        if table == "movement" and not cadence.is_dense:
            return "its rows stand further apart than what a wrist writes by the minute or the quarter of an hour"
    return ""


def _refuse_days(timing: Timing, facts: Sequence[Facts]) -> str:
    day = next(f for f in facts if f.name == timing.sources["date"].columns[0])
    dates = Counter(one.numbers for one in day.written if one and one.numbers)
    if dates.total() > 1 and len(dates) < _MOST * dates.total():
        date, count = dates.most_common(1)[0]
        cell = next(c for c, one in zip(day.filled, day.written, strict=True) if one and one.numbers == date)
        return f'it has {count} rows of one day, such as "{show(cell)}", and days has one'
    clocks = {one.clock for one in day.written if one and one.clock}
    if len(clocks) > 1:
        return f'"{show(day.name)}" says when within a day, and days are whole'
    foods = [f for f in facts if not f.is_number and not f.is_time and names_food(f.bare)]
    if foods and len(set(foods[0].filled)) > 1:
        return f'"{show(foods[0].name)}" names food: meals need the time at which they were eaten'
    return ""


def _refuse_spans(table: str, timing: Timing, columns: dict[str, Facts], facts: Sequence[Facts]) -> str:
    minutes = find_lengths(timing, facts)
    median = float(np.median(minutes)) if minutes.size else np.nan
    if table == "activity":
        if (stage := find_stage_column(facts)) is not None:
            return f'"{show(stage.name)}" names stages of sleep, not movement'
        if median > _LONGEST_MOVE_MIN:
            return f"half of its rows last longer than {median / 60:.2g} hours, as no movement does"
        if median < _SHORTEST_MOVE_MIN:
            return f"half of its rows last {60 * median:.3g} seconds or less, as no movement does"
        kind = columns.get("kind")
        if kind is not None and _share(kind.filled, _is_sleep_word) >= _HALF:
            return f'"{show(kind.name)}" names sleep, not movement'
        return ""
    moving = next((f for f in facts if _is_text(f) and names_moves(f.filled)), None)
    if moving is not None:
        return f'"{show(moving.name)}" names kinds of movement, not sleep'
    if find_stage_column(facts) is None and not _SHORTEST_NIGHT_MIN <= median <= LONGEST_NIGHT_MIN and minutes.size:
        return f"half of its rows last {median:.3g} minutes or less, which is no night"
    return ""


def _refuse_labs(timing: Timing, columns: dict[str, Facts], facts: Sequence[Facts]) -> str:
    day = next(f for f in facts if f.name == timing.sources["date"].columns[0])
    dates = {row: one.numbers for row, one in zip(day.rows, day.written, strict=True) if one}
    analyte = columns["analyte"]
    concentrations = {cell.lower() for f in facts if _is_text(f) for cell in set(f.filled)}
    if not names_laboratory(analyte.filled) and concentrations.isdisjoint(OTHER_CONCENTRATIONS):
        return f'nothing below "{show(analyte.name)}" is known as what a laboratory measures'
    counts = Counter(
        (dates.get(row), plain(cell) or cell) for row, cell in zip(analyte.rows, analyte.filled, strict=True)
    )
    if counts and float(np.median(list(counts.values()))) > 2:
        (_, word), count = counts.most_common(1)[0]
        return f'it has {count} values of "{show(word)}" on one day, as no laboratory measures'
    return ""


def find_lengths(timing: Timing, facts: Sequence[Facts]) -> np.ndarray:
    """Minutes that rows last, where that is plain: by their ends, else by lengths with a unit. [min]"""
    start = timing.sources["start"]
    end = timing.sources.get("end", timing.sources.get("minutes"))
    if end is None:
        return np.array([])
    by_name = {f.name: f for f in facts}
    if end.reads.startswith("length") and not timing.beside:
        return _written_lengths(by_name[end.columns[0]])
    ends = timing.beside or end.columns
    spans = clock_spans([by_name[one] for one in start.columns], [by_name[one] for one in ends])
    return np.array(list(spans.values()), dtype=float)


def _written_lengths(f: Facts) -> np.ndarray:
    lengths = [read_length(cell) for cell in f.filled]
    return np.array([minutes for minutes in lengths if minutes is not None], dtype=float)


def find_stage_column(facts: Sequence[Facts]) -> Facts | None:
    """The column whose cells name stages of sleep; None where there is none."""
    texts = [f for f in facts if _is_text(f) and len(set(f.filled)) > 1 and not names_record(f.bare)]
    return next((f for f in texts if _share(f.filled, find_stage) >= _HALF), None)


def _is_sleep_word(cell: str) -> bool:
    return likeness(cell, KINDS_OF_ROW["sleep"]) > 0 or find_stage(cell) is not None


def _is_text(f: Facts) -> bool:
    return not f.is_time and not f.is_number


def _share(cells: Iterable[str], holds: object) -> float:
    distinct = set(cells)
    return sum(bool(holds(cell)) for cell in distinct) / len(distinct) if distinct else 0.0  # type: ignore[operator]


def is_named(
    table: str, columns: dict[str, Facts], timing: Timing, facts: Sequence[Facts], hints: Sequence[str]
) -> bool:
    """True if a word of the file, its columns, cells or the lines above them says that it is this table."""
    if any(likeness(hint, KINDS_OF_ROW.get(table, ())) > 0 for hint in hints):
        return True
    if table in ("glucose", "checks"):
        return _names_glucose(columns["glucose"], facts, hints)
    if table == "meals":
        return names_food(columns["name"].bare) or len(columns.keys() - {"name", "note", "setting", "photo"}) > 0
    if table == "notes":
        return is_of_notes(columns, timing, facts, hints)
    if table == "activity":
        kind = columns.get("kind")
        words = KINDS_OF_ROW["activity"]
        if kind is None:  # a text that is no kind of movement says what else it is
            timed = {name for source in timing.sources.values() for name in source.columns}
            return not any(_is_text(f) and f.name not in timed for f in facts)
        return likeness(kind.bare, words) > 0 or _share(kind.filled, names_move) > 0.25
    if table == "sleep":
        if find_stage_column(facts) is not None:
            return True
        used = [name for source in timing.sources.values() for name in source.columns]
        words = (*TO_BED, *WOKE, *KINDS_OF_ROW["sleep"], *COLUMNS["sleep"]["asleep_min"])
        stages = [f for f in facts if f.is_length and find_stage(f.bare)]
        if len(stages) > 1 or "awakenings" in columns:
            return True
        return any(likeness(f.bare, words) > 0 for f in facts if f.name in used or f in columns.values())
    return True


def _names_glucose(f: Facts, facts: Sequence[Facts], hints: Sequence[str]) -> bool:
    named = [word for word in COLUMNS["checks"]["glucose"] if word not in GENERIC_GLUCOSE]
    if likeness(f.bare, named) > 0:
        return True
    units = [*f.inside, *set(read_amounts(f.filled[:100], ".").units), *hints]
    units += [cell for g in facts if _is_text(g) for cell in set(g.filled[:100])]
    return any(find_unit(text, GLUCOSE_UNIT_WORDS) for text in units)
