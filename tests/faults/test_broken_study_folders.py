"""Does broken input get a list of problems, never a traceback, and is it left as it was?"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import pytest

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.folder import read_study

WEAR = "wear_periods/winter/"
GLUCOSE, MEALS, DAYS, NOTES, CHECKS, TOML = (
    f"{WEAR}{n}" for n in ("glucose.csv", "meals.csv", "days.csv", "notes.csv", "checks.csv", "wear.toml")
)


Change = Callable[[dict[str, str]], dict]


def replaced(file: str, old: str, new: str) -> Change:
    """The sound study with `old` replaced once in one file."""

    def change(sound: dict[str, str]) -> dict:
        assert old in sound[file], f"{old!r} is not in {file}"
        return {file: sound[file].replace(old, new, 1)}

    return change


def toml(line: str) -> Change:
    """The sound wear.toml with one line more, at line 4."""
    return lambda sound: {TOML: sound[TOML] + line + "\n"}


def study(text: str) -> Change:
    """The sound study.toml with lines more, from line 5 on."""
    return lambda sound: {"study.toml": sound["study.toml"] + text}


def written(files: dict) -> Change:
    """The sound study with some files written anew, or left away (None)."""
    return lambda sound: files


def moved(file: str, to: str) -> Change:
    return lambda sound: {file: None, to: sound[file]}


NO_WEARS: Change = lambda sound: {file: None for file in sound if file.startswith("wear_periods")}  # noqa: E731


def snapshot(root: Path) -> dict[str, str]:
    return {
        str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }


def read_all(root: Path) -> tuple[Problem, ...]:
    """Problems of a folder, whether or not something of it can be used."""
    before = snapshot(root)
    try:
        problems = read_study(root).problems
    except NothingToDo as nothing:
        problems = nothing.problems
    assert snapshot(root) == before
    return problems


# What is changed, and the problem that must be told for it: its beginning, in full where short.
STILL_READ = {
    "number": (replaced(MEALS, "30.5", "12o"), f'{MEALS} line 2: carbs_g "12o" is not a number'),
    "number after a cell of two lines": (
        replaced(MEALS, "31", "12o"),
        f'{MEALS} line 5: carbs_g "12o" is not a number',
    ),
    "thousands or decimals": (
        replaced(MEALS, "30.5", '"1,234"'),
        f'{MEALS} line 2: carbs_g "1,234" may mean 1.234 or 1234',
    ),
    "infinite": (replaced(MEALS, "30.5", "inf"), f'{MEALS} line 2: carbs_g "inf" is not a number'),
    "not a number": (replaced(MEALS, "30.5", "nan"), f'{MEALS} line 2: carbs_g "nan" is not a number'),
    "too large to hold": (replaced(MEALS, "30.5", "1e999"), f'{MEALS} line 2: carbs_g "1e999" is not a number'),
    "negative": (replaced(MEALS, "30.5", "-4"), f'{MEALS} line 2: carbs_g "-4" is outside 0 to 600'),
    "off the scale": (replaced(DAYS, "4,false", "11,false"), f'{DAYS} line 2: stress "11" is outside 0 to 10'),
    "word of truth": (replaced(DAYS, "false", "no"), f'{DAYS} line 2: ill "no" is not true or false'),
    "choice": (replaced(GLUCOSE, "automatic", "auto"), f'{GLUCOSE} line 2: taken "auto" is none of automatic, by_hand'),
    "required word": (replaced(NOTES, "heat", "sauna"), f'{NOTES} line 2: kind "sauna" is none of pressure, heat'),
    "required cell": (replaced(MEALS, "soup,30.5", ",30.5"), f"{MEALS} line 2: name is empty; the row is left out"),
    "neither time nor photo": (replaced(MEALS, "2026-02-03T12:30", ""), f"{MEALS} line 2: neither time nor photo"),
    "time format": (
        replaced(GLUCOSE, "2026-02-03T08:15:00", "03/02/2026 08:15"),
        f'{GLUCOSE} line 3: time "03/02/2026 08:15" is not a time such as 2026-02-03T08:10; the row is left out',
    ),
    "only a date": (
        replaced(MEALS, "2026-02-03T12:30", "2026-02-03"),
        f'{MEALS} line 2: time "2026-02-03" has no clock time',
    ),
    "only a month": (replaced(MEALS, "2026-02-03T12:30", "2026-02"), f'{MEALS} line 2: time "2026-02" is not a time'),
    "no such day": (
        replaced(MEALS, "2026-02-03T12:30", "2026-02-30T12:30"),
        f'{MEALS} line 2: time "2026-02-30T12:30" does not exist in the calendar',
    ),
    "year 1": (
        replaced(MEALS, "2026-02-03T12:30", "0001-01-01T00:00"),
        f'{MEALS} line 2: time "0001-01-01T00:00" lies outside',
    ),
    "year 9999": (
        replaced(MEALS, "2026-02-03T12:30", "9999-12-31T23:59-12:00"),
        f'{MEALS} line 2: time "9999-12-31T23:59-12:00" lies outside the years 1900 to 2099',
    ),
    "hour 24": (
        replaced(MEALS, "2026-02-03T12:30", "2026-02-03T24:00"),
        f'{MEALS} line 2: time "2026-02-03T24:00" is not a time',
    ),
    "spring": (
        written({MEALS: "time,name\n2026-03-29T01:30,soup\n2026-02-03T12:30,soup\n"}),
        f'{MEALS} line 2: time "2026-03-29T01:30" does not exist: the spring clock change skips it; the row is',
    ),
    "date of a day": (
        replaced(DAYS, "2026-02-04", "4 Feb"),
        f'{DAYS} line 3: date "4 Feb" is not a date such as 2026-02-03',
    ),
    "day twice": (
        replaced(DAYS, "2026-02-04", "2026-02-03"),
        f'{DAYS} line 3: date "2026-02-03" stands twice, first on line 2',
    ),
    "name of an output": (
        replaced(DAYS, "mood", "mean_mg_dl"),
        f'{DAYS} line 1: column "mean_mg_dl" has a name of the tool\'s own',
    ),
    "covariate of words": (
        written({DAYS: "date,mood\n2026-02-03,fine\n2026-02-04,low\n"}),
        f'{DAYS} line 2: mood "fine" is not a number; the column is kept as text and is no covariate',
    ),
    "near miss in the header": (
        replaced(MEALS, "carbs_g", "carb_g"),
        f'{MEALS} line 1: column "carb_g" is not known: did you mean carbs_g?',
    ),
    "column twice": (replaced(MEALS, "dish,note", "carbs_g,note"), f'{MEALS} line 1: column "carbs_g" stands twice'),
    "column missing": (
        replaced(MEALS, "name", "nam"),
        f'{MEALS} line 1: column name is missing; "nam": did you mean name?',
    ),
    "too many cells": (replaced(MEALS, "12:30,soup", "12:30,soup, hot"), f"{MEALS} line 2: 6 cells, 5 expected"),
    "open quotation mark": (
        replaced(MEALS, "12:30,soup", '12:30,"soup'),
        f"{MEALS} line 2: a quotation mark is opened and not closed",
    ),
    "quotation mark inside": (
        replaced(MEALS, "12:30,soup", '12:30,"a "hot" soup"'),
        f"{MEALS} line 2: text follows a closing quotation mark",
    ),
    "Latin-1": (
        written({MEALS: "time,name,note\n2026-02-03T12:30,soup,caf\xe9\n2026-02-03T19:00,p\xe3o,\n".encode("latin-1")}),
        f'{MEALS} line 3: name "p\ufffdo" is not UTF-8 text: save the file as UTF-8; the row is left out',
    ),
    "NUL": (replaced(MEALS, "30.5", "3\x000"), f'{MEALS} line 2: carbs_g "3\ufffd0" is not UTF-8 text'),
    "UTF-16": (
        written({MEALS: "time,name\n2026-02-03T12:30,soup\n".encode("utf-16")}),
        f"{MEALS}: is written in UTF-16: save it as UTF-8",
    ),
    "empty table": (written({MEALS: b""}), f"{MEALS}: is empty: it has no header"),
    "huge cell": (
        replaced(MEALS, "helpings", "x" * 200_000),
        f"{MEALS} line 3: a quotation mark is opened and not closed",
    ),
    "huge cell on one line": (
        replaced(MEALS, "soup,\n", f"soup,{'x' * 200_000}\n"),
        f"{MEALS} line 2: a cell has more than 131,072",
    ),
    "unreadable as whole": (written({MEALS: bytes(range(256)) * 40}), f"{MEALS} line"),
    "sleep backwards": (
        written({f"{WEAR}sleep.csv": "start,end\n2026-02-04T06:30,2026-02-03T23:00\n"}),
        f'{WEAR}sleep.csv line 2: end "2026-02-03T23:00" is not after start; the row is left out',
    ),
    "note backwards": (
        replaced(NOTES, "2026-02-03T15:30", "2026-02-03T14:30"),
        f'{NOTES} line 2: end "2026-02-03T14:30" lies before start',
    ),
    "unknown zone of a trip": (
        written({NOTES: "start,kind,time_zone\n2026-02-03T15:00,travel,Lisbon\n"}),
        f'{NOTES} line 2: time_zone "Lisbon" is not a time zone',
    ),
    "trip without zone": (
        written({NOTES: "start,kind\n2026-02-03T15:00,travel\n"}),
        f"{NOTES} line 2: travel without a time zone",
    ),
    "finger-stick in the other unit": (
        written({f"{WEAR}checks.csv": "time,glucose\n2026-02-03T20:00,5.4\n2026-02-03T21:00,97\n"}),
        f'{WEAR}checks.csv line 2: glucose "5.4" plainly is not in mg/dL: is it in mmol/L?; the row is left out',
    ),
    "glucose zero": (replaced(GLUCOSE, ",94,", ",0,"), f'{GLUCOSE} line 2: glucose "0" is a code for no reading'),
    "glucose 999": (replaced(GLUCOSE, ",94,", ",999,"), f'{GLUCOSE} line 2: glucose "999" is a code for no reading'),
    "glucose 9999": (replaced(GLUCOSE, ",94,", ",9999,"), f'{GLUCOSE} line 2: glucose "9999" is a code for no reading'),
    "glucose 1001": (
        replaced(GLUCOSE, ",94,", ",1001,"),
        f'{GLUCOSE} line 2: glucose "1001" cannot be a glucose value',
    ),
    "check 0": (replaced(CHECKS, ",97,", ",0,"), f'{CHECKS} line 2: glucose "0" is a code for no reading'),
    "check 999": (replaced(CHECKS, ",97,", ",999,"), f'{CHECKS} line 2: glucose "999" is a code for no reading'),
    "clock time of a lab": (
        replaced("labs.csv", "08:05", "8.05"),
        'labs.csv line 2: time "8.05" is not a clock time such as 08:10',
    ),
    "value of a lab": (
        replaced("labs.csv", ",91,", ",<0.5,"),
        'labs.csv line 2: value "<0.5" is not a number; the row is left out',
    ),
    "file name": (moved(MEALS, f"{WEAR}meal.csv"), f"{WEAR}meal.csv: is not read: did you mean meals.csv?"),
    "spreadsheet": (
        written({MEALS: None, f"{WEAR}meals.xlsx": b"PK"}),
        f"{WEAR}meals.xlsx: is not read: did you mean meals.csv?",
    ),
    "file of the study in a wear": (
        written({f"{WEAR}labs.csv": "x"}),
        f"{WEAR}labs.csv: is not read here: it belongs in the study folder",
    ),
    "unknown key": (toml('sensr = "a"'), f'{TOML} line 4: key "sensr" is not known and not used: did you mean sensor?'),
    "wrong type": (
        toml('life_days = "14"'),
        f'{TOML} line 4: life_days "14" is not a number (write it without quotation marks)',
    ),
    "number out of range": (toml("life_days = -1"), f'{TOML} line 4: life_days "-1" is outside 0.5 to 400'),
    "not a number in TOML": (toml("life_days = nan"), f'{TOML} line 4: life_days "nan" is outside'),
    "decimal comma in TOML": (
        toml("interval_min = 2,5"),
        f"{TOML} line 4: interval_min needs a decimal point: write 2.5",
    ),
    "text without quotation marks": (
        toml("site = left arm"),
        f'{TOML} line 4: site needs quotation marks: write "left arm"',
    ),
    "large letter": (study("[show]\nnumbers = False\n"), "study.toml line 6: numbers needs small letters: write false"),
    "key twice": (toml('unit = "mg/dL"'), f'{TOML} line 4: "unit = "mg/dL"" stands twice'),
    "no end of a text": (toml('site = """left\n'), f"{TOML} line 4: site"),
    "end before start": (replaced(TOML, "2026-02-05", "2026-01-05"), f"{TOML} line 2: end is not after start"),
    "two goals": (study("mean_mmol_l = 5.0\n"), "study.toml line 5: mean_mg_dl and mean_mmol_l are both given"),
    "goal over before it begins": (
        study("start = 2026-09-01\nby = 2026-01-01\n"),
        "study.toml line 6: by 2026-01-01 is not after start",
    ),
    "range upside down": (
        study("[range]\nlow_mg_dl = 150\n"),
        "study.toml line 6: low_mg_dl 150 is not below high_mg_dl 140",
    ),
    "unknown section": (
        study("[goals]\nby = 2026-01-01\n"),
        "study.toml line 5: section [goals] is not known and not used: did you mean goal?",
    ),
    "key outside its section": (
        written({"study.toml": 'numbers = true\n[person]\ntime_zone = "Europe/Lisbon"\n'}),
        'study.toml line 1: key "numbers" is not known and not used: write it below [show]',
    ),
}


