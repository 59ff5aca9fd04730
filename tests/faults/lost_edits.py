"""Is anything lost when two `bring`s and an editor change one table, and one `bring` is killed? Random moments.

``python -m tests.faults.lost_edits [--times 200] [--seed 1]``. In each try two exports are brought into one meals.csv
at nearly the same moment while an editor adds rows to it, by appending or by saving it anew; in every second try one
of the two is killed, and brought again. The table must then hold every row once, and the study no file that it did
not hold before. Exit 1 if any try fails.
"""

from __future__ import annotations

import argparse
import csv
import os
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import numpy as np

from glucolab.running.cli import main as glucolab
from tests.hand_made import SOUND_STUDY

WEAR = Path("wear_periods/winter")
MEALS = WEAR / "meals.csv"
EARLIER, BROUGHT, EDITS = 400, 200, 6
"""Rows that stand there, rows of each export, and rows that the editor adds."""
ENDS_AFTER_S = 60.0


def row(minute: int, name: str) -> str:
    day, minute = divmod(minute, 1440)
    return f"2026-02-0{4 + day}T{minute // 60:02d}:{minute % 60:02d},{name},{minute % 60 + 1}\n"


def write_study(root: Path) -> Path:
    files = SOUND_STUDY | {str(MEALS): "time,name,carbs_g\n" + "".join(row(i, f"earlier {i}") for i in range(EARLIER))}
    for file, content in files.items():
        path = root / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content, encoding="utf-8")
    return root


def write_export(path: Path, name: str) -> Path:
    path.write_text("time,name,carbs_g\n" + "".join(row(i, f"{name} {i}") for i in range(BROUGHT)), encoding="utf-8")
    return path


def count_names(meals: Path) -> Counter[str]:
    with meals.open(encoding="utf-8", newline="") as file:
        return Counter(one["name"] for one in csv.DictReader(file))


def fork(work: Callable[[], int]) -> int:
    """Run in a process of its own, which has everything imported already; its number."""
    child = os.fork()
    if not child:
        code = 70
        try:
            code = work()
        finally:
            os._exit(code)
    return child


def bring_here(export: Path, study: Path) -> int:
    """A `bring` that says nothing; its exit code."""
    with open(os.devnull, "w") as nothing, redirect_stdout(nothing), redirect_stderr(nothing):
        return glucolab(["bring", str(export), "--into", str(study / WEAR), "--as", "meals", "--yes"])


def bring(export: Path, study: Path) -> int:
    """The same in a process of its own."""
    return fork(lambda: bring_here(export, study))


def wait(child: int) -> int:
    """Exit code of a child, -9 of one that was killed; a child that does not end is killed, and told."""
    until = time.monotonic() + ENDS_AFTER_S
    while time.monotonic() < until:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    raise TimeoutError("a bring does not end")


def append(meals: Path, text: str) -> None:
    with meals.open("a", encoding="utf-8") as file:
        file.write(text)


def save_anew(meals: Path, text: str) -> None:
    """As an editor does that looks whether the file has changed before it moves its own over it."""
    new = meals.with_name("meals.csv~")
    while True:
        before = meals.read_bytes()
        new.write_bytes(before + text.encode())
        if meals.read_bytes() == before:
            new.replace(meals)
            return


class Racing:
    """Two exports, and how long a `bring` takes."""

    def __init__(self, place: Path, seed: int) -> None:
        self.place, self.rng = place, np.random.default_rng(seed)
        self.exports = [write_export(place / f"{name}.csv", name) for name in ("left", "right")]
        bring_here(self.exports[0], write_study(place / "warmed"))  # imports all, once, before the forks
        begun = time.monotonic()
        wait(bring(self.exports[0], write_study(place / "timed")))
        self.took_s = time.monotonic() - begun

    def race_once(self, number: int) -> str:
        """One try; "nothing lost", or what was."""
        study = write_study(self.place / str(number))
        before = {path.relative_to(study) for path in study.rglob("*")}
        now = time.monotonic()
        moments = [("bring", 0, now), ("bring", 1, now + self.rng.uniform(0, 0.5) * self.took_s)]
        moments += [("edit", i, now + self.rng.uniform(0, 2.0) * self.took_s) for i in range(EDITS)]
        if number % 2:
            moments.append(("kill", 0, now + self.rng.uniform(0, 2.0) * self.took_s))
        children: dict[int, int] = {}
        for what, which, moment in sorted(moments, key=lambda one: one[2]):
            time.sleep(max(0.0, moment - time.monotonic()))
            if what == "bring":
                children[which] = bring(self.exports[which], study)
            elif what == "kill":
                os.kill(children[0], signal.SIGKILL)
            else:
                (append, save_anew)[which % 2](study / MEALS, row(1000 + which, f"edit {which}"))
        codes = {which: wait(child) for which, child in children.items()}
        if number % 2:
            codes[0] = wait(bring(self.exports[0], study))
        if any(codes.values()):
            return f"a bring ended with {codes}"
        return self._judge(study, before)

    def _judge(self, study: Path, before: set[Path]) -> str:
        wanted = Counter(f"earlier {i}" for i in range(EARLIER)) + Counter(f"edit {i}" for i in range(EDITS))
        wanted += Counter(f"{export.stem} {i}" for export in self.exports for i in range(BROUGHT))
        found = count_names(study / MEALS)
        if lost := wanted - found:
            return f"lost: {sum(lost.values())} rows of {', '.join(sorted({name.split()[0] for name in lost}))}"
        if twice := found - wanted:
            return f"twice: {sum(twice.values())} rows"
        left = {path.relative_to(study) for path in study.rglob("*")} - before
        return f"left behind: {', '.join(map(str, left))}" if left else "nothing lost"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults.lost_edits", description="bring beside an editor.")
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        racing = Racing(Path(place), arguments.seed)
        found = Counter(racing.race_once(number) for number in range(arguments.times))
    for what, times in found.most_common():
        print(f"{times:>4} times: {what}")
    print(f"a bring takes {racing.took_s:.2f} s")
    return int(set(found) != {"nothing lost"})


if __name__ == "__main__":
    raise SystemExit(main())
