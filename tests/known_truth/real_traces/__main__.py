"""Do the intervals hold on real traces? Prints the table: python -m tests.known_truth.real_traces [--only PART].

Parts: a, two sensors of one person; b, blood invented between two sensors; c, a wear cut in two; d, nil covariates and
labels; e, effects planted; f, hours removed; g, clocks moved; h, efforts and coffees written besides. Each is described
in its file.

`people` are those whose traces a figure rests on: they are the unit, whatever the number `n` of intervals, and `se` is
the standard error of `hold` over them. `bias`, `rmse` and `half`, the median half-width, are in the unit of the figure.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from tests.known_truth.real_traces.clocks import name_alleged
from tests.known_truth.real_traces.few import FEW, PINNED, run_few, tabulate_few
from tests.known_truth.real_traces.judging import PARTS, Size, hold_against, run
from tests.known_truth.real_traces.recordings import MISSING, find_root, read_people
from tests.known_truth.real_traces.rows import find_spread, read_rows, summarise, write_rows
from tests.known_truth.table import as_text
from tests.known_truth.tables_page import write_real_traces


def main(arguments: list[str] | None = None) -> int:
    """Judge the parts asked for and print their table; 0 also where there are no recordings."""
    asked = _parse(arguments)
    root = find_root()
    if asked.pin:
        tabulate_few(run_few(read_people(root, max(FEW.values())))).to_csv(PINNED, index=False, float_format="%.6g")
        return 0
    people = [one for one in read_people(root, asked.people) if one.wearer or not asked.wearers]
    if not people:
        print(MISSING.format(root=root))
        return 0
    began = time.monotonic()
    rows = read_rows(asked.rows) if asked.resume and asked.rows.is_file() else []
    done = {row.kind[0] for row in rows}
    for part in asked.only:
        if part not in done:
            rows += run(people, part, Size(asked.draws, asked.rounds), asked.jobs)
            print(f"{part}: done after {time.monotonic() - began:.0f} s", file=sys.stderr)
        if asked.rows:
            write_rows(asked.rows, rows)
    table, bounds = summarise(rows), hold_against(rows)
    parts = {
        f"{len(people)} people": table, "what is asked": bounds,
        "how far off, in its own standard errors": find_spread(rows),
    }  # fmt: skip
    print("\n\n".join(f"{title}\n{as_text(part)}" for title, part in parts.items()))
    print("\n" + name_alleged(rows))
    if asked.into:
        write_real_traces(asked.into, table, bounds)
    return 0


def _parse(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.known_truth.real_traces", description=__doc__.partition("\n")[0]
    )
    parser.add_argument("--only", nargs="*", default=list(PARTS), choices=list(PARTS), metavar="PART")
    parser.add_argument("--people", type=int, help="at most so many of each folder (default all)")
    parser.add_argument("--wearers", action="store_true", help="without the people who only tell how sensors differ")
    parser.add_argument("--draws", type=int, default=Size().draws, help="of each person (default %(default)s)")
    parser.add_argument("--rounds", type=int, default=Size().rounds, help="of studies (default %(default)s)")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--rows", type=Path, help="also write every judged interval to this CSV file, after each part")
    parser.add_argument("--resume", action="store_true", help="keep the parts that are in the file of --rows already")
    parser.add_argument("--into", type=Path, help="also print the tables into its page in this folder")
    parser.add_argument("--pin", action="store_true", help="only write the kept widths of a few people anew")
    asked = parser.parse_args(arguments)
    if asked.resume and not asked.rows:
        parser.error("--resume needs the file of --rows")
    return asked


if __name__ == "__main__":
    sys.exit(main())
