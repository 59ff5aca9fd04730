"""What should the next wear do? Its part of the study's page, and the whole plan for a notebook."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.clock import ZoneSpans, to_local
from glucolab.errors import NothingToDo
from glucolab.on_request import plan_study
from glucolab.record import Study
from glucolab.relating.planning.plan import Plan
from glucolab.relating.planning.trial_choice import Wish
from glucolab.results import StudyAnalysis
from glucolab.showing import charts
from glucolab.showing.display import display_of
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import say_day, say_moment
from glucolab.showing.words.pages import plan as words
from glucolab.showing.words.pages.study import DESCRIBED

HOW_TO_DRAW = (
    "The command glucolab plan gives the times of the finger-sticks and random dates for an experiment, with a "
    "calendar to import."
)


def show_next_wear(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Whether the next wear can settle the goal and how to plan it; folded, what it could and could not tell."""
    if study.person.describe_only:
        return show_sentence(DESCRIBED)
    checks, display = tables["next_checks"], display_of(study)
    if not len(checks):
        return show_sentence("Nothing can be planned before a wear has an average.")
    said = [text for text in (words.say_next_goal(checks, study.goal, display), HOW_TO_DRAW) if text]
    rows = [words.say_checks(checks, display), *words.say_next_questions(tables["next_questions"])]
    html = fill_template("beside.html", title="", sentences=said, figure="")
    inside = fill_template("list.html", sentence="", rows=rows)
    if display.numbers:
        inside += Markup(show_chart(charts.chart_next_checks, checks, display).html)
    html += fill_template("folded.html", title="What the next wear could answer", inside=inside)
    return Part(html, " ".join([*said, *rows]))


def show_plan(analysis: StudyAnalysis, wish: Wish, study: str) -> Part:
    """The next wear: when to prick a finger, which dates an experiment has, and what all of it could tell.

    Parameters
    ----------
    analysis : StudyAnalysis
    wish : Wish
    study : str
        The study folder, for the command that writes the same plan.

    Returns
    -------
    Part
        In words alone where nothing can be planned.
    """
    try:
        plan = plan_study(analysis, wish)
    except NothingToDo as reason:
        return show_sentence(f"Nothing can be planned: {reason}.")
    display, zones = display_of(analysis.study), ZoneSpans((analysis.study.person.time_zone,))
    goal = analysis.study.goal
    first = [words.say_checks(plan.checks, display), words.say_next_goal(plan.checks, goal, display)]
    first.append(words.HOW_TO_CHECK)
    experiment = words.say_trial_plan(plan.trial, display) if plan.trial else [plan.no_trial]
    command = words.say_command(study, wish)
    last = ["Tables, a calendar to import and rows for trials.csv of this very plan:", command]
    html = "".join(
        [
            fill_template("list.html", sentence="", rows=[text for text in first if text]),
            _tabulate_times(plan, zones),
            fill_template("list.html", sentence="", rows=experiment),
            _tabulate_dates(plan),
            fill_template("list.html", sentence="", rows=words.say_next_questions(plan.questions)),
            fill_template("list.html", sentence="", rows=last),
        ]
    )
    return Part(html, "\n".join([*words.say_plan(plan, goal, zones, display), command]))


def _tabulate_times(plan: Plan, zones: ZoneSpans) -> str:
    if not len(plan.check_times):
        return ""
    local = to_local(pd.DatetimeIndex(plan.check_times["time"]), zones)
    rows = [[str(i), say_moment(moment)] for i, moment in enumerate(local, start=1)]
    return fill_template("table.html", sentence="", folded="", head=["finger-stick", "when"], rows=rows)


def _tabulate_dates(plan: Plan) -> str:
    if plan.trial is None:
        return ""
    dates = plan.trial.dates
    rows = [[say_day(day), str(arm)] for day, arm in zip(dates["date"], dates["arm"], strict=True)]
    return fill_template("table.html", sentence="", folded="", head=["date", "drawn by lot"], rows=rows)
