"""Does the core work alone, and does whatever needs more say in a sentence which extra to install?"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from glucolab.extras import EXTRA_MODULES, MissingExtra, say_missing, want_extra

TOP = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text())["project"]
MODULE_OF = {"vl-convert-python": "vl_convert", "scikit-learn": "sklearn"}
"""Where a module has another name than what is installed."""

WITHOUT = f"""
import sys
for name in {[name for modules in EXTRA_MODULES.values() for name in modules]!r}:
    sys.modules[name] = None
from glucolab.running.cli import main
"""
STAGES = """
import datetime, json
import pandas as pd
import glucolab as gl
study = gl.simulate.example_study()
wear = study.wears[0]
readings = wear.table("glucose")
clean = gl.clean_wear(wear)
trace = gl.estimate_trace(wear, clean)
figures = gl.measure_figures(wear, clean, trace)
daily = gl.measure_daily(wear, clean, trace)
times = pd.date_range("2026-01-01", periods=300, freq="5min", tz="Europe/Lisbon")
framed = gl.wear_from_frame(pd.Series(range(300), times) % 7 + 96.0, unit="mg/dL", warm_up_hours=0)
analysis = gl.analyse_study(study)
plan = gl.plan_study(analysis, gl.Wish(datetime.date(2026, 9, 1)))
checks = gl.plan_study_checks(analysis, 95.0, 14.0)
try:
    gl.charts
except gl.NothingToDo as reason:
    said = str(reason)
print(json.dumps({
    "days": len(daily), "framed": len(gl.clean_wear(framed).usable), "checks": len(checks), "said": said,
    "seen": [analysis._repr_html_(), analysis.wears[0]._repr_html_()],
    "printed": [repr(analysis), repr(analysis.wears[0])],
}))
"""


def run_core(code: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A process in which no module of any extra can be imported."""
    return subprocess.run(
        [sys.executable, "-c", WITHOUT + code], cwd=folder, capture_output=True, text=True, check=False
    )


def command(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return run_core(f"sys.exit(main({list(arguments)!r}))", folder)


def test_the_extras_are_those_of_the_project():
    """What pyproject.toml installs for an extra is what its modules are looked for by."""
    optional = PROJECT["optional-dependencies"]
    assert set(optional) == {*EXTRA_MODULES, "test"}
    for extra, modules in EXTRA_MODULES.items():
        names = [re.match(r"[\w.-]+", one)[0] for one in optional[extra]]
        assert sorted(modules) == sorted(MODULE_OF.get(name, name) for name in names if name != "glucolab")


def test_the_stages_need_the_core_alone(tmp_path):
    done = run_core(STAGES, tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["framed"] > 0
    assert found["days"] > 0
    assert found["checks"] > 0
    assert found["said"] == "charts are drawn with Altair: pip install 'glucolab[pages]'"
    for html, printed in zip(found["seen"], found["printed"], strict=True):
        assert "glucolab[pages]" in html
        assert printed.splitlines()[0].split(" ")[0] in html


def test_commands_without_a_page_need_the_core_alone(tmp_path):
    made = command(tmp_path, "new", "mine", "first")
    assert made.returncode == 0, made.stderr
    checked = command(tmp_path, "check", str(TOP / "sample_data"))
    assert checked.stdout.endswith("no problems found\n"), checked.stderr
    assert command(tmp_path, "demo", "shown").returncode == 0
    measured = command(tmp_path, "measure", "shown", "--out", "tables")
    assert measured.returncode == 0, measured.stderr
    assert (tmp_path / "tables" / "study").is_dir()


@pytest.mark.parametrize(
    ("extra", "arguments"),
    [
        ("pages", ["report", "nowhere", "--out", "out"]),
        ("pages", ["share", "nowhere", "--out", "out.html"]),
        ("bring", ["bring", "nowhere.csv", "--into", "mine"]),
        ("workbook", ["workbook", "mine"]),
        ("many", ["many", str(TOP), "--out", "out"]),
        ("docs", ["reference", "--into", "out"]),
    ],
)
def test_a_command_says_which_extra_it_needs(extra, arguments, tmp_path):
    done = command(tmp_path, *arguments)
    assert done.returncode == 2
    assert done.stderr.endswith(f": pip install 'glucolab[{extra}]'\n")
    assert len(done.stderr.splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_an_extra_that_brings_others_wants_them_too(monkeypatch):
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(MissingExtra, match=r"^a lab: pip install 'glucolab\[workbook\]'$"):
        want_extra("workbook", "a lab")


def test_a_module_that_no_extra_brings_is_no_missing_extra():
    assert say_missing(ModuleNotFoundError(name="altair.vegalite")) == (
        "altair is not installed: pip install 'glucolab[pages]'"
    )
    assert say_missing(ModuleNotFoundError(name="glucolab.nowhere")) is None
