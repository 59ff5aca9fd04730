"""What stands on a wear's page? Its parts, in the order of the reader's questions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from markupsafe import Markup

from glucolab.clock import to_local
from glucolab.measuring.cautions import ALWAYS
from glucolab.record import FLAGS, Study
from glucolab.relating.observations.meal_curves import gather_meal_curves
from glucolab.showing import charts, theme
from glucolab.showing.display import Display, display_of, is_known, write_number
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import cut_rows, show_chart
from glucolab.showing.words.common import GAP_WORDS, say_count, say_day, say_duration, say_moment, say_reasons, say_rise
from glucolab.showing.words.findings.effects import choose_findings, choose_questions, say_finding, say_question
from glucolab.showing.words.pages import wear as words
from glucolab.showing.words.pages.day import list_events
from glucolab.showing.words.pages.walks import say_walk_sources
from glucolab.summaries import union_minutes

if TYPE_CHECKING:
    from glucolab.analysis import WearAnalysis

MEALS_DRAWN = 10
MEALS_OPEN = 6
DISHES_DRAWN = 6
CURVES = (
    "Dishes eaten twice or more, each eating a line from its own start, the thick one their mean. "
    "Look first at how far lines of one dish lie apart."
)
_CHECKS = (
    "Each blood value: how far the sensor, as measured, read from it. The band is where its average error is taken to "
    "lie; a dot far from it was taken while glucose moved, or is doubtful."
)
MOST_DAYS = 40
"""Of a sensor that lasts for months the latest are drawn: each takes about 50 KB of a page."""
_MOST_LISTED = 24
"""Unexplained rises listed, the latest."""


def show_first_screen(result: WearAnalysis, study: Study) -> Part:
    """The goal in one sentence, its interval, what the doubt is made of and what would narrow it.

    Parameters
    ----------
    result : WearAnalysis
    study : Study

    Returns
    -------
    Part
    """
    display, summary, person = display_of(study), result.summary, study.person
    known = is_known(summary["mean"])
    goal = None if person.describe_only else study.goal.mean_mg_dl
    lead, aim = words.say_mean(summary, display), words.say_goal(summary, study.goal, person, display)
    shares = summary["usual_mean_error_shares"] if is_known(summary["usual_mean"]) else None
    html = fill_template(
        "first_screen.html",
        facts=words.list_facts(result), lead=lead, aim=aim, described=words.say_describe_only(person),
        usual=words.say_usual(summary, display) if known else summary["withheld"].get("mean", ""),
        mean=_markup(show_chart(charts.chart_mean, summary, goal, display)) if known else "",
        shares=_markup(show_chart(charts.chart_error_shares, shares)) if shares else "",
        most=words.say_error_shares(shares) if shares else "",
        narrows=words.list_what_narrows(summary, person, display),
        next_file=words.say_next_file(summary, person, display),
        latest=words.say_latest_meal(result, display),
    )  # fmt: skip
    return Part(html, f"{lead} {aim}".strip())


def _markup(part: Part) -> Markup:
    return Markup(part.html)


def show_record(result: WearAnalysis, study: Study) -> Part:
    """The strip of what was recorded, set aside and missing, and what was wrong with the wear's files."""
    figure = show_chart(charts.chart_record, result)
    sentence = words.say_record(result)
    folder = f"wear_periods/{result.wear.name}/"
    problems = [str(problem).removeprefix(folder) for problem in study.problems if problem.file.startswith(folder)]
    html = fill_template("record.html", sentence=sentence, figure=_markup(figure), problems=problems)
    return Part(html, " ".join([sentence, *problems]))


def show_blocks(result: WearAnalysis, study: Study) -> Part:
    """How the hours of the day differ."""
    if not result.blocks["difference_mg_dl"].notna().any():
        return show_sentence("Too few whole days were recorded to tell the hours of the day apart.")
    return show_chart(charts.chart_blocks, result.blocks, study.goal.worth_noticing_mg_dl, display_of(study))


