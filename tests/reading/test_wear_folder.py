"""Is a wear read as it was worn: units, limits, trips, doubts, and what is left out?"""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study

WEAR = "wear_periods/winter/"


def utc(text: str) -> pd.Timestamp:
    return pd.Timestamp(text, tz="UTC")


def told(root) -> list[str]:
    return [str(problem) for problem in read_study(root).problems]


def test_a_sound_study_has_no_problem(make_study):
    study = read_study(make_study())
    assert study.problems == ()
    (wear,) = study.wears
    assert (study.name, wear.name) == ("study", "winter")
    assert (wear.start, wear.end) == (utc("2026-02-03T08:00"), utc("2026-02-05T08:00"))
    assert len(wear.glucose) == 192
    assert wear.glucose["limit"].isna().all()
    assert wear.meals["name"].tolist() == ["soup", "rice, fish", "soup"]
    assert wear.days["mood"].tolist() == [7, 5]
    assert study.labs["time"].tolist() == ["08:05"]
    assert study.goal.mean_mg_dl == 95
    assert not wear.has("feelings")


def test_every_file_read_is_hashed(make_study, sound_study):
    import hashlib

    study = read_study(make_study())
    assert study.input_hashes == {file: hashlib.sha256(text.encode()).hexdigest() for file, text in sound_study.items()}


def test_mmol_l_becomes_mg_dl(make_study):
    # 18.0156 mg/dL per mmol/L: molar mass of glucose 180.156 g/mol (IUPAC atomic weights), over ten
    root = make_study(
        {
            WEAR + "wear.toml": 'start = 2026-02-03T08:00:00\nunit = "mmol/L"\n',
            WEAR + "glucose.csv": "time;glucose\n2026-02-03T09:00;5,5\n2026-02-03T09:05;lo\n"
            "2026-02-03T09:10;> 22,2\n2026-02-03T09:15;<2.2\n",
            WEAR + "checks.csv": "time,glucose\n2026-02-03T09:10,5.0\n2026-02-03T09:12,92\n",
        }
    )
    study = read_study(root)
    (wear,) = study.wears
    assert wear.glucose["glucose_mg_dl"].tolist() == pytest.approx([99.0858, 40, 400, 40])
    assert wear.glucose["limit"].fillna("").tolist() == ["", "low", "high", "low"]
    assert wear.checks["glucose_mg_dl"].tolist() == pytest.approx([90.078])
    assert [str(p) for p in study.problems if "checks" in p.file] == [
        f'{WEAR}checks.csv line 3: glucose "92" plainly is not in mmol/L: is it in mg/dL?; the row is left out'
    ]


@pytest.mark.parametrize("word", ["LO", "low", "Low", "<40", "< 40", "<40.0"])
def test_words_at_the_floor(make_study, word):
    root = make_study({WEAR + "glucose.csv": f"time,glucose\n2026-02-03T09:00,{word}\n2026-02-03T09:05,90\n"})
    readings = read_study(root).wears[0].glucose
    assert readings["glucose_mg_dl"].tolist() == [40, 90]
    assert readings["limit"].fillna("").tolist() == ["low", ""]


@pytest.mark.parametrize("word", ["HI", "high", "HIGH", ">400", "> 400"])
def test_words_at_the_ceiling(make_study, word):
    root = make_study({WEAR + "glucose.csv": f"time,glucose\n2026-02-03T09:00,{word}\n2026-02-03T09:05,90\n"})
    readings = read_study(root).wears[0].glucose
    assert readings["glucose_mg_dl"].tolist() == [400, 90]
    assert readings["limit"].fillna("").tolist() == ["high", ""]


def test_a_word_that_names_another_limit_is_not_guessed_at(make_study, sound_study):
    readings = "time,glucose\n2026-02-03T09:00,<54\n2026-02-03T09:05,90\n"
    root = make_study(
        {WEAR + "glucose.csv": readings, **{f: None for f in sound_study if "meals" in f or "checks" in f}}
    )
    assert (
        f'{WEAR}glucose.csv line 2: glucose "<54" names another limit than reads_from_mg_dl in wear.toml, 40 mg/dL; '
        "the row is left out" in told(root)
    )
    with_floor = sound_study[WEAR + "wear.toml"] + "reads_from_mg_dl = 54\n"
    root = make_study({WEAR + "glucose.csv": readings, WEAR + "wear.toml": with_floor}, name="with_floor")
    assert read_study(root).wears[0].glucose["glucose_mg_dl"].tolist() == [54, 90]


