"""Does the command line do what it says, and say how it went?"""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

from glucolab import __version__
from glucolab.running.cli import main

MOMENTS = [f"2026-02-0{3 + m // 1440}T{m // 60 % 24:02d}:{m % 60:02d}" for m in range(0, 4 * 1440, 15)]
WHOLE = {
    "wear_periods/winter/wear.toml": 'start = 2026-02-03T00:00:00\nend = 2026-02-07T00:00:00\nunit = "mg/dL"\n',
    "wear_periods/winter/glucose.csv": "time,glucose\n" + "".join(f"{t},{90 + i % 5}\n" for i, t in enumerate(MOMENTS)),
}
"""Four days of readings: enough for a mean after the first day."""

COMMANDS = {
    "demo",
    "new",
    "workbook",
    "check",
    "measure",
    "report",
    "plan",
    "bring",
    "export",
    "share",
    "many",
    "reference",
}


def hashes(folder: Path) -> dict[str, str]:
    return {str(p): hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_version_and_help(capsys):
    for arguments, words in ((["--version"], __version__), (["--help"], "never for dosing a medicine")):
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        assert ended.value.code == 0
        assert words in capsys.readouterr().out


def test_help_offers_the_commands_that_there_are_and_no_others(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    shown = capsys.readouterr().out
    offered = re.findall(r"\n    ([a-z]+)\s", shown)
    assert sorted(offered) == sorted(COMMANDS)


def test_measure_writes_tables_says_where_and_changes_no_input(make_study, tmp_path, capsys):
    study, out = make_study(WHOLE), tmp_path / "out"
    before = hashes(study)
    assert main(["measure", str(study), "--out", str(out)]) == 0
    shown = capsys.readouterr()
    headline, *paths = shown.out.splitlines()
    assert headline.startswith("winter: Your average was 9")
    assert "Below your goal of 95? It could go either way: " in headline
    assert paths == [str(out / "winter"), str(out / "study")]
    assert "wear 1 of 1: winter" in shown.err
    assert hashes(study) == before
    assert (out / "winter" / "readings.csv").is_file()


def test_measuring_twice_gives_the_same_bytes(make_study, tmp_path):
    study = make_study()
    for name in ("a", "b"):
        assert main(["measure", str(study), "--out", str(tmp_path / name)]) == 0
    a, b = ({p.split("/", len(tmp_path.parts) + 1)[-1]: h for p, h in hashes(tmp_path / n).items()} for n in ("a", "b"))
    assert list(a.values()) == list(b.values())


def test_a_bad_row_is_listed_and_ends_with_1(make_study, tmp_path, capsys):
    study = make_study({"wear_periods/winter/meals.csv": "time,name,carbs_g\n2026-02-03T12:30,soup,12o\n"})
    assert main(["measure", str(study), "--out", str(tmp_path / "out")]) == 1
    assert 'meals.csv line 2: carbs_g "12o" is not a number' in capsys.readouterr().err
    assert main(["check", str(study)]) == 1
    shown = capsys.readouterr().out
    assert 'meals.csv line 2: carbs_g "12o" is not a number' in shown
    assert "192 glucose" in shown


def test_without_numbers_the_terminal_shows_no_glucose_either(make_study, tmp_path, capsys):
    toml = '[person]\ntime_zone = "Europe/Lisbon"\n[show]\nnumbers = false\n[goal]\nmean_mg_dl = 95\n'
    assert main(["measure", str(make_study(WHOLE | {"study.toml": toml})), "--out", str(tmp_path / "out")]) == 0
    assert re.match(r"winter: Below your goal\? [A-Za-z ]+\.\n", capsys.readouterr().out)


def test_a_sound_study_is_said_to_be_sound(make_study, capsys):
    assert main(["check", str(make_study())]) == 0
    assert "no problems found" in capsys.readouterr().out


@pytest.mark.parametrize("command", [["check"], ["measure", "--out", "OUT"], ["report", "--out", "OUT"]])
def test_a_study_that_is_not_there_ends_with_2_and_one_reason(tmp_path, capsys, command):
    arguments = [str(tmp_path / "out") if a == "OUT" else a for a in command]
    assert main([arguments[0], str(tmp_path / "nowhere"), *arguments[1:]]) == 2
    shown = capsys.readouterr()
    assert "does not exist" in shown.err
    assert "Traceback" not in shown.err
    assert not (tmp_path / "out").exists()


def test_a_wear_with_the_reports_own_name_is_left_out_and_told(make_study, tmp_path, capsys, sound_study):
    extra = {f.replace("winter", "Study"): text for f, text in sound_study.items() if f.startswith("wear_periods")}
    extra["wear_periods/Study/wear.toml"] = extra["wear_periods/Study/wear.toml"].replace("02-0", "02-1")
    extra["wear_periods/Study/glucose.csv"] = extra["wear_periods/Study/glucose.csv"].replace("02-0", "02-1")
    assert main(["measure", str(make_study(extra)), "--out", str(tmp_path / "out")]) == 1
    assert 'keep the name "Study" for themselves' in capsys.readouterr().err
    assert not (tmp_path / "out" / "Study").exists()


def test_an_output_that_cannot_be_written_is_one_sentence(make_study, tmp_path, capsys):
    (tmp_path / "file").write_text("x")
    assert main(["measure", str(make_study()), "--out", str(tmp_path / "file" / "out")]) == 2
    error = capsys.readouterr().err.splitlines()[-1]
    assert error.startswith("glucolab: ")
    assert "Traceback" not in error


FULL_DISK = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (3000, 3000))  # no file may grow longer: writing fails as on a full disk
from glucolab.running.cli import main
sys.exit(main(["measure", sys.argv[1], "--out", sys.argv[2]]))
"""


def test_a_full_disk_is_one_sentence_and_the_last_report_stays(make_study, tmp_path):
    study, out = make_study(), tmp_path / "out"
    assert main(["measure", str(study), "--out", str(out)]) == 0
    before = hashes(out)
    ended = subprocess.run(
        [sys.executable, "-c", FULL_DISK, str(study), str(out)], capture_output=True, text=True, check=False
    )
    assert ended.returncode == 2
    assert ended.stderr.splitlines()[-1].startswith("glucolab: File too large")
    assert hashes(out) == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "study"]


LIGHT = """
import sys
from glucolab.running.cli import main
main(["measure", sys.argv[1], "--out", sys.argv[2]])
heavy = {"altair", "papermill", "scipy.stats", "sklearn", "statsmodels", "jinja2", "nbformat", "IPython"}
print(sorted(heavy & set(sys.modules)))
"""


def test_measure_loads_nothing_that_only_pages_need(make_study, tmp_path):
    command = [sys.executable, "-c", LIGHT, str(make_study()), str(tmp_path / "out")]
    ended = subprocess.run(command, capture_output=True, text=True, check=True)
    assert ended.stdout.splitlines()[-1] == "[]"


def test_help_loads_no_pandas():
    code = (
        "import sys\nfrom glucolab.running.cli import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\nprint('pandas' in sys.modules)"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ended.stdout.splitlines()[-1] == "False"


def test_a_new_wear_can_be_made_once(tmp_path, capsys):
    study = tmp_path / "mine"
    assert main(["new", str(study), "first"]) == 0
    assert str(study / "wear_periods" / "first" / "wear.toml") in capsys.readouterr().out
    assert main(["new", str(study), "first"]) == 2
    assert "already there" in capsys.readouterr().err


def test_demo_writes_a_study_that_checks_and_never_over_other_files(tmp_path, capsys):
    assert main(["demo", str(tmp_path / "demo")]) == 0
    assert main(["check", str(tmp_path / "demo")]) == 0
    capsys.readouterr()
    assert main(["demo", str(tmp_path)]) == 2
    assert "is not empty" in capsys.readouterr().err


def test_a_fault_of_the_program_is_never_taken_for_a_run_that_was_done(make_study, tmp_path, capsys, monkeypatch):
    from glucolab.running import report

    def break_down(*_):
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(report, "analyse_study", break_down)
    assert main(["measure", str(make_study()), "--out", str(tmp_path / "out")]) == 2
    error = capsys.readouterr().err.splitlines()[-1]
    assert error.startswith("glucolab: a fault in glucolab itself (running/report.py line ")
    assert error.endswith("ZeroDivisionError: division by zero")
    assert not (tmp_path / "out").exists()


def test_stopping_a_run_leaves_nothing_behind(make_study, tmp_path, capsys, monkeypatch):
    from glucolab.running import report

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(report, "analyse_study", stop)
    assert main(["measure", str(make_study()), "--out", str(tmp_path / "out")]) == 130
    assert "the last report is as it was" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["study"]
