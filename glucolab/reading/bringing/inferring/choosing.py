"""Which table of ours is a foreign one? The one that its content can be and its words name; else it is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.cells.amounts import read_length
from glucolab.reading.bringing.cells.moments import holds_spans
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.glucose_column import has_dimension, settle_glucose
from glucolab.reading.bringing.inferring.kinds import LONGEST_NIGHT_MIN, find_cadence, find_contradiction, is_named
from glucolab.reading.bringing.inferring.methods import find_method
from glucolab.reading.bringing.inferring.notes import find_note_timing
from glucolab.reading.bringing.inferring.rivals import settle_rivals
from glucolab.reading.bringing.inferring.times import Timing, find_day, find_moment, find_start_and_end
from glucolab.reading.bringing.inferring.values import truth_words, units_in_cells
from glucolab.reading.bringing.mapping.mapping import BRINGABLE, Source
from glucolab.reading.bringing.vocabulary.analytes import names_analytes
from glucolab.reading.bringing.vocabulary.cautions import is_goal, names_food, names_moves, names_part
from glucolab.reading.bringing.vocabulary.doubts import names_net
from glucolab.reading.bringing.vocabulary.matching import likeness, match_columns
from glucolab.reading.bringing.vocabulary.remarks import names_plan
from glucolab.reading.bringing.vocabulary.words import CHOICES, COLUMNS, DATE, KINDS_OF_ROW, RANGE
from glucolab.reading.meal_names import MEALS_OF_THE_DAY
from glucolab.reading.text import plain, show
from glucolab.record import INPUT_TABLES

_NEGATIONS = frozenset(
    map(plain, "not no non nicht kein pas ne não niet geen nie inte ikke ei değil не".split())  # noqa: SIM905
)
_HALF = 0.5
"""So many of a laboratory's results are numbers; others are words such as negative. Assumed."""
_CLOSE = 0.35
"""How near two tables' words may come to each other before it is asked which one it is. Assumed."""


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


def choose_table(facts: Sequence[Facts], table: str | None, hints: Sequence[str], answers: Answers, file: str) -> Match:
    """The table of ours that the file is, by its content and by the names of its columns, of the file and above it."""
    wanted = table or answers.said.get("table")
    glucose = {key: said for key, said in answers.said.items() if key == "glucose"}
    found = [
        match
        for name in ([wanted] if wanted in BRINGABLE else BRINGABLE)
        if (match := match_table(name, facts, answers if table else Answers(glucose)))
    ]
    if not found:
        raise NothingToDo(f"{file}: {_word_no_match(facts, table)}")
    against = {m.table: find_contradiction(m.table, m.timing, m.columns, facts) for m in found}
    matches = [m for m in found if not against[m.table]]
    if not matches:
        reasons = "; ".join(f"no table of {name}: {reason}" for name, reason in against.items())
        raise NothingToDo(f"{file} is {reasons}")
    if any(m.table == "glucose" for m in matches):  # a sensor's file may hold steps and heart rate beside it
        matches = [m for m in matches if m.table != "movement"]
    matches = _settle_notes(matches, facts, hints)
    hinted = [
        replace(m, worth=m.worth + 0.5 * max((likeness(h, KINDS_OF_ROW.get(m.table, ())) for h in hints), default=0.0))
        for m in matches
    ]
    best = _ask_table(_settle_method(hinted, facts, hints), facts, hints, wanted, answers)
    chosen = match_table(best, facts, answers)
    if chosen is None:
        raise NothingToDo(f"{file} is no table of {best}, by what you said of its columns")
    return chosen


def _settle_notes(matches: Sequence[Match], facts: Sequence[Facts], hints: Sequence[str]) -> list[Match]:
    """The matches without notes where a word names something else, for a diary holds more; notes where only they are.

    Every table with times and a text could be notes, so that likeness of names parts them from nothing.
    """
    named = {m.table for m in matches if is_named(m.table, m.columns, m.timing, facts, hints)}
    if named == {"notes"}:
        return [m for m in matches if m.table == "notes"]
    return [m for m in matches if m.table != "notes" or not named]


