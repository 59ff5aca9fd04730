"""Does any broken folder or file end in a traceback, a hang, a lost row or a changed input? Thousands of seeded cases.

``python -m tests.faults.fuzz [--cases 5000] [--first 0] [--jobs 2]``. Each case is a sound study broken one to three
times, and one command run on it in a process of its own; or an invented export, broken, and brought. Exit 1 if any case
fails; each failure is printed with its number, by which it can be run again alone (``--first N --cases 1``).
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import json
import multiprocessing
import multiprocessing.connection
import os
import shutil
import stat
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study
from glucolab.running.cli import main as glucolab
from tests.faults.breaking import break_file, break_study, pick
from tests.hand_made import SOUND_STUDY

HANGS_AFTER_S, ENDED_AFTER_S = 20, 60
"""What a command may take, and what a case may with its inspection, which reads the study again."""
EXPORTS = Path(__file__).resolve().parents[1] / "reading" / "bringing" / "exports"
COMMANDS = ("measure",) * 5 + ("check",) * 2 + ("share", "export", "plan", "many", "bring", "bring", "bring")


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str
    seconds: float


def write_sound(root: Path) -> None:
    for file, content in SOUND_STUDY.items():
        path = root / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content, encoding="utf-8")


def run(*arguments: str) -> Ended:
    out, err, begun = io.StringIO(), io.StringIO(), time.monotonic()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = glucolab(arguments)
        except SystemExit as ended:  # of argparse
            code = int(ended.code or 0)
    return Ended(code, out.getvalue(), err.getvalue(), time.monotonic() - begun)


def picture(folder: Path, without: Path) -> dict[str, str]:
    """What lies in a folder: kinds, links and contents by path."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path == without or without in path.parents:
            continue
        mode = path.lstat().st_mode
        if stat.S_ISLNK(mode):
            content = f"link {os.readlink(path)}"
        elif stat.S_ISREG(mode):
            content = hashlib.sha256(path.read_bytes()).hexdigest()
        else:
            content = stat.filemode(mode)
        found[os.fsencode(path.relative_to(folder)).decode("utf-8", "backslashreplace")] = content
    return found


def count_rows(path: Path) -> int:
    """Rows of a table that are not blank, its header left out, as any reader of CSV would count them."""
    text = path.read_bytes().decode("utf-8", "replace").replace("\0", "")
    csv.field_size_limit(2**31 - 1)
    return max(sum(any(cell.strip() for cell in row) for row in csv.reader(io.StringIO(text, newline=""))) - 1, 0)


def find_silent(root: Path) -> Iterator[str]:
    """Rows and wears that are not used, and of which no problem tells."""
    try:
        study = read_study(root)
    except NothingToDo as reason:
        if not str(reason).strip():
            yield "nothing to do, and no reason"
        return
    named = {problem.file for problem in study.problems}
    tables = {name: frame for name, frame in study.tables.items()}
    places = {f"{name}.csv": frame for name, frame in tables.items()}
    for wear in study.wears:
        places |= {f"wear_periods/{wear.name}/{name}.csv": frame for name, frame in wear.tables.items()}
    for file, frame in places.items():
        path = root / file
        if path.is_file() and file not in named and count_rows(path) > len(frame):
            yield f"{file}: {count_rows(path)} rows, {len(frame)} used, and no problem told"
    known = {wear.name for wear in study.wears}
    for folder in (root / "wear_periods").iterdir():
        told = any(folder.name.split("\n")[0][:20] in file for file in named)
        if folder.is_dir() and folder.name not in known and not told and not folder.name.startswith("."):
            yield f"wear {folder.name!r} is left out, and no problem told"


def judge_words(ended: Ended) -> Iterator[str]:
    if ended.seconds > HANGS_AFTER_S:
        yield f"took {ended.seconds:.0f} s"
    if ended.code not in (0, 1, 2):
        yield f"exit {ended.code}"
    for word in ("Traceback", "a fault in glucolab", "Warning:"):
        if word in ended.err or word in ended.out:
            at = (ended.err + ended.out).find(word)
            yield (ended.err + ended.out)[at : at + 400]
    if ended.code == 2 and not ended.err.strip().splitlines()[-1].startswith("glucolab: "):
        yield f"no reason in one line: {ended.err.strip()[-300:]}"
    if max(map(len, ended.err.splitlines()), default=0) > 3000:
        yield "a line of more than 3,000 characters"


def judge_report(out: Path, code: int) -> Iterator[str]:
    """What was written is whole: JSON without NaN, tables that parse; nothing after exit 2."""
    if code == 2:
        if out.exists():
            yield "exit 2, and something was written"
        return
    for path in out.rglob("summary.json"):
        json.loads(
            path.read_text(encoding="utf-8"), parse_constant=lambda word: (_ for _ in ()).throw(ValueError(word))
        )
    for path in out.rglob("*.csv"):
        widths = {len(row) for row in csv.reader(path.open(encoding="utf-8", newline=""))}
        if len(widths) != 1:
            yield f"{path.name} has rows of {widths} cells"


