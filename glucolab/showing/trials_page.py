"""What stands on the page of planned experiments? Each with its result, every date, and how it was done."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.record.trial_outputs import NOT_YET
from glucolab.showing import charts
from glucolab.showing.display import NO_BREAK, Display, display_of, is_known, write_number
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import say_day, say_title
from glucolab.showing.words.findings import trials as words
from glucolab.showing.words.findings.trial_report import GUIDELINE, list_report_items
from glucolab.showing.words.pages.study import DESCRIBED

MOST_TOLD = 2
"""Experiments that stand unfolded, the latest."""


def show_trials(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Planned experiments as stories, the latest first: what was found, the curve with and without, the rest folded."""
    if study.person.describe_only:
        return show_sentence(DESCRIBED)
    dates = tables["trial_dates"]
    if not len(dates):
        return show_sentence("No experiment yet: the command glucolab plan draws one up.")
    latest = dates.groupby("trial", sort=False)["date"].max().sort_values(ascending=False, kind="stable")
    parts = [_show_trial(str(trial), tables, study, told=i < MOST_TOLD) for i, trial in enumerate(latest.index)]
    return Part(Markup("").join(Markup(part.html) for part in parts), "\n".join(part.text for part in parts))


def _show_trial(trial: str, tables: dict[str, pd.DataFrame], study: Study, told: bool) -> Part:
    """One experiment; one that is not among the latest is folded whole."""
    display = display_of(study)
    dates, found, before, curves = (
        tables[name][tables[name]["trial"] == trial]
        for name in ("trial_dates", "trial_results", "trial_carry_over", "trial_curves")
    )
    planned = study.table("trials")
    leading = found[found["outcome"] == "rise_mg_dl"]
    story = [words.tell_trial(row, display) for _, row in leading.iterrows()] or ["One arm alone cannot be compared."]
    story += [text for _, row in leading.iterrows() if (text := words.say_stop(row, words.count_ahead(dates, row)))]
    results = [words.say_trial(row, display) for _, row in found.iterrows()]
    counted = [*words.say_arm_dates(dates), words.say_missed_more(dates), words.say_walks(dates)]
    facts = [text for text in [*counted, *words.say_carry_over(before, display)] if text]
    figure = Markup(show_chart(charts.chart_trial_curves, curves, display).html) if len(curves.dropna()) else ""
    title = words.say_trial_title(trial)
    html = fill_template(
        "trial.html",
        title=title,
        told=told,
        story=fill_template("beside.html", title=title if told else "", sentences=story, figure=figure),
        question=words.say_trial_question(dates),
        results=results,
        dots=_draw(dates, display),
        facts=facts,
        dates=_tabulate(dates, display),
        items=list_report_items(dates, planned[planned["trial"] == trial], results or story),
        guideline=GUIDELINE,
    )
    return Part(html, " ".join([f"{title}.", *story, *results, *facts]))


def _draw(dates: pd.DataFrame, display: Display) -> Markup:
    over = dates[~dates["reason"].isin(NOT_YET)]
    seen, used = over["rise_mg_dl"].notna(), over["used"].astype(bool)
    if not seen.any():
        return Markup("")
    key = {"Filled marks count.": used.any(), "Hollow ones do not.": (seen & ~used).any(),
           "A cross at the foot: no figure.": (~seen).any(),
           "An upright line: the next wear.": len(set(over["wear"]) - {""}) > 1}  # fmt: skip
    caption = " ".join(text for text, there in key.items() if there)
    return Markup(show_chart(charts.chart_trial, over, display, caption=caption).html)


def _tabulate(dates: pd.DataFrame, display: Display) -> Markup:
    figures = [f"rise, {display.unit}", f"area, {display.unit} min"] if display.numbers else []
    several = len(set(dates["wear"]) - {""}) > 1
    head = ["date", "arm", "eaten at", *(["wear"] if several else []), "counted", "walk after", "eaten first", *figures]
    rows = [_date_row(row, several, display) for _, row in dates.iterrows()]
    return fill_template("table.html", sentence="", folded=f"All {len(dates)} dates", head=head, rows=rows)


def _date_row(row: pd.Series, several: bool, display: Display) -> list[str]:
    figures = []
    if display.numbers:
        rise, area = row["rise_mg_dl"], row["iauc_2h_mg_dl_min"]
        figures = [
            display.level(rise) if is_known(rise) else "",
            write_number(float(display.values(area)), 0) if is_known(area) else "",
        ]
    counted = "yes" if row["used"] else f"no: {words.say_why_not(row['reason'])}"
    walk = ("yes" if row["walk_after"] else "no") if is_known(row["walk_after"]) else ""
    wear = [say_title(row["wear"])] if several else []
    day = say_day(row["date"], year=several).replace(" ", NO_BREAK)  # the narrow first column would break it
    return [day, row["arm"], row["time"], *wear, counted, walk, row["eaten_first"], *figures]
