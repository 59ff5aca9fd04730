"""Is a table understood from its content, and asked about where it has two readings? Invented tables."""

from __future__ import annotations

from datetime import date

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.inferring.times import Dates
from glucolab.reading.bringing.mapping.mapping_file import mapping_text, read_mapping
from tests.reading.bringing.tables import bring, guess


@pytest.fixture
def write(tmp_path):
    """A function that writes a text, made of lines, as a file and gives its path."""

    def write_lines(*lines: str, name: str = "export.csv"):
        path = tmp_path / name
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path

    return write_lines


def test_a_german_sensor_table_with_preamble_decimal_comma_limits_and_mean(write):
    path = write(
        "Export vom 20.02.2026",
        "Gerät;links",
        "",
        "Datum;Uhrzeit;Gewebezucker (mmol/L);Notiz",
        "03.02.2026;08:10;5,4;",
        "03.02.2026;08:15;niedrig;",
        "13.02.2026;08:20;6,1;",
        "13.02.2026;08:25;6,2;",
        "Mittelwert;;5,9;",
    )
    table, rows, brought = bring(path)
    assert table == "glucose"
    assert rows["time"].tolist() == ["2026-02-03T08:10", "2026-02-03T08:15", "2026-02-13T08:20", "2026-02-13T08:25"]
    assert rows["glucose"].tolist() == ["5.4", "LO", "6.1", "6.2"]
    assert set(rows["unit"]) == {"mmol/L"}
    assert rows.index.tolist() == [5, 6, 7, 8]
    assert [str(problem) for problem in brought.problems] == ['export.csv line 9: "Mittelwert" is no row of the table']
    said = "; ".join(guess(path).said)
    assert "dates are day-month-year: 03.02.2026 is 3 February 2026" in said
    assert "numbers have a decimal comma" in said


def test_dates_that_nothing_settles_are_asked_with_both_readings(write):
    lines = ["date,time,glucose"] + [f"0{d}/03/2026,08:1{m},{100 + m}" for d in (4, 5) for m in range(5)]
    path = write(*lines)
    with pytest.raises(UnsettledError, match=r"4 March 2026.*3 April 2026") as asked:
        guess(path, Dates(date(2026, 1, 1), date(2026, 12, 1)))
    assert [question.key for question in asked.value.questions] == ["order"]
    _, rows, _ = bring(path, Dates(None, None), order="month-day-year")
    assert rows["time"].iloc[0] == "2026-04-03T08:10"


def test_dates_are_settled_by_the_wear_where_only_one_reading_lies_in_it(write):
    path = write("date,time,glucose", *(f"0{d}/03/2026,08:1{m},{100 + m}" for d in (4, 5) for m in range(5)))
    said = guess(path, Dates(date(2026, 3, 2), date(2026, 3, 16))).said
    assert any("4 March 2026; in any other order they would lie outside the wear" in sentence for sentence in said)


def test_a_unit_that_contradicts_the_values_is_asked(write):
    lines = ["time,glucose mmol/L"] + [f"2026-02-03T08:{m:02d},{95 + m % 9}" for m in range(0, 60, 5)]
    with pytest.raises(UnsettledError, match="mmol/L is stated, but the values"):
        guess(write(*lines))


def test_a_unit_that_nothing_states_is_told_from_the_values(write):
    lines = ["time,glucose"] + [f"2026-02-03T08:{m:02d},{5 + m % 3 / 10}" for m in range(0, 60, 5)]
    table, rows, _ = bring(write(*lines))
    assert (table, set(rows["unit"])) == ("glucose", {"mmol/L"})


def test_few_blood_values_a_day_are_checks_and_many_are_the_sensors(write):
    few = ["time,blood glucose"] + [f"2026-02-{d:02d}T08:00,{95 + d}" for d in range(3, 13)]
    assert bring(write(*few))[0] == "checks"
    many = ["time,glucose"] + [f"2026-02-03T{h:02d}:{m:02d},{95 + m}" for h in range(24) for m in (0, 15, 30, 45)]
    assert bring(write(*many))[0] == "glucose"


