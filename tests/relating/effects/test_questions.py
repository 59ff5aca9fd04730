"""Is an estimate per as much of a factor as its words say, and are errors of what is written as large as assumed?"""

from __future__ import annotations

import re

import numpy as np
import pytest
from scipy import stats

from glucolab.relating.effects import effects
from glucolab.relating.effects.measurement_error import error_variance
from glucolab.relating.effects.questions import FACTORS
from tests.relating.effects.asked import ask

RISING = np.array([3.0, 7, 1, 5, 9, 4, 8, 2, 6, 3, 7, 5, 1, 9])
"""What is done on each of fourteen days; a day's mean, or a rise, lies on a line through it."""


@pytest.mark.parametrize(
    ("factor", "slope", "estimate"),
    [("asleep_h", -2.0, -2.0), ("stress", 1.5, 1.5), ("caffeine_mg", 0.02, 2.0), ("relaxation_min", -0.3, -3.0)],
)
def test_a_line_through_days_has_the_slope_per_what_the_words_say(factor, slope, estimate):
    found = ask(factor, "mean", mean_mg_dl=100 + slope * RISING, **{factor: RISING})
    assert (found["estimate"], found["low"], found["high"]) == pytest.approx((estimate,) * 3, abs=2e-3)


@pytest.mark.parametrize("factor", ["fiber_g", "protein_g", "fat_g"])
def test_a_line_through_meals_has_the_slope_per_ten_grams(factor):
    found = ask(factor, "rise", rise_mg_dl=20 - 0.3 * RISING, carbs_g=np.full(14, np.nan), **{factor: RISING})
    assert (found["estimate"], found["unit"]) == (pytest.approx(-3, abs=1e-3), "mg/dL per 10 g")


def test_with_against_without_is_the_whole_difference():
    trained = (RISING > 5).astype(float)
    found = ask("morning_exercise", "mean", mean_mg_dl=100 - 6 * trained, morning_exercise=trained)
    assert (found["estimate"], found["unit"]) == (pytest.approx(-6, abs=1e-3), "mg/dL")


def test_sweet_food_after_a_short_night_is_counted_by_fifty_grams():
    """At nought of either part: 0.4 mg/dL a gram more after short nights are 20 per 50 g."""
    day, carbs_g = np.repeat(np.arange(14), 4), np.tile([20.0, 45, 90, 60, 35, 75, 50], 8)
    short = np.isin(day, [1, 4, 8, 11]).astype(float)
    product = (carbs_g - carbs_g.mean()) * short
    meals = {"carbs_g": carbs_g, "short_night": short, "carbs_after_short_night": product}
    found = ask("carbs_after_short_night", "rise", day=day, rise_mg_dl=25 + 0.4 * product, **meals)
    assert (found["estimate"], found["unit"]) == (pytest.approx(20, abs=1e-2), "mg/dL per 50 g")


def test_contrast_unit_and_step_say_the_same():
    """A number in the words, else one: an hour, a point; with against without is one too."""
    for factor in FACTORS.values():
        number = float((re.findall(r"^\d+", factor.per) or [1])[0])
        assert factor.step == number
        assert factor.contrast.startswith(f"{number:g} ") == (number != 1)


def grown(share: float) -> np.ndarray:
    """By how much an effect grows, where that share of the factor's variance is error, known to a factor of e (one SD).

    The variance stands at the middles of nine equal parts of its lognormal distribution; a reliability under 0.4 counts
    as 0.4.
    """
    return 1 / np.maximum(1 - share * stats.lognorm.ppf((np.arange(9) + 0.5) / 9, 1.0), 0.4)


def test_carbohydrate_of_one_eating_is_thought_to_be_off_by_a_fifth():
    """Sixty grams by twelve: 1.44 of 10 g squared. Five mg/dL per 10 g then grow by the inverse of the reliability."""
    once = np.full(14, "", object)
    assert error_variance(FACTORS["carbs_g"], np.full(14, 60.0), once) == pytest.approx(1.44)
    carbs_g = 40 + 8 * RISING
    found = ask("carbs_g", "rise", carbs_g=carbs_g, rise_mg_dl=10 + 0.5 * carbs_g)
    by = grown(np.mean((0.2 * carbs_g) ** 2) / np.var(carbs_g, ddof=1))
    assert 1.1 < by.mean() < 2
    expected, spread = drawn_toward(5 * by.mean(), 5 * by.std(), 5.0, 3.0)
    assert found["estimate"] == pytest.approx(expected, rel=1e-4)
    assert (found["high"] - found["low"]) / 2 == pytest.approx(stats.norm.ppf(0.95) * spread, rel=1e-3)


def drawn_toward(estimate: float, se: float, mean: float, sd: float) -> tuple[float, float]:
    """Mean and SD of the product of two normal densities, by the grid."""
    x = np.linspace(-60, 60, 120_001)
    weight = stats.norm.pdf(x, estimate, se) * stats.norm.pdf(x, mean, sd)
    middle = np.average(x, weights=weight)
    return middle, np.sqrt(np.average((x - middle) ** 2, weights=weight))


def test_what_carbohydrate_does_is_drawn_toward_what_it_does_to_people():
    """Five mg/dL per 10 g, SD 3 between people; areas of 65 and 75 min of that.

    Two dishes that differ in all they hold leave it at that, and claim nothing by it.
    """
    areas = {"iauc_2h_mg_dl_min": (5 * 65, 3 * 65), "net_area_3h_mg_dl_min": (5 * 75, 3 * 75)}
    assert FACTORS["carbs_g"].expected == {"rise_mg_dl": (5.0, 3.0)} | areas
    rng = np.random.default_rng(11)
    carbs_g = rng.permutation(np.tile([50.0, 52.0], 20))
    found = ask("carbs_g", "rise", carbs_g=carbs_g, rise_mg_dl=35 + rng.normal(0, 12, 40))
    assert found["estimate"] == pytest.approx(5.0, abs=0.6)
    assert found["high"] - found["low"] == pytest.approx(2 * stats.norm.ppf(0.95) * 3, rel=0.1)
    assert found["p_value"] > 0.05


