"""What did the laboratory find? The page's part on laboratory values, alone and beside the sensor."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.showing import charts
from glucolab.showing.display import Display, display_of, is_known
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import say_analyte, say_day, say_title
from glucolab.showing.words.findings import labs as words


def show_labs(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Laboratory values over their own noise, at the minute of the draw, and beside what the sensor saw."""
    names = ("lab_values", "lab_changes", "lab_checks", "lab_indices", "labs_and_sensor")
    values, changes, checks, indices, beside = (tables[name] for name in names)
    display = display_of(study)
    own = values[~values["compared"].astype(bool)]
    doubts = words.say_fasting_doubts(values)
    if not any(len(table) for table in (changes, checks, indices, beside, own, doubts)):
        return show_sentence("labs.csv holds no two values of one analyte, and none near a wear.")
    rows = [*doubts, *words.say_lab_changes(changes, display)]
    html = fill_template("list.html", sentence="", rows=rows)
    drawn = changes[changes["change_percent"].notna() & changes["reference_change_percent"].notna()]
    if len(drawn) and display.numbers:
        html += Markup(show_chart(charts.chart_lab_changes, drawn).html)
    if len(own) and display.numbers:
        html += Markup(show_chart(charts.chart_lab_values, own, caption=words.ONLY_DRAWN).html)
    at_draws, homa = words.say_lab_checks(checks, display), words.say_lab_indices(indices, display)
    if at_draws:
        html += fill_template("list.html", sentence="At the minute of the draw:", rows=at_draws)
    if homa:
        html += fill_template("list.html", sentence="Glucose and insulin together:", rows=homa)
    if len(beside) and display.numbers:
        head = ["drawn", "laboratory", "value", "wear", "sensor’s figure", "90 % interval"]
        cells = [_beside_row(row, display) for _, row in beside.iterrows()]
        sentence = "Beside what the sensor saw around it, neither turned into the other:"
        html += fill_template("table.html", sentence=sentence, folded="", head=head, rows=cells)
    return Part(html, " ".join([*rows, *at_draws, *homa]))


def _beside_row(row: pd.Series, display: Display) -> list[str]:
    figure = (
        f"{say_title(row['sensor_figure']).removesuffix(' mg dl')} {display.level(row['sensor_value'])} {display.unit}"
        if is_known(row["sensor_value"])
        else ""
    )
    ends = f"{display.level(row['low'])} to {display.level(row['high'])}" if is_known(row["low"]) else ""
    value = f"{row['value']:g} {row['unit']}"
    return [
        say_day(row["date"], weekday=False, year=True),
        say_analyte(row["analyte"]),
        value,
        say_title(row["period"]),
        figure,
        ends,
    ]
