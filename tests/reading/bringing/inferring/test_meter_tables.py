"""Are a meter's values told from a sensor's by a word alone, and is a control solution left out? Invented tables."""

from __future__ import annotations

import pytest

from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from tests.reading.bringing.inferring.test_movement_tables import write  # noqa: F401  (a fixture)
from tests.reading.bringing.tables import bring, guess

TIMES = [f"2026-02-0{d} {t}" for d in (4, 5, 6, 7) for t in ("07:06", "13:13", "21:20")]


@pytest.mark.parametrize("header", ["Time,Glucose (mg/dL)", "Zeit,Glukose (mg/dl)", "Fecha y hora,Glucosa (mg/dL)"])
def test_glucose_a_few_times_a_day_without_a_word_for_where_it_was_read_is_asked(write, header):  # noqa: F811
    path = write(header, [f"{t},{100 + i}" for i, t in enumerate(TIMES)])
    with pytest.raises(UnsettledError, match=r"table=checks.*table=glucose|table=glucose.*table=checks"):
        guess(path)
    assert bring(path, table="checks")[0] == "checks"


@pytest.mark.parametrize(
    "header", ["Time,Fingerstick (mg/dL)", "Zeit,Blutzucker (mg/dl)", "Time,Blood glucose (mg/dL)"]
)
def test_a_word_for_a_finger_or_for_blood_makes_finger_sticks(write, header):  # noqa: F811
    assert bring(write(header, [f"{t},{100 + i}" for i, t in enumerate(TIMES)]))[0] == "checks"


@pytest.mark.parametrize(
    ("header", "blood", "control"),
    [
        ("Sample", "blood", "control solution"),
        ("Probe", "Blut", "Kontrolllösung"),
        ("Probe", "Blut", "Kontrolle"),
        ("Échantillon", "sang", "solution de contrôle"),
        ("Tipo", "sangre", "solución de control"),
        ("Typ", "krew", "płyn kontrolny"),
        ("Тип", "кровь", "контрольный раствор"),
        ("種類", "血液", "コントロール液"),
        ("Note", "", "QC"),
        ("Control solution", "no", "yes"),
        ("Control", "", "x"),
        ("Kontrolle", "0", "1"),
    ],
)
def test_a_control_solution_is_no_blood(write, header, blood, control):  # noqa: F811
    rows = [f"{t},{100 + i},{control if i in (3, 7) else blood}" for i, t in enumerate(TIMES)]
    table, brought, everything = bring(write(f"When,Fingerstick mg/dL,{header}", rows))
    assert (table, len(brought)) == ("checks", 10)
    assert {5, 9}.isdisjoint(brought.index)
    (problem,) = (str(one) for one in everything.problems if "not brought" in str(one))
    assert "2 rows, lines 5 to 9" in problem


@pytest.mark.parametrize("word", ["control", "Kontrolle", "contrôle"])
def test_a_note_that_may_be_a_check_or_a_control_solution_is_asked(write, word):  # noqa: F811
    rows = [f"{t},{100 + i},{word if i in (3, 7) else ''}" for i, t in enumerate(TIMES)]
    path = write("When,Fingerstick mg/dL,Note", rows)
    with pytest.raises(UnsettledError, match="control=leave_out"):
        guess(path)
    assert [len(bring(path, control=said)[1]) for said in ("leave_out", "keep")] == [10, 12]
