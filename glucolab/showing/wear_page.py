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
from glucolab.showing.charts.day_table import median_mg_dl
from glucolab.showing.charts.days import scale_tick
from glucolab.showing.display import Display, display_of, is_known, write_number
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import cut_rows, show_chart
from glucolab.showing.words.common import GAP_WORDS, say_count, say_day, say_duration, say_moment, say_reasons, say_rise
from glucolab.showing.words.findings.effects import choose_findings, choose_next, say_finding, say_next_question
from glucolab.showing.words.pages import wear as words
from glucolab.showing.words.pages.day import list_events
from glucolab.showing.words.pages.walks import say_walk_sources
from glucolab.showing.words.pages.wear_first import say_alone, say_narrowed, share_causes
from glucolab.so_far import SoFar, choose_page_findings
from glucolab.summaries import union_minutes

if TYPE_CHECKING:
    from glucolab.results import WearAnalysis

MEALS_DRAWN = 10
MEALS_OPEN = 6
DISHES_DRAWN = 6
_CURVES = (
    "Dishes eaten twice or more, each eating a line from its own start, the thick one their mean. "
    "Look first at how far lines of one dish lie apart."
)
_CHECKS = (
    "Each blood value: how far the sensor, as measured, read from it. The band is where its average error is taken to "
    "lie; a dot far from it was taken while glucose moved, or is doubtful."
)
DAY_WIDE_PX = 850
"""A closed day at a desk. [px]"""
MOST_DAYS = 40
"""Of a sensor that lasts for months the latest are drawn: each takes about 50 KB of a page."""
_MEALS = "Meal by meal"
_PEAKS = "Peaks, and what came with them"
_MOST_LISTED = 24
"""Unexplained rises listed, the latest."""


def _markup(part: Part) -> Markup:
    return Markup(part.html)


def show_rises(result: WearAnalysis, study: Study) -> Part:
    """Rises by what they are linked to, and those with no cause noted, each with a link to its day."""
    excursions, display = result.tables["excursions"], display_of(study)
    sentence = words.say_rises(excursions, result.summary["days"])
    if not len(excursions):
        return fold_part(_PEAKS, show_sentence(sentence))
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
    html = fill_template("rises.html", sentence=sentence, figure=_markup(figure), rows=rows)
    return fold_part(_PEAKS, Part(html, sentence))


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
    display, dates, median = display_of(study), _drawn_dates(result), median_mg_dl(result)
    skipped = len(result.days.dates) - len(dates)
    table = charts.tabulate_days(result)
    table = table[table["day"] >= dates[0].strftime("%Y-%m-%d")]
    daily, numbers = result.tables["daily"].iloc[skipped:], display.numbers
    means = [display.level(v) if numbers and is_known(v) else "–" if numbers else "" for v in daily["mean_mg_dl"]]
    slept = [f"{write_number(v, 1)} h" if is_known(v) else "–" for v in daily["asleep_h"]]
    pictures = {
        f"{size}_{width}": cut_rows(charts.chart_days(table, dates, median, display, px, size == "tall"))
        for size, wide in (("row", DAY_WIDE_PX), ("tall", theme.WIDE_PX))
        for width, px in (("wide", wide), ("narrow", theme.NARROW_PX))
    }  # fmt: skip
    events = list_events(result, display)
    days = [
        {
            "id": f"day-{date:%Y-%m-%d}",
            "label": say_day(date),
            "note": _name_latest(result, now) if i == len(dates) - 1 else "",
            "events": events.get(skipped + i, []),
            "mean": means[i],
            "slept": slept[i],
            **{name: Markup(rows[i]) for name, rows in pictures.items()},
        }
        for i, date in enumerate(dates)
    ]
    tick = scale_tick(display)
    text = f"The latest {len(dates)} of {len(result.days.dates)} days are drawn." if skipped else ""
    html = fill_template(
        "days.html", days=days, kinds=set(table["kind"]), text=text, tick=tick, unit=display.unit, numbers=numbers,
        usual=display.level(median) if numbers and np.isfinite(median) else "",
    )  # fmt: skip
    return Part(html, text or f"{len(dates)} days, midnight to midnight.")


def _name_latest(result: WearAnalysis, now: pd.Timestamp | None) -> str:
    """What the last row is called while a wear is running."""
    if result.summary["state"] != "running":
        return ""
    now = pd.Timestamp.now("UTC") if now is None else now
    today = to_local(pd.DatetimeIndex([now]), result.wear.zones)[0].normalize()
    return "today" if today == result.days.dates[-1] else "latest day"


