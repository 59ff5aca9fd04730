"""Is what a name, a remark or a form says of a table heard? Plans, other people's, wrong clocks, words nobody knows.

Each in small invented tables, with one beside it that looks alike and leaves nothing open.
"""

from __future__ import annotations

from datetime import date

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.inferring.times import Dates
from glucolab.reading.bringing.mapping.mapping_file import mapping_text, read_mapping
from tests.reading.bringing.tables import bring, guess

DAYS = [f"2026-02-{day:02d}" for day in range(3, 13)]


@pytest.fixture
def write(tmp_path):
    """A function that writes lines as a file and gives its path."""

    def write_lines(*lines: str, name: str = "log.csv"):
        path = tmp_path / name
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path

    return write_lines


def asked(path, **said):
    """Keys of what is asked of a file."""
    with pytest.raises(UnsettledError) as fault:
        guess(path, **said)
    return [question.key for question in fault.value.questions]


def keeps(path, **said):
    """True if the mapping stands in its file as it was proposed."""
    mapping = guess(path, **said).mapping
    kept = path.with_suffix(".toml")
    kept.write_text(mapping_text(mapping), encoding="utf-8")
    return read_mapping(kept) == mapping


@pytest.mark.parametrize(
    "header", ["server time,glucose mg/dL", "time,glucose (mg/dL) nightside", "Gerätezeit,Glukose mg/dl"]
)
def test_a_word_that_nobody_knows_is_asked(write, header):
    rows = [f"{DAYS[0]} {8 + i // 4:02d}:{15 * (i % 4):02d},{90 + i}" for i in range(30)]
    path = write(header, *rows)
    assert asked(path) == ["words"]
    assert len(bring(path, words="as_shown")[1]) == 30
    with pytest.raises(NothingToDo, match="there is no table of glucose"):
        bring(path, words="leave_out")
    assert len(bring(write("Messzeit,Glukose Sensor (mg/dl)", *rows))[1]) == 30


def test_a_column_that_a_table_can_do_without_is_left_out_for_its_word(write):
    path = write("time,food,carbs (g),fat zoom (g)", *[f"{d} 12:00,stew,40,9" for d in DAYS])
    assert "fat_g" not in bring(path, words="leave_out")[1]
    assert set(bring(path, words="as_shown")[1]["fat_g"]) == {"9"}


@pytest.mark.parametrize(
    "names", ["planned,carbs planned (g),eaten,carbs (g)", "geplant,KH geplant (g),gegessen,KH (g)"]
)
def test_what_was_planned_is_not_what_was_eaten(write, names):
    _, rows, _ = bring(write(f"time,{names}", *[f"{d} 12:00,salad,15,pizza,{80 + i}" for i, d in enumerate(DAYS)]))
    assert rows[["name", "carbs_g"]].to_numpy().tolist() == [["pizza", str(80 + i)] for i in range(len(DAYS))]


@pytest.mark.parametrize("title", ["Meal plan for the week", "Speiseplan", "Menú propuesto"])
def test_a_plan_is_asked_and_may_be_none(write, title):
    path = write(title, "time,food,carbs (g)", *[f"{d} 12:00,stew,40" for d in DAYS])
    assert asked(path) == ["planned"]
    assert len(bring(path, planned="done")[1]) == len(DAYS)
    with pytest.raises(NothingToDo, match="a plan is no record"):
        bring(path, planned="not_done")
    assert len(bring(write("My food", "time,food,carbs (g)", *[f"{d} 12:00,stew,40" for d in DAYS]))[1]) == len(DAYS)


@pytest.mark.parametrize("name", ["updated", "zuletzt geändert", "actualizado"])
def test_when_a_record_was_changed_is_not_when_it_took_place(write, name):
    with pytest.raises(NothingToDo):
        guess(write(f"food,carbs (g),{name}", *[f"stew,40,{d} 12:00" for d in DAYS]))
    path = write(f"eaten at,food,carbs (g),{name}", *[f"{d} 12:00,stew,40,{d} 23:10" for d in DAYS])
    assert set(bring(path)[1]["time"].str[-5:]) == {"12:00"}


