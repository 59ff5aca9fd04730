"""Does `bring` show, ask and write as it says, and leave the study as it was where it does not?"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from glucolab.running.cli import main
from tests.running.test_cli import hashes

EXPORT = "Datum;Uhrzeit;Zucker mg/dL\n" + "".join(
    f"{day:02d}.02.2026;{minute // 60:02d}:{minute % 60:02d};{90 + minute % 9}\n"
    for day in (3, 4)
    for minute in range(483, 600, 15)
)


FULL_DISK = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (3000, 3000))  # no file may grow longer: writing fails as on a full disk
from glucolab.running.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.fixture
def export(tmp_path):
    path = tmp_path / "export.csv"
    path.write_text(EXPORT, encoding="utf-8")
    return path


def wear_of(study):
    return str(study / "wear_periods" / "winter")


def test_nothing_is_written_where_nobody_can_agree(make_study, export, capsys, monkeypatch):
    study = make_study()
    before = hashes(study)
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    assert main(["bring", str(export), "--into", wear_of(study)]) == 2
    shown = capsys.readouterr()
    assert "as it stands in the file" in shown.err
    assert "as it would stand in wear_periods/winter/glucose.csv" in shown.err
    assert shown.err.splitlines()[-1].startswith("glucolab: nobody is here to agree")
    assert hashes(study) == before


def test_yes_writes_and_a_second_time_adds_nothing(make_study, export, capsys):
    study = make_study()
    assert main(["bring", str(export), "--into", wear_of(study), "--yes"]) == 0
    assert capsys.readouterr().out.strip() == str(study / "wear_periods" / "winter" / "glucose.csv")
    before = hashes(study)
    assert main(["bring", str(export), "--into", wear_of(study), "--yes"]) == 0
    assert "everything in it was there already" in capsys.readouterr().err
    assert hashes(study) == before
    assert main(["check", str(study)]) == 0


def test_a_saved_mapping_needs_no_question(make_study, export, tmp_path, capsys, monkeypatch):
    study, mapping = make_study(), tmp_path / "m.toml"
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    assert main(["bring", str(export), "--into", wear_of(study), "--save-mapping", str(mapping)]) == 2
    assert main(["bring", str(export), "--into", wear_of(study), "--mapping", str(mapping)]) == 0
    assert main(["bring", str(export), "--into", wear_of(study), "--yes", "--save-mapping", str(mapping)]) == 2
    assert "is already there, and is left as it is" in capsys.readouterr().err


def test_two_readings_are_listed_and_answered(make_study, tmp_path, capsys):
    study, export = make_study(), tmp_path / "nights.csv"
    export.write_text("date,bedtime,wake\n2026-02-03,23:10,07:05\n2026-02-04,00:20,07:35\n")
    assert main(["bring", str(export), "--into", wear_of(study), "--yes"]) == 2
    assert "night=evening (the evening it began); night=morning" in capsys.readouterr().err
    assert main(["bring", str(export), "--into", wear_of(study), "--yes", "--say", "night=morning"]) == 0
    assert main(["bring", str(export), "--into", wear_of(study), "--yes", "--say", "nigth=morning"]) == 2
    assert "did you mean night?" in capsys.readouterr().err


def test_a_row_that_cannot_be_read_ends_with_1_and_its_line(make_study, export, capsys):
    export.write_text(EXPORT.replace("04.02.2026;08:03;96", "04.02.2026;08:03;9x3"), encoding="utf-8")
    study = make_study()
    assert main(["bring", str(export), "--into", wear_of(study), "--yes"]) == 1
    assert 'left out: export.csv line 10: glucose "9x3" is not a number; the row is left out' in capsys.readouterr().err


def test_a_full_disk_leaves_the_study_as_it_was(make_study, export):
    study = make_study()
    before = hashes(study)
    command = [sys.executable, "-c", FULL_DISK, "bring", str(export), "--into", wear_of(study), "--yes"]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ended.returncode == 2
    assert ended.stderr.splitlines()[-1].startswith("glucolab: File too large")
    assert hashes(study) == before


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_permission_is_one_sentence(make_study, export, capsys):
    study = make_study()
    folder = study / "wear_periods" / "winter"
    folder.chmod(0o500)
    assert main(["bring", str(export), "--into", str(folder), "--yes"]) == 2
    folder.chmod(0o700)
    assert capsys.readouterr().err.splitlines()[-1].startswith("glucolab: Permission denied")


def editing(study, file, change, monkeypatch):
    """The wearer's answer, before which a file is changed in an editor."""

    def agree():
        path = study / file
        path.write_text(change(path.read_text("utf-8")), "utf-8")
        return True

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("glucolab.running.bringing.ask_wearer", agree)


