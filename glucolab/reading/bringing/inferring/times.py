"""When were the rows of a foreign table? Which columns tell it, and in which order its dates are written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from glucolab.reading.bringing.cells.moments import ORDERS, date_in
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.clocks import count_of_day, want_both_halves
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.inferring.in_bed import settle_in_bed
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.doubts import names_report
from glucolab.reading.bringing.vocabulary.matching import SAME_NAME, likeness, match_columns
from glucolab.reading.bringing.vocabulary.remarks import names_upkeep
from glucolab.reading.bringing.vocabulary.words import (
    CLOCK,
    COLUMNS,
    DATE,
    END,
    EVENING,
    LENGTH,
    MOMENT,
    MORNING,
    START,
    TO_BED,
    WOKE,
)
from glucolab.reading.text import plain, show

_MARGIN = timedelta(days=1)
_NOON, _DAWN = 12, 6
"""Sleeps that begin between dawn and noon are of the day on which they end. Assumed. [h]"""


@dataclass(frozen=True)
class Dates:
    """First and last local day of the wear; None where that is not known."""

    first: date | None
    last: date | None

    def holds(self, day: date) -> bool:
        """True if a day lies in the wear, or beside it."""
        after = self.first is None or day >= self.first - _MARGIN
        return after and (self.last is None or day <= self.last + _MARGIN)


@dataclass(frozen=True)
class Timing:
    """Where the times of a table's rows come from.

    Attributes
    ----------
    sources : dict of str to Source
        By our column; their order of dates is still to be settled.
    used : frozenset of int
        Places of the file's columns that they take.
    worth : float
        How much the names of those columns spoke for it.
    beside : tuple of str
        The column of an end that stands beside a length.
    """

    sources: dict[str, Source]
    used: frozenset[int]
    worth: float
    beside: tuple[str, ...] = ()


def settle_order(columns: Sequence[Facts], dates: Dates, answers: Answers, said: list[str]) -> str:
    """The order in which the dates of these columns are written, over all of their cells.

    Days above 12 tell it, or that only one order lies in the wear; what tells it is said. Nothing is taken in silence.
    """
    open_dates = {
        one.numbers: cell
        for f in columns
        for one, cell in zip(f.written, f.filled, strict=True)
        if one is not None and one.numbers is not None and not one.fixed
    }
    if not open_dates:
        return ""
    days = {order: {n: date_in(n, order) for n in open_dates} for order in ORDERS}
    counts = {order: sum(day is not None for day in found.values()) for order, found in days.items()}
    viable = [order for order in ORDERS if counts[order] == max(counts.values())]
    order = viable[0]
    reason = "the other orders give no such days"
    if len(viable) > 1 and len({tuple(days[order].values()) for order in viable}) > 1:
        inside = [order for order in viable if all(day and dates.holds(day) for day in days[order].values())]
        pointed = all(re.fullmatch(r"\d{1,2}\. ?\d{1,2}\. ?\d{4}.*", cell.strip()) for cell in open_dates.values())
        if pointed and "day-month-year" in (inside or viable):
            order, reason = "day-month-year", "between points the day comes first"
        elif len(inside) == 1 and (dates.first or dates.last):
            order, reason = inside[0], "in any other order they would lie outside the wear"
        else:
            order, reason = _ask_order(inside if len(inside) > 1 else viable, days, open_dates, answers), "as you said"
    example = next(n for n, day in days[order].items() if day)
    said.append(f"dates are {order}: {open_dates[example]} is {days[order][example]:%-d %B %Y}; {reason}")
    return order


def _ask_order(
    orders: Sequence[str],
    days: dict[str, dict[tuple[int, int, int], date | None]],
    open_dates: dict[tuple[int, int, int], str],
    answers: Answers,
) -> str:
    differing = next(n for n in open_dates if len({days[order][n] for order in orders}) > 1)
    cell = show(open_dates[differing])
    choices = tuple((order, f"{days[order][differing]:%-d %B %Y}") for order in orders if days[order][differing])
    return answers.ask(Question("order", f'every date has two readings: "{cell}" may be more than one day', choices))


def find_moment(facts: Sequence[Facts], words: Sequence[str], answers: Answers, name: str = "time") -> Timing | None:
    """The column, or the date and clock columns, of a time; None if there is none."""
    clocks = [f for f in facts if f.is_clock and not f.is_number]
    moments = [f for f in facts if f.is_moment and not names_upkeep(f.bare) and not (clocks and _is_midnight(f))]
    wanted = (*words, *MOMENT, *CLOCK, *DATE, *START)
    if moments:
        chosen = _choose_moment(moments, wanted, answers)
        want_both_halves(chosen, chosen, answers)
        return Timing(
            {name: Source((chosen.name,), since=chosen.epoch)}, frozenset({chosen.place}), likeness(chosen.bare, wanted)
        )
    day = find_day(facts, answers)
    clock = _best([f for f in facts if f.is_clock and f is not day], (*words, *CLOCK, *MOMENT))
    if day and clock:
        want_both_halves(day, clock, answers)
        return Timing({name: Source((day.name, clock.name))}, frozenset({day.place, clock.place}), 1.0)
    number, since = next(
        ((f, since) for f in facts if f.is_number and f is not day and (since := count_of_day(f, answers))), (None, "")
    )
    if day and number:
        return Timing({name: Source((day.name, number.name), since=since)}, frozenset({day.place, number.place}), 1.0)
    return None


def _is_midnight(f: Facts) -> bool:
    """True for dates to which a program gave a clock time that none of them has."""
    return not f.epoch and all(one is None or one.clock in (None, (0, 0, 0)) for one in f.written)


def _choose_moment(moments: Sequence[Facts], words: Sequence[str], answers: Answers) -> Facts:
    """The moment that the names speak for; the wearer's clocks before those of Greenwich; else it is asked."""
    if len(moments) == 1:
        return moments[0]
    local = [f for f in moments if {"utc", "gmt"}.isdisjoint(plain(f.name).split())]
    worth = [round(likeness(f.bare, words), 1) for f in local]
    best = [f for f, w in zip(local, worth, strict=True) if w == max(worth)] or list(moments)
    if len(best) == 1:
        return best[0]
    choices = tuple((f.name, f"such as {show(f.filled[0])}") for f in best)
    answer = answers.ask(Question("time", "more than one column may hold the time", choices))
    return next(f for f in best if f.name == answer)


