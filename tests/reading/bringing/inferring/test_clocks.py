"""Which clock wrote the times? Zones of a column, clocks of twelve hours, times as one number, spans in a cell."""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from tests.reading.bringing.inferring.test_movement_tables import write  # noqa: F401  (a fixture)
from tests.reading.bringing.tables import bring, guess

FIVES = [f"{8 + i // 12:02d}:{i * 5 % 60:02d}" for i in range(30)]


@pytest.mark.parametrize("header", ["local time,utc_offset", "Zeit (Ortszeit),Zeitverschiebung", "Hora local,Zona horaria"])
@pytest.mark.parametrize("offset", ["-03:00", "UTC-3", "America/Sao_Paulo"])
def test_a_column_of_offsets_holds_for_local_times_too(write, header, offset):  # noqa: F811
    # Sao Paulo is three hours behind UTC in February (tz database: no summer time since 2019)
    path = write(f"{header},glucose mg/dL", [f"2026-02-04 {t},{offset},{100 + i}" for i, t in enumerate(FIVES)])
    _, rows, _ = bring(path)
    assert pd.Timestamp(rows["time"].iloc[1]) == pd.Timestamp("2026-02-04T11:05Z")
    assert rows["time"].str.endswith("-03:00").all()


def test_offsets_that_change_on_a_journey_hold_row_by_row(write):  # noqa: F811
    rows = [f"2026-02-04T{t},{'-03:00' if i < 15 else '+01:00'},{100 + i}" for i, t in enumerate(FIVES)]
    _, brought, _ = bring(write("local time,offset,sensor glucose mg/dL", rows))
    assert brought["time"].iloc[[0, 29]].tolist() == ["2026-02-04T08:00-03:00", "2026-02-04T10:25+01:00"]


def test_local_times_beside_a_column_of_utc_are_asked(write):  # noqa: F811
    rows = [f"2026-02-04T{t},UTC,{100 + i}" for i, t in enumerate(FIVES)]
    with pytest.raises(UnsettledError, match="zone=local"):
        guess(write("local time,zone,sensor glucose mg/dL", rows))


@pytest.mark.parametrize(
    ("letters", "offsets"),
    [
        ("IST", {"+05:30", "+02:00", "+01:00"}),  # India, Israel, Ireland
        ("CST", {"-06:00", "+08:00", "-05:00"}),  # North America, China, Cuba
        ("BST", {"+01:00", "+06:00"}),  # Britain in summer, Bangladesh
        ("ast", {"-04:00", "+03:00"}),  # Atlantic, Arabia
    ],
)
@pytest.mark.parametrize("header", ["Zone", "Zeitzone", "where"])
def test_letters_of_several_zones_are_asked_with_each_of_them(write, letters, offsets, header):  # noqa: F811
    path = write(
        f"Time,{header},Sensor glucose (mg/dL)", [f"2026-02-04 {t},{letters},{90 + i}" for i, t in enumerate(FIVES)]
    )
    with pytest.raises(UnsettledError) as asked:
        guess(path)
    (question,) = asked.value.questions
    assert {answer for answer, _ in question.choices} == {"local", "UTC", *offsets}
    assert set(bring(path, zone=min(offsets))[1]["time"].str[-6:]) == {min(offsets)}
