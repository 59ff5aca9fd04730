"""What do the lines beside a table say of it? That it is a plan, another person's, or of a clock that is wrong."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.remarks import find_clock_error, find_somebody_else, names_plan
from glucolab.reading.text import show

_LEGEND = re.compile(r"(?:.*[^\w)])?\s*[^=<>]{1,40}\s=\s[^=]{2,}(?:=.*)?", re.DOTALL)
"""What a sign stands for: crossed out = not eaten."""
_OF_EXCHANGES = re.compile(r"=\s*(?:1[0-5]|\d{2,3})\s*m?g\b|^\s*\d+\s*[-–]\s*\d+")
_PLANNED = ("meals", "activity", "sleep", "notes")
_BY_CLOCK = ("glucose", "checks", "feelings", "movement", "activity", "meals")


def settle_remarks(
    table: str, remarks: Sequence[str], sources: dict[str, Source], answers: Answers, said: list[str]
) -> dict[str, Source]:
    """The sources, their times moved where a remark says that the clock was wrong, as the wearer answers.

    Parameters
    ----------
    table : str
        Of ours.
    remarks : sequence of str
        The file's name, the lines above its table, and rows with a single cell.
    sources : dict of str to Source
    answers : Answers
    said : list of str
        Grows by what was found.

    Raises
    ------
    NothingToDo
        If the wearer says that it is a plan or another person's, or that a legend changes what the table says.
    """
    plan = next((text for text in remarks if table in _PLANNED and names_plan(text)), "")
    if plan:
        choices = (("done", "all of it took place so"), ("not_done", "it is a plan: nothing is brought"))
        if answers.ask(Question("planned", f'"{show(plan)}" speaks of a plan', choices)) == "not_done":
            raise NothingToDo("a plan is no record of what took place; nothing was written")
    other = next(((text, word) for text in remarks if (word := find_somebody_else(text))), None)
    if other:
        choices = (("mine", "all rows are the wearer's"), ("not_mine", "they are not: nothing is brought"))
        text = f'"{show(other[0])}" speaks of somebody else ("{other[1]}")'
        if answers.ask(Question("whose", text, choices)) == "not_mine":
            raise NothingToDo("a wear holds what one person did; part the rows and bring those of the wearer")
    legend = next((text for text in remarks if _LEGEND.fullmatch(text) and not _OF_EXCHANGES.search(text)), "")
    if legend:
        choices = (("no_matter", "the table reads as it is shown"), ("stop", "it does: nothing is brought"))
        question = Question("legend", f'"{show(legend)}" may change what the table says', choices)
        if answers.ask(question) == "stop":
            raise NothingToDo("a table whose signs are not known here needs a mapping; nothing was written")
    errors = [(text, find_clock_error(text)) for text in remarks if table in _BY_CLOCK]
    text, minutes = next(((text, by) for text, by in errors if np.isfinite(by)), ("", 0.0))
    return _move(sources, text, minutes, answers, said) if minutes else sources


def _move(
    sources: dict[str, Source], text: str, minutes: float, answers: Answers, said: list[str]
) -> dict[str, Source]:
    """Times as the wearer says, of a clock that a remark calls wrong."""
    way = "later" if minutes > 0 else "earlier"
    choices = (("moved", f"times are {abs(minutes):g} min {way} than written"), ("as_written", "they stand right"))
    question = Question("clock_off", f'"{show(text)}" says that the clock was wrong', choices)
    if answers.ask(question) == "as_written":
        return sources
    said.append(f"times are {abs(minutes):g} min {way} than written, as you said")
    return move_times(sources, minutes)


def move_times(sources: dict[str, Source], minutes: float) -> dict[str, Source]:
    """Sources of times moved by so many minutes; lengths stay as they are."""
    return {
        name: replace(source, shift_min=source.shift_min + minutes) if _is_time(name, source) else source
        for name, source in sources.items()
    }


def _is_time(name: str, source: Source) -> bool:
    return (name in ("time", "start", "end") and source.reads != "length_after_start") or source.reads == "end"