@pytest.mark.parametrize(("unit", "value", "other"), [("mg/dL", "5.2", "mmol/L"), ("mmol/L", "94", "mg/dL")])
def test_a_wear_in_the_other_unit_is_left_out_with_the_key_to_change(make_study, sound_study, unit, value, other):
    rows = "".join(f"2026-02-03T09:{m:02d},{value}\n" for m in range(10))
    toml = sound_study[WEAR + "wear.toml"].replace("mg/dL", unit)
    with pytest.raises(
        NothingToDo, match=f'plainly are in {other}, not {unit}: write unit = "{other}" in wear.toml'
    ) as nothing:
        read_study(make_study({WEAR + "wear.toml": toml, WEAR + "glucose.csv": "time,glucose\n" + rows}))
    assert len(nothing.value.problems) == 1


@pytest.mark.parametrize(("unit", "value"), [("mg/dL", "38"), ("mmol/L", "25")])
def test_an_unusual_wear_is_still_read(make_study, sound_study, unit, value):
    toml = sound_study[WEAR + "wear.toml"].replace("mg/dL", unit)
    root = make_study({WEAR + "wear.toml": toml, WEAR + "glucose.csv": f"time,glucose\n2026-02-03T09:00,{value}\n"})
    assert len(read_study(root).wears[0].glucose) == 1


def test_rows_keep_the_order_of_the_file(make_study):
    text = "time,glucose\n2026-02-03T10:00,90\n2026-02-03T09:00,91\n2026-02-03T09:30,92\n2026-02-03T09:30,93\n"
    readings = read_study(make_study({WEAR + "glucose.csv": text})).wears[0].glucose
    assert readings["glucose_mg_dl"].tolist() == [90, 91, 92, 93]
    assert readings.index.tolist() == [2, 3, 4, 5]


def test_a_trip_there_and_back(make_study):
    # Lisbon is on UTC in winter, Recife three hours behind all year (IANA tz database)
    root = make_study(
        {
            WEAR + "notes.csv": "start,kind,end,time_zone\n2026-02-03T12:00,travel,2026-02-04T20:00,America/Recife\n",
            WEAR + "meals.csv": "time,name\n2026-02-03T11:30,before\n2026-02-03T13:00,there\n"
            "2026-02-04T19:00,there\n2026-02-05T07:00,home\n",
            WEAR + "glucose.csv": "time,glucose\n2026-02-03T08:00,90\n2026-02-05T07:30,91\n",
        }
    )
    study = read_study(root)
    (wear,) = study.wears
    assert study.problems == ()
    assert wear.zones.names == ("Europe/Lisbon", "America/Recife", "Europe/Lisbon")
    assert list(wear.zones.changes) == [utc("2026-02-03T12:00"), utc("2026-02-04T23:00")]
    expected = ["2026-02-03T11:30", "2026-02-03T16:00", "2026-02-04T22:00", "2026-02-05T07:00"]
    assert wear.meals["time"].tolist() == [utc(t) for t in expected]
    assert wear.notes.iloc[0][["start", "end"]].tolist() == [utc("2026-02-03T12:00"), utc("2026-02-04T23:00")]


def test_a_trip_begun_anew_ends_the_one_before(make_study):
    notes = (
        "start,kind,time_zone,end\n"
        "2026-02-04T09:00,travel,Europe/Lisbon,\n"  # rows need not stand in order
        "2026-02-03T12:00,travel,America/Recife,\n"
    )
    wear = read_study(make_study({WEAR + "notes.csv": notes})).wears[0]
    assert wear.zones.names == ("Europe/Lisbon", "America/Recife", "Europe/Lisbon")
    assert list(wear.zones.changes) == [utc("2026-02-03T12:00"), utc("2026-02-04T12:00")]  # 09:00 on Recife's clocks


def test_trips_within_a_trip(make_study):
    notes = (
        "start,kind,time_zone,end\n"
        "2026-02-03T12:00,travel,America/Recife,2026-02-05T01:00\n"
        "2026-02-04T06:00,travel,America/New_York,2026-02-04T18:00\n"
    )
    wear = read_study(make_study({WEAR + "notes.csv": notes})).wears[0]
    assert wear.zones.names == (
        "Europe/Lisbon",
        "America/Recife",
        "America/New_York",
        "America/Recife",
        "Europe/Lisbon",
    )
    expected = ["2026-02-03T12:00", "2026-02-04T09:00", "2026-02-04T23:00", "2026-02-05T04:00"]
    assert list(wear.zones.changes) == [utc(t) for t in expected]


