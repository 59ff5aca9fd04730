"""Over which range does the wearer live? The two ends of a factor that an effect is told between."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

RANGE_PERCENTILES = (10.0, 90.0)
"""Of the wearer's own judged rows [%]; the contract's. Nearer the middle, effects are told smaller than the days
differ; nearer the ends, two odd days set the range."""


class OwnRange(NamedTuple):
    """From where to where a factor goes in the wearer's own rows, in the unit of its column."""

    start: float
    end: float

    def tell(self, ends: tuple[float, float, float], step: float) -> dict[str, float]:
        """An effect per `step` of the column (estimate, low, high) from one end of the range to the other."""
        steps = (self.end - self.start) / step
        names = "range_estimate", "range_low", "range_high"
        spans = {name: steps * end for name, end in zip(names, ends, strict=True)}
        return {"range_from": self.start, "range_to": self.end} | spans


def own_range(values: np.ndarray) -> OwnRange:
    """The range of a measured factor over the rows that are judged.

    Where most rows are alike (no coffee on nine days of ten), it is that value and the median of the rows that differ
    from it: a range of nothing would say nothing.

    Parameters
    ----------
    values : array, shape (n,)
        In the unit of the factor's column; none NaN, at least two different.
    """
    start, end = np.percentile(values, RANGE_PERCENTILES)
    if end > start:
        return OwnRange(float(start), float(end))
    other = float(np.median(values[values != start]))
    return OwnRange(min(float(start), other), max(float(end), other))
