"""Do the intervals hold? Prints the calibration on invented wearers: python -m tests.known_truth [--wears 200]."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import pandas as pd

from tests.known_truth.kinds import STUDIES, WEARS
from tests.known_truth.pinned import run_few, tabulate, write_pinned
from tests.known_truth.table import (
    as_text,
    run,
    summarise_claims,
    summarise_figures,
    summarise_flags,
    summarise_studies,
)
from tests.known_truth.tables_page import write_known_truth


def main(arguments: list[str] | None = None) -> int:
    """Run the kinds asked for and print their tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.known_truth", description=__doc__)
    parser.add_argument("--wears", type=int, default=200, help="invented wears or studies of each kind (default 200)")
    parser.add_argument("--kinds", nargs="*", default=[*WEARS, *STUDIES], choices=[*WEARS, *STUDIES], metavar="KIND")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--into", type=Path, help="also print the tables into the pages in this folder")
    parser.add_argument("--pin", action="store_true", help="only write the few kept figures anew")
    asked = parser.parse_args(arguments)
    if asked.pin:
        write_pinned(tabulate(*run_few()))
        return 0
    began = time.monotonic()
    found = []
    for kind in asked.kinds:
        found.append(run([kind], asked.wears, asked.jobs, asked.first_seed))
        print(f"{kind}: done after {time.monotonic() - began:.0f} s", file=sys.stderr)
    figures, flags, claims = (_together(tables) for tables in zip(*found, strict=True))
    studies, made = summarise_studies(figures, claims), summarise_claims(claims)
    figures, flags = summarise_figures(figures), summarise_flags(flags)
    print(as_text(figures))
    if len(flags):
        print("\nreadings by flag\n" + as_text(flags))
    if len(claims):
        print("\nstudies (shares of intervals that hold, and of claims where nothing is true)\n" + as_text(studies))
        print("\neffects (claimed_nil: share claimed where nothing is true)\n" + as_text(made))
    if asked.into:
        write_known_truth(asked.into, figures, flags, studies, made)
    return 0


def _together(tables: tuple[pd.DataFrame, ...]) -> pd.DataFrame:
    """One table of those with rows: a kind without any would turn counts into objects."""
    return pd.concat([t for t in tables if len(t)] or [tables[0]], ignore_index=True)


if __name__ == "__main__":
    sys.exit(main())