def judge_brought(before: dict[str, str], after: dict[str, str], code: int, wear: str) -> Iterator[str]:
    changed = {name for name in before.keys() | after.keys() if before.get(name) != after.get(name)}
    if code == 2 and changed:
        yield f"exit 2, and changed: {changed}"
    if any(not name.startswith(wear) and not name.startswith("study/labs") for name in changed):
        yield f"changed: {changed}"


def try_case(number: int, place: Path) -> list[str]:
    """Run one case in a folder of its own; what is wrong."""
    rng = np.random.default_rng(number)
    root, out = place / "study", place / "out"
    write_sound(root)
    command = pick(rng, COMMANDS)
    if command == "bring":
        return try_bringing(rng, place, root)
    done = break_study(rng, root)
    before = picture(place, out)
    options = {"check": [], "export": ["--fhir", str(out)], "plan": ["--seed", "1", "--start", "2026-04-01"],
               "many": ["--workers", "1", "--out", str(out)]}.get(command, ["--out", str(out)])  # fmt: skip
    target = place if command == "many" else root
    ended = run(command, str(target), *options)
    wrong = list(judge_words(ended))
    if command == "measure":
        wrong += judge_report(out, ended.code)
    wrong += find_silent(root) if command == "check" else []
    if picture(place, out) != before:
        wrong.append("inputs changed, or something written beside --out")
    return [f"{command} after {', '.join(done)}: {text}" for text in wrong]


def try_bringing(rng: np.random.Generator, place: Path, root: Path) -> list[str]:
    source = pick(rng, sorted(path for path in EXPORTS.iterdir() if path.suffix != ".json"))
    file = place / source.name
    shutil.copyfile(source, file)
    done = break_file(rng, file)
    before = picture(place, place / "none")
    table = ["--as", pick(rng, ("glucose", "meals", "sleep", "days", "labs"))] if rng.random() < 0.2 else []
    ended = run("bring", str(file), "--into", str(root / "wear_periods" / "winter"), "--yes", *table)
    after = picture(place, place / "none")
    wrong = [*judge_words(ended), *judge_brought(before, after, ended.code, "study/wear_periods/winter/")]
    return [f"bring after {', '.join(done)}: {text}" for text in wrong]


def _case_process(number: int, place: str, pipe) -> None:
    try:
        pipe.send(try_case(number, Path(place)))
    except BaseException:
        pipe.send([f"the harness failed: {traceback.format_exc()[-1500:]}"])


def run_case(number: int) -> list[str]:
    """A case in a process of its own, which is ended if it hangs."""
    with tempfile.TemporaryDirectory(prefix="fuzz") as place:
        context = multiprocessing.get_context("fork")
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(target=_case_process, args=(number, place, theirs))
        process.start()
        theirs.close()
        wrong = [f"still running after {ENDED_AFTER_S} s"]
        try:
            if ours.poll(ENDED_AFTER_S):
                wrong = ours.recv()
        except EOFError:
            wrong = ["the process died"]
        process.kill()
        process.join()
        return wrong


def run_cases(first: int, cases: int) -> Iterator[tuple[int, list[str]]]:
    for number in range(first, first + cases):
        yield number, run_case(number)


def _share(first: int, last: int, jobs: int, pipe) -> None:
    for number in range(first, last, jobs):
        pipe.send((number, run_case(number)))
    pipe.send(None)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults.fuzz", description="Broken folders by the thousand.")
    parser.add_argument("--cases", type=int, default=5000)
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--jobs", type=int, default=2)
    arguments = parser.parse_args()
    context = multiprocessing.get_context("fork")
    pipes = []
    for job in range(arguments.jobs):
        ours, theirs = context.Pipe(duplex=False)
        context.Process(
            target=_share, args=(arguments.first + job, arguments.first + arguments.cases, arguments.jobs, theirs)
        ).start()  # fmt: skip
        pipes.append(ours)
    counts: Counter[str] = Counter()
    while pipes:
        for ours in multiprocessing.connection.wait(pipes):
            told = ours.recv()
            if told is None:
                pipes.remove(ours)
                continue
            number, wrong = told
            counts["failed" if wrong else "sound"] += 1
            for text in wrong:
                print(f"case {number}: {text}", flush=True)
            if sum(counts.values()) % 250 == 0:
                print(f"{sum(counts.values())} cases, {counts['failed']} failed", file=sys.stderr, flush=True)
    print(f"{sum(counts.values())} cases from {arguments.first} on: {counts['failed']} failed")
    return int(counts["failed"] > 0)


if __name__ == "__main__":
    raise SystemExit(main())