@pytest.mark.parametrize("fault", STILL_READ)
def test_a_fault_is_told_and_the_rest_is_used(make_study, sound_study, fault):
    change, expected = STILL_READ[fault]
    root = make_study(change(sound_study))
    problems = read_all(root)
    assert any(str(problem).startswith(expected) for problem in problems), "\n".join(map(str, problems))
    assert len(problems) <= 3 or fault in ("huge cell", "unreadable as whole"), "\n".join(map(str, problems))
    readings = read_study(root).wears[0].glucose
    assert len(readings) == 192 - (
        fault in ("time format", "glucose zero", "glucose 999", "glucose 9999", "glucose 1001")
    )


NOTHING_LEFT = {
    "a settings file of megabytes": (study("x = 1\n" * 200_000), "study.toml is longer than 100 kB"),
    "no such folder": (None, "does not exist"),
    "no study.toml": (written({"study.toml": None}), "study.toml is missing"),
    "no wears": (NO_WEARS, "it has no folder wear_periods"),
    "no wear.toml": (written({TOML: None}), "winter: it has no wear.toml that can be read"),
    "no glucose.csv": (written({GLUCOSE: None}), "winter: it has no glucose.csv that can be read"),
    "header only": (written({GLUCOSE: "time,glucose\n"}), "winter: glucose.csv has no readings yet"),
    "no column": (written({GLUCOSE: "time,value\n2026-02-03T08:00,90\n"}), "winter: glucose.csv cannot be used"),
    "no row": (written({GLUCOSE: "time,glucose\nyesterday,90\n"}), "winter: no row of glucose.csv can be used"),
    "no unit": (replaced(TOML, 'unit = "mg/dL"\n', ""), "wear.toml gives no unit that can be used"),
    "unit unknown": (replaced(TOML, "mg/dL", "g/L"), "wear.toml gives no unit that can be used"),
    "start in the spring gap": (replaced(TOML, "2026-02-03T08", "2026-03-29T01"), "wear.toml gives no start"),
    "wrong unit": (
        replaced(TOML, "mg/dL", "mmol/L"),
        'plainly are in mg/dL, not mmol/L: write unit = "mg/dL" in wear.toml',
    ),
    "zone of the wear unknown": (toml('time_zone = "Recife"'), "would be read in the wrong time zone"),
    "no zone at all": (
        written({"study.toml": "[person]\n"}),
        "its time zone is not known: write time_zone below [person]",
    ),
    "zone unknown": (replaced("study.toml", "Europe/Lisbon", "Atlantis/Centre"), "its time zone is not known"),
    "study.toml in UTF-16": (written({"study.toml": "[person]".encode("utf-16")}), "study.toml is written in UTF-16"),
    "study.toml of bytes": (written({"study.toml": bytes(range(256)) * 20}), "its time zone is not known"),
    "a wear's folder": (
        written({"wear.toml": "", "study.toml": None}),
        "is the folder of one wear: name the study folder",
    ),
}