def show_questions(study: Study, so_far: SoFar) -> Part:
    """Every clear link beyond those of the first screen, and at most three open questions, folded."""
    title = "What to find out next"
    if study.person.describe_only:
        return Part("", "")
    display, effects, worth = display_of(study), so_far.tables["effects"], study.goal.worth_noticing_mg_dl
    led = {one.name for one in choose_page_findings(so_far.tables)}
    held = choose_findings(effects, study.person)
    findings = [say_finding(row, worth, display) for _, row in held[~held["factor"].isin(led)].iterrows()]
    asked = choose_next(effects, so_far.tables["next_questions"], study.person)
    questions = [say_next_question(row, display) for _, row in asked.iterrows()]
    html = fill_template(
        "questions.html", findings=findings, questions=questions, asked=len(effects), told="What else stood out",
        led=bool(led),
    )  # fmt: skip
    return fold_part(title, Part(html, " ".join([*findings, *(" ".join(q) for q in questions)])))


def show_meals(result: WearAnalysis, study: Study) -> Part:
    """The response to each meal, the newest first; those that may not be used with the reason."""
    display = display_of(study)
    meals = result.tables["meal_responses"].sort_values("time", ascending=False)
    if not len(meals):
        return fold_part(_MEALS, show_sentence("No meals were logged in this wear."))
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
    return fold_part(_MEALS, Part(html, sentence))


def _draw_curves(result: WearAnalysis, usable: pd.DataFrame, display: Display) -> Markup | str:
    """Each eating of the dishes eaten most often; nothing where none was eaten twice."""
    counts = usable["dish"].value_counts()
    dishes = [str(dish) for dish, n in counts.items() if dish and n >= 2][:DISHES_DRAWN]
    if not dishes:
        return ""
    eatings = pd.concat([gather_meal_curves(result.trace, usable, [dish]) for dish in dishes], ignore_index=True)
    return _markup(show_chart(charts.chart_curves, eatings, display, caption=_CURVES))


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


def show_trust(result: WearAnalysis, study: Study, so_far: SoFar) -> Part:
    """What the record is worth, in three lines, and what is not shown, with the reason."""
    summary, display = result.summary, display_of(study)
    own = so_far.find(result.wear.name)
    lines = [words.say_record(result), words.say_sensor(own, summary, display), words.say_clock(summary)]
    withheld = list(dict.fromkeys(summary["withheld"].values()))
    rows = [line for line in lines if line]
    html = fill_template("trust.html", rows=rows, withheld=withheld)
    return Part(html, " ".join([*rows, *withheld]))


def show_uncertainty(result: WearAnalysis, study: Study, so_far: SoFar) -> Part:
    """What the average's uncertainty is made of, what would narrow it, and what this wear alone would give, folded."""
    title, display, own = "What the uncertainty is made of", display_of(study), so_far.find(result.wear.name)
    if own is None:
        return fold_part(title, show_sentence(so_far.fault or result.summary["withheld"].get("mean", "")))
    shares = share_causes(own)
    figure = _markup(show_chart(charts.chart_error_shares, shares))
    lines = [words.say_usual(own, display), say_alone(own, result.summary, display)]
    if not study.person.describe_only:
        lines += [*say_narrowed(so_far.tables["next_checks"], display), words.say_next_file(result.summary)]
    rows = [line for line in lines if line]
    return fold_part(title, Part(fill_template("list.html", sentence="", rows=rows) + figure, " ".join(rows)))


def show_quality(result: WearAnalysis, study: Study) -> Part:
    """The record by cause: what was used, set aside and missing, the checks, and what was wrong with the files."""
    summary, display = result.summary, display_of(study)
    spans = result.tables["flags"].groupby(["flag", "action"], sort=False)
    flags = [
        (FLAGS[str(flag)], say_duration(union_minutes(mine)), "not used" if action == "exclude" else "used, marked")
        for (flag, action), mine in spans
    ]
    gaps = [{"name": GAP_WORDS[kind], "time": say_duration(m)} for kind, m in summary["gap_minutes"].items() if m]
    said = [words.say_night_unchecked(result), words.say_doubted(summary), words.say_lag(summary)]
    known = [sentence for sentence in said if sentence]
    checks, bias, figure = result.trace.checks, summary["bias_mg_dl"], ""
    if len(checks) and is_known(bias):
        figure = _markup(show_chart(charts.chart_checks, checks, bias, result.wear.zones, display, caption=_CHECKS))
    folder = f"wear_periods/{result.wear.name}/"
    problems = [str(problem).removeprefix(folder) for problem in study.problems if problem.file.startswith(folder)]
    strip = _markup(show_chart(charts.chart_record, result))
    html = fill_template(
        "quality.html", strip=strip, known=known, checks=figure, flags=flags, gaps=gaps, problems=problems
    )
    return fold_part("What the sensor recorded", Part(html, " ".join([*known, *problems])))


def fold_part(title: str, part: Part) -> Part:
    """A part of a page that opens by its title."""
    return Part(fill_template("fold.html", title=title, inside=Markup(part.html)), f"{title}: {part.text}")


def show_method(out: str | Path, wear: str) -> Part:
    """How the figures were worked out, and the tables beside the page, folded."""
    files = show_files(out, wear)
    html = fill_template("method.html", files=Markup(files.html))
    return fold_part("How this was worked out", Part(html, files.text))


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
