"""How long does it take, beside what cannot be avoided? Ratios of whole processes, taken in turns in one run.

``python -m tests.benchmarks [--rounds N] [--only NAME] [--into reports]``. Each figure stands beside its baseline,
and the two are run in turns, so that a busy neighbour slows both; the ratio is that of the medians. A fixed amount of
arithmetic is timed on the way: where its spread is wide, the machine was busy and the ratios are rough. Exit 1 if a
ratio is over its limit.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.studies import invent_study
from tests.known_truth.tables_page import SPEED, print_into

REPOSITORY = Path(__file__).resolve().parents[2]
WEAR = "2026-02_winter"  # of the sample study: 14 days at 5 min, with every table
ONE_CORE = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}

EMPTY_PAGE = """
import sys
from pathlib import Path
import nbformat, papermill
from nbconvert import HTMLExporter
folder = Path(sys.argv[1])
empty = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("")])
empty.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
nbformat.write(empty, folder / "empty.ipynb")
papermill.execute_notebook(str(folder / "empty.ipynb"), str(folder / "done.ipynb"), progress_bar=False)
page, _ = HTMLExporter().from_filename(str(folder / "done.ipynb"))
(folder / "done.html").write_text(page, encoding="utf-8")
"""

TIME_ANALYSIS = """
import sys, time
from pathlib import Path
from glucolab.analysis import analyse_wear
from glucolab.reading.folder import read_study
study = read_study(Path(sys.argv[1]))
begun = time.perf_counter(), time.process_time()
analyse_wear(study.wears[0], study)
print(time.perf_counter() - begun[0], time.process_time() - begun[1])
"""


@dataclass(frozen=True)
class Took:
    """Wall clock and processor time, of all cores. [s]"""

    wall: float
    cpu: float


@dataclass(frozen=True)
class Pair:
    """A figure, what it stands beside, and how many times as long it may take."""

    name: str
    figure: Callable[[], Took]
    baseline_name: str
    baseline: Callable[[], Took]
    limit: float


class NoTimeError(Exception):
    """A process did not end well, and so has no time."""


def run(*command: str) -> Took:
    """A whole process, its start included."""
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    # as a user's shell would: without the one thread that the tests set for themselves, and with compiled
    # modules kept, as those of the installed packages are
    env = {name: value for name, value in os.environ.items() if name not in {*ONE_CORE, "PYTHONDONTWRITEBYTECODE"}}
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=REPOSITORY, env=env)
    wall, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise NoTimeError(f"exit {done.returncode}: {done.stderr.strip().splitlines()[-1:]}")
    return Took(wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def python(code: str, *arguments: str) -> Took:
    """A process that runs some code."""
    return run(sys.executable, "-c", code, *arguments)


def analysis_alone(study: str) -> Took:
    """What a process measured of its one call, on one core."""
    done = subprocess.run(
        [sys.executable, "-c", TIME_ANALYSIS, study], capture_output=True, text=True, check=False, cwd=REPOSITORY,
        env=os.environ | ONE_CORE,
    )  # fmt: skip
    if done.returncode:
        raise NoTimeError(f"exit {done.returncode}: {done.stderr.strip().splitlines()[-1:]}")
    wall, cpu = done.stdout.split()
    return Took(float(wall), float(cpu))


def glucolab(*arguments: str) -> Took:
    """The command line as it is installed."""
    return run(str(Path(sys.executable).with_name("glucolab")), *arguments)


def one_wear_study(folder: Path) -> Path:
    """The sample study with one wear only."""
    study = folder / "study"
    (study / "wear_periods").mkdir(parents=True)
    shutil.copy(REPOSITORY / "sample_data" / "study.toml", study)
    shutil.copytree(REPOSITORY / "sample_data" / "wear_periods" / WEAR, study / "wear_periods" / WEAR)
    return study


def burn() -> float:
    """A fixed amount of arithmetic. [s]"""
    begun = time.perf_counter()
    sum(i * i for i in range(1_500_000))
    return time.perf_counter() - begun


def find_pairs(folder: Path) -> list[Pair]:
    """What is measured, with the limits that the project set itself."""
    study, out = str(one_wear_study(folder)), str(folder / "out")
    ten, one = (str(invent_study(folder / f"of_{n}", n, interval_min=5)) for n in (10, 1))
    return [
        Pair(
            "import glucolab", lambda: python("import glucolab"),
            "import pandas", lambda: python("import pandas"), 0.1,
        ),
        Pair(
            "gl.analyse_wear, its first use alone", lambda: python("import glucolab as gl; gl.analyse_wear"),
            "import pandas, scipy.linalg, scipy.special",
            lambda: python("import pandas, scipy.linalg, scipy.special"), 1.3,
        ),
        Pair(
            "glucolab measure, one 14-day 5-min wear", lambda: glucolab("measure", study, "--out", out),
            "import pandas, scipy.linalg, scipy.special",
            lambda: python("import pandas, scipy.linalg, scipy.special"), 2.5,
        ),
        Pair(
            "analyse_wear of it, the call alone", lambda: analysis_alone(study),
            "import pandas", lambda: python("import pandas"), 0.6 / 0.7,
        ),
        Pair(
            "glucolab report, one wear", lambda: glucolab("report", study, "--out", out, "--again"),
            "papermill of an empty cell, nbconvert to HTML", lambda: python(EMPTY_PAGE, str(folder)), 3.0,
        ),
        Pair(
            "glucolab report, ten wears", lambda: glucolab("report", ten, "--out", f"{out}_10", "--again"),
            "the same of one wear", lambda: glucolab("report", one, "--out", f"{out}_1", "--again"), 4.0,
        ),
        Pair(
            "glucolab report, ten wears, none changed", lambda: glucolab("report", ten, "--out", f"{out}_10"),
            "the same with --again", lambda: glucolab("report", ten, "--out", f"{out}_10", "--again"), 0.5,
        ),
    ]  # fmt: skip


def compare(pair: Pair, rounds: int) -> tuple[Took, Took]:
    """Medians of both, run in turns; once beforehand for the disk and the .pyc files."""
    pair.baseline(), pair.figure()
    sides: tuple[list[Took], list[Took]] = ([], [])
    for _ in range(rounds):
        sides[1].append(pair.baseline())
        sides[0].append(pair.figure())
    ours, theirs = (
        Took(statistics.median(t.wall for t in side), statistics.median(t.cpu for t in side)) for side in sides
    )
    return ours, theirs


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description="Ratios of whole processes.")
    parser.add_argument("--rounds", type=int, default=5, help="how often each of a pair is run (5)")
    parser.add_argument("--only", default="", help="only the figures whose name holds this")
    parser.add_argument("--into", type=Path, help="also print the table into its page in this folder")
    arguments = parser.parse_args()
    bad, burns = 0, [burn()]
    table = ["| figure | s | beside | s | ratio | of CPU | limit |", "| --- | --- | --- | --- | --- | --- | --- |"]
    print(f"{'figure':<42}{'s':>7}  {'beside':<48}{'s':>7}{'ratio':>8}{'of CPU':>8}{'limit':>7}")
    with tempfile.TemporaryDirectory() as place:
        for pair in find_pairs(Path(place)):
            if arguments.only not in pair.name:
                continue
            try:
                ours, theirs = compare(pair, arguments.rounds)
            except NoTimeError as reason:
                print(f"{pair.name:<42} could not be timed: {reason}", flush=True)
                bad += 1
                continue
            ratio = ours.wall / theirs.wall
            bad += ratio > pair.limit
            print(
                f"{pair.name:<42}{ours.wall:>7.2f}  {pair.baseline_name:<48}{theirs.wall:>7.2f}{ratio:>8.2f}"
                f"{ours.cpu / theirs.cpu:>8.2f}{pair.limit:>7.2f}{'  over' if ratio > pair.limit else ''}",
                flush=True,
            )
            table.append(
                f"| {pair.name} | {ours.wall:.2f} | {pair.baseline_name} | {theirs.wall:.2f} | {ratio:.2f} | "
                f"{ours.cpu / theirs.cpu:.2f} | {pair.limit:.2f} |"
            )
            burns.append(burn())
    if arguments.into:
        print_into(arguments.into / SPEED, "benchmarks", "\n".join(table))
    busy = ": a busy machine, the ratios are rough" if max(burns) > 1.5 * min(burns) else ""
    print(f"control: the same arithmetic took {min(burns):.2f} to {max(burns):.2f} s{busy}")
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
