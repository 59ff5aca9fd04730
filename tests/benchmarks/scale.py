"""What do many readings cost? `measure` of one-minute wears beside pandas merely parsing and writing, memory, growth.

``python -m tests.benchmarks.scale [--wears 10 100 400]``. The baseline parses the same glucose.csv files and writes
tables of the shape of readings.csv, times with their local offset, by pandas alone. Each is a whole process. Exit 1 if
`measure` of the second number of wears takes more than 2.5 times the baseline or 1 GB, or if the fitted exponent of its
time over the wears is above 1.1.
"""

from __future__ import annotations

import argparse
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.studies import invent_study
from tests.known_truth.tables_page import SPEED, print_into

MOST_RATIO, MOST_GB, MOST_EXPONENT = 2.5, 1.0, 1.1
ROUNDS = 3

PARSE_AND_WRITE = """
import sys
from pathlib import Path
import pandas as pd
for place in sorted(Path(sys.argv[1], "wear_periods").iterdir()):
    read = pd.read_csv(place / "glucose.csv", parse_dates=["time"])
    times = read["time"].dt.tz_localize("Europe/Lisbon", ambiguous=True, nonexistent="shift_forward")
    frame = pd.DataFrame({"time": times, "glucose_raw_mg_dl": read["glucose"],
                          "glucose_mg_dl": (read["glucose"] * 1.0173).round(2), "flags": ""})
    out = Path(sys.argv[2], place.name)
    out.mkdir(parents=True, exist_ok=True)
    frame.to_csv(out / "readings.csv", index=False)
"""


def run(command: list[str]) -> tuple[float, float]:
    """Wall clock [s] and the peak of memory [GB] of a whole process."""
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                               env=os.environ | {"OPENBLAS_NUM_THREADS": "1"})  # fmt: skip
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - begun
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{command[:3]} ended with {process.returncode}")
    return wall, used.ru_maxrss / 1e6


def fit_exponent(sizes: list[int], seconds: list[float]) -> float:
    """Of the power law of the time over the size, by least squares of logarithms."""
    xs, ys = [math.log(size) for size in sizes], [math.log(second) for second in seconds]
    return statistics.linear_regression(xs, ys).slope


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.scale", description="What many readings cost.")
    parser.add_argument("--wears", type=int, nargs="+", default=[10, 100, 400], help="numbers of wears (10 100 400)")
    parser.add_argument("--into", type=Path, help="also print the figures into its page in this folder")
    arguments = parser.parse_args()
    sizes: list[int] = arguments.wears
    said: list[str] = []

    def say(text: str) -> None:
        print(text, flush=True)
        said.append(f"- {text}")

    glucolab = str(Path(sys.executable).with_name("glucolab"))
    took, bad = [], 0
    with tempfile.TemporaryDirectory() as place:
        for wears in sizes:
            study, out = invent_study(Path(place, f"s{wears}"), wears, interval_min=1), str(Path(place, f"o{wears}"))
            rounds = ROUNDS if wears <= 100 else 1
            sides: tuple[list[float], list[float]] = ([], [])
            peaks = []
            for _ in range(rounds):
                sides[1].append(run([sys.executable, "-c", PARSE_AND_WRITE, str(study), out + "_pandas"])[0])
                wall, peak = run([glucolab, "measure", str(study), "--out", out])
                sides[0].append(wall)
                peaks.append(peak)
            ours, theirs = (statistics.median(side) for side in sides)
            took.append(ours)
            say(f"{wears:,} wears of one-minute readings: measure {ours:.1f} s, {max(peaks):.2f} GB; "
                  f"pandas parsing and writing {theirs:.1f} s: {ours / theirs:.2f} times")  # fmt: skip
            bad += wears == sizes[min(1, len(sizes) - 1)] and (ours / theirs > MOST_RATIO or max(peaks) > MOST_GB)
    if len(sizes) > 1:
        exponent = fit_exponent(sizes, took)
        say(f"time grows with the wears to the power of {exponent:.2f}")
        bad += exponent > MOST_EXPONENT
    if arguments.into:
        print_into(arguments.into / SPEED, "scale", "\n".join(said))
    return int(bad > 0)


if __name__ == "__main__":
    raise SystemExit(main())