def test_what_is_typed_while_it_waits_for_an_answer_is_kept(make_study, export, capsys, monkeypatch):
    study = make_study()
    typed = "2026-02-03T10:07:00,101,by_hand\n"
    editing(study, "wear_periods/winter/glucose.csv", lambda text: text + typed, monkeypatch)
    assert main(["bring", str(export), "--into", wear_of(study)]) == 0
    text = (study / "wear_periods" / "winter" / "glucose.csv").read_text("utf-8")
    assert typed in text
    assert "2026-02-03T08:03,96," in text, "what was brought"
    assert "glucose.csv: was changed meanwhile: what is brought is set beside" in capsys.readouterr().err


def test_a_table_deleted_meanwhile_is_written_anew(make_study, export, monkeypatch):
    study = make_study()
    path = study / "wear_periods" / "winter" / "glucose.csv"

    def delete():
        path.unlink()
        return True

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("glucolab.running.bringing.ask_wearer", delete)
    assert main(["bring", str(export), "--into", wear_of(study)]) == 0
    assert len(path.read_text("utf-8").splitlines()) == 1 + 16


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("wear_periods/winter/wear.toml", "mg/dL", "mmol/L"),
        ("study.toml", "Europe/Lisbon", "Europe/Helsinki"),
        ("wear_periods/winter/wear.toml", "start = 2026-02-03", "start = 2026-02-04"),
    ],
)
def test_another_unit_zone_or_span_meanwhile_is_refused(make_study, export, capsys, monkeypatch, file, old, new):
    study = make_study()
    editing(study, file, lambda text: text.replace(old, new), monkeypatch)
    before = hashes(study)
    assert main(["bring", str(export), "--into", wear_of(study)]) == 2
    assert "was read by has changed meanwhile" in capsys.readouterr().err
    assert {name for name, one in hashes(study).items() if before[name] != one} == {str(study / file)}


def test_a_table_spoilt_meanwhile_is_left_as_it_is(make_study, export, capsys, monkeypatch):
    study = make_study()
    editing(study, "wear_periods/winter/glucose.csv", lambda text: text + '2026-02-03T10:07,"101\n', monkeypatch)
    assert main(["bring", str(export), "--into", wear_of(study)]) == 2
    assert "mend it first" in capsys.readouterr().err
    assert (study / "wear_periods/winter/glucose.csv").read_text("utf-8").endswith('"101\n')


def test_codes_for_no_reading_are_named_and_not_brought(make_study, tmp_path, capsys):
    study, export = make_study(), tmp_path / "codes.csv"
    rows = ["11:01,0", "11:02,999", "11:03,9999", "11:04,101", "11:05,99.9"]
    export.write_text("time,glucose mg/dL\n" + "".join(f"2026-02-03T{row}\n" for row in rows), "utf-8")
    assert main(["bring", str(export), "--into", wear_of(study), "--yes"]) == 1
    told = capsys.readouterr().err
    for line, code in ((2, 0), (3, 999), (4, 9999)):
        assert f'left out: codes.csv line {line}: glucose "{code}" is a code for no reading, and no glucose' in told
    text = (study / "wear_periods" / "winter" / "glucose.csv").read_text("utf-8")
    assert [row for row in text.splitlines() if "T11:0" in row and "11:00" not in row] == [
        "2026-02-03T11:04,101,",
        "2026-02-03T11:05,99.9,",
    ]
