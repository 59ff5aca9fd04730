"""What may a foreign table mean? A mapping proposed from its content; what has two readings is asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.grid import Grid
from glucolab.reading.bringing.grids.layout import Layout, find_header, lay_out
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts, find_facts
from glucolab.reading.bringing.inferring.columns import build_sources
from glucolab.reading.bringing.inferring.times import Dates, Timing, find_day, find_moment, find_start_and_end
from glucolab.reading.bringing.mapping.mapping import BRINGABLE, Mapping, Source
from glucolab.reading.bringing.vocabulary.matching import find_word, likeness, match_columns
from glucolab.reading.bringing.vocabulary.words import COLUMNS, DATE, KINDS_OF_ROW, RANGE, VALUE
from glucolab.reading.meal_names import MEALS_OF_THE_DAY
from glucolab.reading.text import plain, show
from glucolab.record import INPUT_TABLES

_MOST_KINDS = 12
_LONGEST_STEP_MIN = 61.0
"""Sensors write a value each 1 to 15 min, and exports of them at least one an hour. Common practice, no source."""
_CLOSE = 0.35


@dataclass(frozen=True)
class Guess:
    """A mapping, and in plain sentences how the file was understood."""

    mapping: Mapping
    said: tuple[str, ...]


@dataclass(frozen=True)
class Match:
    """One table of ours that a file may be.

    Attributes
    ----------
    table : str
    timing : Timing
    columns : dict of str to Facts
        The file's column for each of ours, times apart.
    worth : float
        How much the names spoke for it.
    """

    table: str
    timing: Timing
    columns: dict[str, Facts]
    worth: float


def guess_mapping(grid: Grid, dates: Dates, answers: Answers, *, table: str | None = None, sheet: str = "") -> Guess:
    """Propose how a foreign table comes in.

    Parameters
    ----------
    grid : Grid
    dates : Dates
        First and last day of the wear, by which dates of two readings may be told.
    answers : Answers
        What the wearer said already.
    table : str, optional
        The table of ours, if the wearer said which.
    sheet : str
        To be kept in the mapping.

    Returns
    -------
    Guess

    Raises
    ------
    UnsettledError
        If something has two readings.
    NothingToDo
        If it is no table that is known here; what was missing is said.
    """
    header = find_header(grid)
    layout = lay_out(grid, header)
    said = _say_layout(layout)
    facts = find_facts(layout)
    keep = _find_kinds(layout, facts, table)
    if keep is not None:
        table, place, words = keep
        kept = [row for row in layout.rows if row[place] in words]
        facts = find_facts(replace(layout, rows=kept, lines=layout.lines[: len(kept)]))
        facts = [f for f in facts if f.place != place]
        listed = ", ".join(f'"{show(word)}"' for word in words)
        said.append(f'only the {len(kept)} rows are brought whose "{show(layout.names[place])}" is {listed}')
    match = _choose_table(facts, table, [grid.file.rsplit(".", 1)[0], *layout.preamble], answers, grid.file)
    said.insert(0, f"a table of {match.table}")
    sources, decimal = build_sources(
        match.table, match.timing, match.columns, facts, " ".join(layout.preamble), dates, answers, said
    )
    answers.want_none_open()
    said += _say_left(sources, facts)
    keeps = (layout.names[keep[1]], tuple(keep[2])) if keep else ("", ())
    return Guess(Mapping(match.table, sources, header, decimal, *keeps, sheet=sheet), tuple(said))


def _say_layout(layout: Layout) -> list[str]:
    said = []
    if len(layout.header) == 2:
        said.append(f"the header stands on lines {layout.header[0]} and {layout.header[1]}")
    elif layout.header and layout.preamble:
        said.append(f"the header stands on line {layout.header[0]}")
    if layout.repeated:
        said.append(f"the header stands again {layout.repeated} times: those lines are passed over")
    return said


def _say_left(sources: dict[str, Source], facts: Sequence[Facts]) -> list[str]:
    used = {name for source in sources.values() for name in (*source.columns, source.unit_from)}
    left = [f'"{show(f.name)}"' for f in facts if f.name not in used]
    return [f"not brought: {', '.join(left)}"] if left else []


def _find_kinds(layout: Layout, facts: Sequence[Facts], table: str | None) -> tuple[str, int, list[str]] | None:
    """Table, place and words of a column that says of each row what it is; None where there is none."""
    for f in facts:
        counts = Counter(f.filled)
        if f.is_time or f.is_number or not 2 <= len(counts) <= _MOST_KINDS or len(f.filled) < 0.9 * len(layout.rows):
            continue
        meant = {word: find_word(word, KINDS_OF_ROW) for word in counts}
        kinds = {kind for kind in meant.values() if kind}
        if len(kinds) < 2 or sum(counts[w] for w, kind in meant.items() if kind) < 0.5 * len(f.filled):
            continue
        wanted = table or next((kind for kind in ("glucose", "checks", *KINDS_OF_ROW) if kind in kinds), None)
        words = [word for word, kind in meant.items() if kind == wanted]
        if words and wanted:
            return wanted, f.place, words
    return None


def _choose_table(
    facts: Sequence[Facts], table: str | None, hints: Sequence[str], answers: Answers, file: str
) -> Match:
    """The table of ours that the file is, by the names of its columns, of the file and the lines before the table."""
    matches = [
        match
        for name in ([table] if table else BRINGABLE)
        if (match := match_table(name, facts, answers if table else Answers()))
    ]
    if not matches:
        raise NothingToDo(f"{file}: {_word_no_match(facts, table)}")
    if any(match.table == "glucose" for match in matches):  # a sensor's file may hold steps and heart rate beside it
        matches = [match for match in matches if match.table != "movement"]
    hinted = [
        replace(m, worth=m.worth + 0.5 * max((likeness(h, KINDS_OF_ROW.get(m.table, ())) for h in hints), default=0.0))
        for m in matches
    ]
    hinted.sort(key=lambda match: -match.worth)
    best = hinted[0]
    names = {match.table for match in hinted[:2]}
    if names == {"glucose", "checks"} and _difference(hinted[:2], hints) < _CLOSE:
        best = next(m for m in hinted if m.table == ("checks" if _are_checks(facts) else "glucose"))
    elif len(hinted) > 1 and hinted[0].worth - hinted[1].worth < _CLOSE / 2 and not table:
        choices = tuple((m.table, INPUT_TABLES[m.table].text) for m in hinted if hinted[0].worth - m.worth < _CLOSE)
        said = answers.ask(Question("table", "the file may be more than one table", choices))
        best = next(m for m in hinted if m.table == said)
    return match_table(best.table, facts, answers) or best


def _difference(matches: Sequence[Match], hints: Sequence[str]) -> float:
    """How much more the words for the glucose itself speak for one of two matches: a column of sources says little."""
    worth = [
        likeness(m.columns["glucose"].bare, COLUMNS[m.table]["glucose"])
        + 0.5 * max((likeness(h, KINDS_OF_ROW[m.table]) for h in hints), default=0.0)
        for m in matches
    ]
    return abs(worth[0] - worth[1])


def _are_checks(facts: Sequence[Facts]) -> bool:
    """True if the values lie further apart than any sensor's: half of the steps within a day are longer."""
    days = next((f for f in facts if f.is_moment or f.is_day), None)
    clocks = next((f for f in facts if f.is_moment or (f.is_clock and f is not days)), None)
    if days is None or clocks is None or len(days.filled) != len(clocks.filled):
        return False
    if days.epoch:
        moments = np.array(days.filled, dtype=float) / (60e3 if days.epoch.startswith("milli") else 60)
        return _lie_apart(np.diff(moments))
    dated = [one.numbers if one else None for one in days.written]
    minutes = np.array([60 * c.clock[0] + c.clock[1] if c and c.clock else np.nan for c in clocks.written])
    same_day = np.array([a is not None and a == b for a, b in pairwise(dated)], dtype=bool)
    return _lie_apart(np.diff(minutes)[same_day])


