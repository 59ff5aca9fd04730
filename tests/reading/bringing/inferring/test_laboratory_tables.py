"""Is a laboratory's sheet told from finger-sticks, and is a value left out that nobody has in its unit?"""

from __future__ import annotations

import pytest

from glucolab.errors import NothingToDo
from tests.reading.bringing.inferring.test_movement_tables import write  # noqa: F401  (a fixture)
from tests.reading.bringing.tables import bring, guess

SHEETS = {
    "German": ("Datum;Analyt;Ergebnis;Einheit", ("HbA1c", "Glukose", "Ferritin")),
    "no name for them": ("Datum;Kürzel;Ergebnis;Einheit", ("HbA1c", "Glukose", "Ferritin")),
    "French": ("Date;Dosage;Résultat;Unité", ("Hémoglobine glyquée", "Glycémie", "Ferritine")),
    "Spanish": ("Fecha;Determinación;Resultado;Unidad", ("Hemoglobina glucosilada", "Glucosa", "Colesterol LDL")),
    "Polish": ("Data;Oznaczenie;Wynik;Jednostka", ("HbA1c", "Glukoza", "Ferrytyna")),
    "Russian": ("Дата;Тест;Результат;Единица", ("Гликированный гемоглобин", "Глюкоза", "Ферритин")),
}


@pytest.mark.parametrize("language", SHEETS)
@pytest.mark.parametrize("day", ["2026-02-10", "2026-02-10 07:40"])
def test_a_column_that_names_analytes_makes_laboratory_values(write, language, day):  # noqa: F811
    header, names = SHEETS[language]
    rows = [f"{day};{n};{v};{u}" for n, v, u in zip(names, ("5.2", "90", "75"), ("%", "mg/dl", "ng/mL"), strict=True)]
    path = write("Laborbefund\n\n" + header, [*rows, "", "elektronisch freigegeben"])
    table, brought, _ = bring(path)
    assert table == "labs"
    assert brought[["date", "analyte", "value"]].to_numpy().tolist() == [
        ["2026-02-10", name, value] for name, value in zip(names, ("5.2", "90", "75"), strict=True)
    ]
    with pytest.raises(NothingToDo):
        guess(path, table="checks")


@pytest.mark.parametrize(
    ("analyte", "value", "unit"),
    [
        ("Fasting glucose", "5.4", "mg/dL"),
        ("Nüchternglukose", "95", "mmol/L"),
        ("Glycémie à jeun", "92", "g/L"),
        ("HbA1c", "5.3", "mmol/mol"),
        ("Hemoglobina glucosilada", "34", "%"),
    ],
)
def test_a_value_that_nobody_has_in_its_unit_is_left_out_by_name(write, analyte, value, unit):  # noqa: F811
    rows = [f"2025-03-17,{analyte},{value},{unit}", "2025-03-17,Ferritin,81,ng/mL", "2025-03-17,TSH,1.8,mU/L"]
    _, brought, everything = bring(write("Date,Test,Result,Unit", rows))
    assert brought["analyte"].tolist() == ["Ferritin", "TSH"]
    (problem,) = everything.problems
    assert (problem.line, f"cannot be in {unit}" in str(problem)) == (2, True)


@pytest.mark.parametrize(
    ("analyte", "value", "unit"),
    [
        ("Glucose", "5.4", "mmol/L"),
        ("Glucose, urine", "4", "mg/dL"),
        ("HbA1c", "34", "mmol/mol"),
        ("Ferritin", "5", "mg/dL"),
    ],
)
def test_a_value_that_may_be_comes_in(write, analyte, value, unit):  # noqa: F811
    rows = [f'2025-03-17,"{analyte}",{value},{unit}', "2025-03-17,TSH,1.8,mU/L"]
    assert bring(write("Date,Test,Result,Unit", rows))[1]["value"].tolist() == [value, "1.8"]
