"""How much of what was planted is found, and how much that is clean is lost? Faults of many shapes, counted."""

from __future__ import annotations

from functools import reduce
from operator import add

import numpy as np
import pytest

from glucolab.reading.folder import read_study
from tests.cleaning.planting import Score, invent_wear, judge_jumps, judge_lows


def add_up(scores: list[Score]) -> Score:
    return reduce(add, scores)


@pytest.mark.parametrize(("step_min", "recall", "precision"), [(5.0, 0.95, 0.95), (15.0, 0.85, 0.95)])
def test_jumps_in_invented_wears(step_min, recall, precision):
    wears = [invent_wear(seed, step_min) for seed in range(6)]
    found = add_up([judge_jumps(wear, np.random.default_rng(i)) for i, wear in enumerate(wears)])
    assert found.truth > 60
    assert found.recall >= recall
    assert found.precision >= precision
    assert found.lost < 0.001


@pytest.mark.parametrize(
    ("folder", "sensor", "recall", "precision"),
    [("food_log", 0, 0.95, 0.95), ("two_sensors", 0, 0.95, 0.95), ("two_sensors", 1, 0.85, 0.9)],
)
def test_jumps_in_real_traces(folder, sensor, recall, precision, open_data):
    """Second sensors of two_sensors read every 15 minutes."""
    people = sorted(path for path in open_data(folder).iterdir() if (path / "wear_periods").is_dir())
    wears = [read_study(path).wears[sensor] for path in people]
    found = add_up([judge_jumps(wear, np.random.default_rng(i)) for i, wear in enumerate(wears)])
    assert found.truth > 50
    assert found.recall >= recall
    assert found.precision >= precision
    assert found.lost < 0.001


@pytest.mark.parametrize(("step_min", "recall", "of_the_deep"), [(5.0, 0.37, 0.67), (15.0, 0.31, 0.57)])
def test_lows_of_ten_shapes_in_invented_wears(step_min, recall, of_the_deep):
    """Lows of any depth from 8 mg/dL on and those from 18: what is reached, for half of all lies within the noise."""
    scores = [judge_lows(invent_wear(seed, step_min, days=20), np.random.default_rng(seed), 0.5) for seed in range(6)]
    found, deep = (add_up([score[name] for score in scores]) for name in ("all", "deep"))
    assert found.truth > 150
    assert found.recall >= recall
    assert deep.recall >= of_the_deep
    assert found.precision >= 0.95
    assert found.lost < 0.001
