"""What stands on the study's page? Its parts, from the tables of a report."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.relating.effects.levers import sort_by_average
from glucolab.relating.planning.trial_arms import factor_of_arms
from glucolab.showing import charts
from glucolab.showing.charts.listed import chart_claim, choose_dishes, order_dishes
from glucolab.showing.charts.study import GLUCOSE_OUTCOMES, choose_drawn
from glucolab.showing.display import Display, display_of, is_known, write_number
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import draw_svg, show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import OUTCOME_WORDS, VERDICT_WORDS, say_factor, say_title
from glucolab.showing.words.findings.average_parts import say_average_parts
from glucolab.showing.words.findings.effects import (
    choose_findings,
    choose_next,
    say_finding,
    say_next_question,
    say_range_effect,
)
from glucolab.showing.words.findings.forecasts import say_forecasts
from glucolab.showing.words.findings.habits import HABIT_WORDS, say_change, say_habit_means, say_habits
from glucolab.showing.words.findings.levers import ONLY_IF, list_levers, say_levers
from glucolab.showing.words.findings.prediction import say_prediction
from glucolab.showing.words.pages import study as words
from glucolab.showing.words.pages.plan import say_steps
from glucolab.showing.words.pages.wear import say_describe_only
from glucolab.showing.words.pages.wear_first import say_page_finding
from glucolab.so_far import Finding, find_shown

MOST_CLAIMS = 3
"""Findings on the first screen, which must hold what to do next too."""
_MOST_HABITS = 6


def show_overview(tables: dict[str, pd.DataFrame], summary: dict[str, Any], study: Study, linked: bool = True) -> Part:
    """The first screen: the latest average and the goal, what changed, what stood out, what to do next, the year.

    `linked` is False where there are no pages of the wears to lead to.
    """
    display, periods = display_of(study), tables["periods"]
    advises = not study.person.describe_only
    running = {wear.name for wear in study.wears if wear.running}
    lead, aim = (
        words.say_latest(periods, running, display),
        words.say_goal_met(periods, study.goal, study.person, display),
    )
    change = _say_what_changed(tables["comparisons"], display) if advises else ""
    names = periods.loc[periods["level"] == "wear", "name"]
    levers = list_levers(tables["levers"]).head(_MOST_HABITS if advises else 0)
    told = _tell_claims(tables, study, display) if advises else []
    beneath = [words.HOW_TO_READ] if len(names) else []
    beneath += _say_beneath(tables, summary, study, display) if advises else []
    html = fill_template(
        "study_first.html", facts=words.list_study_facts(study.name, periods), lead=lead, aim=aim, change=change,
        pages=[(f"../{quote(name, safe='')}/report.html", say_title(name)) for name in names if linked],
        described=say_describe_only(study.person), advises=advises, findings=told, linked=words.LINKED,
        nothing=words.NOTHING_STOOD_OUT, figure=_draw_progress(periods, levers, running, study, display),
        beneath=beneath, steps=say_steps(tables, words.find_usual(periods), study.goal, study.person, display),
    )  # fmt: skip
    return Part(html, " ".join(text for text in (lead, aim, change, *(sentence for sentence, *_ in told)) if text))


def _say_beneath(tables: dict[str, pd.DataFrame], summary: dict[str, Any], study: Study, display: Display) -> list[str]:
    """What the average is made of, how far the goal is, and what is withheld of either or of the trend."""
    usual = words.find_usual(tables["periods"])
    parts = say_average_parts(tables["average_parts"], display) or summary["withheld"].get("average_parts", "")
    distance = say_levers(tables["levers"], usual, study.goal, display)[0]
    only_if = ONLY_IF if len(list_levers(tables["levers"])) else ""
    return [text for text in (parts, distance, only_if, words.say_trend(summary, display)) if text]


def _say_what_changed(comparisons: pd.DataFrame, display: Display) -> str:
    latest = words.find_latest(comparisons)
    if latest is None:
        return words.NOTHING_BEFORE
    changed = words.say_changed(latest) if is_known(latest["changed"]) and latest["relation"] != "overlapping" else ""
    return f"{words.say_comparison(latest, display)} {changed}".strip()


def _tell_claims(tables: dict[str, pd.DataFrame], study: Study, display: Display) -> list[tuple[str, Markup, str]]:
    """Sentence, picture and its text alternative of each claim; those that are no glucose have no picture.

    What an experiment showed comes first, and its habit is not told a second time: both rest on the same meals. What
    share of a usual rise it is stands in effects.csv, and would make the sentence long.
    """
    shown, found = _choose_told(tables, study)
    worth = study.goal.worth_noticing_mg_dl
    leading = [Finding(str(row["trial"]), str(row["outcome"]), row) for _, row in shown.iterrows()]
    told = [(" ".join(say_page_finding(one, worth, display)), Markup(""), "") for one in leading]
    drawn = found[found["outcome"].isin(GLUCOSE_OUTCOMES)]
    span = (min(0.0, drawn["range_low"].min()), max(0.0, drawn["range_high"].max())) if len(drawn) else (0.0, 0.0)
    for place, row in found.iterrows():
        sentence = say_finding(row.drop(["share", "share_low", "share_high"]).reindex(row.index), worth, display)
        if place not in drawn.index:
            told.append((sentence, Markup(""), ""))
            continue
        chart = chart_claim(row, span, worth, display, axis=place == drawn.index[-1])
        told.append((sentence, Markup(draw_svg(chart)), str(chart.description)))
    return told


def _choose_told(tables: dict[str, pd.DataFrame], study: Study) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What the first screen tells: experiments, rows of trial_results.csv, and links, of effects.csv."""
    shown = find_shown(tables["trial_results"])
    tried = {factor_of_arms((row["arm_a"], row["arm_b"])) for _, row in shown.iterrows()}
    shown, effects = shown.head(MOST_CLAIMS), tables["effects"]
    held = choose_findings(effects[~effects["factor"].isin(tried)], study.person)
    return shown, sort_by_average(held, tables["levers"]).head(MOST_CLAIMS - len(shown))


