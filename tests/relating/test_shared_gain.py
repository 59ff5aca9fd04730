"""Does what one sensor's gain does to all its rises stay in the interval, however often a dish was eaten?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from glucolab.relating.dishes import draw_dish_rises, estimate_dishes, gather_eatings, pool_dishes
from tests.relating.invented import Truth, invent

GAIN_SD = 0.12


def _spread(wears) -> tuple[np.ndarray, np.ndarray]:
    eatings = gather_eatings(wears)
    names = sorted(set(eatings["dish"]))
    draws = draw_dish_rises(eatings, names)
    return draws.mean(axis=0), draws.std(axis=0)


def test_a_gain_that_is_not_known_widens_every_dish_by_its_share():
    """Of independent parts variances add: rise² x gain² to what was there."""
    wears, _ = invent(np.random.default_rng(4), Truth(), 1)
    plain_mean, plain_sd = _spread(wears)
    mean, sd = _spread([replace(wear, gain_sd=GAIN_SD) for wear in wears])
    assert mean == pytest.approx(plain_mean, abs=1.5)
    # the eatings' own errors become a little smaller, since the gain is taken out of them
    assert (sd**2 >= 0.7 * plain_sd**2 + 0.8 * (GAIN_SD * mean) ** 2).all()
    assert (sd**2 <= 1.1 * plain_sd**2 + 1.2 * (GAIN_SD * mean) ** 2).all()


def test_two_sensors_average_part_of_it_out():
    wears, _ = invent(np.random.default_rng(4), Truth(), 2)
    table = estimate_dishes(pool_dishes([replace(wear, gain_sd=0.3) for wear in wears]))
    most = table.iloc[0]
    half = (most["high_mg_dl"] - most["low_mg_dl"]) / 2
    assert 1.645 * 0.3 / np.sqrt(2) * 0.8 < half / most["rise_mg_dl"] < 1.645 * 0.3
