"""What stands on the study's page? Its parts, from the tables of a report."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import pandas as pd
from markupsafe import Markup

from glucolab.reading.meal_names import is_drink
from glucolab.record import Study
from glucolab.relating.effects.dishes import FEWEST_FOR_PAIRS
from glucolab.showing import charts
from glucolab.showing.display import Display, display_of, is_known, write_number
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import OUTCOME_WORDS, VERDICT_WORDS, say_factor, say_title
from glucolab.showing.words.findings.effects import (
    choose_findings,
    choose_next,
    say_finding,
    say_next_question,
    say_range_effect,
)
from glucolab.showing.words.findings.forecasts import say_forecasts
from glucolab.showing.words.findings.habits import HABIT_WORDS, say_change, say_habit_means, say_habits
from glucolab.showing.words.findings.levers import list_levers, say_levers
from glucolab.showing.words.findings.prediction import say_prediction
from glucolab.showing.words.pages import study as words
from glucolab.showing.words.pages.plan import say_steps
from glucolab.showing.words.pages.wear import say_describe_only

MOST_DRAWN = 12


def show_goal(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Where the latest wear stands toward the goal, and every wear on the calendar."""
    display, periods = display_of(study), tables["periods"]
    wears = periods[(periods["level"] == "wear") & periods["mean_mg_dl"].notna()]
    goal = None if study.person.describe_only else study.goal
    lead, aim = words.say_latest(periods, display), words.say_goal_met(periods, study.goal, study.person, display)
    figure = Markup(show_chart(charts.chart_periods, wears, goal, display).html) if len(wears) else ""
    facts = [say_title(study.name), words.say_wears(periods).rstrip(".")]
    names = periods.loc[periods["level"] == "wear", "name"]
    pages = [(f"../{quote(name, safe='')}/report.html", say_title(name)) for name in names]
    described = say_describe_only(study.person)
    html = fill_template(
        "study_first.html",
        facts=facts,
        lead=lead,
        aim=aim,
        figure=figure,
        described=described,
        pages=pages,
        steps=say_steps(tables, words.find_usual(periods), study.goal, study.person, display),
    )
    return Part(html, f"{lead} {aim}".strip())


def show_comparison(tables: dict[str, pd.DataFrame], summary: dict[str, Any], study: Study) -> Part:
    """The latest wear against the one before, what else changed, the trend; every pair folded."""
    display, comparisons = display_of(study), tables["comparisons"]
    latest = words.find_latest(comparisons)
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    if latest is None:
        return show_sentence("One wear alone cannot be compared: the next one will be set against it.")
    overlapping = latest["relation"] == "overlapping"
    said = [
        words.say_comparison(latest, display),
        "" if overlapping else words.say_changed(latest),
        "" if overlapping else say_habits(_habits_of(tables["habit_changes"], latest)),
        "" if overlapping else words.say_checks_needed(latest),
        words.say_trend(summary, display),
    ]
    head = [
        "earlier",
        "later",
        *(["difference (90 % interval)"] if display.numbers else []),
        "where",
        "also changed",
    ]
    # a stretch of one wear has that wear's name, and would say the same again
    once = comparisons.drop_duplicates(["period_a", "period_b"])
    rows = [_comparison_row(row, display) for _, row in once.iterrows()]
    html = fill_template("list.html", sentence="", rows=[s for s in said if s])
    html += fill_template("table.html", sentence=words.say_pairs(once), folded="Every pair", head=head, rows=rows)
    return Part(html + _tabulate_habits(tables["habit_changes"], latest), " ".join(said))


def _habits_of(habits: pd.DataFrame, latest: pd.Series) -> pd.DataFrame:
    return habits[(habits["wear_a"] == latest["period_a"]) & (habits["wear_b"] == latest["period_b"])]


def _tabulate_habits(habits: pd.DataFrame, latest: pd.Series) -> str:
    """What was written down of both wears, folded; empty where there is nothing."""
    mine = _habits_of(habits, latest)
    rows = [
        [
            HABIT_WORDS[row["habit"]],
            say_habit_means(row, "mean_a"),
            say_habit_means(row, "mean_b"),
            say_change(row),
            VERDICT_WORDS[row["verdict"]],
        ]
        for _, row in mine[mine["difference"].notna()].iterrows()
    ]
    head = ["a day, as written down", "earlier", "later", "difference (90 % interval)", "verdict"]
    return fill_template("table.html", sentence="", folded="What else was lived", head=head, rows=rows) if rows else ""


def _comparison_row(row: pd.Series, display: Display) -> list[str]:
    known = is_known(row["difference_mg_dl"])
    figure = [display.change(*row[list(words.DIFFERENCE)]) if known else ""] if display.numbers else []
    block = row["largest_block"] if is_known(row["largest_block"]) else ""
    block = "worn at the same time" if row["relation"] == "overlapping" else block
    changed = ", ".join(row["changed"].split(";")) if is_known(row["changed"]) else ""
    return [say_title(row["period_a"]), say_title(row["period_b"]), *figure, block, changed]


