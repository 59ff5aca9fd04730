"""Is an error of the log where the truth says it is, and nowhere else? And do grazers eat as they are told?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.reading.folder import read_study
from glucolab.record import Person
from glucolab.simulate import (
    EXACT_LOGS,
    Logs,
    draw_logs,
    draw_sensor,
    draw_wearer,
    gather,
    simulate_wear,
    write_study,
)

START = pd.Timestamp("2026-02-03T08:00Z")
AMOUNTS = ["carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal"]


def _wear(logs, seed=1, days=14.0, **knobs):
    rng = np.random.default_rng(seed)
    wearer, sensor = draw_wearer(rng, level_mg_dl=90.0, **knobs), draw_sensor(rng, interval_min=15.0)
    return simulate_wear(rng, wearer, sensor, START, days, logs=logs)


@pytest.fixture(scope="module")
def plain():
    return _wear(Logs())


@pytest.fixture(scope="module")
def shifted():
    return _wear(Logs(clock_min=48.0))


@pytest.fixture(scope="module")
def slipped():
    return _wear(Logs(slip_share=0.5))


@pytest.mark.parametrize(("name", "column"), [("meals", "time"), ("activity", "start"), ("feelings", "time")])
def test_a_clock_that_is_ahead_moves_what_is_written_by_it(plain, shifted, name, column):
    before, after = plain.record.table(name)[column], shifted.record.table(name)[column]
    lost = len(before) - len(after)
    assert lost <= 2
    moved = after.to_numpy() - before.to_numpy()[: len(after)]
    assert (moved == pd.Timedelta(minutes=48)).all()
    assert shifted.truth.log_errors.clock_min == 48
    assert plain.truth.log_errors.clock_min == 0


def test_trackers_blood_and_readings_keep_their_time(plain, shifted):
    for name in ("sleep", "days", "glucose"):
        pd.testing.assert_frame_equal(plain.record.table(name), shifted.record.table(name))
    np.testing.assert_array_equal(plain.truth.blood_mg_dl, shifted.truth.blood_mg_dl)
    for figure in ("mean_mg_dl", "overnight_mean_mg_dl", "usual_mean_mg_dl", "bias_mg_dl"):
        assert getattr(plain.truth, figure) == getattr(shifted.truth, figure)


def test_the_truth_knows_when_a_meal_of_a_wrong_clock_was_eaten(shifted):
    delays = (shifted.truth.occasions["time"] - shifted.truth.occasions["true_time"]) / pd.Timedelta(minutes=1)
    assert delays.median() == pytest.approx(48 + Logs().late_min, abs=2)


def test_every_slip_is_where_the_truth_says_and_no_other_cell_differs(plain, slipped):
    meant = plain.logged["meals"].set_index("meal")
    written, slips = slipped.record.meals, slipped.truth.log_errors.slips
    assert len(slips) > 10
    assert (slips["table"] == "meals").all()
    of_line = slipped.logged["meals"]["meal"]
    for slip in slips.itertuples():
        assert written.loc[slip.line, slip.column] == slip.written
        assert meant.loc[of_line[slip.line], slip.column] == slip.meant
    compared = slipped.logged["meals"].set_index("meal").loc[meant.index]
    differing = {
        (meal, column)
        for column in [*AMOUNTS, "time"]
        for meal in meant.index[(compared[column] != meant[column]) & ~(compared[column].isna() & meant[column].isna())]
    }
    assert differing == {(of_line[slip.line], slip.column) for slip in slips.itertuples()}


def test_slips_are_of_points_units_and_dates(slipped):
    slips = pd.concat([_wear(Logs(slip_share=0.5), seed).truth.log_errors.slips for seed in range(2, 8)])
    points, units, dates = (slips[slips["kind"] == kind] for kind in ("point", "unit", "date"))
    assert set(np.round((points["written"] / points["meant"]).astype(float), 6)) == {10.0, 100.0}
    energy = units[units["column"] == "energy_kcal"]
    np.testing.assert_allclose((energy["written"] / energy["meant"]).astype(float), 4.184, rtol=0.01)
    grams = units[(units["column"] != "energy_kcal") & (units["meant"] > 20)]
    np.testing.assert_allclose((grams["meant"] / grams["written"]).astype(float), 28.35, rtol=0.08)
    apart = (dates["written"] - dates["meant"]).map(abs)
    assert (apart == pd.Timedelta(days=1)).all()
    assert 0 < len(dates) < 0.2 * len(slips)
    assert len(points) > len(units) > len(dates)


def test_slips_are_as_many_as_asked():
    """A share of 0.2 of all meals, but for those of nothing to slip on; a moved date may fall out of the wear."""
    wears = [_wear(Logs(slip_share=0.2), seed) for seed in range(20, 32)]
    slips = sum(len(worn.truth.log_errors.slips) for worn in wears)
    meals = sum(len(worn.record.meals) for worn in wears)
    assert 0.15 < slips / meals < 0.2 + 3 * np.sqrt(0.16 / meals)


def test_a_wrong_date_does_not_make_meals_late(slipped):
    study = gather("slipped", [slipped], Person("Europe/Warsaw"), long_days=30)
    straight = gather("plain", [_wear(Logs())], Person("Europe/Warsaw"), long_days=30)
    both = study.truth.dishes.merge(straight.truth.dishes, on="dish")
    assert (both["rise_mg_dl_x"] - both["rise_mg_dl_y"]).abs().max() < 2


def test_a_careless_log_is_off_as_often_and_as_far_as_those_of_two_sensors():
    """In 5 of 29 people, 15-65 min."""
    rng = np.random.default_rng(9)
    logs = [draw_logs(rng, careless=True) for _ in range(2000)]
    off = np.array([log.clock_min for log in logs])
    assert (off != 0).mean() == pytest.approx(5 / 29, abs=3 * np.sqrt(5 / 29 * 24 / 29 / 2000))
    assert np.abs(off[off != 0]).min() >= 15
    assert np.abs(off).max() <= 75
    assert abs((off > 0).sum() - (off < 0).sum()) < 3 * np.sqrt((off != 0).sum())
    assert np.mean([log.slip_share for log in logs]) == pytest.approx(0.0075, rel=0.05)
    assert np.mean([log.brisk_share for log in logs]) == pytest.approx(0.5, rel=0.05)


def test_a_plain_log_has_none_of_it():
    rngs = [np.random.default_rng(10) for _ in range(2)]
    plain, careless = draw_logs(rngs[0]), draw_logs(rngs[1], careless=True)
    assert (plain.clock_min, plain.slip_share, plain.brisk_share) == (0, 0, 0)
    apart = {name for name, value in vars(plain).items() if vars(careless)[name] != value}
    assert apart <= {"clock_min", "slip_share", "brisk_share"}


def test_brisk_walks_are_written_as_moderate_and_stay_walks():
    worn = _wear(Logs(brisk_share=0.6, activity_share=1.0), seed=11, days=60.0, walk_share=0.6)
    walks = worn.record.activity[worn.record.activity["kind"] == "walk"]
    share = (walks["effort"] == "moderate").mean()
    assert share == pytest.approx(0.6, abs=3 * np.sqrt(0.24 / len(walks)))
    assert set(worn.lived.activity.loc[worn.lived.activity["kind"] == "walk", "effort"]) == {"light"}
    assert worn.truth.occasions["walked"].sum() >= len(walks) - 3


@pytest.fixture(scope="module")
def grazer():
    return _wear(EXACT_LOGS, seed=12, days=40.0, bites_per_day=5.0, coffee_after_share=0.7, skip_breakfast=0.0)


def test_grazers_eat_often_and_little(grazer):
    meals = grazer.record.meals
    bites = grazer.lived.meals["slot"] == "bite snack"
    days = len(grazer.lived.life.dates)
    assert bites.sum() / days == pytest.approx(5.0, abs=3 * np.sqrt(5.0 / days))
    assert grazer.lived.meals.loc[bites, "carbs_g"].median() == pytest.approx(9, abs=2.5)
    assert len(meals) > 8 * 40


def test_black_coffee_follows_meals_within_two_hours_and_holds_nothing(grazer):
    coffees = grazer.record.meals[grazer.record.meals["name"] == "black coffee"]
    assert (coffees[["carbs_g", "fiber_g", "protein_g", "fat_g", "energy_kcal"]] == 0).all(axis=None)
    eaten = grazer.lived.meals
    before = eaten[eaten["slot"].isin(["breakfast", "lunch"])]
    drunk = eaten[eaten["slot"] == "coffee snack"]
    assert len(drunk) / len(before) == pytest.approx(0.7, abs=3 * np.sqrt(0.21 / len(before)))
    assert (drunk["height_mg_dl"] == 0).all()
    since = grazer.lived.minute(drunk["time"])[:, None] - grazer.lived.minute(before["time"])[None, :]
    nearest = np.where(since > 0, since, np.inf).min(axis=1)
    assert nearest.max() <= 80
    assert np.median(nearest) == pytest.approx(62, abs=5)


def test_the_truth_of_occasions_says_what_was_eaten(grazer):
    found = grazer.truth.occasions
    assert found["true_carbs_g"].sum() == pytest.approx(grazer.record.meals["carbs_g"].sum(), rel=0.01)
    assert (found["true_carbs_g"] == 0).any()


def test_an_unkind_study_reads_back_with_its_slips_named(tmp_path):
    worn = _wear(Logs(slip_share=0.2, clock_min=-30.0, brisk_share=0.5), seed=13, bites_per_day=3.0)
    write_study(gather("unkind", [worn], Person("Europe/Warsaw")).study, tmp_path / "unkind")
    read = read_study(tmp_path / "unkind").wears[0].meals
    slips = worn.truth.log_errors.slips
    hundredfold = slips[
        (slips["kind"] == "point") & (slips["written"].map(lambda v: v if np.isscalar(v) else 0) > 1000)
    ]
    assert len(hundredfold)
    for slip in hundredfold.itertuples():
        assert np.isnan(read.loc[slip.line, slip.column]), "nobody eats a kilogram of it"
