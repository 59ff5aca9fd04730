"""Lives whose parts are known in closed form: triangles after meals, a wave of the day, a level."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.aligning.bias_posterior import OF_HOURS
from glucolab.clock import ZoneSpans, days_between
from glucolab.record import empty_output
from glucolab.relating.comparing.periods import build_periods
from glucolab.relating.effects.average_parts import TOO_LITTLE, estimate_average_parts
from glucolab.relating.observations.wear_tables import WearTables
from tests.hand_made import START
from tests.relating.comparing.measured import make_bias, measured

UTC = ZoneSpans(("UTC",))
DAYS, LEVEL, WAVE, TOP = 14, 85.0, 5.0, 40.0
RISE_MIN, FALL_MIN = 50.0, 130.0
AREA = TOP * (RISE_MIN + FALL_MIN) / 2
"""Of one triangle. [mg/dL min]"""
NIGHT_OF_WAVE = WAVE * (np.sin(2 * np.pi * (6 - 15) / 24) - np.sin(2 * np.pi * (0 - 15) / 24)) * 24 / (2 * np.pi * 6)
"""Mean from midnight to six of 5 cos(2 pi (h - 15) / 24), integrated by hand."""


def live(seed: int = 1, meals_a_day: int = 3, fall: float = 0.0, shift: float = 0.0, days: int = DAYS):
    """Glucose every five minutes, what was eaten (grams as the triangles are high), and a run every third day."""
    rng = np.random.default_rng(seed)
    hours = np.arange(days * 288) / 12
    eaten_h = (
        np.add.outer(24.0 * np.arange(days), np.linspace(8, 19, meals_a_day)) + rng.uniform(-2, 2, (days, meals_a_day))
    ).ravel()
    grams = rng.uniform(30, 70, len(eaten_h))
    runs_h = 24.0 * np.arange(1, days, 3) + rng.uniform(7, 20, len(np.arange(1, days, 3)))
    glucose = LEVEL + shift + WAVE * np.cos(2 * np.pi * (hours - 15) / 24)
    for at, g in zip(eaten_h, grams, strict=True):
        glucose += TOP * g / 50 * np.interp((hours - at) * 60, [0, RISE_MIN, RISE_MIN + FALL_MIN], [0, 1, 0])
    for at in runs_h:
        glucose -= fall * np.interp((hours - at) * 60, [0, 60, 180], [0, 1, 0])
    return glucose, eaten_h, grams, runs_h


def tables(name: str, eaten_h, grams, runs_h, first_day: float = 0.0, days: int = DAYS) -> WearTables:
    start = START + pd.Timedelta(days=first_day)
    meals = pd.DataFrame(
        {"time": start + pd.to_timedelta(eaten_h, unit="h"), "name": "lunch", "carbs_g": grams, "reason": ""}
    )
    runs = pd.DataFrame({"start": start + pd.to_timedelta(runs_h, unit="h"), "minutes": 30.0, "kind": "run"})
    nothing = empty_output("energy"), pd.DataFrame({"date": [], "start": []})
    span = days_between(start, start + pd.Timedelta(days=days), UTC)
    daily = pd.DataFrame({"date": span.dates})
    return WearTables(name, span, UTC, daily, meals, *nothing, runs.assign(effort="vigorous"))


def part(seed: int = 1, variance: float = 9.0, night_sd: float = 0.0, offset: float = 0.0, **life):
    glucose, *logged = live(seed, **life)
    one = measured("a", 0.0, float(glucose.mean()), days=DAYS, values=glucose, offset=offset)
    bias = make_bias([offset], [[variance]])
    bias.joint[0, OF_HOURS, 0, OF_HOURS] = night_sd**2 * np.eye(4)
    table, reason = estimate_average_parts([one], [tables("a", *logged)], build_periods([one], bias), bias)
    assert reason is None
    return table.set_index("part"), glucose, logged


def test_parts_are_those_of_the_life_and_food_is_told_a_tenth_larger():
    """Late and coarse logs make food's part a tenth too small in invented people: it is raised by that."""
    table, glucose, (_, grams, _) = part()
    food = AREA * grams.sum() / 50 / (DAYS * 1440)
    assert table["mg_dl"]["food"] == pytest.approx(1.1 * food, rel=0.03)
    assert table["mg_dl"]["level"] == pytest.approx(LEVEL + NIGHT_OF_WAVE, abs=0.3)
    assert table["mg_dl"]["rhythm"] == pytest.approx(-NIGHT_OF_WAVE - 0.1 * food, abs=0.4)
    assert table["mg_dl"].sum() == pytest.approx(glucose.mean(), abs=1e-9)
    assert set(table["wear"]) == {"a"}