def _settle_method(matches: Sequence[Match], facts: Sequence[Facts], hints: Sequence[str]) -> list[Match]:
    """The matches without one of glucose and checks, if it is certain which of the two the file is; best first."""
    both = {m.table: m for m in matches if m.table in ("glucose", "checks")}
    method = None
    if len(both) == 2:
        checks = both["checks"]
        cadence = find_cadence(checks.timing.sources["time"], facts)
        method = find_method(checks.columns["glucose"], checks.columns.get("source"), hints, cadence)
    kept = [m for m in matches if method is None or m.table not in both or m.table == method]
    top = max((m.worth for m in both.values()), default=0.0)
    kept = [replace(m, worth=top) if m.table in both else m for m in kept]
    return sorted(kept, key=lambda match: -match.worth)


def _ask_table(
    matches: Sequence[Match], facts: Sequence[Facts], hints: Sequence[str], wanted: str | None, answers: Answers
) -> str:
    """The best match, if it is far before the others and a word of the file says what it is; else it is asked."""
    best = matches[0]
    near = [m for m in matches if best.worth - m.worth < _CLOSE or m.table == "notes"]
    is_clear = len(matches) == 1 or best.worth - matches[1].worth >= _CLOSE / 2
    if wanted or (is_clear and is_named(best.table, best.columns, best.timing, facts, hints)):
        return best.table
    choices = tuple((m.table, INPUT_TABLES[m.table].text) for m in near)
    text = "the file may be more than one table" if len(near) > 1 else "no word of the file says which table it is"
    return answers.ask(Question("table", text, choices))


def _word_no_match(facts: Sequence[Facts], table: str | None) -> str:
    names = ", ".join(f'"{show(f.name)}"' for f in facts)
    spans = next((f for f in facts if holds_spans(f.filled)), None)
    if spans is not None:
        return (
            f'"{show(spans.name)}" holds a beginning and an end in one cell, such as "{show(spans.filled[0])}": write '
            "them into a column each"
        )
    if not any(f.is_time for f in facts):
        return f"none of its columns holds dates or times ({names})"
    foods = [f for f in facts if not f.is_number and names_food(f.bare)]
    if foods and not any(f.is_clock or f.is_moment for f in facts):
        return f'"{show(foods[0].name)}" names food, but no column says at what time it was eaten, which meals need'
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
    columns = _match_names(table, rest, wanted, answers)
    if "glucose" in wanted and not settle_glucose(columns, rest, answers):
        return None
    required = [
        c.name
        for c in INPUT_TABLES[table].columns
        if c.required and c.kind not in ("time", "date") and c.name in wanted
    ]
    missing = [name for name in required if name not in columns and not (table == "labs" and name == "unit")]
    if table == "labs" and "unit" not in columns and (value := columns.get("value")) is not None:
        missing += [] if value.inside or units_in_cells(value.filled) else ["unit"]
    listing = [f for f in rest if not f.is_number and not f.is_time and names_analytes(f.filled)]
    if table == "labs" and "analyte" in missing and listing:
        columns["analyte"] = listing[0]
        missing.remove("analyte")
    moving = [f for f in rest if not f.is_number and not f.is_time and names_moves(f.filled)]
    if table == "activity" and "kind" in missing and moving:
        columns["kind"] = moving[0]
        missing.remove("kind")
    if table == "notes" and missing == ["kind"] and "note" in columns:
        missing = []
    if table == "activity" and missing == ["kind"]:
        missing = [] if timing.worth >= 1.5 else missing
    if missing or (table in ("days", "feelings", "movement") and not columns.keys() - {"note", "source"}):
        return None
    worth = timing.worth * 0.2 + sum(likeness(f.bare, wanted[name]) for name, f in columns.items())
    if table == "sleep":
        worth += timing.worth * 0.5
    return Match(table, timing, columns, worth)