@pytest.mark.parametrize("fault", NOTHING_LEFT)
def test_nothing_left_is_one_reason(make_study, sound_study, tmp_path, fault):
    change, expected = NOTHING_LEFT[fault]
    root = tmp_path / "nowhere" if change is None else make_study(change(sound_study))
    before = snapshot(root)
    with pytest.raises(NothingToDo) as nothing:
        read_study(root)
    assert expected in str(nothing.value)
    assert "\n" not in str(nothing.value)
    assert snapshot(root) == before


START = "2026-02-03T08:00:00"
PLAIN_WORDS = {
    "start without value": (replaced(TOML, START, ""), f"{TOML} line 1: start has no value yet"),
    "start as text": (
        replaced(TOML, START, '"2026-02-03"'),
        f'{TOML} line 1: start "2026-02-03" is not a time such as 2026-02-03T08:10:00 (write it without quotation',
    ),
    "start in the spring gap": (
        replaced(TOML, START, "2026-03-29T01:00:00"),
        f'{TOML} line 1: start "2026-03-29 01:00:00" does not exist: the spring clock change skips it',
    ),
    "unit unknown": (replaced(TOML, "mg/dL", "g/L"), f'{TOML} line 3: unit "g/L" is none of mg/dL, mmol/L'),
    "no unit": (
        replaced(TOML, 'unit = "mg/dL"\n', ""),
        f"{TOML}: unit is missing: of every glucose value in this folder",
    ),
    "zone unknown": (
        replaced("study.toml", "Europe/Lisbon", "Lisbon"),
        'study.toml line 2: time_zone "Lisbon" is not a time zone such as Europe/Lisbon',
    ),
    "no zone": (
        written({"study.toml": "[person]\n"}),
        "study.toml: time_zone is missing in [person]: IANA name of the zone the person lives in",
    ),
    "no column": (
        written({GLUCOSE: "time,glucos\n2026-02-03T08:00,90\n"}),
        f'{GLUCOSE} line 1: column glucose is missing; "glucos": did you mean glucose?',
    ),
}