def _draw_progress(
    periods: pd.DataFrame, levers: pd.DataFrame, running: set[str], study: Study, display: Display
) -> Markup:
    known = periods[(periods["level"] == "wear") & periods["mean_mg_dl"].notna()]
    if not len(known):
        return Markup("")
    wears = known.assign(running=known["name"].isin(list(running))).sort_values("end", kind="stable")
    goal = None if study.person.describe_only else study.goal
    return Markup(show_chart(charts.chart_progress, wears, levers, goal, display).html)


def show_comparison(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """What differed between the latest wear and the one before, as written down, and every pair."""
    display, comparisons = display_of(study), tables["comparisons"]
    latest = words.find_latest(comparisons)
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    if latest is None:
        return show_sentence(words.NOTHING_BEFORE)
    overlapping = latest["relation"] == "overlapping"
    said = (
        []
        if overlapping
        else [say_habits(_habits_of(tables["habit_changes"], latest)), words.say_checks_needed(latest)]
    )
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
    html += _tabulate_habits(tables["habit_changes"], latest)
    html += fill_template("table.html", sentence=words.say_pairs(once), folded="All comparisons", head=head, rows=rows)
    return Part(html, " ".join(text for text in said if text))


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
    return (
        fill_template("table.html", sentence="", folded="How those weeks differed", head=head, rows=rows)
        if rows
        else ""
    )


def _comparison_row(row: pd.Series, display: Display) -> list[str]:
    known = is_known(row["difference_mg_dl"])
    figure = [display.change(*row[list(words.DIFFERENCE)]) if known else ""] if display.numbers else []
    block = row["largest_block"] if is_known(row["largest_block"]) else ""
    block = "worn at the same time" if row["relation"] == "overlapping" else block
    changed = ", ".join(row["changed"].split(";")) if is_known(row["changed"]) else ""
    return [say_title(row["period_a"]), say_title(row["period_b"]), *figure, block, changed]


def show_effects(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Claims beyond the first screen's, what is not clear yet, and every link that was checked."""
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    display, effects = display_of(study), tables["effects"]
    if not len(effects):
        return show_sentence(
            "Nothing noted could be set against glucose: meals, sleep, movement or daily notes would make it possible."
        )
    worth = study.goal.worth_noticing_mg_dl
    more = choose_findings(effects, study.person).drop(_choose_told(tables, study)[1].index)
    findings = [say_finding(row, worth, display) for _, row in more.iterrows()]
    asked = choose_next(effects, tables["next_questions"], study.person)
    questions = [say_next_question(row, display) for _, row in asked.iterrows()]
    html = fill_template("open_questions.html", findings=findings, questions=questions, asked=len(effects))
    if len(choose_drawn(effects)):
        html += Markup(show_chart(charts.chart_effects, effects, worth, display).html)
    head = [
        "what",
        "linked with",
        *(["difference over your own range (90 % interval)"] if display.numbers else []),
        "with / without",
        "q",
        "verdict",
    ]
    rows = [_effect_row(row, display) for _, row in effects.iterrows()]
    folded = f"All {len(effects)} links checked"
    text = " ".join([*findings, *(" ".join(question) for question in questions)])
    return Part(html + fill_template("table.html", sentence="", folded=folded, head=head, rows=rows), text)


def _effect_row(row: pd.Series, display: Display) -> list[str]:
    figure = [say_range_effect(row, display) if is_known(row["low"]) else ""] if display.numbers else []
    counts = (
        f"{int(row['n_with'])} / {int(row['n_without'])}" if is_known(row["n_without"]) else str(int(row["n_with"]))
    )
    q = write_number(row["q_value"], 2) if is_known(row["q_value"]) else ""
    outcome = OUTCOME_WORDS.get(row["outcome"], row["outcome"])
    return [say_factor(row["factor"]), outcome, *figure, counts, q, VERDICT_WORDS[row["verdict"]]]


def show_levers(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """What habits might do to the average, each in a sentence."""
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    lead, rows = say_levers(tables["levers"], words.find_usual(tables["periods"]), study.goal, display_of(study))
    return Part(fill_template("list.html", sentence="" if rows else lead, rows=rows), " ".join(rows) or lead)


def show_dishes(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """One list of dishes from the largest rise to the smallest, drinks last, and folded what tells one from another."""
    if study.person.describe_only:
        return show_sentence(words.DESCRIBED)
    display, dishes, pairs = display_of(study), tables["dishes"], tables["dish_pairs"]
    known = pairs[pairs["low_mg_dl"].notna()]
    if not len(known):
        return show_sentence("No two dishes have been eaten often enough to be compared.")
    listed = order_dishes(dishes)
    figure = show_chart(charts.chart_dishes, listed, display)
    said = [words.say_dishes(listed), words.say_dish_pairs(known)]
    html = fill_template("beside.html", title="", sentences=said, figure=Markup(figure.html))
    html += _tabulate_dishes(listed, display) if display.numbers and len(choose_dishes(listed)) < len(listed) else ""
    head = ["dish", "against", *(["difference of the rises (90 % interval)"] if display.numbers else []), "verdict"]
    rows = [_pair_row(row, display) for _, row in known.iterrows()]
    folded = f"All {len(known)} pairs of dishes"
    return Part(html + fill_template("table.html", sentence="", folded=folded, head=head, rows=rows), " ".join(said))


def _tabulate_dishes(dishes: pd.DataFrame, display: Display) -> str:
    rows = []
    for _, row in dishes.iterrows():
        rise, low, high = (
            display.signed(row[name]).removeprefix("+") for name in ("rise_mg_dl", "low_mg_dl", "high_mg_dl")
        )
        rows.append([str(row["dish"]), str(int(row["n"])), rise, f"{low} to {high}"])
    head = ["dish", "times", f"rise, {display.unit}", "90 % interval"]
    return fill_template("table.html", sentence="", folded=f"All {len(rows)} dishes", head=head, rows=rows)


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
