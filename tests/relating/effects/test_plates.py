"""Does a larger portion of a dish, which has more of everything, leave the effect of its carbohydrate as it is?

Meals with known truth, drawn here: a rise grows by 6 mg/dL per 10 g, by nothing else on the plate.
"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.relating.effects.design import build_regression
from glucolab.relating.effects.questions import FACTORS, OUTCOMES, Pair
from glucolab.relating.statistics.fixed_effects import estimate_meal_coefficient

SLOPE, N, DISHES = 6.0, 360, 12


def _estimate(rng: np.random.Generator, portion_sd: float) -> tuple[float, float, float]:
    dish = rng.integers(0, DISHES, N)
    size = np.exp(portion_sd * rng.standard_normal(N))
    carbs_g, protein_g, fat_g = (
        base[dish] * size for base in rng.uniform([[20], [3], [3]], [[80], [40], [30]], (3, DISHES))
    )
    rise = SLOPE * carbs_g / 10 + rng.normal(0, 3, DISHES)[dish] + rng.normal(0, 8, N)
    rows = {
        "wear": np.zeros(N, int), "day": np.arange(N) // 4, "dish": np.array([f"dish {i}" for i in dish], object),
        "carbs_g": carbs_g, "rise_mg_dl": rise, "rise_se_mg_dl": np.full(N, 3.0),
    }  # fmt: skip
    held = {name: (of - of.mean()) / of.std() for name, of in (("protein_g", protein_g), ("fat_g", fat_g))}
    regression = build_regression(Pair("carbs_g", "rise", ""), OUTCOMES["rise"], FACTORS["carbs_g"], rows, held)
    found = estimate_meal_coefficient(regression)
    return found.estimate, found.low, found.high


@pytest.mark.parametrize("portion_sd", [0.0, 0.25])
def test_the_plate_takes_nothing_of_what_portions_do(portion_sd):
    rng = np.random.default_rng(31)
    estimate, low, high = np.array([_estimate(rng, portion_sd) for _ in range(60)]).T
    assert estimate.mean() == pytest.approx(SLOPE, abs=0.8)
    assert np.mean((low <= SLOPE) & (high >= SLOPE)) >= 0.8