@pytest.mark.parametrize("fault", PLAIN_WORDS)
def test_what_stopped_a_wear_is_told_with_its_line(make_study, sound_study, fault):
    change, expected = PLAIN_WORDS[fault]
    problems = read_all(make_study(change(sound_study)))
    assert any(str(problem).startswith(expected) for problem in problems), "\n".join(map(str, problems))


def test_a_bad_wear_does_not_stop_the_others(make_study, sound_study):
    second = {file.replace("winter", "summer"): text for file, text in sound_study.items() if "winter" in file}
    root = make_study(second | {"wear_periods/summer/wear.toml": "start = yesterday\n"})
    read = read_study(root)
    assert [wear.name for wear in read.wears] == ["winter"]
    left_out = [p for p in read.problems if p.file == "wear_periods/summer"]
    assert [str(p) for p in left_out] == [
        "wear_periods/summer: the wear is left out: wear.toml gives no start and no unit that can be used"
    ]


def test_every_problem_of_a_study_is_told_at_once(make_study, sound_study):
    changes = [
        replaced(MEALS, "30.5", "12o"),
        replaced(DAYS, "4,false", "44,maybe"),
        toml("life_days = -1"),
        replaced("labs.csv", "08:05", "noon"),
        study("[show]\nnumbers = 1\n"),
    ]
    root = make_study({file: text for change in changes for file, text in change(sound_study).items()})
    told = [str(problem).split(": ")[0] for problem in read_study(root).problems]
    places = [
        f"{MEALS} line 2",
        f"{DAYS} line 2",
        f"{DAYS} line 2",
        f"{TOML} line 4",
        "labs.csv line 2",
        "study.toml line 6",
    ]
    assert sorted(told) == sorted(places)