@pytest.mark.parametrize("remark", ["meter shared with Mum", "Baby: Ada", "Handy von meiner Schwester"])
@pytest.mark.parametrize("place", ["above", "below"])
def test_a_remark_on_somebody_else_is_asked(write, remark, place):
    body = ["time,glucose mg/dl,kind", *[f"{d} 07:00,{90 + i},finger" for i, d in enumerate(DAYS)]]
    path = write(*((remark, *body) if place == "above" else (*body, remark)))
    assert asked(path) == ["whose"]
    assert len(bring(path, whose="mine")[1]) == len(DAYS)
    with pytest.raises(NothingToDo, match="what one person did"):
        bring(path, whose="not_mine")


@pytest.mark.parametrize(
    ("remark", "first"),
    [
        ("Uhr des Messgeräts geht 47 min nach", "2026-02-03T07:47"),
        ("the meter's clock is 20 minutes fast", "2026-02-03T06:40"),
        ("el reloj está atrasado 1 hora", "2026-02-03T08:00"),
    ],
)
def test_a_clock_that_is_said_to_be_wrong_moves_times_if_the_wearer_says_so(write, remark, first):
    path = write(remark, "time,glucose mg/dl,kind", *[f"{d} 07:00,{90 + i},finger" for i, d in enumerate(DAYS)])
    assert asked(path) == ["clock_off"]
    assert bring(path, clock_off="moved")[1]["time"].iloc[0] == first
    assert bring(path, clock_off="as_written")[1]["time"].iloc[0] == "2026-02-03T07:00"
    assert keeps(path, clock_off="moved")


@pytest.mark.parametrize(
    "remark", ["Zona horaria: Berlin", "Werte 2 h nach dem Essen - Uhrzeit lokal", "all of it so far", "Matka - 5 min"]
)
def test_a_remark_that_only_sounds_so_is_passed_over(write, remark):
    body = ["time,glucose mg/dl,kind", *[f"{d} 07:00,{90 + i},finger" for i, d in enumerate(DAYS)]]
    assert len(bring(write(remark, *body, name="checks so far.csv"))[1]) == len(DAYS)


def test_a_sign_that_a_legend_explains_is_asked(write):
    body = ["time,food,carbs (g)", *[f"{d} 12:00,stew,40" for d in DAYS]]
    assert asked(write("crossed out = not eaten", *body)) == ["legend"]
    assert len(bring(write("crossed out = not eaten", *body), legend="no_matter")[1]) == len(DAYS)
    assert len(bring(write("1 BE = 12 g", *body))[1]) == len(DAYS)


def test_a_running_total_of_a_day_is_brought_as_what_it_grew_by(write):
    eaten = [31, 23, 5, 38, 31, 43, 20, 30, 28, 3, 40, 22]
    rows, total = [], 0
    for i, grams in enumerate(eaten):
        total = grams if i % 4 == 0 else total + grams
        rows.append(f"{DAYS[i // 4]} {8 + 3 * (i % 4):02d}:00,food {i},{total}")
    path = write("time,food,carbs so far (g)", *rows)
    assert asked(path) == ["running"]
    assert bring(path, running="differences")[1]["carbs_g"].tolist() == [str(grams) for grams in eaten]
    assert keeps(path, running="differences")
    path = write("time,food,carbs (g)", *rows)  # by its numbers alone
    assert asked(path) == ["running"]


def test_steps_that_count_on_are_brought_as_what_they_grew_by(write):
    steps = [0, 20, 300, 10, 0, 40] * 8
    total = [sum(steps[: i + 1]) for i in range(len(steps))]
    rows = [f"{DAYS[0]} {6 + i // 4:02d}:{15 * (i % 4):02d},{count}" for i, count in enumerate(total)]
    found = bring(write("time,steps so far", *rows), running="differences")[1]["steps"].tolist()
    assert found == [str(count) for count in steps[1:]]  # nothing tells what the first one grew by


def test_of_several_states_of_a_record_the_last_counts(write):
    rows = [
        "a,1,2026-02-03 07:45,pancakes,90,", "b,1,2026-02-03 12:30,bowl,71,", "a,2,2026-02-03 08:45,half pancakes,45,",
        "c,1,2026-02-03 19:00,test,99,", "c,2,2026-02-03 19:00,test,99,true", "d,1,2026-02-04 08:00,half pancakes,45,",
    ]  # fmt: skip
    path = write("id,version,eaten at,food,carbs (g),deleted", *rows)
    _, brought, everything = bring(path)
    assert brought["carbs_g"].tolist() == ["71", "45", "45"]
    assert sum("an earlier state of" in str(problem) for problem in everything.problems) == 2
    assert keeps(path)


