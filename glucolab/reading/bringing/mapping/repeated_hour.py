"""Which of two hours is a row of, where the autumn clock change repeats one? The order of rows tells it, or nothing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.clock import ZoneSpans, to_utc
from glucolab.reading.cells import Faults, parse_times


def find_untold(times: Sequence[str], values: Sequence[str], zones: ZoneSpans, name: str) -> Faults:
    """Rows of the repeated hour that come out at one moment with different values, by their row.

    In a table in the order in which it was read the second hour follows the first. Sorted by what the clock showed, or
    shuffled, both rows of one clock time would be of the first hour.

    Parameters
    ----------
    times : sequence of str, shape (n,)
        As the contract writes them.
    values : sequence of str, shape (n,)
        What was read at each.
    zones : ZoneSpans
        What the wearer's clocks showed.
    name : str
        Our column of times, for the wording.
    """
    if len(set(times)) == len(times):
        return {}
    written, _ = parse_times(times, name)
    settled = to_utc(pd.DatetimeIndex(written.local), zones)
    rows = np.flatnonzero(settled.repeated)
    by_moment: dict[int, list[int]] = {}
    for row, moment in zip(rows.tolist(), settled.times.asi8[rows].tolist(), strict=True):
        by_moment.setdefault(moment, []).append(row)
    untold = [row for same in by_moment.values() if len({values[row] for row in same}) > 1 for row in same]
    why = "stands twice in the hour that the autumn clock change repeats, and the order of the rows does not tell which"
    return {row: f'{name} "{times[row]}" {why} of the two it is of' for row in sorted(untold)}
