"""Does anything leave this machine, come from elsewhere, or run that a data folder holds?"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import REPOSITORY

GLUCOLAB = str(Path(sys.executable).with_name("glucolab"))

GUARD = """
import os, socket
_connect, _send, _find = socket.socket.connect, socket.socket.sendto, socket.getaddrinfo

def _refuse(host):
    name = host.decode() if isinstance(host, bytes) else str(host)
    if not (name.startswith("127.") or name in ("localhost", "::1", "None", "")):
        with open(os.environ["ASKED_FOR"], "a") as log:
            log.write(name + "\\\\n")
        raise OSError("the network is refused: " + name)

def connect(self, address):
    if self.family != socket.AF_UNIX:
        _refuse(address[0])
    return _connect(self, address)

def sendto(self, data, *rest):
    if self.family != socket.AF_UNIX:
        _refuse(rest[-1][0])
    return _send(self, data, *rest)

def getaddrinfo(host, *rest, **more):
    _refuse(host)
    return _find(host, *rest, **more)

socket.socket.connect, socket.socket.sendto, socket.getaddrinfo = connect, sendto, getaddrinfo
open(os.environ["ASKED_FOR"] + ".guarded", "a").write("x")
""".replace("\\\\n", "\\n")
"""As sitecustomize.py on the path it is loaded into every Python process, kernels too."""

SPIES = ("pandas.py", "numpy.py", "sitecustomize.py", "usercustomize.py", "conftest.py", "glucolab.py", "altair.py",
         "ipython_config.py", "jupyter_config.py", "startup.py", "spy.pth", "notebook.ipynb", "custom.js")  # fmt: skip
"""Names under which Python, Jupyter or pytest would run a file that lies where they work."""


@pytest.fixture(scope="module")
def whole_job(tmp_path_factory):
    """Everything that is written of a study whose folders hold spies, without a network; the guard's log."""
    place = tmp_path_factory.mktemp("private")
    study, out = place / "study", place / "written"
    guard = place / "guard"
    guard.mkdir()
    (guard / "sitecustomize.py").write_text(GUARD)
    env = os.environ | {"PYTHONPATH": str(guard), "ASKED_FOR": str(place / "asked"), "SPIED": str(place / "spied")}
    wear = study / "wear_periods" / "2026-02_winter"

    def run(*arguments: str) -> None:
        done = subprocess.run([GLUCOLAB, *arguments], cwd=study if study.is_dir() else place, env=env,
                              capture_output=True, text=True, check=False)  # fmt: skip
        assert done.returncode in (0, 1), done.stderr[-1500:]

    run("demo", str(study))
    for folder in (study, wear, study / "wear_periods"):
        for name in SPIES:
            (folder / name).write_text("import os\nopen(os.environ['SPIED'], 'a').write(__file__)\n")
    out.mkdir()
    (place / "more.csv").write_text("time,name\n2026-02-05T12:30,=cmd()\n")
    run("bring", str(place / "more.csv"), "--into", str(wear), "--as", "meals", "--yes")
    run("report", str(study), "--out", str(out / "report"))
    run("plan", str(study), "--start", "2027-01-01", "--seed", "1", "--out", str(out / "plan"))
    run("share", str(study), "--out", str(out / "page.html"))
    run("export", str(study), "--fhir", str(out / "bundle.json"))
    run("many", str(study.parent), "--workers", "2", "--out", str(place.parent / f"{place.name}_many"))
    return place, out


def test_no_process_asks_for_the_network(whole_job):
    place, _ = whole_job
    assert (place / "asked.guarded").stat().st_size >= 8, "every command and every kernel was guarded"
    assert not (place / "asked").exists(), (place / "asked").read_text()


def test_the_guard_sees_who_asks(tmp_path):
    """Else the test above would pass on anything."""
    (tmp_path / "sitecustomize.py").write_text(GUARD)
    code = "import urllib.request as r\ntry: r.urlopen('http://example.org', timeout=3)\nexcept OSError: pass"
    env = os.environ | {"PYTHONPATH": str(tmp_path), "ASKED_FOR": str(tmp_path / "asked")}
    subprocess.run([sys.executable, "-c", code], env=env, check=True)
    assert (tmp_path / "asked").read_text() == "example.org\n"


def test_nothing_runs_that_lies_in_a_data_folder(whole_job):
    place, _ = whole_job
    assert not (place / "spied").exists(), (place / "spied").read_text()


NAMES_ONLY = (
    "http://www.w3.org/2000/svg",
    "http://www.w3.org/1999/xlink",
    "http://loinc.org",
    "http://unitsofmeasure.org",
    "http://terminology.hl7.org/CodeSystem/observation-category",
)
"""Names of XML namespaces, and of codes of FHIR: no reader fetches them."""


def test_no_written_file_refers_to_another_place(whole_job):
    _, out = whole_job
    texts = {
        path: path.read_text(encoding="utf-8") for path in out.rglob("*")
        if path.suffix in (".html", ".ipynb", ".csv", ".json", ".ics")
    }  # fmt: skip
    assert {path.suffix for path in texts} == {".html", ".ipynb", ".csv", ".json", ".ics"}
    found = {
        address for path, text in texts.items()
        for address in re.findall(r"""(?:https?|ftp|wss?):?//[^"'<>\s)\\]+|(?:src|href)=\\?["']//[^"']+""", text)
    }  # fmt: skip
    assert found <= set(NAMES_ONLY)
    assert "@import" not in "".join(text for path, text in texts.items() if path.suffix == ".html")


def test_no_written_file_names_a_place_on_this_machine(whole_job):
    place, out = whole_job
    for path in out.rglob("*"):
        if path.is_file():
            text = path.read_text(encoding="utf-8", errors="replace")
            assert str(place) not in text, path.name
            assert str(REPOSITORY) not in text, path.name
