"""How does an analysis look where it is printed, or the last line of a cell? Few lines, or its page's first screen."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING

import pandas as pd

from glucolab.extras import MissingExtra, want_extra
from glucolab.measuring.cautions import ALWAYS
from glucolab.showing.display import NO_BREAK, display_of, is_known
from glucolab.showing.words.pages import study as of_study
from glucolab.showing.words.pages.wear import list_facts
from glucolab.so_far import look_back

if TYPE_CHECKING:
    from glucolab.results import StudyAnalysis, WearAnalysis

_LETTERS = 118
"""Of a printed line: more run over the edge of a terminal."""


def print_wear(result: WearAnalysis) -> str:
    """A wear alone in ten lines at most: what was recorded, its average, what must be said beside it, what there is.

    Parameters
    ----------
    result : WearAnalysis

    Returns
    -------
    str
    """
    summary, study = result.summary, result.study
    display, mean = display_of(study), summary["mean"]
    lines = [" · ".join(list_facts(result))]
    if not is_known(mean):
        lines.append(f"No average: {summary['withheld'].get('mean', '')}")
    elif display.numbers:
        lines.append(f"Average of this wear alone: {display.average(mean['estimate'], mean['low'], mean['high'])}")
    found = f"summary, trace, clean, to_frame(); tables: {_list_tables(result.tables)}"
    return _print(lines, summary["cautions"], found)


def print_study(result: StudyAnalysis) -> str:
    """A study in ten lines at most: its latest average, goal and change where it may be advised, and what there is.

    Parameters
    ----------
    result : StudyAnalysis

    Returns
    -------
    str
    """
    study, periods = result.study, result.tables["periods"]
    display, running = display_of(study), {wear.name for wear in study.wears if wear.running}
    lines = [" · ".join(of_study.list_study_facts(study.name, periods))]
    if result.fault is not None:
        lines.append(str(result.fault))
    else:
        aim = of_study.say_goal_met(periods, study.goal, study.person, display)
        lines.append(f"{of_study.say_latest(periods, running, display)} {aim}".strip())
    latest = of_study.find_latest(result.tables["comparisons"])
    if latest is not None and not study.person.describe_only:
        lines.append(of_study.say_comparison(latest, display))
    if result.left_out:
        lines.append(f"Left out: {len(result.left_out)}, listed in left_out")
    names = ", ".join(result.wears.names)
    found = f"wears: {names}; summary, to_frame(); tables: {_list_tables(result.tables)}"
    return _print(lines, result.summary["cautions"], found)


def _list_tables(tables: Mapping[str, pd.DataFrame]) -> str:
    """Names of tables with rows, each with how many."""
    return ", ".join(f"{name} ({len(table)})" for name, table in tables.items() if len(table)) or "none has rows"


def _cautions(cautions: Sequence[str]) -> list[str]:
    """What this record asks for, and the first two of those that always stand."""
    own = [text for text in cautions if text not in ALWAYS]
    return [*([" ".join(own)] if own else []), " ".join(ALWAYS[:2])]


def _print(lines: Sequence[str], cautions: Sequence[str], found: str) -> str:
    """Each on one line; a caution is never cut."""
    first, last = [_shorten(line) for line in lines], _shorten(found)
    return "\n".join([*first, *_cautions(cautions), last]).replace(NO_BREAK, " ")


def _shorten(line: str) -> str:
    return textwrap.shorten(line, _LETTERS * 3, placeholder=" …")


def show_wear(result: WearAnalysis) -> str:
    """The first screen of a wear's page as HTML, as known with it and the earlier wears, and the cautions.

    Parameters
    ----------
    result : WearAnalysis

    Returns
    -------
    str
    """
    try:
        want_extra("pages", "the first screen of its page is shown here")
    except MissingExtra as missing:
        return _as_text(print_wear(result), missing)
    from glucolab.showing.wear_first_screen import show_first_screen

    so_far = look_back(result.study, [*result.earlier, result])
    return _as_cell(show_first_screen(result, result.study, so_far, linked=False).html, result.summary["cautions"])


def show_study(result: StudyAnalysis) -> str:
    """The first screen of a study's page as HTML, and the cautions; after a fault, what was wrong.

    Parameters
    ----------
    result : StudyAnalysis

    Returns
    -------
    str
    """
    try:
        want_extra("pages", "the first screen of its page is shown here")
    except MissingExtra as missing:
        return _as_text(print_study(result), missing)
    from glucolab.showing.study_page import show_overview, show_problems

    tables, summary, study = dict(result.tables), result.summary, result.study
    first = show_problems(summary) if result.fault else show_overview(tables, summary, study, linked=False)
    return _as_cell(first.html, summary["cautions"])


def _as_text(printed: str, missing: MissingExtra) -> str:
    """What is printed, and what to install for more."""
    return f"<pre>{escape(printed)}</pre><p>{escape(str(missing))}</p>"


def _as_cell(html: str, cautions: Sequence[str]) -> str:
    from glucolab.showing.markup import explain_once, show_style
    from glucolab.showing.wear_page import show_cautions

    return show_style().html + explain_once(html + show_cautions({"cautions": list(cautions or ALWAYS)}).html)