def test_very_many_bad_cells_are_counted(make_study, sound_study):
    root = make_study({GLUCOSE: sound_study[GLUCOSE].replace(",automatic", ",auto")})
    problems = read_study(root).problems
    assert len(problems) == 21
    assert str(problems[-1]) == f"{GLUCOSE}: 172 more cells of taken like this, lines 22 to 193"


def test_one_stray_quotation_mark_costs_one_row(make_study, sound_study):
    root = make_study(replaced(GLUCOSE, "2026-02-03T08:15", '"2026-02-03T08:15')(sound_study))
    read = read_study(root)
    assert [str(p) for p in read.problems] == [
        f"{GLUCOSE} line 3: a quotation mark is opened and not closed; the row is left out"
    ]
    assert len(read.wears[0].glucose) == 191


@pytest.mark.parametrize("name", ["meals.csv", "wear.toml", "glucose.csv"])
def test_a_folder_in_place_of_a_file(make_study, name):
    root = make_study({WEAR + name: None})
    (root / WEAR / name).mkdir()
    problems = read_all(root)
    assert str(problems[0]) == f"{WEAR}{name}: is not a plain file and is not read"


def test_a_pipe_in_place_of_a_file_is_not_waited_for(make_study):
    root = make_study({MEALS: None})
    os.mkfifo(root / MEALS)
    assert [str(p) for p in read_study(root).problems] == [f"{MEALS}: is not a plain file and is not read"]


