"""Does the workbook open where studies, notebooks and reports lie, and is nothing overwritten on the way?"""

from __future__ import annotations

import json
import os

import pytest

from glucolab.errors import NothingToDo
from glucolab.running import lab
from glucolab.running.cli import main
from tests.conftest import REPOSITORY


def test_a_new_folder_gets_notebooks_the_invented_study_and_a_place_for_reports(tmp_path):
    made = lab.prepare_folder(tmp_path / "mine", make=True)
    assert made == [tmp_path / "mine" / name for name in ("notebooks", "sample_data", "reports")]
    written = {path.name for path in (REPOSITORY / "notebooks").glob("*.ipynb")}
    assert {path.name for path in (tmp_path / "mine" / "notebooks").glob("*.ipynb")} == written
    assert (tmp_path / "mine" / "notebooks" / "example_files" / "afternoon_notes.csv").is_file()
    assert (tmp_path / "mine" / "sample_data" / "study.toml").is_file()
    assert lab.prepare_folder(tmp_path / "mine", make=True) == []


def test_what_is_there_stays_as_it_is(tmp_path):
    own = tmp_path / "notebooks" / "deep_dive.ipynb"
    own.parent.mkdir()
    own.write_text("mine")
    (tmp_path / "sample_data").mkdir()
    lab.prepare_folder(tmp_path, make=True)
    assert own.read_text() == "mine"
    assert list((tmp_path / "sample_data").iterdir()) == []
    assert (tmp_path / "notebooks" / "start_here.ipynb").is_file()


def test_nothing_is_put_into_a_folder_that_was_not_named(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["workbook", "--no-browser"]) == 2
    assert "no notebooks in" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(NothingToDo, match="is a file"):
        lab.prepare_folder(tmp_path / "file", make=True)


@pytest.mark.parametrize(("code", "ended"), [(0, 0), (1, 2)])
def test_the_lab_is_started_at_the_folder_and_its_end_is_told(tmp_path, monkeypatch, code, ended):
    started = []

    class Done:
        returncode = code

    monkeypatch.setattr(lab.subprocess, "run", lambda command, env, check: started.append((command, env)) or Done)
    monkeypatch.setenv("JUPYTER_CONFIG_PATH", "own")
    monkeypatch.chdir(REPOSITORY)
    assert main(["workbook", "--no-browser"]) == ended
    command, env = started[0]
    assert f"--ServerApp.root_dir={REPOSITORY}" in command
    assert "--no-browser" in command
    assert env["JUPYTER_CONFIG_PATH"].split(os.pathsep)[1] == "own"


def test_the_defaults_ask_for_no_news():
    """The names are JupyterLab's own: tests/widgets drive a lab that is started with them."""
    path = lab.SETTINGS / "labconfig" / "default_setting_overrides.json"
    notification = json.loads(path.read_text())["@jupyterlab/apputils-extension:notification"]
    assert notification == {"fetchNews": "false", "checkForUpdates": False}