def test_two_columns_of_glucose_are_asked(write):
    lines = ["time,glucose raw,glucose smoothed"] + [
        f"2026-02-03T08:{m:02d},{95 + m},{96 + m}" for m in range(0, 60, 5)
    ]
    with pytest.raises(UnsettledError, match="more than one column may hold the glucose"):
        guess(write(*lines))
    assert bring(write(*lines), glucose="glucose raw")[1]["glucose"].iloc[0] == "95"


def test_rows_of_many_kinds_are_told_apart_by_their_column(write):
    lines = ["Time,Type,Value,Unit"]
    for m in range(0, 60, 5):
        lines += [f"2026-02-03 08:{m:02d},Glucose,{95 + m},mg/dL", f"2026-02-03 08:{m:02d},Heart rate,{60 + m},bpm"]
    table, rows, _ = bring(write(*lines))
    assert (table, len(rows), rows["glucose"].iloc[1]) == ("glucose", 12, "100")


def test_meals_in_french_with_units_in_the_header_and_energy_in_kilojoule(write):
    path = write(
        "Date et heure\tRepas\tGlucides (g)\tFibres (g)\tÉnergie (kJ)\tLieu",
        "03/02/2026 12h30\tSoupe, pain\t41,5\t6\t1 255\tà la maison",
        "14/02/2026 19h05\tRiz\t80\t2\t2 092\trestaurant",
    )
    table, rows, _ = bring(path)
    assert table == "meals"
    first = rows.iloc[0].to_dict()
    # 1255 kJ / 4.184 kJ/kcal, ISO 31-4:1992
    assert float(first.pop("energy_kcal")) == pytest.approx(299.95, abs=0.01)
    assert first == {
        "time": "2026-02-03T12:30",
        "name": "Soupe, pain",
        "carbs_g": "41.5",
        "fiber_g": "6",
        "setting": "home",
    }
    assert rows["setting"].iloc[1] == "out"


def test_a_night_with_one_date_is_asked_unless_its_name_tells(write):
    rows = ["2026-02-03,23:10,07:05", "2026-02-04,00:20,07:35"]
    with pytest.raises(UnsettledError, match=r"the evening it began.*the morning it ended"):
        guess(write("date,bedtime,wake", *rows))
    _, evening, _ = bring(write("evening of,bedtime,wake", *rows))
    assert evening["start"].tolist() == ["2026-02-03T23:10", "2026-02-05T00:20"]
    assert evening["end"].tolist() == ["2026-02-04T07:05", "2026-02-05T07:35"]
    _, morning, _ = bring(write("date,bedtime,wake", *rows), night="morning")
    assert morning["start"].tolist() == ["2026-02-02T23:10", "2026-02-04T00:20"]


def test_a_length_over_the_spring_clock_change_ends_by_the_clock(write):
    # Europe/Berlin: on 29 March 2026 clocks go from 02:00 to 03:00 (Directive 2000/84/EC, last Sunday in March)
    path = write("fell asleep,sleep duration", "2026-03-28T23:00,8 h 0 min", "2026-03-29T23:00,8 h 0 min")
    _, rows, _ = bring(path, Dates(date(2026, 3, 20), date(2026, 4, 3)))
    assert rows["end"].tolist() == ["2026-03-29T08:00", "2026-03-30T07:00"]


def test_activity_with_end_times_and_foreign_effort(write):
    path = write(
        "Inicio;Fin;Actividad;Intensidad",
        "03/02/2026 18:00;03/02/2026 18:45;caminar;suave",
        "14/02/2026 07:00;14/02/2026 08:10;correr;alta",
    )
    table, rows, _ = bring(path)
    assert table == "activity"
    assert rows[["start", "minutes", "kind", "effort"]].to_numpy().tolist() == [
        ["2026-02-03T18:00", "45", "walk", "light"],
        ["2026-02-14T07:00", "70", "correr", "vigorous"],
    ]


def test_lengths_with_two_readings_are_asked(write):
    path = write("start,activity,duration", "2026-02-03T18:00,walk,1:20", "2026-02-04T18:00,walk,2:10")
    with pytest.raises(UnsettledError, match=r"hours and minutes.*minutes and seconds"):
        guess(path)