def _is_by_the_minute(facts: Sequence[Facts]) -> bool:
    """True if its moments stand as close as a wrist or a sensor writes them, False if they are days, or far apart."""
    return any(f.is_moment or f.is_clock for f in facts) and not _are_checks(facts)


def _lie_apart(steps_min: np.ndarray) -> bool:
    """True if half of the steps that are known are longer than any sensor's, or none is known."""
    known = np.abs(steps_min[np.isfinite(steps_min)])
    return not known.size or float(np.median(known)) > _LONGEST_STEP_MIN


def _word_no_match(facts: Sequence[Facts], table: str | None) -> str:
    names = ", ".join(f'"{show(f.name)}"' for f in facts)
    if not any(f.is_time for f in facts):
        return f"none of its columns holds dates or times ({names})"
    what = f"a table of {table}" if table else "any table that is known here"
    return f"its columns ({names}) do not make {what}; --as says which table it is, a mapping which column is what"


def match_table(table: str, facts: Sequence[Facts], answers: Answers) -> Match | None:
    """The columns of a file as those of one table of ours; None if a required one is missing."""
    timing = _find_timing(table, facts, answers)
    if timing is None:
        return None
    rest = [f for f in facts if f.place not in timing.used]
    wanted = dict(COLUMNS[table])
    if table == "labs":
        wanted["range"] = RANGE
    schema = {column.name: column.kind for column in INPUT_TABLES[table].columns}
    allowed = np.array([[_can_be(f, name, schema.get(name, "text"), table) for f in rest] for name in wanted])
    found = match_columns([f.bare for f in rest], wanted, allowed.reshape(len(wanted), len(rest)))
    columns = {name: rest[place] for name, place in found.items()}
    if "glucose" in wanted and not _settle_value(columns, rest, answers):
        return None
    required = [
        c.name
        for c in INPUT_TABLES[table].columns
        if c.required and c.kind not in ("time", "date") and c.name in wanted
    ]
    missing = [name for name in required if name not in columns and not (table == "labs" and name == "unit")]
    if table == "labs" and "unit" not in columns and "value" in columns and not columns["value"].inside:
        missing.append("unit")
    if table in ("movement", "days") and _is_by_the_minute(facts) != (table == "movement"):
        return None
    if table == "activity" and missing == ["kind"]:
        missing = [] if timing.worth >= 1.5 else missing
    if missing or (table in ("days", "feelings", "movement") and not columns.keys() - {"source"}):
        return None
    worth = timing.worth * 0.2 + sum(likeness(f.bare, wanted[name]) for name, f in columns.items())
    if table == "sleep":
        worth += timing.worth * 0.5
    return Match(table, timing, columns, worth)