def test_the_wear_has_a_zone_of_its_own(make_study, sound_study):
    toml = sound_study[WEAR + "wear.toml"] + 'time_zone = "America/Recife"\n'
    study = read_study(make_study({WEAR + "wear.toml": toml, "study.toml": "[person]\n"}))
    assert study.wears[0].start == utc("2026-02-03T11:00")
    assert study.person.time_zone == "America/Recife"
    assert [str(p) for p in study.problems] == [
        "study.toml: time_zone is missing in [person]: IANA name of the zone the person lives in",
        "study.toml: without a time zone the study's dates are read in America/Recife, as winter is",
    ]


@pytest.mark.parametrize("written", ["2026-02-03T08:00", "2026-02-03 08:00   # in the morning", "2026-02-03T08:00Z"])
def test_a_time_without_seconds_is_read(make_study, written):
    """As TOML 1.1.0 allows (toml.io, "Seconds in Date-Time values are optional"; from memory)."""
    study = read_study(make_study({WEAR + "wear.toml": f'start = {written}\nunit = "mg/dL"\n'}))
    assert study.wears[0].start == utc("2026-02-03T08:00")
    assert study.problems == ()


def test_start_and_end_with_offsets(make_study):
    toml = 'start = 2026-02-03T08:00:00+02:00\nend = 2026-02-05T08:00:00Z\nunit = "MG/DL"\nended = "FELL_OFF"\n'
    wear = read_study(make_study({WEAR + "wear.toml": toml})).wears[0]
    assert (wear.start, wear.end) == (utc("2026-02-03T06:00"), utc("2026-02-05T08:00"))
    assert (wear.unit, wear.ended) == ("mg/dL", "fell_off")


def test_a_wear_still_running(make_study, sound_study):
    toml = 'start = 2026-02-03T08:00:00\nunit = "mg/dL"\n'
    meals = sound_study[WEAR + "meals.csv"] + "2026-02-05T12:00,soup,30,soup,\n"
    study = read_study(make_study({WEAR + "wear.toml": toml, WEAR + "meals.csv": meals}))
    assert study.wears[0].end is None
    assert [str(p) for p in study.problems] == [
        f"{WEAR}meals.csv: 1 row lies after the last reading and cannot be judged yet"
    ]


def test_without_an_end_a_wear_runs_until_its_last_reading_is_two_days_old(make_study):
    """The contract's; its 192 readings end a quarter of an hour before two days are over."""
    root = make_study({WEAR + "wear.toml": 'start = 2026-02-03T08:00:00\nunit = "mg/dL"\n'})
    last = utc("2026-02-05T07:45")
    for after, running in (("1h", True), ("47h59min", True), ("48h", False), ("300D", False), ("-1D", True)):
        (wear,) = read_study(root, now=last + pd.Timedelta(after)).wears
        assert (wear.running, wear.end) == (running, None), after
    assert not read_study(make_study(), now=last).wears[0].running


def test_a_goal_in_mmol_l(make_study, sound_study):
    text = sound_study["study.toml"].replace("mean_mg_dl = 95", "mean_mmol_l = 5.3")
    assert read_study(make_study({"study.toml": text})).goal.mean_mg_dl == pytest.approx(95.48268)


def test_settings_of_the_study(make_study):
    text = (
        '\ufeff[person]\r\ntime_zone = "Europe/Lisbon"\r\npregnant = true\r\n'
        '[show]\r\nunit = "mmol/L"\r\nnumbers = false\r\n'
        "[goal]\r\nmean_mg_dl = 92\r\nstart = 2026-01-01\r\nby = 2026-09-30\r\nworth_noticing_mg_dl = 4.5\r\n"
        "[range]\r\nlow_mg_dl = 65\r\nhigh_mg_dl = 120\r\n"
    )
    study = read_study(make_study({"study.toml": text}))
    assert study.problems == ()
    assert study.person.describe_only
    assert (study.unit, study.numbers) == ("mmol/L", False)
    assert (study.goal.mean_mg_dl, study.goal.worth_noticing_mg_dl) == (92, 4.5)
    assert (str(study.goal.start), str(study.goal.by)) == ("2026-01-01", "2026-09-30")
    assert (study.range_low_mg_dl, study.range_high_mg_dl) == (65, 120)


def test_readings_outside_the_wear_are_kept_and_counted(make_study, sound_study):
    toml = sound_study[WEAR + "wear.toml"].replace("03T08:00", "03T09:00").replace("05T08:00", "05T07:00")
    study = read_study(make_study({WEAR + "wear.toml": toml}))
    assert len(study.wears[0].glucose) == 192
    assert [str(p) for p in study.problems] == [
        f"{WEAR}glucose.csv: 4 rows lie before the start of the wear: check the dates",
        f"{WEAR}glucose.csv: 3 rows lie after the end of the wear: check the dates",
    ]
    assert not any(p.left_out for p in study.problems)