def show_effects(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """What goes with glucose, as intervals over the band too small to matter, and what is worth asking next."""
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    display, effects = display_of(study), tables["effects"]
    if not len(effects):
        return show_sentence(
            "Nothing noted could be set against glucose: meals, sleep, movement or daily notes would make it possible."
        )
    worth = study.goal.worth_noticing_mg_dl
    findings = [say_finding(row, worth, display) for _, row in choose_findings(effects, study.person).iterrows()]
    asked = choose_next(effects, tables["next_questions"], study.person)
    questions = [say_next_question(row, display) for _, row in asked.iterrows()]
    html = fill_template(
        "questions.html", findings=findings, questions=questions, asked=len(effects), told="What stood out"
    )
    drawn = (
        effects[effects["outcome"].isin(charts.GLUCOSE_OUTCOMES) & effects["low"].notna()]
        .sort_values("q_value")
        .head(MOST_DRAWN)
    )
    if len(drawn):
        html += Markup(show_chart(charts.chart_effects, drawn, worth, display).html)
    head = [
        "what",
        "goes with",
        *(["difference over your own range (90 % interval)"] if display.numbers else []),
        "with / without",
        "q",
        "verdict",
    ]
    rows = [_effect_row(row, display) for _, row in effects.iterrows()]
    folded = f"All {len(effects)} links checked"
    return Part(
        html + fill_template("table.html", sentence="", folded=folded, head=head, rows=rows), " ".join(findings)
    )


def _effect_row(row: pd.Series, display: Display) -> list[str]:
    figure = [say_range_effect(row, display) if is_known(row["low"]) else ""] if display.numbers else []
    counts = (
        f"{int(row['n_with'])} / {int(row['n_without'])}" if is_known(row["n_without"]) else str(int(row["n_with"]))
    )
    q = write_number(row["q_value"], 2) if is_known(row["q_value"]) else ""
    outcome = OUTCOME_WORDS.get(row["outcome"], row["outcome"])
    return [say_factor(row["factor"]), outcome, *figure, counts, q, VERDICT_WORDS[row["verdict"]]]


def show_levers(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """What habits might do to the average, as intervals on one axis with the distance to the goal."""
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    display, levers = display_of(study), tables["levers"]
    usual = words.find_usual(tables["periods"])
    lead, rows = say_levers(levers, usual, study.goal, display)
    drawn = list_levers(levers)
    figure = Markup(show_chart(charts.chart_levers, drawn, usual, study.goal, display).html) if len(drawn) else ""
    return Part(figure + fill_template("list.html", sentence=lead, rows=rows), lead or rows[0])


def show_dishes(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Dishes from the largest rise to the smallest, drinks apart, and folded what tells one from another."""
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    display, dishes, pairs = display_of(study), tables["dishes"], tables["dish_pairs"]
    known = pairs[pairs["low_mg_dl"].notna()]
    if not len(known):
        return show_sentence("No two dishes have been eaten often enough to be set against each other.")
    ranked = dishes[dishes["n"] >= FEWEST_FOR_PAIRS].sort_values("rise_mg_dl", ascending=False, kind="stable")
    drinks = is_drink(ranked["dish"])
    sentence = f"{words.say_dishes(ranked[~drinks])} {words.say_dish_pairs(known)}".strip()
    html = fill_template("list.html", sentence=sentence, rows=[])
    for title, listed in (("", ranked[~drinks]), ("Drinks", ranked[drinks])):
        if len(listed):
            drawn = listed.nlargest(MOST_DRAWN, "n").sort_values("rise_mg_dl", ascending=False, kind="stable")
            html += fill_template("list.html", sentence=title, rows=[])
            html += Markup(show_chart(charts.chart_dishes, drawn, display).html)
    head = ["dish", "against", *(["difference of the rises (90 % interval)"] if display.numbers else []), "verdict"]
    rows = [_pair_row(row, display) for _, row in known.iterrows()]
    return Part(html + fill_template("table.html", sentence="", folded="Every pair", head=head, rows=rows), sentence)


def _pair_row(row: pd.Series, display: Display) -> list[str]:
    figure = [display.change(*row[list(words.DIFFERENCE)])] if display.numbers else []
    return [str(row["dish_a"]), str(row["dish_b"]), *figure, VERDICT_WORDS[row["verdict"]]]


def show_prediction(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Whether meals can be predicted, and what the log alone does for it."""
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    display = display_of(study)
    said = say_forecasts(tables["forecasts"], display), say_prediction(tables["log_prediction"], display)
    return show_sentence(" ".join(said))


def show_problems(summary: dict[str, Any]) -> Part:
    """What was wrong with the input, file and line."""
    problems = summary["problems"]
    sentence = "" if problems else "Nothing was found wrong with the files."
    return Part(fill_template("list.html", sentence=sentence, rows=problems), sentence or "\n".join(problems))
