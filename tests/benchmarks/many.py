"""What do many studies cost? One process beside two, memory from the first to the last, and the slope.

``python -m tests.benchmarks.many [--studies N]``. A few studies are invented and copied under other names; each copy
has a goal of its own, so that none is the same. The share of the time that grows with the studies is the slope between
a tenth of them and all. Exit 1 if two processes are less than 1.7 times one, or memory grew.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import psutil

from tests.benchmarks.studies import invent_study
from tests.known_truth.tables_page import SPEED, print_into

KINDS = 5
WEARS, DAYS, INTERVAL_MIN = 1, 14.0, 5.0
LEAST_GAIN = 1.7
MOST_GROWTH = 1.1
"""Peak memory with all studies beside that with a tenth of them."""
PAPER = 100_000


@dataclass(frozen=True)
class Run:
    """Wall clock [s] and the peak of the memory of all processes together [MB]."""

    wall: float
    peak: float


def invent_people(folder: Path, studies: int) -> Path:
    for i in range(studies):
        to = folder / f"p{i:06d}"
        if i < KINDS:
            invent_study(to, WEARS, interval_min=INTERVAL_MIN, days=DAYS, seed=i)
        else:
            shutil.copytree(folder / f"p{i % KINDS:06d}", to)
        toml = to / "study.toml"
        toml.write_text(toml.read_text(encoding="utf-8") + f"# person {i}\n", encoding="utf-8")
    return folder


def memory_of(process: psutil.Process) -> float:
    """Of a process and those it started; what they share is counted once. [MB]"""
    total = 0.0
    for one in (process, *process.children(recursive=True)):
        try:
            total += one.memory_full_info().pss / 1e6
        except psutil.Error:  # ended meanwhile
            continue
    return total


def run(folder: Path, out: Path, workers: int) -> Run:
    """A whole run of the command."""
    shutil.rmtree(out, ignore_errors=True)
    command = [str(Path(sys.executable).with_name("glucolab")), "many", str(folder), "--out", str(out)]
    begun = time.perf_counter()
    process = subprocess.Popen([*command, "--workers", str(workers)], stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL, env=os.environ | {"OPENBLAS_NUM_THREADS": "1"})  # fmt: skip
    peaks = [0.0]

    def watch() -> None:
        while process.poll() is None:
            try:
                peaks.append(memory_of(psutil.Process(process.pid)))
            except psutil.Error:
                return
            time.sleep(0.5)

    watching = threading.Thread(target=watch)
    watching.start()
    code = process.wait()
    wall = time.perf_counter() - begun
    watching.join()
    if code:
        raise SystemExit(f"glucolab many ended with {code}")
    return Run(wall, max(peaks))


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.many", description="What many studies cost.")
    parser.add_argument("--studies", type=int, default=1000, help="how many (1000)")
    parser.add_argument("--into", type=Path, help="also print the figures into its page in this folder")
    arguments = parser.parse_args()
    studies = arguments.studies
    with tempfile.TemporaryDirectory() as place:
        tenth = invent_people(Path(place, "tenth"), max(studies // 10, KINDS))
        everyone = invent_people(Path(place, "all"), studies)
        few, one, two = (run(f, Path(place, "out"), w) for f, w in ((tenth, 2), (everyone, 1), (everyone, 2)))
        again = time.perf_counter()
        subprocess.run([str(Path(sys.executable).with_name("glucolab")), "many", str(everyone), "--out",
                        str(Path(place, "out"))], check=True, capture_output=True)  # fmt: skip
        again = time.perf_counter() - again
        kept = sum(path.stat().st_size for path in Path(place, "out").iterdir())
    few_studies = max(studies // 10, KINDS)
    slope = (two.wall - few.wall) / (studies - few_studies)
    gain, growth = one.wall / two.wall, two.peak / few.peak
    said = [f"{studies:,} studies of {WEARS} wear, {DAYS:g} days at {INTERVAL_MIN:g} min",
            f"one process {one.wall:.1f} s, {one.peak:.0f} MB; two {two.wall:.1f} s, {two.peak:.0f} MB: {gain:.2f} x",
            f"a tenth of them {few.wall:.1f} s, {few.peak:.0f} MB: memory {growth:.2f} x with ten times the studies",
            f"all unchanged {again:.1f} s; written {kept / 1e6:.1f} MB",
            f"slope {slope * 1e3:.0f} ms a study on two processes: {PAPER:,} would take {slope * PAPER / 3600:.1f} h, "
          f"{slope * PAPER * 2 / 3600 / 64:.1f} h on 64, and {kept / studies * PAPER / 1e9:.1f} GB"]  # fmt: skip
    print("\n".join(said))
    if arguments.into:
        print_into(arguments.into / SPEED, "many", "\n".join(f"- {text}" for text in said))
    return int(gain < LEAST_GAIN or growth > MOST_GROWTH)


if __name__ == "__main__":
    raise SystemExit(main())
