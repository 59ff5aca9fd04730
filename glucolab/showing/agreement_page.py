"""How does each sensor agree with the finger-sticks? The page's part on readings as measured beside the meter."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.showing import charts
from glucolab.showing.display import Display, display_of, is_known
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import say_title
from glucolab.showing.words.findings import agreement as words

_MOST_SHOWN = 6


def show_agreement(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Each of the latest wears in a sentence and as bars, and every wear folded in a table."""
    display, agreement = display_of(study), tables["check_agreement"]
    if not (agreement["n"] > 0).any():
        return show_sentence(words.NOTHING)
    shown = agreement.tail(_MOST_SHOWN)
    said = [words.say_agreement(row, display) for _, row in shown.iterrows()]
    html = fill_template("list.html", sentence="", rows=[*said, words.MEANS])
    drawn = shown[shown["difference_mg_dl"].notna()]
    if len(drawn):
        html += Markup(show_chart(charts.chart_agreement, drawn, display).html)
    if display.numbers:
        head = [
            "wear", "sensor", "meter", "finger-sticks", "on average (90 % interval)", "95 of 100 single readings",
            "with the level",
        ]  # fmt: skip
        rows = [_row(row, display) for _, row in agreement.iterrows()]
        html += fill_template("table.html", sentence="", folded="Every wear", head=head, rows=rows)
    return Part(html, " ".join(said))


def _row(row: pd.Series, display: Display) -> list[str]:
    mean = display.change(*row[words.MEAN]) if is_known(row["difference_mg_dl"]) else ""
    named = [str(row[name]) if is_known(row[name]) else "" for name in ("sensor_model", "meter")]
    limits, slope = words.say_between(row, display), words.say_slope(row)
    return [say_title(row["wear"]), *named, str(int(row["n"])), mean, limits, slope]
