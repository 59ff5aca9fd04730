"""How did it feel after eating? The page's part on energy: what it goes with, and every note drawn."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.showing import charts
from glucolab.showing.display import display_of
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.findings.energy import say_energy

FEWEST_DRAWN = 5


def show_energy(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """Energy and focus against the rise and the dip, and energy as it was felt after eating."""
    energy = tables["energy"]
    known = energy[energy["energy"].notna() & energy["minutes_since_occasion"].between(0, 360)]
    if len(known) < FEWEST_DRAWN:
        return show_sentence("Energy was noted too seldom after eating to be drawn.")
    lead, rows = say_energy(tables["energy_effects"], display_of(study))
    caption = f"{len(known)} moments at which energy was noted within six hours of eating."
    figure = show_chart(charts.chart_energy, known, caption=caption)
    html = Markup(fill_template("list.html", sentence=lead, rows=[])) + Markup(figure.html)
    html += fill_template("list.html", sentence="", rows=rows)
    return Part(html, f"{lead} {figure.text}".strip())
