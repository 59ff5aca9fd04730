"""Where no dish differs, is none said to; where they do, do the intervals of pairs hold? Truth set by the test."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.relating.effects.dishes import PooledDishes, compare_dishes, draw_dish_rises

STUDIES, DISHES, EATINGS = 200, 8, 4
WORTH_NOTICING_MG_DL = 3.0
SAME_DISH_SD_MG_DL = 11.0
"""Between eatings of one meal: Hengist et al. 2025, PMC10371100."""
ERROR_MG_DL = 5.0


def _study(rng: np.random.Generator, between_mg_dl: float) -> tuple[np.ndarray, pd.DataFrame]:
    """What each dish truly gives, and the pairs that one study's eatings make of it."""
    truth = 30 + between_mg_dl * rng.standard_normal(DISHES)
    spread = np.hypot(SAME_DISH_SD_MG_DL, ERROR_MG_DL)
    names = [f"dish {i}" for i in range(DISHES)]
    eatings = pd.DataFrame({
        "dish": np.repeat(names, EATINGS), "se_mg_dl": ERROR_MG_DL, "wear": 0,
        "rise_mg_dl": np.repeat(truth, EATINGS) + spread * rng.standard_normal(DISHES * EATINGS),
    })  # fmt: skip
    counts = np.full(DISHES, EATINGS)
    pooled = PooledDishes(names, counts, counts, draw_dish_rises(eatings, names, np.zeros((1, 1))))
    pairs = compare_dishes(pooled, WORTH_NOTICING_MG_DL)
    assert len(pairs) == DISHES * (DISHES - 1) / 2
    return truth, pairs


def test_of_equal_dishes_hardly_any_pair_is_said_to_differ():
    """Ten in a hundred would be allowed to each pair; here to whole studies, any of 28 pairs."""
    rng = np.random.default_rng(20261125)
    claimed = [_study(rng, 0.0)[1]["verdict"].isin(["lower", "higher"]).any() for _ in range(STUDIES)]
    assert np.mean(claimed) <= 0.10


@pytest.mark.parametrize("between_mg_dl", [6.0, 20.0])
def test_of_different_dishes_nine_intervals_in_ten_hold(between_mg_dl):
    rng = np.random.default_rng(20261126)
    held = []
    for _ in range(STUDIES):
        truth, pairs = _study(rng, between_mg_dl)
        a, b = (pairs[side].str.removeprefix("dish ").astype(int).to_numpy() for side in ("dish_a", "dish_b"))
        apart = truth[a] - truth[b]
        held.append(((pairs["low_mg_dl"] <= apart) & (apart <= pairs["high_mg_dl"])).mean())
    assert 0.85 <= np.mean(held) <= 0.95
