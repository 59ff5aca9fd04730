"""Does the page say in one sentence what log_prediction.csv holds, and no glucose where none is to be shown?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.record import OUTPUT_TABLES, Person, Study, empty_output
from glucolab.showing.display import Display
from glucolab.showing.study_page import show_prediction
from glucolab.showing.words.findings.prediction import say_prediction

COLUMNS = OUTPUT_TABLES["log_prediction"].names
BETTER = (104, 36, 14.7, 23.5, 0.626, 0.53, 0.743, "better")


def table(*cells):
    return pd.DataFrame([cells], columns=COLUMNS)


def test_better_says_by_how_much_in_the_wearers_unit():
    said = say_prediction(table(*BETTER), Display())
    assert "104 usable meals on 36 days" in said
    assert "about 15\u00a0mg/dL where the average misses by 24, 37\u00a0% less (26 to 47\u00a0%)" in said
    assert "0.8\u00a0mmol/L where the average misses by 1.3" in say_prediction(table(*BETTER), Display("mmol/L"))


def test_without_figures_only_shares_are_said():
    said = say_prediction(table(*BETTER), Display(numbers=False))
    assert "it misses by 37\u00a0% less (26 to 47\u00a0%)" in said
    assert "mg/dL" not in said


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.98, 1.02, "it misses by at most 2\u00a0% less"),
        (1.01, 1.08, "it misses by no less"),
    ],
)
def test_no_better_says_what_is_left(low, high, words):
    said = say_prediction(table(104, 36, 20.0, 20.0, 1.0, low, high, "no_better"), Display())
    assert words in said
    assert "hardly better" in said


@pytest.mark.parametrize(("high", "words"), [(1.05, "to 5\u00a0% more"), (1.001, "to as much")])
def test_cannot_tell_yet_says_both_ends(high, words):
    said = say_prediction(table(40, 12, 20.0, 20.0, 0.9, 0.7, high, "cannot_tell_yet"), Display())
    assert (
        f"cannot be said yet from 40 usable meals on 12 days: it may miss by anything from 30\u00a0% less {words}."
        in said
    )


def test_too_few_meals_say_what_it_takes():
    said = say_prediction(table(1, 1, *[np.nan] * 5, "not_enough_data"), Display())
    assert "cannot be tried on 1 usable meal on 1 day: it takes at least 40 on 20 days" in said


def test_tables_of_measure_alone_say_who_works_it_out():
    assert "glucolab report works it out" in say_prediction(table(*BETTER).iloc[:0], Display())


def test_every_sentence_is_one():
    for cells in (BETTER, (*BETTER[:-1], "no_better"), (*BETTER[:5], 0.7, 1.1, "cannot_tell_yet")):
        said = say_prediction(table(*cells), Display())
        assert said.endswith(".")
        assert ". " not in said


def test_the_part_refuses_where_the_tool_only_describes():
    tables = {"log_prediction": table(*BETTER), "forecasts": empty_output("forecasts")}
    described = Study(name="s", person=Person("Europe/Warsaw", pregnant=True), wears=())
    assert "predicts" not in show_prediction(tables, described).html
    well = Study(name="s", person=Person("Europe/Warsaw"), wears=())
    assert "predicts" in show_prediction(tables, well).html
