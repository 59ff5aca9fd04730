"""Are numbers read in the ways that people write them? Against Unicode's locale data (CLDR), by way of babel."""

from __future__ import annotations

import numpy as np
import pytest
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from glucolab.reading.bringing.cells.amounts import find_marks, find_unit, has_open_mark, read_amounts, read_length
from glucolab.reading.bringing.vocabulary.units import GLUCOSE_UNIT_WORDS

LOCALES = [
    "en_US", "de_DE", "de_CH", "fr_FR", "es_ES", "pt_BR", "it_IT", "nl_NL",
    "pl_PL", "cs_CZ", "sv_SE", "nb_NO", "fi_FI", "tr_TR", "ja_JP", "ru_RU",
]  # fmt: skip


@pytest.mark.parametrize("locale", LOCALES)
@given(values=st.lists(st.integers(-10_000_000, 10_000_000), min_size=1, max_size=5))
def test_what_a_locale_writes_is_read_as_what_it_meant(locale, values):
    numbers = [value / 10 for value in values]
    cells = [format_decimal(number, locale=locale) for number in [*numbers, 0.5]]
    marks = find_marks(cells)
    assert len(marks) == 1
    np.testing.assert_allclose(read_amounts(cells, marks.pop()).values[:-1], numbers)


def test_a_number_with_two_readings_is_known_as_such():
    assert find_marks(["1.234"]) == set()
    assert has_open_mark(["1.234"])
    assert not has_open_mark(["0.234", "12.34", "1234"])


def test_units_in_cells_are_kept_and_words_are_no_numbers():
    found = read_amounts(["12 g", "7,2 mmol/L", "", "lots", "-"], ",")
    np.testing.assert_array_equal(found.values, [12, 7.2, np.nan, np.nan, np.nan])
    assert found.units[:2] == ["g", "mmol/l"]
    assert found.bad.tolist() == [False, False, False, True, False]


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("1:20", 80),
        ("1:20:30", 80.5),
        ("1 h 20 min", 80),
        ("1h20", 80),
        ("7 Std. 5 Min.", 425),
        ("6時間30分", 390),
        ("1,5 h", 90),
        ("45 min", 45),
        ("PT1H20M", 80),  # ISO 8601-1:2019, 5.5.2.2
        ("80", None),
        ("long", None),
    ],
)
def test_lengths_of_time(text, minutes):
    assert read_length(text) == minutes


def test_glucose_units_in_names():
    assert GLUCOSE_UNIT_WORDS[find_unit("mg / dl", GLUCOSE_UNIT_WORDS)] == "mg/dL"
    assert GLUCOSE_UNIT_WORDS[find_unit("Wert mmol/L", GLUCOSE_UNIT_WORDS)] == "mmol/L"
    assert find_unit("glucose", GLUCOSE_UNIT_WORDS) == ""
