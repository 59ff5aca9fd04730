"""Does a fault of the program say what it is and where, and lose nothing but what it touches?"""

from __future__ import annotations

import importlib
import json
import re
import traceback
import zipfile
from collections.abc import Callable
from pathlib import Path

import nbformat
import pandas as pd
import pytest
from nbformat import v4

import glucolab.analysis
from glucolab.analysis import analyse_study
from glucolab.errors import CannotAnalyse, NothingToDo, Problem, as_problem, is_own_fault, say_fault
from glucolab.reading.folder import read_study
from glucolab.running.cli import COMMANDS, main
from glucolab.running.notebook_inputs import open_study
from glucolab.running.notebooks import pages
from tests.analysis.contract import check_study
from tests.running.many.test_batch import rows
from tests.running.test_cli import WHOLE

SUMMER = {file.replace("winter", "summer"): text.replace("2026-02", "2026-08") for file, text in WHOLE.items()}
ERROR = "KeyError: 'some_column'"
TRACE = "Traceback (most recent call last)"


def fall_over(*_: object, **__: object) -> object:
    """What a column that is there no longer comes to: an error raised deep in pandas."""
    return pd.DataFrame({"mood": [1]})["some_column"]


def break_once(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Let the first call of a function fall over, and no later one."""
    module, function = name.rsplit(".", 1)
    real: Callable[..., object] = getattr(importlib.import_module(module), function)
    calls = iter([fall_over])
    monkeypatch.setattr(name, lambda *given, **named: next(calls, real)(*given, **named))


def told(file: str) -> str:
    """The words for a fault that a line of this file met in a library, as a regular expression."""
    return rf"a fault in glucolab itself \({re.escape(file)} line \d+, calling pandas/\S+ line \d+\): {ERROR}"


def run(*arguments: object, debug: bool = False) -> int:
    return main([*(["--debug"] if debug else []), *map(str, arguments)])


def left_out(shown: str) -> list[str]:
    return [line.removeprefix("left out: ") for line in shown.splitlines() if line.startswith("left out: ")]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("debug", [False, True])
@pytest.mark.parametrize(
    ("broken", "file"),
    [
        ("glucolab.cleaning.clean.find_gaps", "cleaning/clean.py"),
        ("glucolab.aligning.trace.estimate_bias", "aligning/trace.py"),
        ("glucolab.measuring.whole_wear.fill_draws", "measuring/whole_wear.py"),
        ("glucolab.running.tables.format_column", "running/tables.py"),
    ],
)
def test_a_fault_in_one_wear_is_told_with_its_place_and_the_other_is_measured(
    make_study, tmp_path, capsys, monkeypatch, broken, file, debug
):
    study, out, sound = make_study(WHOLE | SUMMER), tmp_path / "out", tmp_path / "sound"
    assert run("measure", study, "--out", sound) == 0
    capsys.readouterr()
    break_once(monkeypatch, broken)
    assert run("measure", study, "--out", out, debug=debug) == 1
    shown = capsys.readouterr()
    (line,) = left_out(shown.err)
    assert re.fullmatch(f"wear_periods/winter: could not be analysed: {told(file)}", line)
    assert (TRACE in shown.err) == debug
    assert sorted(path.name for path in out.iterdir()) == ["study", "summer"]
    assert contents(out / "summer") == contents(sound / "summer")
    assert json.loads((out / "study" / "summary.json").read_bytes())["problems"] == [line]
    assert not any(TRACE.encode() in content for content in contents(out).values())


@pytest.mark.parametrize("debug", [False, True])
@pytest.mark.parametrize(
    ("broken", "file"),
    [
        ("glucolab.relating.study_tables.compare_periods", "relating/study_tables.py"),
        ("glucolab.relating.effects.effects.gather_days", "relating/effects/effects.py"),
    ],
)
def test_a_fault_in_what_the_wears_say_together_keeps_what_each_says(
    make_study, tmp_path, capsys, monkeypatch, broken, file, debug
):
    study, out, sound = make_study(WHOLE | SUMMER), tmp_path / "out", tmp_path / "sound"
    assert run("measure", study, "--out", sound) == 0
    capsys.readouterr()
    break_once(monkeypatch, broken)
    assert run("measure", study, "--out", out, debug=debug) == 1
    shown = capsys.readouterr()
    (line,) = left_out(shown.err)
    assert re.fullmatch(f"the study as a whole: could not be analysed: {told(file)}", line)
    assert (TRACE in shown.err) == debug
    assert [text.split(":")[0] for text in shown.out.splitlines()[:2]] == ["winter", "summer"]
    for wear in ("winter", "summer"):
        assert contents(out / wear) == contents(sound / wear)
    assert contents(out / "study").keys() == contents(sound / "study").keys()
    summary = json.loads((out / "study" / "summary.json").read_bytes())
    assert summary["problems"] == [line]
    assert set(summary["withheld"].values()) == {line}
    assert len((out / "study" / "periods.csv").read_text().splitlines()) == 1


def test_without_what_the_wears_say_together_nothing_is_made_of_it(make_study, tmp_path, capsys, monkeypatch):
    study = make_study(WHOLE)
    monkeypatch.setattr("glucolab.relating.study_tables.compare_periods", fall_over)
    check_study(analyse_study(read_study(study)))
    for command in (["plan", study], ["share", study, "--out", tmp_path / "page.html"]):
        assert run(*command) == 2
        error = capsys.readouterr().err
        assert ERROR in error
        assert error.splitlines()[-1].endswith("without what the wears say together")
    assert not (tmp_path / "page.html").exists()
    assert run("export", study, "--fhir", tmp_path / "bundle.json") == 1
    with pytest.raises(NothingToDo, match=r"relating/study_tables\.py line \d+"):
        open_study(study)


@pytest.fixture
def two_notebooks(tmp_path, monkeypatch):
    """The page of a wear is empty; that of the study asks for a table that is not there."""
    code = {
        "wear_period": "wear",
        "study": "from glucolab.showing.study_page import show_levers\nshow_levers({}, None)",
    }
    for name, cell in code.items():
        parameters = v4.new_code_cell("study = wear = out = ''", metadata={"tags": ["parameters"]})
        kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
        notebook = v4.new_notebook(cells=[parameters, v4.new_code_cell(cell)], metadata={"kernelspec": kernel})
        nbformat.write(notebook, tmp_path / f"{name}.ipynb")
    monkeypatch.setattr(pages, "find_notebook", lambda name: tmp_path / f"{name}.ipynb")


@pytest.mark.parametrize("debug", [False, True])
def test_a_fault_in_a_page_is_told_from_within_its_kernel(make_study, tmp_path, capfd, two_notebooks, debug):
    out = tmp_path / "out"
    assert run("report", make_study(WHOLE), "--out", out, debug=debug) == 1
    shown = capfd.readouterr()
    (line,) = left_out(shown.err)
    where = r"showing/(study_page|display)\.py line \d+"
    assert re.fullmatch(
        rf"study/report\.html: could not be made: a fault in glucolab itself \({where}\): AttributeError: .+", line
    )
    assert (TRACE in shown.err) == debug
    assert (out / "winter" / "report.html").is_file()
    assert not (out / "study" / "report.html").exists()
    assert (out / "study" / "periods.csv").is_file()


@pytest.mark.parametrize(
    ("broken", "file", "page"),
    [
        ("glucolab.showing.markup.write_style", "running/notebooks/pages.py", "winter/report.html"),
        (
            "glucolab.running.notebooks.page_jobs.fingerprint_wear",
            "running/notebooks/page_jobs.py",
            "winter/report.html",
        ),
        ("glucolab.running.report.predict_from_log", "running/report.py", "study/log_prediction.csv"),
    ],
)
def test_a_fault_around_a_page_keeps_its_tables(
    make_study, tmp_path, capsys, monkeypatch, two_notebooks, broken, file, page
):
    monkeypatch.setattr(pages, "find_notebook", lambda name: tmp_path / "wear_period.ipynb")
    monkeypatch.setattr(pages, "AT_ONCE", 1)
    break_once(monkeypatch, broken)
    assert run("report", make_study(WHOLE), "--out", tmp_path / "out") == 1
    shown = capsys.readouterr().err
    (line,) = left_out(shown)
    assert re.fullmatch(f"{re.escape(page)}: could not be made: {told(file)}", line)
    assert TRACE not in shown
    assert (tmp_path / "out" / "study" / "report.html").is_file()
    assert (tmp_path / "out" / "winter" / "readings.csv").is_file()


@pytest.mark.parametrize("debug", [False, True])
@pytest.mark.parametrize(
    ("broken", "file"),
    [
        ("glucolab.running.many.person._summary_row", "running/many/person.py"),
        ("glucolab.relating.study_tables.compare_periods", "relating/study_tables.py"),
    ],
)
def test_a_fault_in_one_study_of_many_is_its_reason(make_study, tmp_path, capsys, monkeypatch, broken, file, debug):
    for name in ("anna", "ben"):
        make_study(WHOLE, name=f"people/{name}")
    break_once(monkeypatch, broken)
    out = tmp_path / "out"
    assert run("many", tmp_path / "people", "--out", out, "--workers", 1, debug=debug) == 1
    shown = capsys.readouterr().err
    anna, ben = rows(out, "people")
    assert (anna["state"], ben["state"]) == ("failed", "done")
    assert re.fullmatch(f"(the study as a whole: could not be analysed: )?{told(file)}", anna["reason"])
    assert f"failed: anna: {anna['reason']}" in shown
    assert [one["text"] for one in rows(out, "left_out")] == [anna["reason"]]
    assert (TRACE in shown) == debug
    assert not any(TRACE.encode() in content for content in contents(out).values())


def test_a_wear_left_out_of_one_of_many_shows_its_traceback_too(make_study, tmp_path, capsys, monkeypatch):
    make_study(WHOLE | SUMMER, name="people/anna")
    break_once(monkeypatch, "glucolab.cleaning.clean.find_gaps")
    assert run("many", tmp_path / "people", "--out", tmp_path / "out", "--workers", 1, debug=True) == 1
    assert f"anna: {TRACE}" in capsys.readouterr().err
    (anna,) = rows(tmp_path / "out", "people")
    assert (anna["state"], anna["last_wear"]) == ("done", "summer")


@pytest.mark.parametrize("debug", [False, True])
def test_a_refusal_that_was_foreseen_keeps_its_plain_sentence(make_study, tmp_path, capsys, debug):
    toml = "wear_periods/winter/wear.toml"
    study = make_study(WHOLE | SUMMER | {toml: WHOLE[toml].replace("end = 2026", "end = 2028")})
    assert run("measure", study, "--out", tmp_path / "out", debug=debug) == 1
    error = capsys.readouterr().err
    (line,) = left_out(error)
    assert line == (
        "wear_periods/winter: could not be analysed: lasts more than 400 days, which no sensor does: "
        "check start and end in wear.toml"
    )
    assert TRACE not in error


@pytest.mark.parametrize("debug", [False, True])
def test_a_fault_that_nothing_can_be_kept_of_ends_with_2(make_study, tmp_path, capsys, monkeypatch, debug):
    monkeypatch.setattr("glucolab.running.report.read_study", fall_over)
    assert run("measure", make_study(), "--out", tmp_path / "out", debug=debug) == 2
    error = capsys.readouterr().err
    assert re.fullmatch(f"glucolab: {told('running/report.py')}", error.splitlines()[-1])
    assert (TRACE in error) == debug
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_takes_debug_before_it_and_after_it_and_says_so(capsys, command):
    for arguments in (["--debug", command, "--help"], [command, "--debug", "--help"]):
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        assert ended.value.code == 0
        assert "--debug" in capsys.readouterr().out


def test_debug_after_the_command_counts_as_well(make_study, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("glucolab.running.report.read_study", fall_over)
    assert run("measure", make_study(), "--out", tmp_path / "out", "--debug") == 2
    assert TRACE in capsys.readouterr().err


def test_a_fault_of_ours_is_not_laid_to_a_broken_file(make_study, tmp_path, capsys, monkeypatch):
    with zipfile.ZipFile(tmp_path / "meals.xlsx", "w") as archive:
        archive.writestr("xl/workbook.xml", "not XML")
    command = ("bring", tmp_path / "meals.xlsx", "--into", make_study() / "wear_periods" / "winter")
    assert run(*command) == 2
    assert "meals.xlsx cannot be read as a spreadsheet" in capsys.readouterr().err
    monkeypatch.setattr("glucolab.reading.bringing.grids.sheets._open", lambda path, data_only: None)
    assert run(*command) == 2
    where = r"\(reading/bringing/grids/sheets\.py line \d+\): AttributeError: "
    assert re.match(f"glucolab: a fault in glucolab itself {where}", capsys.readouterr().err.splitlines()[-1])


class TestWords:
    @staticmethod
    def caught(call: Callable[[], object]) -> Exception:
        try:
            call()
        except Exception as error:
            return error
        raise AssertionError("nothing was raised")

    def test_the_place_is_the_innermost_line_of_the_package_alone_where_it_raised_itself(self):
        error = self.caught(lambda: glucolab.units.glucose_to_mg_dl(1.0, "g"))
        last = traceback.extract_tb(error.__traceback__)[-1]
        assert say_fault(error) == f"a fault in glucolab itself (units.py line {last.lineno}): ValueError: {error}"
        assert is_own_fault(error)

    def test_the_place_is_the_librarys_alone_where_no_line_of_the_package_took_part(self):
        error = self.caught(fall_over)
        assert re.fullmatch(rf"a fault in glucolab itself \(pandas/\S+ line \d+\): {ERROR}", say_fault(error))
        assert not is_own_fault(error)

    def test_one_line_whatever_the_message_holds(self):
        assert say_fault(ValueError("two\nlines \x1b[31m")).endswith(": ValueError: two lines  [31m")
        assert say_fault(ValueError("9" * 10_000)).endswith(": ValueError: " + "9" * 500)
        assert say_fault(AssertionError()) == "a fault in glucolab itself: AssertionError"

    @pytest.mark.parametrize("kind", [CannotAnalyse, NothingToDo])
    def test_what_was_foreseen_is_told_by_its_class_and_not_by_being_a_value_error(self, kind):
        assert as_problem("a", "failed", kind("too long")) == Problem("a", "failed: too long")
        fault = as_problem("a", "failed", self.caught(lambda: float("x")))
        assert "ValueError: could not convert" in fault.text
        assert fault.trace.startswith(TRACE)