def test_a_wear_with_the_wrong_year(make_study, sound_study):
    toml = sound_study[WEAR + "wear.toml"].replace("2026", "2025")
    assert (
        f"{WEAR}glucose.csv: none of 192 rows lies between start and end of the wear, 2025-02-03T08:00 and "
        "2025-02-05T08:00; shifted by -365 days all would: check the dates"
        in told(make_study({WEAR + "wear.toml": toml}))
    )


def test_a_reading_years_later_is_told_while_the_wear_runs(make_study, sound_study):
    toml = 'start = 2026-02-03T08:00:00\nunit = "mg/dL"\n'
    readings = sound_study[WEAR + "glucose.csv"] + "2062-02-05T08:05:00,90,automatic\n"
    root = make_study({WEAR + "wear.toml": toml, WEAR + "glucose.csv": readings})
    assert told(root) == [f"{WEAR}glucose.csv: 1 row lies after 60 days of a wear that has no end yet: check the dates"]


def test_logs_that_miss_the_readings_are_told_with_the_likely_shift(make_study, sound_study):
    changes = {
        WEAR + name: sound_study[WEAR + name].replace("2026-02-0", "2025-02-0")
        for name in ("meals.csv", "days.csv", "sleep.csv")
    }
    readings = "between 2026-02-03T08:00 and 2026-02-05T07:45"
    assert told(make_study(changes)) == [
        f"{WEAR}meals.csv: none of 3 rows lies {readings}; shifted by +365 days all would: check the dates",
        f"{WEAR}sleep.csv: its only row does not lie {readings}; "
        "shifted by +365 to +366 days all would: check the dates",
        f"{WEAR}days.csv: none of 2 rows lies between 2026-02-03 and 2026-02-05; "
        "shifted by +365 to +366 days all would: check the dates",
    ]


def test_no_shift_is_named_where_none_helps(make_study):
    meals = "time,name\n" + "".join(f"2025-{month:02d}-03T12:00,soup\n" for month in range(1, 13))
    (problem,) = told(make_study({WEAR + "meals.csv": meals}))
    assert problem.endswith("2026-02-05T07:45: check the dates")


def test_overlapping_wears_are_doubted_only_for_one_sensor(make_study, sound_study):
    def two(first: str, second: str, name: str):
        copy = {file.replace("winter", "other"): text for file, text in sound_study.items() if "winter" in file}
        toml = sound_study[WEAR + "wear.toml"]
        return make_study(
            copy
            | {
                WEAR + "wear.toml": f'{toml}sensor = "{first}"\n',
                "wear_periods/other/wear.toml": f'{toml}sensor = "{second}"\n',
            },
            name,
        )

    assert told(two("a", "b", "apart")) == []
    assert told(two("a", "a", "same")) == [
        'wear_periods/winter/wear.toml: overlaps other and names the same sensor, "a"'
    ]


def test_wears_come_in_order_of_their_start(make_study, sound_study):
    copy = {
        file.replace("winter", "a_later"): text.replace("2026-02-0", "2026-05-0")
        for file, text in sound_study.items()
        if "winter" in file
    }
    assert [wear.name for wear in read_study(make_study(copy)).wears] == ["winter", "a_later"]


def test_what_was_read_stays_as_it_was(make_study):
    wear = read_study(make_study()).wears[0]
    handed_out = wear.glucose
    handed_out.loc[:, "glucose_mg_dl"] = 0
    assert wear.glucose["glucose_mg_dl"].min() >= 90


def test_own_columns_are_described_for_whoever_they_are_handed_to(make_study):
    toml = 'time_zone = "Europe/Lisbon"\n[describe]\nmood = "  how the day  felt "\nmod = "x"\nmoood = 5\n'
    study = read_study(make_study({"study.toml": f"[person]\n{toml}"}))
    assert study.described == {"mood": "how the day felt"}
    texts = [str(problem) for problem in study.problems]
    assert len(texts) == 2
    assert any(text.startswith('study.toml line 5: [describe] "mod" is no column of any days.csv') for text in texts)
    assert any(text.startswith('study.toml line 6: moood "5" is not text') for text in texts)
    long = f'[person]\ntime_zone = "Europe/Lisbon"\n[describe]\nmood = "{"a" * 61}"\n'
    study = read_study(make_study({"study.toml": long}))
    assert study.described == {}
    assert "needs 1 to 60 letters" in str(study.problems[0])
