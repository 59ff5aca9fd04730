"""Are invented people drawn as those who were measured? Means, spreads and shares, counted over many."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.simulate import draw_logs, draw_wearer, simulate_life
from glucolab.simulate.exercise import exercise_heights
from glucolab.simulate.logs import write_logs

N = 3000
START = pd.Timestamp("2026-02-03T08:00Z")
END = START + pd.Timedelta(days=14)


@pytest.fixture(scope="module")
def wearers():
    rng = np.random.default_rng(7)
    return [draw_wearer(rng, level_mg_dl=90.0, dishes=0) for _ in range(N)]


@pytest.fixture(scope="module")
def bodies(wearers):
    return pd.DataFrame([vars(wearer.body) for wearer in wearers])


@pytest.fixture(scope="module")
def effects(wearers):
    return pd.DataFrame([vars(wearer.effects) for wearer in wearers])


def within_chance(share, n=N):
    """Three standard errors of a share."""
    return pytest.approx(share, abs=3 * np.sqrt(share * (1 - share) / n))


def test_times_to_peak_reach_from_standard_meals_to_free_life(bodies):
    """46-50 min (Freckmann 2007) and 97 ± 31 by person (DuBose 2020, PubMed 32064911), one standard deviation beyond
    it included; log-normal with median 65 and SD 0.4: 14.1 % at 100 or later, 5.0 % before 33.7.
    """
    peak = bodies["time_to_peak_min"]
    assert peak.median() == pytest.approx(65, abs=3 * 1.2533 * 0.4 * 65 / np.sqrt(N))
    assert (peak >= 100).mean() == within_chance(0.141)
    assert (peak < 33.7).mean() == within_chance(0.05)
    assert (peak.between(46, 97)).mean() > 0.6
    assert (peak > 97 + 31).any()


def test_late_peaks_do_not_last_for_most_of_the_day(bodies):
    """The response's half-width at its top, peak / √sharpness, grows with the root of the peak alone."""
    late = bodies["time_to_peak_min"] > 66
    width = bodies["time_to_peak_min"] / np.sqrt(bodies["sharpness"])
    slope = np.polyfit(np.log(bodies["time_to_peak_min"][late]), np.log(width[late]), 1)[0]
    assert slope == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize(
    ("kinds", "mean", "spread"), [(("run", "bicycle"), -15, 18), (("strength",), -9, None)], ids=["aerobic", "strength"]
)
def test_exercise_takes_glucose_as_far_down_as_in_measured_people(wearers, kinds, mean, spread):
    """From start to nadir -15 ± 18 mg/dL, strength training -9 (153 healthy people, DuBose 2020, PubMed 32064911)."""
    rng = np.random.default_rng(2)
    heights = []
    for wearer in wearers:
        effort = "vigorous" if rng.random() < 0.45 else "moderate"
        done = pd.DataFrame({"kind": [rng.choice(kinds)], "effort": [effort], "minutes": [40.0]})
        heights.append(exercise_heights(rng, wearer, done)[0])
    assert np.mean(heights) == pytest.approx(mean, abs=1.1)
    if spread is not None:
        assert np.std(heights) == pytest.approx(spread, rel=0.08)
    assert 0.05 < np.mean(np.array(heights) > 0) < 0.4


def test_a_light_walk_neither_raises_nor_lowers_by_itself():
    walk = pd.DataFrame({"kind": ["walk"], "effort": ["light"], "minutes": [20.0]})
    wearer = draw_wearer(np.random.default_rng(3), exercise_fall_mg_dl=30.0, exercise_rise_mg_dl=20.0)
    assert exercise_heights(np.random.default_rng(4), wearer, walk)[0] == 0


def test_protein_lowers_two_to_three_times_as_much_as_fat(effects):
    """-0.2 and -0.08 of the log per 10 g in whoever has an effect, a third has none (J Nutr 2006;136:2506)."""
    protein, fat = (effects[name][effects[name] != 0] for name in ("protein", "fat"))
    assert protein.mean() == pytest.approx(-0.2, abs=3 * 0.07 / np.sqrt(len(protein)))
    assert fat.mean() == pytest.approx(-0.08, abs=3 * 0.03 / np.sqrt(len(fat)))
    assert 2 < protein.mean() / fat.mean() < 3
    assert effects[["protein", "fat"]].max().max() <= 0
    assert len(protein) / N == within_chance(2 / 3)
    assert len(fat) / N == within_chance(2 / 3)