def test_one_evening_in_sixteen_something_is_eaten_two_hours_after_the_last_meal_written():
    """A sixteenth of two hours squared: a quarter of an hour squared is error, whatever is written."""
    factor = FACTORS["last_meal_to_sleep_h"]
    assert error_variance(factor, np.array([2.0, 5.0]), None) == pytest.approx(2**2 / 16)
    fasting_h = 2 + RISING / 4
    found = ask("last_meal_to_sleep_h", "sleep", last_meal_to_sleep_h=fasting_h, next_asleep_h=7 + 0.2 * fasting_h)
    by = grown(0.25 / np.var(fasting_h, ddof=1))
    assert found["estimate"] == pytest.approx(0.2 * by.mean(), rel=1e-4)
    assert (found["high"] - found["low"]) / 2 == pytest.approx(stats.norm.ppf(0.95) * 0.2 * by.std(), rel=1e-3)


def test_an_effect_is_said_as_a_share_of_meals_without_it():
    """Walked meals rise by 20 instead of 40 on average: half less, with the error of that 40 counted in."""
    rng = np.random.default_rng(4)
    walk = np.tile([0.0, 1.0], 30)
    rise = np.where(walk == 1, 20.0, 40.0) + rng.normal(0, 4, 60)
    found = ask("walk_after", "rise", walk_after=walk, rise_mg_dl=rise, iauc_2h_mg_dl_min=60 * rise)
    usual = rise[walk == 0]
    assert found["share"] == pytest.approx(found["estimate"] / usual.mean())
    assert found["share"] == pytest.approx(-0.5, abs=0.05)
    error = stats.sem(usual) / usual.mean()
    for end, outward in (("low", -1), ("high", 1)):
        own = (found[end] - found["estimate"]) / usual.mean()
        both = np.hypot(own, stats.norm.ppf(0.95) * found["share"] * error)
        assert found[f"share_{end}"] - found["share"] == pytest.approx(outward * both)


@pytest.mark.parametrize("level", [0.5, -20.0])
def test_a_share_of_nothing_is_not_given(level):
    rng = np.random.default_rng(5)
    walk = np.tile([0.0, 1.0], 30)
    rise = level + rng.normal(0, 8, 60)
    found = ask("walk_after", "rise", walk_after=walk, rise_mg_dl=rise, iauc_2h_mg_dl_min=60 * rise)
    assert np.isfinite(found["estimate"])
    assert np.isnan([found[name] for name in ("share", "share_low", "share_high")]).all()


def test_only_what_scales_a_response_has_a_share():
    found = ask("fiber_g", "rise", fiber_g=np.arange(40.0) % 13, rise_mg_dl=30.0 + np.arange(40) % 7)
    assert np.isnan(found["share"])


@pytest.mark.parametrize(("outcome", "column"), [("rise", "rise_mg_dl"), ("iauc", "iauc_2h_mg_dl_min")])
def test_the_evenings_interval_holds_that_other_hours_differ_too(outcome, column, monkeypatch):
    """A tenth of a usual response, of the evening and of three other parts: 0.1 · sqrt(1 + 1/3) of it."""
    rng = np.random.default_rng(6)
    evening = np.tile([0.0, 0.0, 1.0], 20)
    rise = 40 + 8 * evening + rng.normal(0, 5, 60)
    rows = {"evening_meal": evening, "day": np.repeat(np.arange(20), 3), "rise_mg_dl": rise}
    rows |= {"iauc_2h_mg_dl_min": 50 * rise}
    wide = ask("evening_meal", outcome, **rows)
    monkeypatch.setattr(effects, "HOURS_SD", 0.0)
    own = ask("evening_meal", outcome, **rows)
    more = stats.norm.ppf(0.95) * 0.1 * np.sqrt(4 / 3) * rows[column][evening == 0].mean()
    for end in ("low", "high"):
        assert abs(wide[end] - wide["estimate"]) == pytest.approx(np.hypot(own[end] - own["estimate"], more))
    assert (wide["estimate"], wide["p_value"]) == (own["estimate"], own["p_value"])


def test_a_share_is_of_a_meal_of_usual_size():
    """Walks take 40 % off meals that do a mg/dL a gram, and follow meals of 55 g against 35 without one."""
    rng = np.random.default_rng(7)
    walk = np.tile([0.0, 1.0], 40)
    carbs_g = np.where(walk == 1, 55.0, 35.0) + rng.uniform(-25, 25, 80)
    rise = carbs_g * (1 - 0.4 * walk) + rng.normal(0, 2, 80)
    found = ask("walk_after", "rise", walk_after=walk, carbs_g=carbs_g, rise_mg_dl=rise, iauc_2h_mg_dl_min=60 * rise)
    plain = found["estimate"] / rise[walk == 0].mean()
    assert abs(found["share"]) < abs(plain)


def test_a_share_of_more_than_everything_is_not_given():
    rng = np.random.default_rng(8)
    walk = np.tile([0.0, 1.0], 30)
    rise = np.where(walk == 1, -15.0, 10.0) + rng.normal(0, 2, 60)
    found = ask("walk_after", "rise", walk_after=walk, rise_mg_dl=rise, iauc_2h_mg_dl_min=60 * rise)
    assert found["estimate"] < -20
    assert np.isnan(found["share"])