def _match_names(
    table: str, rest: list[Facts], wanted: dict[str, tuple[str, ...]], answers: Answers
) -> dict[str, Facts]:
    """The file's column for each of ours, times apart, by its name among those whose content can be it."""
    schema = {column.name: column.kind for column in INPUT_TABLES[table].columns}
    allowed = np.array([[_can_be(f, name, schema.get(name, "text"), table) for f in rest] for name in wanted])
    allowed = allowed.reshape(len(wanted), len(rest))
    if "carbs_g" in wanted:
        _want_total(allowed[list(wanted).index("carbs_g")], rest)
    needed = {column.name for column in INPUT_TABLES[table].columns if column.required}
    found = match_columns([f.bare for f in rest], wanted, allowed, needed)
    fitting = {
        name: [f for f, fits in zip(rest, row, strict=True) if fits] for name, row in zip(wanted, allowed, strict=True)
    }
    columns = settle_rivals(table, {name: rest[place] for name, place in found.items()}, fitting, answers)
    if table == "meals" and "name" not in columns and "dish" in columns:
        columns["name"] = columns.pop("dish")
    columns |= _find_two_way(table, [f for f in rest if f not in columns.values()], columns)
    return columns


def _find_timing(table: str, facts: Sequence[Facts], answers: Answers) -> Timing | None:
    if table in ("activity", "sleep"):
        return find_start_and_end(facts, table == "sleep", answers)
    if table in ("days", "labs"):
        day = find_day(facts, answers)
        return Timing({"date": Source((day.name,))}, frozenset({day.place}), likeness(day.bare, DATE)) if day else None
    return find_note_timing(facts, answers) if table == "notes" else find_moment(facts, (), answers)


def _want_total(allowed: np.ndarray, rest: Sequence[Facts]) -> None:
    """Net carbohydrate is none of a label where carbohydrate stands beside it."""
    net = np.array([names_net(f.bare) for f in rest], dtype=bool)
    named = np.array([likeness(f.bare, COLUMNS["meals"]["carbs_g"]) > 0 for f in rest], dtype=bool)
    if (allowed & named & ~net).any():
        allowed &= ~net


def _find_two_way(table: str, rest: Sequence[Facts], columns: dict[str, Facts]) -> dict[str, Facts]:
    """Columns of yes and no whose name is one of the two that a column of ours may hold, such as eaten out."""
    found: dict[str, Facts] = {}
    for column in INPUT_TABLES[table].columns:
        if len(column.choices) == 2 and column.name not in columns:
            fit = [f for f in rest if truth_words(f.filled) and _names_one(f.bare, CHOICES[column.name])]
            found |= {column.name: fit[0]} if len(fit) == 1 else {}
    return found


def _names_one(name: str, choices: dict[str, tuple[str, ...]]) -> bool:
    """True for a name that is one of two choices; "out of home" holds words of both, and is so only as a whole."""
    worth = [likeness(name, words) for words in choices.values()]
    sure = min(worth) == 0 < max(worth) and _NEGATIONS.isdisjoint(plain(name).split())
    return sure or plain(name) in {word for words in choices.values() for word in words}


def _lasts_long(facts: Facts) -> bool:
    """True where half of the lengths are longer than anybody sleeps: 23:05 is a clock time."""
    lengths = [minutes for cell in facts.filled if (minutes := read_length(cell)) is not None]
    return bool(lengths) and float(np.median(lengths)) > LONGEST_NIGHT_MIN


def _can_be(facts: Facts, name: str, kind: str, table: str) -> bool:
    """Whether the cells of a column can be what a column of ours holds."""
    if table != "labs" and (names_plan(facts.name) or (is_goal(facts.name) and facts.is_number)):
        return False
    if facts.is_number and not has_dimension(facts, name):
        return False
    if table == "meals" and kind == "number" and names_part(facts.bare):
        return False
    if (table, name) == ("meals", "name") and all(plain(cell) in MEALS_OF_THE_DAY for cell in set(facts.filled)):
        return False
    if name in ("asleep_min", "relaxation_min"):
        return facts.is_length and not (facts.is_clock and _lasts_long(facts))
    if name == "value":
        return facts.number >= _HALF
    if kind == "number":
        return facts.is_number and not facts.is_day
    if kind in ("text", "choice") and name != "note" and truth_words(facts.filled) is not None:
        return False
    if kind in ("text", "choice"):
        return not facts.is_time and (not facts.is_number or name in ("taken", "source", "range"))
    return not facts.is_time
