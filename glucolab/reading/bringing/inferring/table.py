"""What may a foreign table mean? A mapping proposed from its content; what has two readings is asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from glucolab.reading.bringing.grids.grid import Grid
from glucolab.reading.bringing.grids.layout import Layout, find_header, lay_out
from glucolab.reading.bringing.inferring.after_midnight import settle_late
from glucolab.reading.bringing.inferring.ambiguities import Answers
from glucolab.reading.bringing.inferring.choosing import choose_table
from glucolab.reading.bringing.inferring.column_types import Facts, find_facts
from glucolab.reading.bringing.inferring.columns import build_sources
from glucolab.reading.bringing.inferring.controls import find_controls
from glucolab.reading.bringing.inferring.interval_ends import settle_interval_ends
from glucolab.reading.bringing.inferring.kinds import find_stage_column
from glucolab.reading.bringing.inferring.records import find_latest_states, settle_sessions
from glucolab.reading.bringing.inferring.remarks import settle_remarks
from glucolab.reading.bringing.inferring.row_status import find_never_was
from glucolab.reading.bringing.inferring.series import find_series
from glucolab.reading.bringing.inferring.times import Dates
from glucolab.reading.bringing.inferring.totals import find_totals
from glucolab.reading.bringing.inferring.unknown_words import settle_unknown_words, want_values
from glucolab.reading.bringing.inferring.years import complete_years
from glucolab.reading.bringing.mapping.mapping import Mapping, Source
from glucolab.reading.bringing.vocabulary.cautions import is_goal
from glucolab.reading.bringing.vocabulary.matching import find_word, likeness
from glucolab.reading.bringing.vocabulary.units import OTHER_CONCENTRATIONS
from glucolab.reading.bringing.vocabulary.words import KINDS_OF_ROW
from glucolab.reading.text import show

_MOST_KINDS = 12


@dataclass(frozen=True)
class Guess:
    """A mapping, and in plain sentences how the file was understood."""

    mapping: Mapping
    said: tuple[str, ...]


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
    facts = complete_years(find_facts(layout), dates, said)
    keep = _find_kinds(layout, facts, table)
    if keep is not None:
        table, place, words = keep
        kept = [row for row in layout.rows if row[place] in words]
        facts = complete_years(find_facts(replace(layout, rows=kept, lines=layout.lines[: len(kept)])), dates, said)
        facts = [f for f in facts if f.place != place]
        listed = ", ".join(f'"{show(word)}"' for word in words)
        said.append(f'only the {len(kept)} rows are brought whose "{show(layout.names[place])}" is {listed}')
    match = choose_table(facts, table, [grid.file.rsplit(".", 1)[0], *layout.preamble], answers, grid.file)
    said.insert(0, f"a table of {match.table}")
    sources, decimal = build_sources(
        match.table, match.timing, match.columns, facts, layout.preamble, dates, answers, said
    )
    sources = settle_unknown_words(match.table, sources, answers)
    loose = [filled[0] for row in layout.rows if len(filled := [cell for cell in row if cell]) == 1]
    remarks = (grid.file.rsplit(".", 1)[0], *layout.preamble, *loose)
    sources = settle_remarks(match.table, remarks, sources, answers, said)
    sources = settle_late(match.table, sources, facts, answers, said)
    sources = settle_interval_ends(match.table, sources, facts, said)
    used = _find_used(sources)
    first = next(iter(match.timing.sources))
    series = find_series(match.table, sources[first], facts, used, dates, answers)
    leave = find_never_was(facts, used, match.table in ("glucose", "checks"), said)
    if match.table in ("glucose", "checks"):
        leave += find_controls(facts, answers, said)
    stages = find_stage_column(facts) if match.table == "sleep" else None
    if match.table == "meals":
        timed = {name for source in match.timing.sources.values() for name in source.columns}
        leave += find_totals(match.columns, [f for f in facts if f.name in timed], decimal, answers, said)
    latest = find_latest_states(match.table, facts, said)
    joins = settle_sessions(match.table, sources, facts, answers)
    answers.want_none_open()
    want_values(match.table, sources)
    said += _say_left(sources, facts, {*latest, *(column for column, _ in (*series, *leave))}, stages)
    kinds = ((layout.names[keep[1]], tuple(keep[2])),) if keep else ()
    staged = stages.name if stages else ""
    return Guess(
        Mapping(match.table, sources, header, decimal, kinds + series, leave, staged, sheet, latest, joins),
        tuple(dict.fromkeys(said)),
    )


def _say_layout(layout: Layout) -> list[str]:
    said = []
    if len(layout.header) == 2:
        said.append(f"the header stands on lines {layout.header[0]} and {layout.header[1]}")
    elif layout.header and layout.preamble:
        said.append(f"the header stands on line {layout.header[0]}")
    if layout.repeated:
        said.append(f"the header stands again {layout.repeated} times: those lines are passed over")
    return [*said, *layout.said]


def _find_used(sources: dict[str, Source]) -> set[str]:
    """Columns of the file that something is read from."""
    return {
        name for source in sources.values() for name in (*source.columns, source.unit_from, source.zone_from, source.of)
    }


def _say_left(
    sources: dict[str, Source], facts: Sequence[Facts], chosen_by: set[str], stages: Facts | None
) -> list[str]:
    used = _find_used(sources) | chosen_by | ({stages.name} if stages else set())
    left = [f'"{show(f.name)}"' for f in facts if f.name not in used]
    return [f"not brought: {', '.join(left)}"] if left else []


def _kind_of(word: str) -> str | None:
    """What rows of a word are: a strip's glucose is a finger-stick's, and a target is no reading."""
    if is_goal(word):
        return "other"
    return "checks" if likeness(word, KINDS_OF_ROW["checks"]) > 0 else find_word(word, KINDS_OF_ROW)


def _find_kinds(layout: Layout, facts: Sequence[Facts], table: str | None) -> tuple[str, int, list[str]] | None:
    """Table, place and words of a column that says of each row what it is; None where there is none.

    A list with concentrations in which nobody writes glucose is a laboratory's, all of whose rows belong together.
    """
    cells = {cell.lower() for f in facts if not f.is_number and not f.is_time for cell in set(f.filled)}
    if not cells.isdisjoint(OTHER_CONCENTRATIONS):
        return None
    for f in facts:
        counts = Counter(f.filled)
        if f.is_time or f.is_number or not 2 <= len(counts) <= _MOST_KINDS or len(f.filled) < 0.9 * len(layout.rows):
            continue
        meant = {word: _kind_of(word) for word in counts}
        kinds = {kind for kind in meant.values() if kind}
        if len(kinds) < 2 or sum(counts[w] for w, kind in meant.items() if kind) < 0.5 * len(f.filled):
            continue
        wanted = table or next((kind for kind in ("glucose", "checks", *KINDS_OF_ROW) if kind in kinds), None)
        words = [word for word, kind in meant.items() if kind == wanted]
        if words and wanted:
            return wanted, f.place, words
    return None