def test_days_with_a_scale_to_a_hundred_grouped_steps_words_of_truth_and_covariates(write):
    path = write(
        "Dag;Stress (0-100);Stappen;Ziek;Rugpijn;overnight_mean_mg_dl",
        "3-2-2026;40;8.432;nee;ja;90",
        "14-2-2026;75;12.010;ja;nee;91",
    )
    table, rows, _ = bring(path)
    assert table == "days"
    assert rows.to_numpy().tolist() == [
        ["2026-02-03", "4", "8432", "false", "1"],
        ["2026-02-14", "7.5", "12010", "true", "0"],
    ]
    said = "; ".join(guess(path).said)
    assert "further columns of days are covariates: rugpijn" in said
    assert "is not brought: overnight_mean_mg_dl is the name of another column" in said


def test_feelings_and_laboratory_values(write):
    path = write("When,Energy (1-5),Focus (1-5)", "2026-02-03 10:00,5,3", "2026-02-04 10:00,1,2")
    table, rows, _ = bring(path)
    assert table == "feelings"
    assert rows[["energy", "focus"]].to_numpy().tolist() == [["10", "5"], ["0", "2.5"]]
    path = write(
        "Date;Examen;Résultat;Unité;Valeurs de référence;À jeun",
        "14/01/2026;Glucose;5,1;mmol/L;3,9 - 5,5;oui",
        "14/01/2026;Triglycérides;0,9;mmol/L;< 1,7;oui",
    )
    table, rows, _ = bring(path)
    assert table == "labs"
    assert rows[["value", "low", "high", "fasting"]].to_numpy().tolist() == [
        ["5.1", "3.9", "5.5", "true"],
        ["0.9", "", "1.7", "true"],
    ]


def test_two_header_lines_and_a_header_that_stands_again(write):
    path = write(
        "time,glucose",
        "local,mg/dL",
        *(f"2026-02-03T08:{m:02d},{95 + m}" for m in range(0, 30, 5)),
        "time,glucose",
        "local,mg/dL",
        *(f"2026-02-03T09:{m:02d},{95 + m}" for m in range(0, 30, 5)),
    )
    table, rows, _ = bring(path)
    assert (table, len(rows), set(rows["unit"])) == ("glucose", 12, {"mg/dL"})


def test_minutes_since_midnight_and_counts_since_1970(write):
    path = write("day,minute of day,glucose", *(f"2026-02-03,{m},{95 + m % 7}" for m in range(480, 560, 5)))
    assert bring(path)[1]["time"].iloc[1] == "2026-02-03T08:05"
    path = write("timestamp,glucose", *(f"{1770102600 + 300 * i},{95 + i}" for i in range(12)))
    assert bring(path)[1]["time"].iloc[0] == "2026-02-03T07:10:00+00:00"  # `date -u -d @1770102600`


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        (["name,glucose", "a,95", "b,96"], "none of its columns holds dates or times"),
        (["Dear diary,", "today I had soup. It was good."], "no line names columns that are known here"),
        (
            ["date,time,colour", "2026-02-03,8:10,red", "2026-02-14,8:20,blue"],
            "do not make any table that is known here",
        ),
    ],
)
def test_what_is_no_table_is_refused_with_the_reason(write, lines, why):
    with pytest.raises(NothingToDo, match=why):
        guess(write(*lines))


def test_a_mapping_is_kept_in_its_file_and_a_wrong_one_is_told_whole(write, tmp_path):
    path = write("When;Zucker (mmol/L)", *(f"{d}.02.2026 08:00;5,{d % 10}" for d in range(3, 16)))
    mapping = guess(path, table="checks").mapping
    (tmp_path / "m.toml").write_text(mapping_text(mapping), encoding="utf-8")
    assert read_mapping(tmp_path / "m.toml") == mapping
    (tmp_path / "m.toml").write_text('tabel = "x"\ntable = "glucose"\n[columns.time]\nfrom = "a"\norder = "dmy"\n')
    with pytest.raises(NothingToDo) as refused:
        read_mapping(tmp_path / "m.toml")
    for words in (
        '"tabel" is not known: did you mean table?',
        "order must be one of",
        "where glucose of glucose come from",
    ):
        assert words in str(refused.value)
