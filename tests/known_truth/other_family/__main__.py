"""Are effects found and held on wearers of another family? python -m tests.known_truth.other_family --studies 40."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import pandas as pd

from tests.known_truth.other_family.judging import Row, judge_study
from tests.known_truth.other_family.summing import summarise
from tests.known_truth.other_family.traits import KINDS
from tests.known_truth.tables_page import write_other_family


def main(arguments: list[str] | None = None) -> int:
    """Judge the studies asked for and print one table."""
    asked = _parse(arguments)
    began = time.monotonic()
    rows: list[Row] = []
    for number in range(asked.studies):
        rows += judge_study(asked.kinds[number % len(asked.kinds)], asked.seed, number)
        if (number + 1) % 10 == 0:
            print(f"{number + 1} studies after {time.monotonic() - began:.0f} s", file=sys.stderr)
            _keep(asked.rows, rows)
    _keep(asked.rows, rows)
    table = summarise(rows)
    print(f"{asked.studies} studies, seed {asked.seed}")
    print(table.to_string(index=False, float_format=lambda value: f"{value:.2f}", na_rep="-"))
    if asked.into:
        write_other_family(asked.into, table)
    return 0


def _keep(path: Path | None, rows: list[Row]) -> None:
    if path:
        pd.DataFrame(rows, columns=Row._fields).to_csv(path, index=False, float_format="%.6g")


def _parse(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.known_truth.other_family", description=__doc__.partition("\n")[0]
    )
    parser.add_argument("--studies", type=int, default=40, help="in all, over the kinds in turn (default %(default)s)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", nargs="+", default=list(KINDS), choices=KINDS, metavar="KIND", help=", ".join(KINDS))
    parser.add_argument("--rows", type=Path, help="also write every judged interval to this CSV file")
    parser.add_argument("--into", type=Path, help="also print the table into its page in this folder")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    sys.exit(main())
