"""How does a plan become files? Tables, a calendar to import, and a record of how the lot was drawn."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
from icalendar import Calendar, Event

from glucolab import __version__
from glucolab.analysis import analyse_study
from glucolab.clock import ZoneSpans, to_local
from glucolab.errors import NothingToDo
from glucolab.measuring.cautions import ALWAYS
from glucolab.on_request import plan_study
from glucolab.record import Study
from glucolab.record.plan_outputs import PLAN_OUTPUTS
from glucolab.relating.planning.plan import Plan
from glucolab.relating.planning.trial_choice import Wish
from glucolab.results import StudyAnalysis
from glucolab.running.arguments import parse_span, read_arms, read_date
from glucolab.running.folder import check_out, fill_new_folder
from glucolab.running.tables import write_summary, write_tables
from glucolab.showing.words.pages.plan import HOW_TO_CHECK

CALENDAR = "next_wear.ics"
_SUMMARY = "next_wear.json"
CHECK_MINUTES = 15
_NAMESPACE = uuid.UUID("6d1c9c3e-6a55-4c7b-9d0a-0f1c8f2b7a10")
"""Of our own: the same event drawn with the same seed has the same identifier, so that importing twice adds nothing."""


def plan_from(study: Study, wish: Wish, progress: Callable[[str], None]) -> tuple[StudyAnalysis, Plan]:
    """Analyse a study, and plan its next wear.

    Raises
    ------
    NothingToDo
        If nothing can be planned, and why.
    """
    analysis = analyse_study(study, progress)
    if not analysis.wears:
        raise NothingToDo(f"{study.name}: no wear could be analysed", analysis.left_out)
    if analysis.fault is not None:
        raise NothingToDo(f"{study.name}: there is no plan without what the wears say together", analysis.left_out)
    return analysis, plan_study(analysis, wish)


def want_plan(
    start: str,
    *,
    days: float | None = None,
    avoid: str = "",
    arms: str = "",
    dish: str = "",
    factor: str = "",
    seed: int = 0,
) -> Wish:
    """What a notebook asks of a plan, in words.

    Parameters
    ----------
    start : str
        The day on which the next sensor goes on, 2026-12-01.
    days : float, optional
        How long it is worn; as long as the last one was to last if not given. [d]
    avoid : str, optional
        Days without experiment: 2026-12-06/2026-12-07, 2026-12-13.
    arms, dish : str, optional
        Of a new experiment: walk,rest, and what is eaten; arms without a dish are two dishes.
    factor : str, optional
        In place of arms: a factor of effects.csv, or a true or false column of days.csv.
    seed : int, optional
        Draws the lot.

    Returns
    -------
    Wish

    Raises
    ------
    ValueError
        If a day or the arms cannot be read.
    """
    spans = tuple(parse_span(span.strip()) for span in avoid.split(",") if span.strip())
    return Wish(
        read_date(start), days, spans, arms=read_arms(arms) if arms else (), dish=dish, factor=factor, seed=seed
    )


def want_plan_folder(out: Path, study: Path) -> None:
    """Refuse a folder that holds anything: a lot that was drawn is not drawn again over it.

    Raises
    ------
    NothingToDo
        If `out` is there and is no empty folder, or lies among the inputs.
    """
    if out.is_dir() and any(out.iterdir()):
        raise NothingToDo(
            f"--out {out} is not empty: a lot that was drawn stays as it fell; choose a new folder for another plan"
        )
    check_out(out, study)


def write_plan(plan: Plan, zones: ZoneSpans, out: Path) -> list[Path]:
    """Write a plan into a new folder, whole or not at all.

    Parameters
    ----------
    plan : Plan
    zones : ZoneSpans
    out : Path

    Returns
    -------
    list of Path
        The files written: tables (the rows of ``next_trial.csv`` go into trials.csv), calendar, summary.

    Raises
    ------
    OSError
        If something cannot be written; nothing is left behind then.
    """
    with fill_new_folder(out) as new:
        write_tables(new, _tables(plan), PLAN_OUTPUTS, zones)
        (new / CALENDAR).write_bytes(as_calendar(plan, zones).to_ical())
        write_summary(new, _summary(plan), _SUMMARY)
    return sorted(out.resolve().iterdir())


def _tables(plan: Plan) -> dict[str, pd.DataFrame]:
    repeats = pd.DataFrame(columns=PLAN_OUTPUTS["next_repeats"].names) if plan.trial is None else plan.trial.repeats
    dates = pd.DataFrame(columns=PLAN_OUTPUTS["next_trial"].names) if plan.trial is None else plan.trial.dates
    return {
        "next_checks": plan.checks,
        "next_check_times": plan.check_times,
        "next_questions": plan.questions,
        "next_repeats": repeats,
        "next_trial": dates,
    }


def _summary(plan: Plan) -> dict[str, Any]:
    trial = plan.trial
    return {
        "version": __version__,
        "start": plan.wish.start.isoformat(),
        "days": plan.days,
        "seed": plan.wish.seed,
        "avoid": [[first.isoformat(), last.isoformat()] for first, last in plan.wish.avoid],
        "trial": None if trial is None else {
            "name": trial.chosen.trial, "arms": list(trial.chosen.arms), "dishes": list(trial.chosen.dishes),
            "each": trial.each,
            "lot": "in blocks of one date of each arm; every order in a block is as likely as any other",
            "difference_mg_dl": trial.difference_mg_dl, "spread_mg_dl": trial.spread.typical_mg_dl,
            "usable_share": trial.usable, "chance_told": trial.expected.chance_told,
            "chance_early": trial.expected.chance_early, "dates_saved": trial.expected.dates_saved,
            "smallest_difference_mg_dl": trial.smallest_mg_dl, "repeats_needed": trial.repeats_needed,
        },
        "no_trial": plan.no_trial,
        "cautions": list(ALWAYS),
    }  # fmt: skip


def as_calendar(plan: Plan, zones: ZoneSpans) -> Calendar:
    """The plan as iCalendar (RFC 5545): a timed event a finger-stick, an all-day one a date of the experiment.

    Times are floating: what the clock shows wherever the wearer then is. No figure of glucose is in it.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//glucolab//{__version__}//EN")
    calendar.add("version", "2.0")
    stamp = datetime.now(UTC)
    for moment in to_local(pd.DatetimeIndex(plan.check_times["time"]), zones):
        start = moment.to_pydatetime()
        _add_event(calendar, stamp, "Finger-stick", HOW_TO_CHECK, start, start + timedelta(minutes=CHECK_MINUTES))
    if plan.trial is not None:
        chosen, dates = plan.trial.chosen, plan.trial.dates
        for day, row in zip(pd.DatetimeIndex(dates["date"]).date, dates.itertuples(), strict=True):
            text = f"{row.dish}. {row.note}"
            _add_event(calendar, stamp, f"{chosen.trial}: {row.arm}", text, day, day + timedelta(days=1))
    return calendar


def _add_event(calendar: Calendar, stamp: datetime, title: str, text: str, start: date, end: date) -> None:
    event = Event()
    event.add("uid", str(uuid.uuid5(_NAMESPACE, f"{title} {start.isoformat()}")))
    event.add("dtstamp", stamp)
    event.add("summary", title)
    event.add("description", text)
    event.add("dtstart", start)
    event.add("dtend", end)
    event.add("transp", "TRANSPARENT")  # it keeps no time of the day busy
    calendar.add_component(event)
