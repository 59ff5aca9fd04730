"""How do real people's days differ? Learns the prior of the spread of daily means anew from the open recordings.

`python -m tests.known_truth.real_traces.day_prior` prints it as `glucolab.measuring.days_apart` holds it: the SD of
daily means over the level, and how many days that is worn for. People whose wears are cut in two by the judge are left
out, so that it judges people whom the prior does not know.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy import optimize, stats

from glucolab.analysis import analyse_study
from glucolab.clock import local_hours
from glucolab.measuring.days_apart import degrees_of_days, levels_of_days, resemblance_of_days
from tests.known_truth.real_traces.recordings import MISSING, Recorded, find_root, read_people

LONG_DAYS = 10
"""Wears of so many whole days are long enough to be cut in two by the judge."""


class Spread(NamedTuple):
    """Days of one person, and the variance of their means over the square of the level, resemblance allowed for."""

    days: int
    variance: float


def measure_spread(person: Recorded) -> Spread:
    """Of a person's first wear."""
    one = analyse_study(person.study).wears[0]
    hour = local_hours(one.trace.time, one.wear.zones).astype(int)
    edges = one.days.edges
    day = np.searchsorted(edges, one.trace.time, side="right") - 1
    level = levels_of_days(one.trace, hour, np.clip(day, 0, len(one.days.dates) - 1))
    n, rho = len(level), resemblance_of_days(level)
    variance = float(np.sum(level**2)) / degrees_of_days(n, rho) if n > 1 else np.nan
    return Spread(n, variance / one.trace.level_mg_dl**2)


def learn(spreads: Sequence[Spread]) -> tuple[float, float]:
    """SD over the level, and degrees of freedom: of a scaled inverse chi-squared by maximum likelihood."""
    df, variance = (
        np.array(values, float) for values in zip(*((s.days - 1, s.variance) for s in spreads), strict=True)
    )

    def loss(logs: np.ndarray) -> float:
        fraction, prior_df = np.exp(logs)
        return -float(np.sum(stats.f.logpdf(variance / fraction**2, df, prior_df) - 2 * np.log(fraction)))

    fraction, prior_df = np.exp(optimize.minimize(loss, np.log([0.06, 6.0]), method="Nelder-Mead").x)
    return float(fraction), float(prior_df)


def main() -> int:
    """Print what those say who are not judged, and what all say."""
    people = read_people(find_root())
    if not people:
        print(MISSING.format(root=find_root()))
        return 1
    spreads = [spread for spread in map(measure_spread, people) if spread.days > 2]
    for whose, mine in (("not cut in two", [s for s in spreads if s.days < LONG_DAYS]), ("all", spreads)):
        fraction, prior_df = learn(mine)
        print(f"{len(mine)} people {whose}: DAY_FRACTION, DAY_PRIOR_DF = {fraction:.3f}, {prior_df:.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