def show_rises(result: WearAnalysis, study: Study) -> Part:
    """Rises by what they are linked to, and those with no cause noted, each with a link to its day."""
    excursions, display = result.tables["excursions"], display_of(study)
    sentence = words.say_rises(excursions, result.summary["days"])
    if not len(excursions):
        return show_sentence(sentence)
    alone = excursions[excursions["linked_to"].str.split(";").str[0] == "unexplained"].tail(_MOST_LISTED)
    drawn = _drawn_dates(result)
    rows = [
        {"day": f"day-{t:%Y-%m-%d}" if t >= drawn[0] else "", "when": say_moment(t), "minutes": say_duration(m),
         "height": f"{display.size(r)} {display.unit}" if display.numbers else ""}
        for t, m, r in zip(
            to_local(alone["start"], result.wear.zones), alone["minutes"], alone["rise_mg_dl"], strict=True
        )
    ]  # fmt: skip
    figure = show_chart(charts.chart_rises, excursions, display)
    return Part(fill_template("rises.html", sentence=sentence, figure=_markup(figure), rows=rows), sentence)


def _drawn_dates(result: WearAnalysis) -> pd.DatetimeIndex:
    """The days that a page draws: all of a usual wear, the latest of one that lasts for months."""
    return result.days.dates[-MOST_DAYS:]


def show_days(result: WearAnalysis, study: Study, now: pd.Timestamp | None = None) -> Part:
    """Every day as a row that opens, with what happened on it.

    Parameters
    ----------
    result : WearAnalysis
    study : Study
    now : Timestamp or None
        For naming today while a wear is running; None is this moment. [UTC]

    Returns
    -------
    Part
    """
    display, dates, median = display_of(study), _drawn_dates(result), charts.median_mg_dl(result)
    skipped = len(result.days.dates) - len(dates)
    table = charts.tabulate_days(result)
    table = table[table["day"] >= dates[0].strftime("%Y-%m-%d")]
    pictures = {
        f"{size}_{width}": cut_rows(charts.chart_days(table, dates, median, display, px, size == "tall"))
        for size in ("row", "tall") for width, px in (("wide", theme.WIDE_PX), ("narrow", theme.NARROW_PX))
    }  # fmt: skip
    events = list_events(result, display)
    days = [
        {
            "id": f"day-{date:%Y-%m-%d}",
            "label": say_day(date),
            "note": _name_latest(result, now) if i == len(dates) - 1 else "",
            "events": events.get(skipped + i, []),
            **{name: Markup(rows[i]) for name, rows in pictures.items()},
        }
        for i, date in enumerate(dates)
    ]
    text = f"The latest {len(dates)} of {len(result.days.dates)} days are drawn." if skipped else ""
    html = fill_template("days.html", days=days, kinds=set(table["kind"]), text=text)
    return Part(html, text or f"{len(dates)} days, midnight to midnight.")


def _name_latest(result: WearAnalysis, now: pd.Timestamp | None) -> str:
    """What the last row is called while a wear is running."""
    if result.summary["state"] != "running":
        return ""
    now = pd.Timestamp.now("UTC") if now is None else now
    today = to_local(pd.DatetimeIndex([now]), result.wear.zones)[0].normalize()
    return "today" if today == result.days.dates[-1] else "latest day"


def show_questions(result: WearAnalysis, study: Study) -> Part:
    """What this wear already tells, and at most three questions worth testing next."""
    if study.person.describe_only:
        return show_sentence(words.say_describe_only(study.person))
    display, effects, worth = display_of(study), result.effects, study.goal.worth_noticing_mg_dl
    effects = effects.assign(stood=np.nan)  # of this wear alone: the study's page counts wears
    findings = [say_finding(row, worth, display) for _, row in choose_findings(effects, study.person).iterrows()]
    questions = [say_question(row, display) for _, row in choose_questions(effects, study.person).iterrows()]
    text = " ".join([*findings, *(" ".join(q) for q in questions)])
    return Part(
        fill_template(
            "questions.html",
            findings=findings,
            questions=questions,
            asked=len(effects),
            told="What stood out",
        ),
        text,
    )


def show_meals(result: WearAnalysis, study: Study) -> Part:
    """The response to each meal, the newest first; those that may not be used with the reason."""
    display = display_of(study)
    meals = result.tables["meal_responses"].sort_values("time", ascending=False)
    if not len(meals):
        return show_sentence("No meals were logged in this wear, so no rise can be set beside what was eaten.")
    usable = meals[meals["usable_2h"].fillna(False).astype(bool)]
    figure = ""
    if len(usable):
        figure = _markup(show_chart(charts.chart_meals, usable.head(MEALS_DRAWN), result.wear.zones, display))
    rows = [
        _meal_row(row, moment, display)
        for row, moment in zip(meals.itertuples(), to_local(meals["time"], result.wear.zones), strict=True)
    ]
    sentence = (
        f"{len(usable) or 'None'} of {say_count(len(meals), 'eating occasion')} can be used. The newest stand first. "
        f"{say_walk_sources(result)}"
    ).strip()
    html = fill_template(
        "meals.html", sentence=sentence, figure=figure, curves=_draw_curves(result, usable, display), rows=rows,
        open=MEALS_OPEN, numbers=display.numbers,
    )  # fmt: skip
    return Part(html, sentence)


