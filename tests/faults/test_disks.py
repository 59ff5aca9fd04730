"""Is a full disk, or one that may not be written to, one sentence, with nothing half-written?"""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.hand_made import SOUND_STUDY

GLUCOLAB = str(Path(sys.executable).with_name("glucolab"))
SMALL_KB = 48
FOUR_DAYS = {
    f"wear_periods/winter/{name}": text.replace("2026-02-05T08", "2026-02-07T08") for name, text in (
        ("wear.toml", SOUND_STUDY["wear_periods/winter/wear.toml"]),
        ("glucose.csv", "time,glucose\n" + "".join(
            f"2026-02-0{3 + m // 1440}T{m // 60 % 24:02d}:{m % 60:02d},{90 + m % 7}\n" for m in range(480, 6240, 15)
        )),
    )
}  # fmt: skip
"""Enough for a mean."""


def picture(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*")) if path.is_file()
    }  # fmt: skip


@pytest.fixture
def disk(tmp_path) -> Iterator[Callable[..., Path]]:
    """A function that mounts a small disk of its own, or mounts it again with other options."""
    place = tmp_path / "disk"
    place.mkdir()

    def mount(options: str) -> Path:
        command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.skip(f"this machine does not let a test mount a disk: {done.stderr.strip()}")
        return place

    yield mount
    subprocess.run(["umount", str(place)], capture_output=True, check=False)


def commands(study: Path, place: Path) -> dict[str, list[str]]:
    wear = study / "wear_periods" / "winter"
    return {
        "measure": ["measure", str(study), "--out", str(place / "out")],
        "report": ["report", str(study), "--out", str(place / "out")],
        "plan": ["plan", str(study), "--start", "2026-04-01", "--out", str(place / "plan")],
        "share": ["share", str(study), "--out", str(place / "page.html")],
        "export": ["export", str(study), "--fhir", str(place / "bundle.json")],
        "many": ["many", str(study.parent), "--workers", "1", "--out", str(place / "many")],
        "demo": ["demo", str(place / "demo")],
        "new": ["new", str(place / "mine"), "first"],
        "bring": ["bring", str(study.parent / "meals.csv"), "--into", str(wear), "--yes"],
    }


def run(arguments: list[str]) -> tuple[int, str]:
    done = subprocess.run([GLUCOLAB, *arguments], capture_output=True, text=True, check=False, timeout=120)
    return done.returncode, done.stderr


def is_one_sentence(code: int, err: str, words: tuple[str, ...]) -> bool:
    last = err.strip().splitlines()[-1]
    return (
        code == 2 and last.startswith("glucolab: ") and any(word in last for word in words) and "Traceback" not in err
    )


@pytest.mark.parametrize("name", ["measure", "report", "share", "export", "many", "demo"])
def test_a_full_disk_is_one_sentence_and_nothing_is_half_written(make_study, disk, name):
    study, place = make_study(FOUR_DAYS, name="people/study"), disk(f"size={SMALL_KB}k")
    (place / "filled").write_bytes(b"0" * (SMALL_KB - 4) * 1024)
    before = picture(place)
    code, err = run(commands(study, place)[name])
    assert is_one_sentence(code, err, ("No space left", "is the disk full")), err[-500:]
    left = {path for path in picture(place) if path not in before}
    # of many, what was finished is kept in one sound file, and is no table
    assert {path for path in left if not path.startswith("many/kept.sqlite")} == set()


@pytest.mark.parametrize("name", ["measure", "report", "plan", "share", "export", "many", "demo", "new"])
def test_a_disk_that_may_not_be_written_to_is_one_sentence(make_study, disk, name):
    study = make_study(FOUR_DAYS, name="people/study")
    disk("size=1m")
    place = disk("remount,ro,size=1m")
    code, err = run(commands(study, place)[name])
    assert is_one_sentence(code, err, ("Read-only", "read-only", "readonly")), err[-500:]
    assert picture(place) == {}


def test_bringing_into_a_study_on_a_disk_that_is_full_leaves_it_as_it_was(disk):
    place = disk(f"size={SMALL_KB}k")
    study = place / "people" / "study"
    for file, content in SOUND_STUDY.items():
        (study / file).parent.mkdir(parents=True, exist_ok=True)
        (study / file).write_text(content)
    rows = "".join(f"2026-02-03T{8 + i // 60:02d}:{i % 60:02d},food number {i}\n" for i in range(600))
    source = place.parent / "meals.csv"
    source.write_text("time,food\n" + rows)
    filler = place / "filled"
    filler.touch()
    subprocess.run(["dd", "if=/dev/zero", f"of={filler}"], capture_output=True, check=False)  # until nothing fits
    before = picture(place)
    code, err = run(["bring", str(source), "--into", str(study / "wear_periods" / "winter"), "--yes"])
    assert is_one_sentence(code, err, ("No space left",)), err[-500:]
    assert picture(place) == before
