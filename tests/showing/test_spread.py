"""Does the page say of the shares what their table says, and what is missing where there are none?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.record import OUTPUT_TABLES, Person, Study
from glucolab.showing.charts import chart_shares
from glucolab.showing.variance_shares_page import show_spread
from glucolab.showing.words.findings.variance_shares import say_days_needed, say_share, say_shares

COLUMNS = OUTPUT_TABLES["spread_shares"].names


def shares(n_days=39, made_of="asleep_h", share=0.124, low=0.0, high=0.38, needed=np.nan):
    rows = [
        (outcome, group, made_of if group in ("sleep", "together") else "", share, low, high, n_days, needed)
        for outcome in ("mean_mg_dl", "sd_mg_dl")
        for group in ("sleep", "stress", "food", "movement", "together")
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def test_what_all_go_with_together_and_that_the_rest_is_left():
    said = say_shares(shares())
    assert "sleep together goes with about 12\u00a0% (0 to 38\u00a0%) of how the day's average differs" in said
    assert "the swing within a day" in said
    assert "The rest is chance" in said
    assert "A link is not a cause" in said


def test_too_few_days_say_how_many_more():
    said = say_shares(shares(n_days=13, share=np.nan, low=np.nan, high=np.nan, needed=11))
    assert "cannot be told from 13 days" in said
    assert "11 more days would give a first answer" in said
    assert "1 more day would" in say_shares(shares(n_days=23, share=np.nan, needed=1))


def test_nothing_written_down_names_the_tables_that_would_tell():
    assert say_shares(shares(n_days=0, made_of="", share=np.nan)).startswith("To split the differences between days")


def test_a_share_and_what_would_narrow_it():
    row = shares(needed=9).iloc[0]
    assert say_share(row) == "about 12\u00a0% (0 to 38\u00a0%)"
    assert say_days_needed(row) == "9 more days"
    assert say_share(shares(share=np.nan).iloc[0]) == say_days_needed(shares().iloc[0]) == ""


def test_the_chart_describes_every_share():
    drawn = shares().query("outcome == 'mean_mg_dl' and made_of != ''")
    assert "sleep about 12" in chart_shares(drawn).description
    assert "together about 12" in chart_shares(drawn, width=380).description


def test_the_part_refuses_where_the_tool_only_describes():
    study = Study(name="s", person=Person("Europe/Warsaw", pregnant=True), wears=())
    assert "<svg" not in show_spread({"spread_shares": shares().iloc[:0]}, study).html
    well = Study(name="s", person=Person("Europe/Warsaw"), wears=())
    page = show_spread({"spread_shares": shares()}, well)
    assert page.html.count("<svg") == 2
    assert "Every share" in page.html
