"""What did the laboratory find? The page's part on laboratory values, alone and beside the sensor."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.showing import charts
from glucolab.showing.display import Display, display_of, is_known, write_signed
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import VERDICT_WORDS, say_analyte, say_day, say_title
from glucolab.showing.words.findings import labs as words


def show_labs(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """The latest change of each blood test over the normal change between tests; values and draws folded."""
    names = ("lab_values", "lab_changes", "lab_checks", "lab_indices", "labs_and_sensor")
    values, changes, checks, indices, beside = (tables[name] for name in names)
    display = display_of(study)
    own = values[~values["compared"].astype(bool)]
    doubts = words.say_fasting_doubts(values)
    if not any(len(table) for table in (changes, checks, indices, beside, own, doubts)):
        return show_sentence("labs.csv holds no two values of one blood test, and none near a wear.")
    latest = changes.sort_values("date_b", kind="stable").drop_duplicates("analyte", keep="last").sort_index()
    drawn = latest[latest["change_percent"].notna() & latest["reference_change_percent"].notna()]
    figure = Markup("")
    if len(drawn) and display.numbers:
        figure = Markup(show_chart(charts.chart_lab_changes, drawn).html)
    said = [*doubts, *words.say_lab_changes(latest, display), *([words.HOW_DRAWN] if figure else [])]
    html = fill_template("beside.html", title="", sentences=said, figure=figure) if said else Markup("")
    at_draws, homa = words.say_lab_checks(checks, display), words.say_lab_indices(indices, display)
    inside = Markup("")
    if len(changes) and display.numbers:
        inside += _tabulate_changes(changes)
    if len(own) and display.numbers:
        inside += Markup(show_chart(charts.chart_lab_values, own, caption=words.ONLY_DRAWN).html)
    if at_draws:
        inside += fill_template("list.html", sentence="At the minute of the draw:", rows=at_draws)
    if homa:
        inside += fill_template("list.html", sentence="Glucose and insulin together:", rows=homa)
    if len(beside) and display.numbers:
        head = ["drawn", "laboratory", "value", "wear", "sensor’s figure", "90 % interval"]
        cells = [_beside_row(row, display) for _, row in beside.iterrows()]
        inside += fill_template("table.html", sentence=words.NO_CONVERSION, folded="", head=head, rows=cells)
    folded = (
        fill_template("folded.html", title="Every value, and the sensor beside it", inside=inside) if inside else ""
    )
    return Part(html + folded, " ".join([*said, *at_draws, *homa]))


def _tabulate_changes(changes: pd.DataFrame) -> Markup:
    head = ["blood test", "from", "to", "earlier", "later", "change", "normal change between tests", "verdict"]
    rows = [_change_row(row) for _, row in changes.iterrows()]
    return fill_template("table.html", sentence="", folded="", head=head, rows=rows)


def _change_row(row: pd.Series) -> list[str]:
    unit = "" if row["unit"] == "1" else f" {row['unit']}"
    values = [f"{row[name]:.4g}{unit}" for name in ("value_a", "value_b")]
    days = [say_day(row[name], weekday=False, year=True) for name in ("date_a", "date_b")]
    change = f"{write_signed(row['change_percent'])} %" if is_known(row["change_percent"]) else ""
    noise = row["reference_change_percent"]
    normal = f"up to {abs(noise):.0f} %" if is_known(noise) else "not known"
    verdict = "within the normal change" if row["verdict"] == "cannot_tell_yet" else VERDICT_WORDS[row["verdict"]]
    return [say_analyte(row["analyte"]), *days, *values, change, normal, verdict]


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