def test_exercise_that_lowers_is_told():
    """A triangle of 25 mg/dL and three hours, every third day: 25 * 180 / 2 * 5 / 14 / 1440, and a tenth."""
    table, *_ = part(fall=25.0)
    runs = len(np.arange(1, DAYS, 3))
    true = -25 * 90 * runs / DAYS / 1440
    assert table["mg_dl"]["movement"] == pytest.approx(true, rel=0.1)
    half = (table["high_mg_dl"] - table["low_mg_dl"])["movement"] / 2
    assert half == pytest.approx(1.645 * np.hypot(0.25 * true, 0.15), rel=0.15)


def test_food_may_be_a_quarter_off():
    """Without noise all that is left of food's error is a quarter of it: 1.645 / 4 of the estimate."""
    table, *_ = part()
    half = (table["high_mg_dl"] - table["low_mg_dl"])["food"] / 2
    assert half == pytest.approx(0.411 * table["mg_dl"]["food"], rel=0.03)


def test_level_is_as_sure_as_the_sensor_at_night():
    """Offset's variance 9; four shapes of SD 2 whose means from midnight to six are, by hand, as below."""
    table, *_ = part(variance=9.0, night_sd=2.0)
    turn = np.pi / 12
    shapes = [
        np.sin(6 * turn) / (6 * turn),
        (1 - np.cos(6 * turn)) / (6 * turn),
        0.0,
        (1 - np.cos(12 * turn)) / (12 * turn),
    ]
    night = 4.0 * np.sum(np.square(shapes))
    half = (table["high_mg_dl"] - table["low_mg_dl"]) / 2
    assert half["level"] == pytest.approx(1.645 * np.sqrt(9 + night), rel=0.02)
    assert half["rhythm"] == pytest.approx(1.645 * np.hypot(np.sqrt(night), 0.25 * table["mg_dl"]["food"]), rel=0.05)
    assert half["rest"] == pytest.approx(1.645 * np.sqrt(0.5), rel=0.01)


def test_all_wears_tell_what_food_does_and_the_last_how_much_there_was():
    """The last wear has one meal a day, too few to learn from beside its wave; the first has four."""
    lives = {"a": live(1, 4), "b": live(2, 1)}
    at = {"a": 0.0, "b": 60.0}
    both = [measured(n, at[n], float(g.mean()), days=DAYS, values=g) for n, (g, *_) in lives.items()]
    logs = [tables(n, *logged, first_day=at[n]) for n, (_, *logged) in lives.items()]
    bias = make_bias([0.0, 0.0], [[9.0, 0.0], [0.0, 9.0]])
    table, _ = estimate_average_parts(both, logs, build_periods(both, bias), bias)
    food = table.set_index("part")["mg_dl"]["food"]
    assert set(table["wear"]) == {"b"}
    assert food == pytest.approx(1.1 * AREA * lives["b"][2].sum() / 50 / (DAYS * 1440), rel=0.05)


@pytest.mark.parametrize(("meals_a_day", "days"), [(1, 14), (4, 6)])
def test_too_few_meals_or_days_are_said(meals_a_day, days):
    glucose, *logged = live(1, meals_a_day, days=days)
    one = measured("a", 0.0, float(glucose.mean()), days=days, values=glucose)
    bias = make_bias([0.0], [[9.0]])
    found = estimate_average_parts([one], [tables("a", *logged, days=days)], build_periods([one], bias), bias)
    assert (len(found[0]), found[1]) == (0, TOO_LITTLE)


def test_noise_widens_food():
    """Days that wander by 12 mg/dL: the interval grows, and still holds what is true."""
    glucose, *logged = live(3)
    rng = np.random.default_rng(5)
    wander = np.repeat(12 * rng.standard_normal(DAYS * 8), 36)
    noisy = glucose + wander
    one = measured("a", 0.0, float(noisy.mean()), days=DAYS, values=noisy)
    bias = make_bias([0.0], [[9.0]])
    table, _ = estimate_average_parts([one], [tables("a", *logged)], build_periods([one], bias), bias)
    row = table.set_index("part").loc["food"]
    food = AREA * logged[1].sum() / 50 / (DAYS * 1440)
    assert row["low_mg_dl"] < food < row["high_mg_dl"]
    assert (row["high_mg_dl"] - row["low_mg_dl"]) / 2 > 0.43 * row["mg_dl"]