def test_evenings_reach_the_published_areas(effects):
    """Areas 25-50 % greater, log 0.22-0.41 (PMC7031264): the upper two fifths of -0.05 to 0.4 among two thirds."""
    assert (effects["evening"] > 0.22).mean() == within_chance(2 / 3 * 0.18 / 0.45)
    assert effects["evening"].between(-0.05, 0.4).all()
    assert effects["evening"].max() > 0.39
    assert effects["evening"].min() < -0.04


def test_short_nights_leave_half_of_all_responses_as_they_are(effects):
    """Three controlled studies found no change (references A3)."""
    moved = effects["short_night_response"]
    assert (moved == 0).mean() == within_chance(0.5)
    assert moved[moved > 0].mean() == pytest.approx(0.05, abs=3 * 0.029 / np.sqrt(N / 2))
    assert moved.max() < 0.1


def test_dawn_is_small_for_most(bodies):
    """Healthy plasma is flat in the early morning; 0-5 for most, 12 a rare tail: exponential of mean 2.2 [mg/dL]."""
    dawn = bodies["dawn_mg_dl"]
    assert (dawn < 5).mean() == within_chance(1 - np.exp(-5 / 2.2))
    assert (dawn == 12).mean() == within_chance(np.exp(-12 / 2.2))
    assert dawn.max() == 12


@pytest.fixture(scope="module")
def portions():
    """A row a logged meal: log, log of the true carbohydrate, log error of carbohydrate and of protein."""
    rng = np.random.default_rng(5)
    rows = []
    for i in range(60):
        lived = simulate_life(rng, draw_wearer(rng, level_mg_dl=90.0), START, END, ZoneSpans(("UTC",)))
        log = write_logs(rng, lived, draw_logs(rng), START, END)["meals"]
        true = lived.meals.loc[log["meal"]]
        ratio = {
            name: np.log(log[f"{name}_g"].to_numpy() / true[f"{name}_g"].to_numpy()) for name in ("carbs", "protein")
        }
        rows.append(pd.DataFrame(ratio | {"log": i, "size": np.log(true["carbs_g"].to_numpy())}))
    found = pd.concat(rows)
    return found[np.isfinite(found["carbs"]) & np.isfinite(found["protein"])]


def test_portions_are_estimated_with_the_published_error(portions):
    """CV about 20 % of nutrients (DAPA toolkit), 35 % of the error's variance by meal size (references A1)."""
    by_log = portions.groupby("log")
    within = portions[["carbs", "size"]] - by_log[["carbs", "size"]].transform("mean")
    assert within["carbs"].std() == pytest.approx(0.2, abs=0.015)
    assert np.corrcoef(within["carbs"], within["size"])[0, 1] ** 2 == pytest.approx(0.35, abs=0.08)
    assert np.polyfit(within["size"], within["carbs"], 1)[0] < 0


def test_a_misjudged_portion_misstates_everything_on_the_plate(portions):
    large = portions[portions["size"] > np.log(40)]
    within = large[["carbs", "protein"]] - large.groupby("log")[["carbs", "protein"]].transform("mean")
    assert 0.5 < np.corrcoef(within["carbs"], within["protein"])[0, 1] < 0.85


def test_energy_counts_alcohol():
    """Regulation (EU) 1169/2011, annex XIV: 4, 4, 9, 2 and 7 kcal/g."""
    rng = np.random.default_rng(6)
    lived = simulate_life(rng, draw_wearer(rng, level_mg_dl=90.0, drink_share=0.8), START, END, ZoneSpans(("UTC",)))
    meals = write_logs(rng, lived, draw_logs(rng, nutrients_share=1.0), START, END)["meals"]
    drunk = meals["alcohol_g"].notna()
    assert 0.4 * 14 < drunk.sum() <= 14
    assert meals.loc[drunk, "alcohol_g"].between(10, 30).all()
    factors = {"carbs_g": 4, "protein_g": 4, "fat_g": 9, "fiber_g": 2, "alcohol_g": 7}
    kcal = sum(meals[name].fillna(0) * factor for name, factor in factors.items())
    np.testing.assert_allclose(meals["energy_kcal"], kcal, atol=5.001)
