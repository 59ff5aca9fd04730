"""Does the page of experiments say what was found, what was missed and how it was done, and no more?"""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from glucolab.record import Person, Study, empty_output
from glucolab.record.trial_outputs import TRIAL_CARRY_OVER, TRIAL_DATES, TRIAL_REASONS
from glucolab.relating.trials.carry_over import compare_carry_over
from glucolab.relating.trials.date_outcomes import find_trial_dates
from glucolab.relating.trials.results import compare_trial_arms
from glucolab.showing import charts, theme
from glucolab.showing.display import Display
from glucolab.showing.pictures import draw_svg
from glucolab.showing.trials_page import show_trials
from glucolab.showing.words.findings import trial_report, trials
from tests.hand_made import at
from tests.relating.planned import eaten, plan, worn

MG, MMOL, WORDS_ONLY = Display(), Display("mmol/L"), Display(numbers=False)
SCRIPT = "<script>alert(1)</script>"
STUDY = Study("study", Person("UTC"))
ARMS = ["rest", "walk", "walk", "rest", "rest", "walk", "walk", "rest", "walk", "rest", "rest", "walk"]


def meal(day, arm):
    rise = (30 if arm == "walk" else 50) + day % 5
    return eaten(at("08:00", day), rise=rise, walk=arm == "walk", first="carbs" if day < 3 else "")


def tables_of(meals, planned):
    dates = find_trial_dates([worn(meals, n_days=12)], planned)
    return {
        "trial_dates": dates[TRIAL_DATES.names],
        "trial_results": compare_trial_arms(dates, 3.0),
        "trial_carry_over": compare_carry_over(dates, 3.0),
        "trial_curves": empty_output("trial_curves"),
    }


@pytest.fixture
def planned():
    """12 dates of which the fourth was not logged and the fifth was spoilt, and two that lie ahead."""
    return plan([*ARMS, "rest", "walk"], note="walk: 10 min")


@pytest.fixture
def tables(planned):
    meals = [meal(day, arm) for day, arm in enumerate(ARMS) if day != 3]
    meals[3] |= {"usable_2h": False, "reason": "flagged;exercise"}
    return tables_of(meals, planned)


def study_of(planned, **changes):
    return replace(STUDY, tables={"trials": planned}, **changes)


def test_the_page_says_it_all(tables, planned):
    part = show_trials(tables, study_of(planned))
    for text in (
        "<h3>Walk</h3>",
        ": after “walk”, glucose rose",
        "(6 meals against 4)",
        "A randomised trial in one person (N-of-1).",
        "Do “rest” and “walk” differ in what your glucose does in the two hours after eating porridge?",
        "The rise after eating, “walk” against “rest”: not clear yet.",
        "6 against 4 usable occasions",
        "“rest”: 4 of 7 dates counted; 1 not: nothing such logged; 1 not: readings set aside, exercise meanwhile; "
        "1 not: still ahead.",
        "“walk”: 6 of 7 dates counted; 1 not: still ahead.",
        "A walk or light effort after eating, as logged: 0 of 4 with “rest” and 6 of 6 with “walk”.",
        "Does the time before still show?",
        "All 14 dates",
        "14 planned, 2 of them still ahead",
        "As noted in trials.csv: walk: 10 min.",
        "CENT 2015",
    ):
        assert text in part.html, text
    labels = re.findall(r"<li><b>([^<]+)\.</b>", part.html)
    # items of CENT 2015: Vohra et al., BMJ 2015;350:h1738 (design, participant, arms were read; the rest from memory)
    order = ["Design", "Participant", "Arms", "Outcomes", "Number of dates", "Looking early and stopping", "Order",
             "Who knew", "Method", "Carry-over", "Results", "Harms", "Limits", "Departures from the plan",
             "Registration"]  # fmt: skip
    assert [label for label in labels if label in order] == order, "in the guideline's order"


def test_every_date_has_a_row_with_its_figures(tables, planned):
    html = show_trials(tables, study_of(planned)).html.replace("\u00a0", " ")
    body = re.search(r"<tbody>(.*?)</tbody>", html, re.DOTALL)[1]
    rows = [re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in body.split("<tr>")[1:]]
    assert len(rows) == 14
    assert rows[1] == ["Wed 4 Feb", "walk", "08:00", "yes", "yes", "carbs", "31", "1860"]
    assert rows[3] == ["Fri 6 Feb", "rest", "", "no: nothing such logged", "", "", "", ""]
    assert rows[4][3] == "no: readings set aside, exercise meanwhile"
    assert rows[4][6] == "54", "shown though it does not count"