def test_a_night_that_was_sent_twice_is_its_last_state_and_no_stage(write):
    rows = [
        "n1,2026-02-04 09:00,2026-02-03 23:00,2026-02-04 03:00,230",
        "n1,2026-02-04 11:00,2026-02-03 23:00,2026-02-04 07:00,455",
        "n2,2026-02-05 09:00,2026-02-04 23:10,2026-02-05 06:50,440",
    ]
    _, brought, _ = bring(write("id,synced,fell asleep,woke up,minutes asleep", *rows))
    assert brought["asleep_min"].tolist() == ["455", "440"]


def test_rows_of_one_start_and_end_may_be_one_session(write):
    rows = [f"{DAYS[0]} 19:00,{DAYS[0]} 19:48,{kind}" for kind in ("squats", "squats", "rowing")]
    rows += [f"{d} 18:00,{d} 18:30,run" for d in DAYS[1:]]
    path = write("start,end,exercise", *rows)
    assert asked(path) == ["session"]
    one = bring(path, session="one")[1]
    assert one[["minutes", "kind"]].iloc[0].tolist() == ["48", "squats, rowing"]
    assert (len(one), len(bring(path, session="each")[1])) == (len(DAYS), len(rows))
    assert keeps(path, session="one")


@pytest.mark.parametrize("name", ["interval ending", "Ende", "fin"])
def test_steps_of_an_interval_stand_at_its_beginning(write, name):
    rows = [f"{DAYS[0]} {8 + i // 4:02d}:{15 * (i % 4):02d},{100 + i * 7 % 50}" for i in range(40)]
    assert bring(write(f"{name},steps", *rows))[1]["time"].iloc[:2].tolist() == ["2026-02-03T07:45", "2026-02-03T08:00"]
    assert bring(write("time,steps", *rows))[1]["time"].iloc[0] == "2026-02-03T08:00"


def test_a_column_of_which_many_numbers_cannot_be_is_not_brought(write):
    rows = [f"{DAYS[0]} 08:{i:02d},{70 + i % 9},{12 + 13 * i % 60}" for i in range(40)]  # METs times ten
    _, brought, everything = bring(write("time,heart rate (bpm),METs", *rows))
    assert set(brought.get("mets", [""])) == {""}
    assert any("numbers cannot be mets" in str(problem) for problem in everything.problems)
    codes = [f"{DAYS[0]} 08:{i:02d},{0 if i % 4 == 0 else 70 + i % 9}" for i in range(40)]  # 0: not worn
    assert len(bring(write("time,heart rate (bpm)", *codes))[1]) == 30


@pytest.mark.parametrize(
    "cells", [("Tue 3/2", "Wed 4/2"), ("3.2.", "4.2."), ("Feb 3", "Feb 4"), ("3 févr.", "4 févr.")]
)
def test_dates_without_a_year_are_of_the_year_of_the_wear(write, cells):
    path = write("date,time,food,carbs (g)", *[f"{cell},12:00,stew,4{i}" for i, cell in enumerate(cells)])
    assert bring(path)[1]["time"].tolist() == ["2026-02-03T12:00", "2026-02-04T12:00"]
    assert keeps(path)


def test_dates_without_a_year_of_a_wear_over_new_year_are_those_that_lie_in_it(write):
    wear = Dates(date(2025, 12, 20), date(2026, 1, 3))
    path = write("date,time,food,carbs (g)", "22.12.,12:00,stew,40", "23.12.,12:00,stew,41")
    assert bring(path, wear)[1]["time"].iloc[0] == "2025-12-22T12:00"
    with pytest.raises(NothingToDo):
        guess(write("date,time,food,carbs (g)", "22.12.,12:00,stew,40", "2.1.,12:00,stew,41"), wear)