def test_a_file_in_place_of_the_folder_of_wears(make_study, sound_study):
    root = make_study(NO_WEARS(sound_study) | {"wear_periods": "x"})
    with pytest.raises(NothingToDo, match="it has no folder wear_periods"):
        read_study(root)


def test_a_file_among_the_wears(make_study):
    root = make_study({"wear_periods/notes.txt": "x"})
    read = read_study(root)
    assert [wear.name for wear in read.wears] == ["winter"]
    assert [str(p) for p in read.problems] == ["wear_periods/notes.txt: is a file where folders of wears are expected"]
    assert not read.problems[0].left_out


@pytest.mark.parametrize("linked", [MEALS, "wear_periods/winter", "wear_periods"])
def test_a_link_out_of_the_study_is_not_followed(make_study, tmp_path, linked):
    root = make_study()
    outside = tmp_path / "outside"
    (root / linked).rename(outside)
    (root / linked).symlink_to(outside)
    problems = read_all(root)
    assert f"{linked}: is a link that leads out of the study folder and is not followed" in map(str, problems)


def test_a_link_inside_the_study_is_followed(make_study):
    root = make_study()
    (root / MEALS).rename(root / "kept.csv")
    (root / MEALS).symlink_to(root / "kept.csv")
    read = read_study(root)
    assert read.problems == ()
    assert len(read.wears[0].meals) == 3


def test_a_link_to_itself(make_study):
    root = make_study({MEALS: None})
    (root / MEALS).symlink_to(root / MEALS)
    (problem,) = read_study(root).problems
    assert str(problem).startswith(f"{MEALS}: cannot be read")


@pytest.mark.parametrize("name", ["study", "two\nlines", "\udce9t\udce9"])
def test_names_that_a_report_folder_cannot_have(make_study, name):
    root = make_study()
    os.rename(root / WEAR, os.fsencode(root / "wear_periods") + b"/" + os.fsencode(name))
    with pytest.raises(NothingToDo, match="rename it") as nothing:
        read_study(root)
    for problem in nothing.value.problems:
        assert str(problem).isprintable()
        str(problem).encode()


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs a system with users")
@pytest.mark.parametrize("locked", [MEALS, WEAR])
def test_no_permission(make_study, tmp_path, locked):
    root = make_study()
    tmp_path.chmod(0o755)
    for folder in [*root.parents][: len(root.parents) - 2]:
        if os.access(folder, os.W_OK) and folder.stat().st_uid == os.geteuid():
            folder.chmod(folder.stat().st_mode | 0o055)
    (root / locked).chmod(0)
    user = os.geteuid()
    if user == 0:
        os.seteuid(65534)
    try:
        with pytest.raises(NothingToDo) if locked == WEAR else nullcontext():
            problems = read_study(root).problems
            assert [str(p) for p in problems] == [f"{MEALS}: cannot be read: no permission"]
    finally:
        os.seteuid(user)
        (root / locked).chmod(0o755)
