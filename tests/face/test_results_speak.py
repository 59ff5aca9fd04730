"""Does an analysis say what it found, in few lines and as its page's first screen, with the cautions that hold?"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

import glucolab as gl
from glucolab.errors import Problem
from glucolab.measuring.cautions import ALWAYS, DESCRIBE_ONLY
from glucolab.showing.words.pages.wear import say_describe_only

ADVICE = re.compile(r"goal|What to do next|finger-sticks: give or take|[Ll]inked with|clear", re.IGNORECASE)
GLUCOSE = re.compile(r"\d\s*(mg/dL|mmol/L)")


@pytest.fixture(scope="module")
def study():
    made = gl.simulate.example_study()
    return replace(made, goal=gl.Goal(85.0))


@pytest.fixture(scope="module")
def analysis(study):
    return gl.analyse_study(study)


def test_printed_it_says_in_ten_lines_what_was_found_and_that_it_is_no_diagnosis(analysis):
    for found in (analysis, *analysis.wears, gl.analyse_wear(gl.simulate.example_wear())):
        lines = repr(found).splitlines()
        assert 3 <= len(lines) <= 10
        assert ALWAYS[0] in repr(found)
        assert len(repr(found)) < 3000
    mean = analysis.wears[0].summary["mean"]["estimate"]
    assert f"{mean:.0f} mg/dL" in repr(analysis.wears[0])
    assert "goal of 85" in repr(analysis)


def test_stages_print_short_too():
    wear = gl.simulate.example_wear()
    clean = gl.clean_wear(wear)
    for found in (clean, gl.estimate_trace(wear, clean)):
        assert len(repr(found)) < 300


def test_a_wear_is_had_by_its_name_and_a_wrong_name_lists_them(analysis):
    assert analysis.wears["wear_2"] is analysis.wears[-1]
    assert analysis.study.wears["wear_1"].name == "wear_1"
    assert analysis.wears[:1] == (analysis.wears[0],)
    with pytest.raises(KeyError, match="'wear_1', 'wear_2'"):
        analysis.wears["autumn"]


def test_shown_it_is_the_first_screen_of_the_page(analysis, study):
    """Word for word, its links left away, for there is no report beside a notebook's cell."""
    from glucolab.showing.study_page import show_overview
    from glucolab.showing.wear_first_screen import show_first_screen
    from glucolab.so_far import look_at_all

    for shown, page in (
        (analysis._repr_html_(), show_overview(dict(analysis.tables), analysis.summary, study).text),
        (analysis.wears[-1]._repr_html_(), show_first_screen(analysis.wears[-1], study, look_at_all(analysis)).text),
    ):
        words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", shown))
        first = re.split(r"(?<=\.) ", page.split("\n")[0].replace("\xa0", " "))[0]
        assert re.sub(r"\W+", "", first) in re.sub(r"\W+", "", words)
        assert all(re.sub(r"\W+", "", caution) in re.sub(r"\W+", "", words) for caution in ALWAYS)
        assert "href=" not in shown


@pytest.mark.parametrize("reason", ["under_18", "pregnant", "glucose_lowering_medicine"])
def test_whoever_may_not_be_advised_is_described_and_told_so(study, reason):
    person = gl.Person(study.person.time_zone, **{reason: True})
    found = gl.analyse_study(replace(study, person=person))
    for one in (found, found.wears[-1]):
        assert DESCRIBE_ONLY in repr(one)
        assert all(
            caution.replace("\xa0", " ") in repr(one) for caution in one.summary["cautions"] if caution not in ALWAYS
        )
        assert not ADVICE.search(repr(one).replace(DESCRIBE_ONLY, ""))
        shown = one._repr_html_()
        assert say_describe_only(person).split(":")[0] in shown
        assert "What to do next" not in shown
        assert "goal of 85" not in shown
    assert not len(found.tables["effects"])
    with pytest.raises(gl.NothingToDo, match="cleans and describes"):
        gl.plan_study_checks(found, 95.0, 14.0)


def test_whoever_wants_no_figures_gets_none(study):
    """Of glucose: days, dates and shares of time are none."""
    shown, hidden = gl.analyse_study(study), gl.analyse_study(replace(study, numbers=False))
    for found, none in ((shown, False), (hidden, True)):
        for one in (found, found.wears[-1]):
            for text in (repr(one), one._repr_html_()):
                assert (GLUCOSE.search(text) is None) == none
    found = hidden
    with pytest.raises(gl.NothingToDo, match="numbers = false"):
        found.to_frame()


def test_figures_of_all_wears_are_one_table(analysis):
    figures = analysis.to_frame().set_index(["wear", "figure"])
    for one in analysis.wears:
        mean = one.summary["mean"]
        assert figures.loc[(one.name, "mean"), ["estimate", "low", "high"]].tolist() == [
            mean["estimate"], mean["low"], mean["high"]
        ]  # fmt: skip
        withheld = figures.loc[one.name]["withheld"].dropna()
        assert set(withheld.index) <= set(one.summary["withheld"])
    assert {"minutes_per_day.in_range", "lag_min"} <= set(figures.loc["wear_1"].index)


def test_charts_take_tables_as_they_come(analysis):
    one, charts = analysis.wears[0], gl.charts
    tables = analysis.tables
    made = [
        charts.chart_effects(tables["effects"]), charts.chart_dishes(tables["dishes"]),
        charts.chart_progress(tables["periods"]), charts.chart_agreement(tables["check_agreement"]),
        charts.chart_meals(one.tables["meal_responses"], one.wear.zones), charts.chart_rises(one.tables["excursions"]),
        charts.chart_energy(one.tables["energy"]), charts.chart_days(charts.tabulate_days(one)),
        charts.chart_record(one), charts.chart_error_shares(one.summary["usual_mean_error_shares"]),
    ]  # fmt: skip
    for chart in made:
        assert chart.to_dict()["description"]


def test_a_study_of_which_nothing_can_be_said_says_so():
    empty = gl.analyse_study(gl.Study("own", gl.Person("Europe/Lisbon")))
    assert "No wear has an average yet." in repr(empty)
    assert all(caution.split("(")[0] in empty._repr_html_().replace("&#39;", "'") for caution in ALWAYS)
    with pytest.raises(gl.NothingToDo, match="no wear could be analysed"):
        empty.to_frame()


def test_a_fault_between_wears_is_told_and_the_cautions_stay(analysis):
    broken = replace(analysis, fault=Problem("the study as a whole", "could not be analysed: x"))
    assert "could not be analysed: x" in repr(broken)
    assert ALWAYS[0] in broken._repr_html_()
    assert "What to do next" not in broken._repr_html_()
