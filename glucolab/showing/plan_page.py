"""What should the next wear do? Its part of the study's page."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.showing import charts
from glucolab.showing.display import display_of
from glucolab.showing.figures import show_chart
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words import plan as words
from glucolab.showing.words.study import DESCRIBED

HOW_TO_DRAW = (
    "The command glucolab plan, with the name of this study's folder, gives the times of the finger-sticks and draws "
    "by lot the dates of an experiment, with a calendar to import."
)


def show_next_wear(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """How many finger-sticks are worth it, and what the next wear could and could not tell."""
    if study.person.describe_only:
        return show_sentence(DESCRIBED)
    checks, display = tables["next_checks"], display_of(study)
    if not len(checks):
        return show_sentence("Nothing can be planned before a wear has an average.")
    said = [words.say_checks(checks, display), words.say_next_goal(checks, display)]
    rows = [*(text for text in said if text), *words.say_next_questions(tables["next_questions"]), HOW_TO_DRAW]
    html = fill_template("list.html", sentence="", rows=rows)
    if display.numbers:
        html += Markup(show_chart(charts.chart_next_checks, checks, display).html)
    return Part(html, " ".join(rows))
