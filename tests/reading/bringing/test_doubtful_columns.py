"""Is a column what it seems? Net carbohydrate, a packet's values, two counters, both ends of a scale, sleep by day.

Each in small invented tables, with one beside it that looks alike and leaves nothing open.
"""

from __future__ import annotations

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.mapping.mapping_file import mapping_text, read_mapping
from tests.reading.bringing.tables import bring, guess
from tests.reading.bringing.test_one_wearer import in_order, readings, write

DAYS = [f"2026-02-{day:02d}" for day in range(3, 13)]


def asked(path, **said):
    """Keys of what is asked of a file."""
    with pytest.raises(UnsettledError) as fault:
        guess(path, **said)
    return [question.key for question in fault.value.questions]


@pytest.mark.parametrize("names", ["net carbs (g),carbs (g)", "Netto-Kohlenhydrate (g),Kohlenhydrate (g)"])
def test_net_carbohydrate_is_left_for_all_of_it(tmp_path, names):
    rows = [f"{day} 12:00,stew,{20 + i},{27 + i}" for i, day in enumerate(DAYS)]
    _, brought, _ = bring(write(tmp_path / "food.csv", f"time,food,{names}", rows))
    assert brought["carbs_g"].tolist() == [str(27 + i) for i in range(len(DAYS))]


def test_net_carbohydrate_alone_is_asked(tmp_path):
    path = write(tmp_path / "food.csv", "time,food,net carbs (g),fiber (g)", [f"{d} 12:00,stew,20,7" for d in DAYS])
    assert asked(path) == ["carbs"]
    assert "carbs_g" not in bring(path, carbs="leave_out")[1] or set(
        bring(path, carbs="leave_out")[1]["carbs_g"].fillna("")
    ) == {""}
    assert set(bring(path, carbs="label")[1]["carbs_g"]) == {"20"}


@pytest.mark.parametrize(
    ("name", "answer", "carbs"), [("Nährwert KH (g)", "100 g", "60"), ("Valeur nutritive glucides (g)", "eaten", "40")]
)
def test_what_a_packet_says_is_asked_beside_how_much_was_eaten(tmp_path, name, answer, carbs):
    rows = [f"{day} 12:00,Reis,150,40" for day in DAYS]  # 40 g of 100 g, 150 g eaten: 60 g
    path = write(tmp_path / "food.csv", f"time,food,Portion (g),{name}", rows)
    assert asked(path) == ["per"]
    assert set(bring(path, per=answer)[1]["carbs_g"]) == {carbs}
    plain = write(tmp_path / "plain.csv", "time,food,Portion (g),KH (g)", rows)
    assert set(bring(plain)[1]["carbs_g"]) == {"40"}


def test_a_row_of_several_meals_is_refused(tmp_path):
    header = "date,time,food,carbs (g),dinner time,dinner dish,dinner carbs (g)"
    path = write(tmp_path / "wide.csv", header, [f"{d},07:30,oats,40,19:10,soup,25" for d in DAYS])
    with pytest.raises(NothingToDo, match=r"further meals in the same row"):
        guess(path, table="meals")
    one = write(tmp_path / "one.csv", "date,time,food,carbs (g),end", [f"{d},07:30,oats,40,07:50" for d in DAYS])
    assert len(bring(one)[1]) == len(DAYS)


def test_two_counters_of_steps_are_asked_and_one_counted_twice_is_not(tmp_path):
    rows = [f"{day},{4000 + i},{5100 + 2 * i}" for i, day in enumerate(DAYS)]
    path = write(tmp_path / "days.csv", "date,steps left pocket,steps bracelet", rows)
    assert asked(path) == ["steps"]
    assert bring(path, steps="steps bracelet")[1]["steps"].iloc[1] == "5102"
    same = [f"{day},{4000 + i},{4000 + i}" for i, day in enumerate(DAYS)]
    assert bring(write(tmp_path / "same.csv", "date,steps,steps again", same))[1]["steps"].iloc[0] == "4000"


