"""What makes days differ? The page's part on the shares of sleep, stress, food and movement."""

from __future__ import annotations

import pandas as pd
from markupsafe import Markup

from glucolab.record import Study
from glucolab.showing import charts
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.pictures import show_chart
from glucolab.showing.wear_page import show_sentence
from glucolab.showing.words.common import OUTCOME_WORDS
from glucolab.showing.words.findings.variance_shares import say_days_needed, say_share, say_shares
from glucolab.showing.words.pages.study import DESCRIBED


def show_spread(tables: dict[str, pd.DataFrame], study: Study) -> Part:
    """How much of the differences between days each group of habits goes with."""
    if study.person.describe_only:
        return show_sentence(DESCRIBED)
    shares = tables["spread_shares"]
    sentence = say_shares(shares)
    known = shares[shares["share"].notna()]
    if not len(known):
        return show_sentence(sentence)
    drawn = known[known["outcome"] == "mean_mg_dl"]
    figure = Markup(show_chart(charts.chart_shares, drawn).html) if len(drawn) else ""
    rows = [
        [str(row["group"]), OUTCOME_WORDS[row["outcome"]], say_share(row), str(row["n_days"]), say_days_needed(row)]
        for _, row in shares[shares["made_of"].ne("")].iterrows()
    ]
    head = ["what", "of what", "share (90 % interval)", "days", "would narrow it"]
    html = Markup(fill_template("list.html", sentence=sentence, rows=[])) + figure
    return Part(html + fill_template("table.html", sentence="", folded="Every share", head=head, rows=rows), sentence)
