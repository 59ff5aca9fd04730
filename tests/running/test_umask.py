"""Does every command leave to the umask who may read what it writes?"""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from glucolab.running.cli import main

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no umask")


@pytest.fixture(params=[0o077, 0o027, 0o002], ids=oct)
def umask(request):
    before = os.umask(request.param)
    yield request.param
    os.umask(before)


def modes(*folders: Path) -> dict[str, int]:
    paths = [path for folder in folders for path in (folder, *folder.rglob("*"))]
    return {str(path): stat.S_IMODE(path.stat().st_mode) for path in paths}


def check(written: dict[str, int], umask: int) -> None:
    assert written
    for name, mode in written.items():
        path = Path(name)
        # SQLite lets nobody else write from the start: SQLITE_DEFAULT_FILE_PERMISSIONS, 0644
        asked = 0o777 if path.is_dir() else 0o644 if path.suffix == ".sqlite" else 0o666
        assert mode == asked & ~umask, name


def test_every_command(make_study, tmp_path, umask):
    study, out = make_study(name="people/anna"), tmp_path / "out"
    out.mkdir()
    export = tmp_path / "export.csv"
    export.write_text("time,energy\n2026-02-03T10:00,7\n2026-02-03T12:00,5\n", "utf-8")
    wear = study / "wear_periods" / "winter"
    commands = {
        "measure": ["measure", str(study), "--out", str(out / "measured")],
        "share": ["share", str(study), "--out", str(out / "page.html")],
        "export": ["export", str(study), "--fhir", str(out / "bundle.json")],
        "bring": ["bring", str(export), "--into", str(wear), "--as", "feelings", "--yes",
                  "--save-mapping", str(out / "mapping.toml")],
        "new": ["new", str(out / "fresh"), "wear_1"],
        "many": ["many", str(tmp_path / "people"), "--out", str(out / "many"), "--workers", "1"],
    }  # fmt: skip
    for name, arguments in commands.items():
        assert main(arguments) in (0, 1), name
    assert (wear / "feelings.csv").is_file()
    check(modes(out) | modes(wear / "feelings.csv"), umask)


def test_a_file_that_is_there_keeps_its_permissions(make_study, tmp_path, umask):
    study, page = make_study(), tmp_path / "page.html"
    assert main(["share", str(study), "--out", str(page)]) == 0
    page.chmod(0o640)
    assert main(["share", str(study), "--out", str(page)]) == 0
    assert modes(page) == {str(page): 0o640}