@pytest.mark.parametrize(
    ("name", "said", "first"),
    [
        ("relaxed - stressed (0-10)", {"high_stress": "least"}, "8"),
        ("relaxed - stressed (0-10)", {"high_stress": "most"}, "2"),
        ("Stress/Ruhe 1-5", {"high_stress": "least"}, "7.5"),  # (5 - 2) / 4 of 10
        ("Stress/Ruhe 1-5", {"high_stress": "most"}, "2.5"),
        ("stress - calm", {"scale": "1-5", "high_stress": "least"}, "7.5"),
    ],
)
def test_a_name_of_both_ends_of_a_scale_is_asked(tmp_path, name, said, first):
    rows = [f"{day},{2 + i % 2},8000" for i, day in enumerate(DAYS)]
    path = write(tmp_path / "days.csv", f"date,{name},steps", rows)
    assert asked(path) == list(said)
    found = guess(path, **said)
    assert bring(path, **said)[1]["stress"].iloc[0] == first
    assert read_mapping_of(tmp_path, found.mapping) == found.mapping


def test_each_mark_has_its_own_high_end(tmp_path):
    rows = [f"2026-05-{4 + i:02d} 09:00,{2 + i % 2},{3 + i % 2}" for i in range(12)]
    path = write(tmp_path / "felt.csv", "time,stress relaxed (0-10),energy tired (0-10)", rows)
    said = {"high_stress": "least", "high_energy": "most"}
    found = bring(path, **said)[1]
    assert (found["stress"].iloc[0], found["energy"].iloc[0]) == ("8", "3")


def test_marks_out_of_five_are_a_scale_only_with_a_nought(tmp_path):
    """Of 5 a mark of 1 may be the least or a fifth; beside a 0 it is a fifth."""
    for lowest, known in ((0, True), (1, False)):
        rows = [f"2026-05-{4 + i:02d} 09:00,{max(lowest, i % 5)}/5,4/10" for i in range(12)]
        found = bring(write(tmp_path / f"felt{lowest}.csv", "time,energy,hunger", rows))[1]
        assert ("energy" in found and found["energy"].iloc[1] == "2") == known
        assert found["hunger"].iloc[1] == "4"


def read_mapping_of(folder, mapping):
    """A mapping, written and read again."""
    path = folder / "again.toml"
    path.write_text(mapping_text(mapping), encoding="utf-8")
    return read_mapping(path)


NIGHT = [f"{d} 23:10,{d[:8]}{int(d[8:]) + 1:02d} 06:40,410" for d in DAYS]
BY_DAY = [f"{d} 13:40,{d} 21:50,440" for d in DAYS]


def test_sleep_by_day_without_a_zone_is_asked(tmp_path):
    path = write(tmp_path / "log.csv", "sleep start,sleep end,minutes asleep", BY_DAY)
    assert asked(path) == ["zone"]
    assert bring(path, zone="local")[1]["start"].iloc[0] == "2026-02-03T13:40"
    assert bring(path, zone="UTC")[1]["start"].iloc[0] == "2026-02-03T13:40+00:00"


@pytest.mark.parametrize(
    ("header", "rows"),
    [
        ("sleep start,sleep end,minutes asleep", NIGHT),
        ("sleep start (UTC),sleep end (UTC),minutes asleep", BY_DAY),
        ("sleep start,sleep end,minutes asleep", [*NIGHT[:6], *(f"{d} 14:00,{d} 14:40,35" for d in DAYS)]),
    ],
    ids=["nights", "zone_stated", "naps"],
)
def test_other_sleep_is_not_asked(tmp_path, header, rows):
    assert len(bring(write(tmp_path / "log.csv", header, rows))[1]) == len(rows)


@pytest.mark.parametrize("name", ["Schlafqualität 0-10", "sleep quality", "qualité du sommeil (0-10)"])
def test_a_mark_of_sleep_is_no_length_of_it(tmp_path, name):
    rows = [f"{day} 23:{10 + i},{5 + i % 4}" for i, day in enumerate(DAYS)]
    with pytest.raises(NothingToDo, match="do not make a table of sleep"):
        guess(write(tmp_path / "log.csv", f"to bed,{name}", rows), table="sleep")


@pytest.mark.parametrize(
    ("header", "put"), [("origin", "interpolated"), ("Herkunft", "geschätzt"), ("measured", "no"), ("imputed", "yes")]
)
def test_values_that_nothing_read_are_left_out_and_named(tmp_path, header, put):
    other = {"no": "yes", "yes": "no"}.get(put, "x")
    rows = [
        row.replace(",m,", f",{put if i in (4, 9) else other},")
        for i, row in enumerate(in_order(readings(15, 30, "m", 90)))
    ]
    _, brought, told = bring(write(tmp_path / "readings.csv", f"time,{header},glucose mg/dL", rows))
    assert len(brought) == 28
    assert any("in 2 rows" in str(problem) for problem in told.problems)


