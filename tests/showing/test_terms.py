"""Is a term explained where it stands, once, and nothing run that a text brings with it?"""

from __future__ import annotations

import re

import pytest

from glucolab.showing.markup import explain_once
from glucolab.showing.words.glossary import TERMS, explain

EXAMPLES = {
    "average": "Your average was 98 mg/dL",
    "give or take": "98 mg/dL, give or take 8",
    "90 % interval": "difference (90 % interval)",
    "time recorded": "95 % of the time recorded",
    "variance": "83 % of the variance",
    "median": "above the median",
    "set aside": "500 readings are set aside",
    "rise after eating": "a smaller rise after eating",
    "area under the rise": "the area under the rise",
    "to the peak": "to the peak",
    "back down after": "back down after",
    "later dip": "the later dip",
    "the night's average": "in the night's average",
    "swing": "the swing within a day",
    "standard deviation": "14 mg/dL (standard deviation)",
    "occasion": "33 occasions with",
    "stretch": "four stretches of wear",
    "goes with": "A walk goes with less",
    "too small to matter": "too small to matter",
    "not clear yet": "not clear yet",
    "exact p": "exact p 0.022",
    "q": "q",
}


def test_every_term_is_tried():
    assert set(EXAMPLES) == set(TERMS)


@pytest.mark.parametrize("term", TERMS)
def test_a_term_is_explained_where_it_stands(term):
    shown = str(explain(EXAMPLES[term]))
    assert shown.count("<abbr") == 1
    assert re.sub(r"</?abbr[^>]*>", "", shown).replace("&#39;", "'") == EXAMPLES[term]


def test_the_first_time_only():
    assert str(explain("set aside, and set aside again")).count("<abbr") == 1


def test_the_meal_s_rise_is_told_from_a_rise_of_some_minutes():
    assert "<abbr" in explain("porridge, 46 g carbohydrate; rise after eating 46")
    assert "<abbr" not in explain("rise of 40 min")


def test_a_page_explains_a_term_once():
    page = f"<p>{explain('set aside')}</p><p>{explain('set aside, the median')}</p>"
    once = explain_once(page)
    assert once.count("<abbr") == 2
    assert once.endswith("</p>")
    assert "<p>set aside, the <abbr" in once


def test_what_a_text_brings_stays_text():
    shown = str(explain('<b>the median</b> of "q"'))
    assert "<b>" not in shown
    assert shown.count("<abbr") == 2


def test_meanings_are_sentences():
    for meaning in (meaning for _, meaning in TERMS.values()):
        assert meaning.endswith(".")
        assert meaning[0].isupper()
