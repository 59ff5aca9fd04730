"""Does a release hold what the repository does: the sdist all of it, the wheel the package and its notebooks?"""

from __future__ import annotations

import email
import re
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tracked():
    """Every file of the repository."""
    found = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "-z"], cwd=TOP, capture_output=True, text=True, check=False
    )
    if found.returncode:
        pytest.skip("this is no git checkout, so nothing says which files belong to the project")
    return set(filter(None, found.stdout.split("\0")))


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The folder with a wheel and an sdist of the checkout."""
    folder = tmp_path_factory.mktemp("built")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-t", "sdist", "-d", str(folder)]
    subprocess.run(command, cwd=TOP, check=True, capture_output=True)
    return folder


def test_the_sdist_holds_every_file_of_the_repository(built, tracked):
    (path,) = built.glob("*.tar.gz")
    with tarfile.open(path) as archive:
        held = {name.partition("/")[2] for name in archive.getnames()}
    assert tracked <= held
    assert {name for name in held - tracked if "__pycache__" not in name} == {"PKG-INFO"}


def test_the_wheel_holds_the_package_and_the_notebooks_and_nothing_else(built, tracked):
    (path,) = built.glob("*.whl")
    held = {name for name in zipfile.ZipFile(path).namelist() if ".dist-info/" not in name}
    package = {name for name in tracked if name.startswith("glucolab/")}
    notebooks = {
        name.replace("notebooks/", "glucolab/workbook/", 1) for name in tracked if name.startswith("notebooks/")
    }
    assert held == package | notebooks


def test_the_wheel_says_what_it_is(built):
    (path,) = built.glob("*.whl")
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        text = archive.read(next(name for name in names if name.endswith("/METADATA"))).decode()
        scripts = archive.read(next(name for name in names if name.endswith("/entry_points.txt"))).decode()
    metadata = email.message_from_string(text)
    assert (metadata["Name"], metadata["License-Expression"]) == ("glucolab", "MIT")
    assert "glucolab = glucolab.running.cli:main" in scripts
    assert any(name.endswith("/licenses/LICENSE") for name in names)
    extras = set(metadata.get_all("Provides-Extra"))
    assert extras == {"pages", "bring", "workbook", "many", "cluster", "docs", "test"}
    core = {re.split(r"[<>=]", line)[0] for line in metadata.get_all("Requires-Dist") if "extra ==" not in line}
    assert core == {"pandas", "numpy", "scipy", "joblib", "tzdata", "icalendar", "pillow", "python-dateutil"}
