"""Does a table written by the csv module, in any dialect that is read, come back with the same values?"""

from __future__ import annotations

import csv
import io
import math

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from glucolab.clock import ZoneSpans
from glucolab.reading.tables import parse_table
from glucolab.reading.valid_rows import settle_table
from glucolab.record import INPUT_TABLES

UTC = ZoneSpans(("UTC",))
WORDS = st.text(st.characters(codec="utf-8", exclude_characters="\0\r"), min_size=1, max_size=20)
MEAL = st.fixed_dictionaries(
    {
        "time": st.datetimes(pd.Timestamp("1970-01-02"), pd.Timestamp("2099-12-30")),
        "name": WORDS.map(str.strip).filter(bool),
        "carbs_g": st.none() | st.floats(0, 600),
        "eaten_first": st.none() | st.sampled_from(["carbs", "protein", "fiber", "mixed"]),
        "note": st.none() | WORDS.map(str.strip).filter(bool),
    }
)


@st.composite
def dialects(draw):
    delimiter = draw(st.sampled_from(",;\t"))
    return (
        {
            "delimiter": delimiter,
            "quoting": draw(st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC])),
            "lineterminator": draw(st.sampled_from(["\n", "\r\n"])),
        },
        draw(st.booleans()),
        draw(st.booleans()),
    )


def write(meals: list[dict], dialect: dict, decimal_comma: bool, bom: bool) -> bytes:
    """The table as text; numbers in full, so that no comma can be taken for a grouping one."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, **dialect)
    writer.writerow(["time", "name", "carbs_g", "eaten_first", "note"])
    for meal in meals:
        number = "" if meal["carbs_g"] is None else f"{meal['carbs_g']:.17f}"
        shown = number.replace(".", ",") if decimal_comma else number
        writer.writerow([meal["time"].isoformat(), meal["name"], shown, meal["eaten_first"] or "", meal["note"] or ""])
    return ("\ufeff" * bom + file.getvalue()).encode()


@given(st.lists(MEAL, min_size=1, max_size=8), dialects())
@settings(max_examples=150, deadline=None)
def test_what_was_written_is_read(meals, how):
    dialect, decimal_comma, bom = how
    data = write(meals, dialect, decimal_comma, bom)
    settled = settle_table(parse_table(data, INPUT_TABLES["meals"], "meals.csv"), UTC)
    assert settled.problems == ()
    frame = settled.frame
    assert frame["name"].tolist() == [meal["name"] for meal in meals]
    assert frame["time"].tolist() == [pd.Timestamp(meal["time"], tz="UTC") for meal in meals]
    for column in ("eaten_first", "note"):
        assert frame[column].astype(object).where(frame[column].notna(), None).tolist() == [m[column] for m in meals]
    for read, meal in zip(frame["carbs_g"], meals, strict=True):
        if meal["carbs_g"] is None:
            assert math.isnan(read)
        else:
            assert math.isclose(read, meal["carbs_g"], abs_tol=1e-16)


@given(st.lists(MEAL, min_size=1, max_size=8), dialects())
@settings(max_examples=60, deadline=None)
def test_lines_point_at_the_row(meals, how):
    dialect, decimal_comma, bom = how
    data = write([meal | {"name": f"find me {i}"} for i, meal in enumerate(meals)], dialect, decimal_comma, bom)
    frame = settle_table(parse_table(data, INPUT_TABLES["meals"], "meals.csv"), UTC).frame
    lines = list(io.StringIO(data.decode("utf-8-sig"), newline=""))
    for i, line in enumerate(frame.index):
        assert f"find me {i}" in lines[line - 1]


@given(st.binary(max_size=400), st.sampled_from(sorted(INPUT_TABLES)), st.booleans())
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_read_or_refused_in_words(data, name, with_header):
    from glucolab.reading.text import UnreadableError

    head = (",".join(INPUT_TABLES[name].names) + "\n").encode() if with_header else b""
    try:
        settled = settle_table(parse_table(head + data, INPUT_TABLES[name], f"{name}.csv"), UTC)
        told = [str(problem) for problem in settled.problems]
    except UnreadableError as fault:
        told = [str(fault)]
    assert all(text.isprintable() for text in told)