def find_day(facts: Sequence[Facts], answers: Answers) -> Facts | None:
    """The column of a date; one with dates alone before one with moments; of two that are called as well it is asked.

    The date of a report is not that of what it reports.
    """
    facts = [f for f in facts if not names_upkeep(f.bare)]
    days = [f for f in facts if f.is_day] or [f for f in facts if f.is_moment and not f.epoch]
    days = [f for f in days if not names_report(f.bare)] or days
    best = max((likeness(f.bare, DATE) for f in days), default=0.0)
    near = [f for f in days if likeness(f.bare, DATE) >= best - SAME_NAME]
    if len(near) > 1 and len({tuple(f.filled) for f in near}) > 1:
        choices = tuple((f.name, f"such as {show(f.filled[0])}") for f in near)
        answer = answers.ask(Question("time", "more than one column may hold the date", choices))
        near = [f for f in near if f.name == answer]
    return near[0] if near else None


def _best(columns: Sequence[Facts], words: Sequence[str]) -> Facts | None:
    return max(columns, key=lambda f: likeness(f.bare, words), default=None)


def find_start_and_end(facts: Sequence[Facts], is_sleep: bool, answers: Answers) -> Timing | None:
    """Start, and end or length, of sleeps and of movement; None if a start or an end cannot be found."""
    start_words = (*TO_BED, *START, *MOMENT, *CLOCK) if is_sleep else (*START, *MOMENT, *CLOCK)
    end_words = (*WOKE, *END) if is_sleep else END
    stamped = [f for f in facts if _may_be_end(f, (*start_words, *end_words))]
    stamped = settle_in_bed(stamped, answers) if is_sleep else stamped
    found = match_columns(
        [f.bare for f in stamped], {"start": start_words, "end": end_words}, np.ones((2, len(stamped)), bool)
    )
    if "start" not in found and len(stamped) in (1, 2):
        found["start"] = next(
            i for i in range(len(stamped)) if i != found.get("end", len(stamped) - 1) or len(stamped) == 1
        )
    if "start" not in found or (found.get("end") == found["start"]):
        return None
    start, end = stamped[found["start"]], stamped[found["end"]] if "end" in found else None
    worth = likeness(start.bare, TO_BED if is_sleep else START) + (likeness(end.bare, end_words) if end else 0.0)
    days = [f for f in facts if f.is_day]
    if not start.is_moment and not days:
        return None
    first = Source((start.name,), since=start.epoch) if start.is_moment else Source((days[0].name, start.name))
    used = {start.place} | ({days[0].place} if not start.is_moment else set())
    length = _find_length(facts, used | ({end.place} if end else set()), is_sleep)
    if end is not None:
        last, more = _end_source(start, end, days)
        if last is None:
            return None
        used |= more | {end.place}
    elif length is not None:
        last = Source((length.name,), reads="length_after_start" if is_sleep else "length")
        used |= {length.place} if not is_sleep else set()
    else:
        return None
    if is_sleep and len(days) == 1 and not start.is_moment and (end is None or not end.is_moment):
        night = _settle_night(days[0], start, end, answers)
        first, last = replace(first, night=night), replace(last, night=night if end is not None else "")
    if is_sleep:
        return Timing({"start": first, "end": last}, frozenset(used), worth)
    if length is not None:
        used.add(length.place)
        beside = (end.name,) if end is not None else ()
        source = Source((length.name,), reads="length")
        return Timing({"start": first, "minutes": source}, frozenset(used), worth + 0.5, beside)
    return Timing({"start": first, "minutes": replace(last, reads="end")}, frozenset(used), worth)