def _draw_curves(result: WearAnalysis, usable: pd.DataFrame, display: Display) -> Markup | str:
    """Each eating of the dishes eaten most often; nothing where none was eaten twice."""
    counts = usable["dish"].value_counts()
    dishes = [str(dish) for dish, n in counts.items() if dish and n >= 2][:DISHES_DRAWN]
    if not dishes:
        return ""
    eatings = pd.concat([gather_meal_curves(result.trace, usable, [dish]) for dish in dishes], ignore_index=True)
    return _markup(show_chart(charts.chart_curves, eatings, display, caption=CURVES))


def _meal_row(row: Any, moment: pd.Timestamp, display: Display) -> dict[str, str]:
    """Cells of the meals' table; figures of glucose only where they may be used and are wanted."""
    usable = is_known(row.usable_2h) and bool(row.usable_2h)
    back, peak = ("" if not is_known(v) else f"{write_number(v)} min" for v in (row.return_min, row.time_to_peak_min))
    return {
        "when": say_moment(moment),
        "name": str(row.name),
        "rise": say_rise(row, display).removeprefix("rise ") if usable and display.numbers else "",
        "carbs": f"{write_number(row.carbs_g)} g" if is_known(row.carbs_g) and display.numbers else "",
        "peak": peak if usable else "",
        "back": back,
        "walk": ("found" if row.walk_source == "found" else "yes")
        if is_known(row.walk_after) and row.walk_after
        else "",
        "reason": say_reasons(row.reason) if not usable and is_known(row.reason) else "",
    }


def show_quality(result: WearAnalysis, study: Study) -> Part:
    """How good the record was: time set aside and missing by cause, checks, bias, lag, and what is withheld."""
    summary, display = result.summary, display_of(study)
    spans = result.tables["flags"].groupby(["flag", "action"], sort=False)
    flags = [
        (FLAGS[str(flag)], say_duration(union_minutes(mine)), "set aside" if action == "exclude" else "noted")
        for (flag, action), mine in spans
    ]
    gaps = [{"name": GAP_WORDS[kind], "time": say_duration(m)} for kind, m in summary["gap_minutes"].items() if m]
    said = [words.say_coverage(summary), words.say_record(result), words.say_bias(summary, display)]
    said.append(words.say_night_unchecked(result))
    said += [words.say_doubted(summary), words.say_clock(summary), words.say_lag(summary)]
    known = [sentence for sentence in said if sentence]
    withheld = list(dict.fromkeys(summary["withheld"].values()))
    checks, bias, figure = result.trace.checks, summary["bias_mg_dl"], ""
    if len(checks) and is_known(bias):
        figure = _markup(show_chart(charts.chart_checks, checks, bias, result.wear.zones, display, caption=_CHECKS))
    html = fill_template("quality.html", known=known, checks=figure, flags=flags, gaps=gaps, withheld=withheld)
    return Part(html, " ".join([*known, *withheld]))


def show_cautions(summary: dict[str, Any]) -> Part:
    """The cautions that apply, on every page."""
    return Part(fill_template("cautions.html", cautions=summary["cautions"]), " ".join(summary["cautions"]))


def show_standing_cautions() -> Part:
    """The cautions that stand wherever figures do, for a page that has no wear to look at."""
    return show_cautions({"cautions": list(ALWAYS)})


def show_sentence(text: str) -> Part:
    """One sentence as a part of a page."""
    return Part(fill_template("sentence.html", text=text), text)


def show_files(out: str | Path, wear: str) -> Part:
    """The tables that lie beside a wear's page."""
    names = sorted(path.name for path in (Path(out) / wear).glob("*.*") if path.suffix in (".csv", ".json"))
    text = "The figures behind this page lie beside it." if names else "No tables have been written of this wear yet."
    return Part(fill_template("files.html", text=text, names=names), " ".join([text, *names]))
