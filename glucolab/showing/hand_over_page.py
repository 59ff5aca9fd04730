"""What stands on the page for a professional? At most two sides of figures, each with how sure it is, and no name."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
from markupsafe import Markup

from glucolab.analysis import StudyAnalysis
from glucolab.showing import charts
from glucolab.showing.colours import PAGE_COLOURS
from glucolab.showing.deidentify import name_nothing
from glucolab.showing.display import Display, display_of, is_known, write_number, write_percent
from glucolab.showing.markup import fill_template
from glucolab.showing.pictures import draw_svg
from glucolab.showing.words.common import say_span
from glucolab.showing.words.findings.effects import choose_findings, say_finding
from glucolab.showing.words.findings.trials import say_trial
from glucolab.showing.words.pages import hand_over as words
from glucolab.showing.words.pages.study import find_latest, say_changed, say_comparison

MARK = '<meta name="generator" content="glucolab share">'
_CHART_PX = 680
_MOST_WEARS, MOST_FINDINGS, MOST_TRIALS, MOST_PAIRS = 10, 7, 4, 6
"""What fits two sides with the longest sentences; what is left out is counted on the page."""


def write_hand_over(analysis: StudyAnalysis) -> str:
    """The whole page as HTML, offline, without script.

    Parameters
    ----------
    analysis : StudyAnalysis
        With at least one wear.

    Returns
    -------
    str
    """
    study, tables = analysis.study, name_nothing(analysis)
    display, periods = display_of(study), tables["periods"]
    advises = not study.person.describe_only
    known = periods[periods["mean_mg_dl"].notna()]
    drawn = known.tail(_MOST_WEARS)
    lead = [words.say_average(periods, display)]
    if advises:
        lead += [words.say_hand_over_goal(periods, study.goal, display), *_compare(tables["comparisons"], display)]
    chart = (
        charts.chart_periods(drawn, study.goal if advises else None, display, width=_CHART_PX) if len(drawn) else None
    )
    return fill_template(
        "hand_over.html",
        mark=Markup(MARK),
        colours=Markup("".join(f"--gl-{name}:{colour};" for name, colour in PAGE_COLOURS.items())),
        title=words.say_hand_over_title(periods),
        who=words.say_who(periods, study.person),
        lead=[sentence for sentence in lead if sentence],
        picture=Markup(draw_svg(chart)) if chart is not None else "",
        description=str(chart.description) if chart is not None else "",
        head=_head(display),
        rows=[_row(row, display) for _, row in periods.tail(_MOST_WEARS).iterrows()],
        earlier=max(len(periods) - _MOST_WEARS, 0),
        advises=advises,
        findings=_findings(tables["effects"], analysis, display),
        asked=len(tables["effects"]),
        others=[
            sentence
            for sentence in (
                words.say_small(tables["effects"], MOST_PAIRS),
                words.say_open(tables["effects"], MOST_PAIRS),
            )
            if sentence
        ],
        trials=_trials(tables["trial_results"], display) if advises else [],
        quality=words.say_left_out([one.summary["flag_minutes"] for one in analysis.wears]),
        methods=words.METHODS,
        cautions=_cautions(analysis),
    )


def _compare(comparisons: pd.DataFrame, display: Display) -> list[str]:
    latest = find_latest(comparisons)
    if latest is None:
        return []
    return [say_comparison(latest, display), "" if latest["relation"] == "overlapping" else say_changed(latest)]


def _head(display: Display) -> list[str]:
    figures = [f"average, {display.unit} (90 %)", "living like this (90 %)", "SD", "sensor minus blood (90 %)"]
    return ["wear", "dates", "days", "usable", "finger-sticks used", *(figures if display.numbers else [])]


def _row(row: pd.Series, display: Display) -> list[str]:
    cells = [
        row["name"],
        say_span(row["start"], row["end"]),
        write_number(row["days"], 0),
        write_percent(row["coverage"]),
        f"{int(row['checks_used'])}",
    ]
    if not display.numbers:
        return cells
    if not is_known(row["mean_mg_dl"]):
        return [*cells, "withheld", "withheld", "withheld", words.say_hand_over_bias(row, display)]
    mean = display.level(row["mean_mg_dl"])
    ends = [display.level(row[f"mean_{end}_mg_dl"]) for end in ("low", "high")]
    usual = (
        f"{display.level(row['usual_low_mg_dl'])} to {display.level(row['usual_high_mg_dl'])}"
        if is_known(row["usual_low_mg_dl"])
        else "withheld"
    )
    spread = display.level(row["sd_mg_dl"]) if is_known(row["sd_mg_dl"]) else "withheld"
    return [*cells, f"{mean} ({ends[0]} to {ends[1]})", usual, spread, words.say_hand_over_bias(row, display)]


def _findings(effects: pd.DataFrame, analysis: StudyAnalysis, display: Display) -> list[str]:
    found = choose_findings(effects, analysis.study.person)
    worth = analysis.study.goal.worth_noticing_mg_dl
    said = [say_finding(row, worth, display) for _, row in found.head(MOST_FINDINGS).iterrows()]
    more = len(found) - len(said)
    return [*said, f"and {more} more, weaker"] if more else said


def _trials(results: pd.DataFrame, display: Display) -> list[str]:
    said = [f"Experiment {row['trial']}: {say_trial(row, display)}" for _, row in results.head(MOST_TRIALS).iterrows()]
    more = len(results) - len(said)
    return [*said, f"and {more} results more"] if more else said


def _cautions(analysis: StudyAnalysis) -> Sequence[str]:
    """Of every wear and of the study, each once, those that the data ask for first."""
    lists = [one.summary["cautions"] for one in analysis.wears] + [analysis.summary["cautions"]]
    asked: dict[str, int] = {}
    for sentences in lists:
        for sentence in sentences:
            asked[sentence] = asked.get(sentence, 0) + 1
    return sorted(asked, key=lambda sentence: asked[sentence] == len(lists))