def _find_timing(table: str, facts: Sequence[Facts], answers: Answers) -> Timing | None:
    if table in ("activity", "sleep"):
        return find_start_and_end(facts, table == "sleep", answers)
    if table in ("days", "labs"):
        day = find_day(facts)
        return Timing({"date": Source((day.name,))}, frozenset({day.place}), likeness(day.bare, DATE)) if day else None
    return find_moment(facts, (), answers)


def _settle_value(columns: dict[str, Facts], rest: Sequence[Facts], answers: Answers) -> bool:
    """See to it that glucose has its column: the one named so, else the one of numbers named a value; two are asked."""
    named = [f for f in rest if f.is_number and f.place not in {g.place for n, g in columns.items() if n != "glucose"}]
    worth = {
        f.place: round(likeness(f.bare, (*COLUMNS["glucose"]["glucose"], *COLUMNS["checks"]["glucose"])), 1)
        for f in named
    }
    best = [f for f in named if worth[f.place] >= 0.5 and worth[f.place] >= max(worth.values()) - 0.25]
    if not best:
        best = [f for f in named if likeness(f.bare, VALUE) > 0]
    if len(best) > 1:
        choices = tuple((f.name, f"such as {show(f.filled[0])}") for f in best)
        answer = answers.ask(Question("glucose", "more than one column may hold the glucose", choices))
        best = [f for f in best if f.name == answer]
    if best:
        columns["glucose"] = best[0]
    return bool(best)


def _can_be(facts: Facts, name: str, kind: str, table: str) -> bool:
    """Whether the cells of a column can be what a column of ours holds."""
    if (table, name) == ("meals", "name") and all(plain(cell) in MEALS_OF_THE_DAY for cell in set(facts.filled)):
        return False
    if name in ("asleep_min", "relaxation_min"):
        return facts.is_length
    if name == "value":
        return facts.is_number
    if kind == "number":
        return facts.is_number and not facts.is_day
    if kind in ("text", "choice"):
        return not facts.is_time and (not facts.is_number or name in ("taken", "source"))
    return not facts.is_time
