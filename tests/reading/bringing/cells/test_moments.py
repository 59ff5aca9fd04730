"""Are dates and times read in the ways that people write them? Against Unicode's locale data (CLDR)."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from babel.dates import format_datetime
from hypothesis import given
from hypothesis import strategies as st

from glucolab.reading.bringing.cells.moments import ORDERS, date_in, from_epoch, take_apart

LOCALES = [
    "en_US", "en_GB", "en_CA", "en_AU", "de_DE", "de_AT", "de_CH", "fr_FR", "fr_CH",
    "fr_CA", "es_ES", "es_MX", "es_AR", "pt_PT", "pt_BR", "it_IT", "nl_NL", "nl_BE",
    "pl_PL", "cs_CZ", "sv_SE", "da_DK", "nb_NO", "fi_FI", "tr_TR", "ja_JP", "zh_CN",
    "ro_RO", "hu_HU", "el_GR", "ru_RU", "uk_UA", "sk_SK",
]  # fmt: skip


@pytest.mark.parametrize("locale", LOCALES)
@given(moment=st.datetimes(datetime(2001, 1, 1), datetime(2068, 12, 31)))
def test_what_a_locale_writes_is_read_as_what_it_meant(locale, moment):
    for width in ("short", "medium", "long"):
        text = format_datetime(moment, width, locale=locale).replace(" UTC", "")
        found = take_apart(text)
        assert found is not None, text
        assert found.numbers is not None
        orders = ["year-month-day"] if found.fixed else list(ORDERS)
        assert moment.date() in [date_in(found.numbers, order) for order in orders], text
        assert found.clock is not None
        assert found.clock[:2] == (moment.hour, moment.minute), text


@pytest.mark.parametrize(
    ("text", "clock", "offset"),
    [
        # RFC 3339, section 5.8, examples
        ("1985-04-12T23:20:50.52Z", (23, 20, 50), "+00:00"),
        ("1996-12-19T16:39:57-08:00", (16, 39, 57), "-08:00"),
        ("1937-01-01T12:00:27.87+00:20", (12, 0, 27), "+00:20"),
        # common ways, no source
        ("12:05 AM", (0, 5, 0), ""),
        ("12:05 p. m.", (12, 5, 0), ""),
        ("午後3:15", (15, 15, 0), ""),
        ("14h30", (14, 30, 0), ""),
        ("7 Uhr", (7, 0, 0), ""),
        ("8.30", (8, 30, 0), ""),
    ],
)
def test_clock_times(text, clock, offset):
    found = take_apart(text)
    assert found is not None
    assert (found.clock, found.offset) == (clock, offset)


@pytest.mark.parametrize("text", ["lunch", "102", "5,4", "", "25:10", "13:00 PM", "2026-02-03 lunch", "-"])
def test_what_is_no_time_is_not_read_as_one(text):
    assert take_apart(text) is None


def test_a_year_of_two_digits_is_of_this_century():
    assert date_in((3, 2, 26), "day-month-year") == date(2026, 2, 3)


def test_counts_since_1970():
    # 1234567890 was celebrated on 13 February 2009 at 23:31:30 UTC (POSIX.1 defines seconds since the epoch)
    assert from_epoch(1234567890, 1) == "2009-02-13T23:31:30+00:00"
    assert from_epoch(1234567890000, 1000) == "2009-02-13T23:31:30+00:00"