@pytest.mark.parametrize(
    "above", ["Entnahme: 04.02.2026 07:55", "Sample collected 4 February 2026", "Prélevé le 4 février 2026"]
)
def test_a_laboratory_s_date_above_its_table_is_that_of_each_value(write, above):
    body = ["Test;Result;Unit;Range", "Ferritin;81;ng/mL;30-400", "HbA1c;5.3;%;4.0-6.0", "TSH;pending;mU/L;0.4-4.0"]
    path = write("geb. 01.01.1980", above, "Befund vom 06.02.2026", *body)
    assert bring(path)[1]["date"].tolist() == ["2026-02-04"] * 2
    with pytest.raises(NothingToDo, match="dates or times"):  # two dates, neither of which is that of the draw
        guess(write("Visit 03.02.2026", "Visit 04.02.2026", *body))


def test_units_beside_a_laboratory_s_values_are_theirs(write):
    rows = ["2026-02-04,Ferritin,81 ng/mL", "2026-02-04,HbA1c,35 mmol/mol", "2026-02-04,TSH,2.1 mIU/L"]
    assert bring(write("Date,Test,Result", *rows))[1]["unit"].tolist() == ["ng/mL", "mmol/mol", "mIU/L"]


def test_words_that_no_laboratory_measures_are_no_analytes(write):
    rows = [
        f"{d},07:0{i % 10},5.{i},mmol/L,{word}"
        for i, (d, word) in enumerate(zip(DAYS, ["fasting", "CTRL"] * 5, strict=True))
    ]
    with pytest.raises(NothingToDo, match="what a laboratory measures"):
        guess(write("Date,Time,Result,Unit,Marker", *rows), table="labs")


def test_answers_in_rows_of_their_own_are_put_together_by_time(write):
    rows = [
        f"{d} 09:00,{what},{mark}" for d in DAYS for what, mark in (("energy", "6"), ("hunger", "8"), ("note", "fine"))
    ]
    name, brought, _ = bring(write("time,question,answer", *rows))
    assert name == "feelings"
    assert brought[["energy", "hunger", "note"]].drop_duplicates().to_numpy().tolist() == [["6", "8", "fine"]]
    assert len(brought) == len(DAYS)


def test_marks_out_of_several_numbers_are_out_of_ten(write):
    cells = ["7/10", "70 %", "8 von 10", "10", "9½", "3/5"]
    _, brought, everything = bring(write("time,energy", *[f"{d} 09:00,{c}" for d, c in zip(DAYS, cells, strict=False)]))
    assert brought["energy"].tolist() == ["7", "7", "8", "10", "9.5"]  # 3/5 may begin at 0 or at 1
    assert any('"3/5"' in str(problem) for problem in everything.problems)


def test_marks_of_many_people_are_refused(write):
    rows = [f"{DAYS[0]} 09:0{i // 2}:{30 * (i % 2):02d},{i % 9},{i % 7}" for i in range(10)]
    with pytest.raises(NothingToDo, match="several people"):
        guess(write("time,energy (0-10),stress (0-10)", *rows))


def test_a_clock_of_twelve_hours_in_few_rows_is_asked(write):
    path = write(
        "date,time,food,carbs (g)", "2026-02-03,7:15,oats,40", "2026-02-04,6:30,soup,41", "2026-02-05,12:05,rice,42"
    )
    assert asked(path) == ["halves"]
    assert bring(path, halves="24h")[1]["time"].iloc[1] == "2026-02-04T06:30"
    with pytest.raises(NothingToDo, match="AM and PM"):
        bring(path, halves="12h")


def test_a_meal_after_midnight_at_the_end_of_a_day_is_asked(write):
    rows = [f"{d},{t},food,4{i}" for d in DAYS[:3] for i, t in enumerate(("07:30", "12:40", "19:10"))]
    path = write("date,time,food,carbs (g)", *rows[:3], f"{DAYS[0]},00:40,cake,24", *rows[3:])
    assert asked(path) == ["late"]
    assert bring(path, late="next_day")[1]["time"].iloc[3] == "2026-02-04T00:40"
    assert bring(path, late="as_written")[1]["time"].iloc[3] == "2026-02-03T00:40"
    assert keeps(path, late="next_day")


def test_a_row_with_nothing_but_its_time_is_left_out_by_name(write):
    _, brought, everything = bring(
        write("time,energy (0-10)", *[f"{d} 09:00,{i if i else ''}" for i, d in enumerate(DAYS)])
    )
    assert len(brought) == len(DAYS) - 1
    assert [problem.line for problem in everything.problems] == [2]