def test_an_athlete_is_a_person(tmp_path):
    rows = [f"{day} 18:00,{'Ida' if i % 2 else 'Ole'},walk,30" for i, day in enumerate(DAYS)]
    path = write(tmp_path / "log.csv", "start,athlete,activity,minutes", rows)
    assert asked(path) == ["series"]
    assert len(bring(path, series="Ida")[1]) == 5


def test_glucose_that_is_something_else_is_not_brought(tmp_path):
    rows = [f"2026-02-03 {8 + i // 4:02d}:{15 * (i % 4):02d},{5 + i % 3}.1" for i in range(40)]
    path = write(tmp_path / "values.csv", "time,lactate (mmol/L)", rows)
    assert "glucose" in asked(path)
    with pytest.raises(NothingToDo):
        guess(path, glucose="none")


def test_a_meter_beside_a_sensor_is_a_check(tmp_path):
    rows = [f"{day} 07:30,{90 + i},{94 + i}" for i, day in enumerate(DAYS)]
    path = write(tmp_path / "both.csv", "time,sensor (mg/dL),finger prick (mg/dL)", rows)
    table, brought, _ = bring(path, glucose="finger prick (mg/dL)")
    assert (table, brought["glucose"].iloc[0]) == ("checks", "94")


def test_a_header_that_names_the_finger_says_where_blood_was_drawn(tmp_path):
    rows = [f"{day} 07:30,{90 + i}" for i, day in enumerate(DAYS)]
    _, brought, _ = bring(write(tmp_path / "log.csv", "time of finger prick,blood glucose (mg/dL)", rows))
    assert set(brought["source"]) == {"fingerstick"}
    _, brought, _ = bring(write(tmp_path / "blood.csv", "time,blood glucose (mg/dL)", rows))
    assert "source" not in brought or set(brought["source"].fillna("")) == {""}


def test_the_date_of_a_report_is_not_when_blood_was_drawn(tmp_path):
    rows = ["15/01/2026,19/01/2026,Glucose,91,mg/dL", "15/01/2026,19/01/2026,Insulin,5.5,µU/mL"]
    header = "date of collection,date of report,test,result,unit"
    table, brought, _ = bring(write(tmp_path / "labs.csv", header, rows))
    assert (table, brought["date"].tolist()) == ("labs", ["2026-01-15", "2026-01-15"])
    assert brought["analyte"].tolist() == ["Glucose", "Insulin"]


def test_two_dates_of_a_row_are_asked(tmp_path):
    rows = [f"{day},{day[:8]}{int(day[8:]) + 1:02d},{60 + i},9000" for i, day in enumerate(DAYS)]
    path = write(tmp_path / "days.csv", "date one,date two,resting pulse,steps", rows)
    assert asked(path) == ["time"]
    assert bring(path, time="date two")[1]["date"].iloc[0] == "2026-02-04"


def test_marks_out_of_ten_are_numbers_and_a_day_of_a_month_is_none(tmp_path):
    rows = [f"{day} 08:30,{i % 9}/10,{2 * (i % 9)}/20" for i, day in enumerate(DAYS)]
    path = write(tmp_path / "marks.csv", "time,energy,hunger", rows)
    _, brought, _ = bring(path)
    assert brought["energy"].tolist() == brought["hunger"].tolist() == [str(i % 9) for i in range(len(DAYS))]
    assert read_mapping_of(tmp_path, guess(path).mapping) == guess(path).mapping
    mixed = write(
        tmp_path / "mixed.csv", "time,energy,hunger", [f"{d} 08:30,{i}/{5 + 5 * (i % 2)},7" for i, d in enumerate(DAYS)]
    )
    assert "energy" not in bring(mixed)[1] or set(bring(mixed)[1]["energy"].fillna("")) == {""}


@pytest.mark.parametrize(("answer", "minutes"), [("h:m", "80"), ("h", "72")])  # 1.20: 1 h 20 min, or 1.2 h
def test_short_lengths_with_a_point_may_be_hours_and_minutes(tmp_path, answer, minutes):
    rows = [f"{day} 18:00,run,{'1.20' if i == 0 else f'0.{40 + i}'}" for i, day in enumerate(DAYS)]
    path = write(tmp_path / "log.csv", "start,activity,duration", rows)
    assert asked(path) == ["parts"]
    assert bring(path, parts=answer)[1]["minutes"].iloc[0] == minutes
