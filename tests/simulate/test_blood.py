"""Do invented people look like those without diabetes who were measured? Against published cohorts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans, local_hours, to_local
from glucolab.simulate import Body, Dish, Effects, Wearer, draw_wearer, simulate_life, usual_mean_mg_dl
from glucolab.simulate.definitions import measure_responses

UTC = ZoneSpans(("UTC",))
START = pd.Timestamp("2026-02-03T08:00Z")


@pytest.fixture(scope="module")
def people():
    """A row an invented person over two weeks."""
    rng = np.random.default_rng(7)
    rows = []
    for _ in range(60):
        lived = simulate_life(rng, draw_wearer(rng), START, START + pd.Timedelta(days=14), UTC)
        blood = lived.blood_mg_dl
        meals = measure_responses(blood, lived.minute(lived.meals["time"]))[lived.meals["carbs_g"].to_numpy() > 25]
        by_day = pd.Series(blood).groupby(lived.days.of(lived.time)).mean().iloc[1:-1]
        hours = local_hours(lived.time, UTC)
        rows.append({
            "mean": blood.mean(), "cv": 100 * blood.std() / blood.mean(),
            "above": (blood > 140).mean(), "below": (blood < 70).mean(),
            "peak": meals["time_to_peak_min"].median(), "rise": meals["rise_mg_dl"].median(), "day_sd": by_day.std(),
            "night_below_day": blood[hours >= 6].mean() - blood[hours < 6].mean(), "hourly": blood[60:] - blood[:-60],
            "fasting_sd": np.std(blood[np.clip(lived.minute(lived.sleep["end"]), 0, len(blood) - 1).astype(int)]),
        })  # fmt: skip
    return pd.DataFrame(rows)


def test_mean_and_variation_are_those_of_healthy_people(people):
    """Mean 98-99 mg/dL, CV 17 +- 3 % (Shah et al., J Clin Endocrinol Metab 2019;104:4356, n = 153)."""
    assert people["mean"].mean() == pytest.approx(99, abs=2.5)
    assert people["cv"].mean() == pytest.approx(17, abs=1.5)
    assert 2 < people["cv"].std() < 4.5


def test_time_above_and_below_lies_among_published_cohorts(people):
    """Above 140: from 0.4 % (JDRF 2010) to 12 % (Spartano 2024); below 70: about 1 % (Shah 2019)."""
    assert 0.004 < people["above"].mean() < 0.12
    assert people["below"].mean() < 0.03


def test_meals_peak_when_measured_meals_do(people):
    """From 46-50 min after standard meals (Freckmann et al., J Diabetes Sci Technol 2007;1:695) to 97 by person in free
    life (DuBose 2020, PubMed 32064911), of which the two hours looked at here cut the latest; 50-60 g rise 20-55 mg/dL.
    """
    assert people["peak"].quantile(0.1) < 46
    assert 48 < people["peak"].median() < 80
    assert people["peak"].quantile(0.95) > 90
    assert 20 < people["rise"].median() < 50


def test_nights_are_lower_than_days(people):
    """By 4 (JDRF 2010) to 11 mg/dL (Freckmann 2007)."""
    assert 4 < people["night_below_day"].mean() < 13


def test_days_differ_as_fasting_values_do(people):
    """Within-person day-to-day SD of fasting values 7.52 +- 4.31 mg/dL (Shilo et al., Nat Med 2024, n = 8315)."""
    assert 4 < people["fasting_sd"].mean() < 10
    assert 3 < people["day_sd"].mean() < 7.5


def test_changes_within_an_hour_stay_near_the_published_extremes(people):
    """0.1, 1, 99, 99.9 percentiles -80, -50, +56, +89 mg/dL per hour (doi 10.1177/19322968241298248, n = 153)."""
    found = np.percentile(np.concatenate(people["hourly"].to_list()), [0.1, 1, 99, 99.9])
    np.testing.assert_allclose(found, [-80, -50, 56, 89], rtol=0.5)


def test_usual_mean_is_the_mean_of_a_very_long_life():
    wearer = draw_wearer(np.random.default_rng(3), day_sd_mg_dl=2.0, day_autocorrelation=0.0, ill_share=0.03)
    lived = simulate_life(np.random.default_rng(4), wearer, START, START + pd.Timedelta(days=900), UTC)
    assert lived.blood_mg_dl.mean() == pytest.approx(usual_mean_mg_dl(wearer), abs=0.5)


def test_a_drawn_usual_mean_is_met_and_habits_move_it():
    wearer = draw_wearer(
        np.random.default_rng(5),
        usual_mean_mg_dl=103.0,
        walk_after=-0.4,
        walk_share=0.1,
        rise_per_g=1.0,
        dip_fraction=0.1,
    )
    assert usual_mean_mg_dl(wearer) == pytest.approx(103.0)
    walks_more = replace(wearer, habits=replace(wearer.habits, walk_share=0.7))
    assert 99.0 < usual_mean_mg_dl(walks_more) < 102.3


def test_life_follows_the_local_clock_over_a_clock_change_and_a_trip():
    zones = ZoneSpans(("Europe/Warsaw", "Asia/Tbilisi"), (pd.Timestamp("2026-10-28T11:00Z"),))
    wearer = Wearer(Body(), dishes=(Dish("soup", "main", 40),))
    lived = simulate_life(
        np.random.default_rng(6), wearer, pd.Timestamp("2026-10-20T08:00Z"), pd.Timestamp("2026-11-01T08:00Z"), zones
    )
    lunch = lived.meals[
        (lived.meals["slot"] == "lunch") & (lived.meals["time"].dt.date != pd.Timestamp("2026-10-28").date())
    ]
    hours = to_local(lunch["time"], zones).hour
    assert hours.min() >= 11
    assert hours.max() <= 15
    assert lunch["time"].is_monotonic_increasing


def test_nothing_but_the_level_moves_a_body_without_knobs():
    still = Body(
        level_mg_dl=91,
        day_sd_mg_dl=0,
        wander_sd_mg_dl=0,
        circadian_mg_dl=0,
        dawn_mg_dl=0,
        rise_per_g=0,
        exercise_rise_mg_dl=0,
    )
    lived = simulate_life(
        np.random.default_rng(8), Wearer(still, effects=Effects(ill=0)), START, START + pd.Timedelta(days=3), UTC
    )
    np.testing.assert_allclose(lived.blood_mg_dl, 91.0)
    assert usual_mean_mg_dl(lived.wearer) == 91.0


def test_an_unknown_knob_is_refused_by_name():
    with pytest.raises(TypeError, match="no knob rise_per_gram"):
        draw_wearer(np.random.default_rng(1), rise_per_gram=1.0)
