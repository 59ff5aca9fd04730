"""Is the last report whole, whenever the next run is killed? SIGKILL at random moments of `report`.

``python -m tests.faults.kill [--times 100] [--seed 1]``. A report is made; then, again and again, a run from a changed
study is killed at a random moment, the folder must hold the whole of one report or the other, and the next run from the
first study must succeed and give its report to the byte. Exit 1 if any of it fails.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

from tests.hand_made import SOUND_STUDY

GLUCOLAB = str(Path(sys.executable).with_name("glucolab"))


def picture(folder: Path) -> dict[str, str]:
    """Hash by path of every file of a folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*")) if path.is_file()
    }  # fmt: skip


def write_study(root: Path, goal: int) -> Path:
    for file, content in SOUND_STUDY.items():
        path = root / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content.replace("mean_mg_dl = 95", f"mean_mg_dl = {goal}"), encoding="utf-8")
    return root


def start(study: Path, out: Path) -> subprocess.Popen:
    return subprocess.Popen([GLUCOLAB, "report", str(study), "--out", str(out)],
                            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip


def kernels_of(out: Path) -> int:
    """Processes left over that work in a folder beside the report."""
    left = 0
    for process in Path("/proc").glob("[0-9]*"):
        try:
            left += (process / "cwd").readlink().is_relative_to(out.parent)
        except OSError:  # ended meanwhile, or not ours
            continue
    return left


class Killing:
    """Two studies, the report folder, and how long a run takes."""

    def __init__(self, place: Path) -> None:
        self.first, self.second, self.out = (place / name for name in ("a/study", "b/study", "reports/out"))
        self.out.parent.mkdir()
        write_study(self.first, 95), write_study(self.second, 90)
        self.pictures = []
        for study in (self.second, self.first):
            begun = time.perf_counter()
            if start(study, self.out).wait():
                raise SystemExit("the report was not made")
            self.took = time.perf_counter() - begun
            self.pictures.append({name: text for name, text in picture(self.out).items() if "/older/" not in name})

    def kill_once(self, after_s: float) -> str:
        """Kill a run from the second study; which report was there then, or what was wrong."""
        process = start(self.second, self.out)
        try:
            process.wait(after_s)
        except subprocess.TimeoutExpired:
            os.kill(process.pid, signal.SIGKILL)
            process.wait()
        found = "between"  # of two renames neither report is in its place: the next run puts it back
        if self.out.is_dir():
            there = {name: text for name, text in picture(self.out).items() if "/older/" not in name}
            found = {True: "the new one", False: "not whole"}[there == self.pictures[0]]
            found = "the earlier one" if there == self.pictures[1] else found
        if start(self.first, self.out).wait():
            return "the next run failed"
        there = {name: text for name, text in picture(self.out).items() if "/older/" not in name}
        return found if there == self.pictures[1] else "the next run's report differs"


GOOD = ("the earlier one", "the new one", "between")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults.kill", description="SIGKILL at random moments.")
    parser.add_argument("--times", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    rng = np.random.default_rng(arguments.seed)
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as place:
        killing = Killing(Path(place))
        for _ in range(arguments.times):
            found[killing.kill_once(float(rng.uniform(0, 1.1 * killing.took)))] += 1
        time.sleep(5)  # a kernel sees within a second or two that its parent is gone
        left, beside = kernels_of(killing.out), sorted(path.name for path in killing.out.parent.iterdir())
    for what, times in found.most_common():
        print(f"{times:>4} times: {what}")
    print(f"a run takes {killing.took:.1f} s; processes left over: {left}; beside the report: {', '.join(beside)}")
    return int(bool(left) or beside != ["out"] or any(what not in GOOD for what in found))


if __name__ == "__main__":
    raise SystemExit(main())