def _may_be_end(f: Facts, words: Sequence[str]) -> bool:
    """True for a column of moments or clock times; 0:45 below a word for a length is one, and no clock time."""
    if f.is_moment or not f.is_clock:
        return f.is_moment
    named = likeness(f.bare, words)
    return named >= likeness(f.bare, LENGTH) and (named > 0 or not f.is_number)


def _end_source(start: Facts, end: Facts, days: Sequence[Facts]) -> tuple[Source | None, set[int]]:
    """Where an end comes from: its own moment, or a clock time with the second of two dates, or with the one date."""
    if end.is_moment:
        return Source((end.name,), since=end.epoch), set()
    if not days:
        return None, set()
    day = days[1] if len(days) > 1 and not start.is_moment else days[0]
    return Source((day.name, end.name)), {day.place}


def _find_length(facts: Sequence[Facts], used: set[int], is_sleep: bool) -> Facts | None:
    words = (*LENGTH, *COLUMNS["sleep"]["asleep_min"]) if is_sleep else LENGTH
    lengths = [f for f in facts if f.is_length and f.place not in used and likeness(f.bare, words) > 0]
    if is_sleep:  # a mark of quality or a count of awakenings names sleep too
        others = (*COLUMNS["sleep"]["quality"], *COLUMNS["sleep"]["awakenings"])
        lengths = [f for f in lengths if likeness(f.bare, others) <= likeness(f.bare, words)]
    return _best(lengths, words)


def _settle_night(day: Facts, start: Facts, end: Facts | None, answers: Answers) -> str:
    """Whether the one date of a sleep is that of its evening or of its morning: by its name, else it is asked."""
    evening, morning = likeness(day.name, (*EVENING, *TO_BED)), likeness(day.name, (*MORNING, *WOKE))
    if evening != morning:
        return "evening" if evening > morning else "morning"
    ends = end.written if end is not None else [None] * len(start.written)
    clocks = [(a.clock, b.clock if b else None) for a, b in zip(start.written, ends, strict=False) if a and a.clock]
    if all(_DAWN <= first[0] < _NOON and (last is None or first < last) for first, last in clocks):
        return "morning"
    cell = show(day.filled[0])
    text = f'one date stands for a night over midnight: "{cell}" is the day of'
    return answers.ask(
        Question("night", text, (("evening", "the evening it began"), ("morning", "the morning it ended")))
    )