@pytest.mark.parametrize(
    ("header", "rows"),
    [
        ("Début;Fin;Évènement", ("sauna", "piscine", "rhume", "auf dem Sensor gelegen")),
        ("Da;A;Nota", ("sauna", "nuoto", "urtato lo stipite", "dormito sul sensore")),
    ],
)
def test_events_with_a_beginning_and_an_end_are_no_movement(write, header, rows):
    lines = [f"{d} 18:00;{d} 18:45;{text}" for d, text in zip(DAYS, rows, strict=False)]
    name, brought, _ = bring(write(header, *lines))
    assert (name, brought["end"].iloc[0]) == ("notes", "2026-02-03T18:45")


def test_a_note_that_ends_after_midnight_ends_on_the_next_day(write):
    path = write("date,start,end,event", "2026-02-03,23:30,00:40,slept on the sensor", "2026-02-05,18:00,18:45,sauna")
    assert bring(path)[1]["end"].tolist() == ["2026-02-04T00:40", "2026-02-05T18:45"]


def test_the_zone_of_a_journey_is_its_own_and_not_that_of_its_times(write):
    path = write("start,what,time zone", "2026-02-05 18:40,trip to New York,America/New_York", "2026-02-09 07:00,cold,")
    _, brought, _ = bring(path)
    assert brought[["start", "time_zone"]].to_numpy().tolist() == [
        ["2026-02-05T18:40", "America/New_York"], ["2026-02-09T07:00", ""],
    ]  # fmt: skip


@pytest.mark.parametrize(
    "status", ["eaten?;yes;no, not hungry", "Gegeten?;ja;nee, niet gegeten", "status;done;was not eaten"]
)
def test_a_status_in_a_few_words_says_that_a_meal_never_was(write, status):
    name, was, was_not = status.split(";")
    rows = [f"{d} 12:00;stew;40;{was_not if i % 3 == 0 else was}" for i, d in enumerate(DAYS)]
    assert len(bring(write(f"time;food;carbs (g);{name}", *rows))[1]) == 6


def test_when_one_lay_down_and_when_one_slept_are_asked(write):
    rows = [f"{d},22:30,23:05,06:40,07:00,420" for d in DAYS]
    path = write("morning of,to bed,fell asleep,woke,got up,minutes asleep", *rows)
    assert asked(path) == ["bed"]
    for answer, first, last in (("asleep", "23:05", "06:40"), ("in_bed", "22:30", "07:00")):
        row = bring(path, bed=answer)[1].iloc[0]
        assert [row["start"][-5:], row["end"][-5:], row["asleep_min"]] == [first, last, "420"]


def test_sleeps_that_overlap_are_named(write):
    rows = [
        "2026-02-03 23:00,2026-02-04 06:00",
        "2026-02-04 00:15,2026-02-04 06:30",
        "2026-02-05 23:00,2026-02-06 06:00",
    ]
    _, brought, everything = bring(write("fell asleep,woke", *rows))
    assert len(brought) == 3
    assert [(p.line, "overlaps the one on line 2" in p.text) for p in everything.problems] == [(3, True)]


def test_two_finger_sticks_minutes_apart_are_no_sensor(write):
    rows = [f"{d} {t},{90 + i}" for d in DAYS for i, t in enumerate(("06:45", "06:50", "21:00", "21:05"))]
    assert bring(write("time,blood sugar mg/dl", *rows))[0] == "checks"


def test_caffeine_that_counts_on_over_days_is_asked(write):
    path = write(
        "date,caffeine mg (running total),stress 0-10", *[f"{d},{200 * (i + 1)},6" for i, d in enumerate(DAYS)]
    )
    assert asked(path) == ["running"]
    assert bring(path, running="differences")[1]["caffeine_mg"].tolist() == ["", *["200"] * 9]


@pytest.mark.parametrize("name", ["resting heart rate", "hrv (ms)"])
def test_a_0_of_a_heart_that_was_not_measured_is_no_figure(write, name):
    _, brought, everything = bring(
        write(f"date,{name},stress 0-10", *[f"{d},{0 if i == 3 else 52},6" for i, d in enumerate(DAYS)])
    )
    assert set(brought.iloc[3]) == {"2026-02-06", "6", ""}
    assert [p.line for p in everything.problems] == [5]