@pytest.mark.parametrize("display", [MG, MMOL, WORDS_ONLY], ids=["mg/dL", "mmol/L", "words"])
@pytest.mark.parametrize("width", [theme.WIDE_PX, theme.NARROW_PX])
def test_the_chart_draws_every_date_that_is_over(tables, display, width):
    dates = tables["trial_dates"][:12]
    chart = charts.chart_trial(dates, display, width)
    chart.to_dict(validate=True)
    svg = draw_svg(chart)
    assert float(ElementTree.fromstring(svg).get("width")) <= width + 1
    for colour, counted in ((charts.trials.ARM_COLOURS[0], 4), (charts.trials.ARM_COLOURS[1], 6)):
        assert len(re.findall(rf'<path[^>]*fill="{colour}"', svg)) == counted
    assert len(re.findall(rf'<path[^>]*stroke="{charts.trials.ARM_COLOURS[0]}"', svg)) == 1, "hollow"
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    assert texts.count("×") == 1
    assert {"● rest", "■ walk", "3 Feb"} <= set(texts)
    assert "4 of 6 with “rest” counted, 6 of 6 with “walk” counted" in chart.description
    assert (display.unit in " ".join(texts)) == display.numbers


def test_where_the_wear_changes_a_line_is_drawn(tables):
    dates = tables["trial_dates"][:12]
    two = dates.assign(wear=np.where(np.arange(12) < 6, "one", "two"))
    lines = [len(re.findall("<line", draw_svg(charts.chart_trial(one, MG)))) for one in (dates, two)]
    assert lines[1] == lines[0] + 1


def test_without_numbers_no_figure_of_glucose(tables, planned):
    html = show_trials(tables, study_of(planned, numbers=False)).html
    assert not re.search(r"mg/dL|mmol/L|exact p \d", html)
    assert "“walk” against “rest”: not clear yet, 6 against 4 usable occasions." in html
    rises = {f"{rise:.0f}" for rise in tables["trial_dates"]["rise_mg_dl"].dropna()}
    cells = set(re.findall(r"<td[^>]*>([^<]*)</td>", html))
    assert not rises & cells


def test_text_of_data_is_escaped(planned):
    bad = planned.assign(trial=SCRIPT, arm=[f"{SCRIPT}{arm}" for arm in planned["arm"]], note=SCRIPT, dish="<b>soup")
    meals = [eaten(at("08:00", day), "<b>soup", rise=30 + day, first=SCRIPT) for day in range(12)]
    html = show_trials(tables_of(meals, bad), study_of(bad)).html
    assert "<script" not in html
    assert "<b>soup" not in html
    assert "&lt;script" in html


def test_described_only_nothing_planned_and_one_arm(tables, planned):
    described = study_of(planned, person=Person("UTC", pregnant=True))
    assert "described, not advised" in show_trials(tables, described).text
    assert "No experiment yet" in show_trials(tables_of([], planned[:0]), STUDY).text
    one = planned[planned["arm"] == "walk"]
    part = show_trials(tables_of([meal(1, "walk")], one), study_of(one))
    assert "One arm alone cannot be compared." in part.text
    assert "no usable occasion of another arm" in part.text


def dates_missed(rest, walk):
    """Dates of two arms, each missed (True) or counted."""
    arms = ["rest"] * len(rest) + ["walk"] * len(walk)
    missed = np.array([*rest, *walk])
    return pd.DataFrame({"trial": "t", "arm": arms, "used": ~missed, "reason": np.where(missed, "exercise", "")})


def test_an_arm_missed_more_is_told_only_where_it_strikes():
    """0 of 6 against 5 of 6: two-sided 12 of 792 ways, 0.015; 1 of 6 against 3 of 6: 270 of 495, 0.55."""
    said = trials.say_missed_more(dates_missed([False] * 6, [True] * 5 + [False]))
    assert said.startswith("“walk” was missed more often than “rest” (5 of 6 dates against 0 of 6)")
    assert trials.say_missed_more(dates_missed([True] + [False] * 5, [True] * 3 + [False] * 3)) == ""
    assert trials.say_missed_more(dates_missed([False] * 6, [False] * 6)) == ""


def carry(verdict, figures=(np.nan,) * 3):
    rows = [("t", "a", "b", "rise_mg_dl", 4.0, 5.0, *figures, 0.3, verdict)]
    return pd.DataFrame(rows, columns=TRIAL_CARRY_OVER.names)


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        ("higher", "Something seems to carry over"),
        ("too_small_to_matter", "Nothing is seen to carry over."),
        ("cannot_tell_yet", "+8\u00a0mg/dL (+1 to +15)."),
    ],
)
def test_carry_over_is_said_as_far_as_it_goes(verdict, said):
    (text,) = trials.say_carry_over(carry(verdict, (8.0, 1.0, 15.0)), MG)
    assert said in text
    assert "After “b” against after “a”" in text


def test_carry_over_that_cannot_be_checked_says_on_how_few():
    (text,) = trials.say_carry_over(carry("not_enough_data"), MG)
    assert "cannot be checked: 5 after “b” and 4 after “a”" in text


def test_every_reason_has_words():
    assert set(trials.TRIAL_REASON_WORDS) == set(TRIAL_REASONS)


def test_two_meals_a_day_are_not_a_day_apart(planned, tables):
    dates = tables["trial_dates"]
    assert "1 day or more" in dict(trial_report.list_report_items(dates, planned, []))["Design"]
    twice = pd.concat([dates, dates])
    assert "hours or more" in dict(trial_report.list_report_items(twice, planned, []))["Design"]
