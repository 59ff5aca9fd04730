"""Is the shortest interval that of the distribution? Closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.intervals import shortest_interval_of_draws

SHARES = (np.arange(2000) + 0.5) / 2000


def test_of_what_piles_up_at_nothing_it_begins_there():
    """Exponential of mean 10: the shortest nine tenths lie from 0 to 10 ln 10, by its falling density."""
    found = shortest_interval_of_draws(-10 * np.log(1 - SHARES))
    assert found["low"] == pytest.approx(0, abs=0.01)
    assert found["high"] == pytest.approx(10 * np.log(10), rel=0.02)
    assert found["estimate"] == pytest.approx(10, rel=0.01)


def test_of_what_piles_up_at_all_it_ends_there():
    found = shortest_interval_of_draws(1440 + 10 * np.log(1 - SHARES))
    assert found["high"] == pytest.approx(1440, abs=0.01)
    assert found["low"] == pytest.approx(1440 - 10 * np.log(10), abs=0.5)
