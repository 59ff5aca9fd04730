"""Do the invented meter and log err as real ones do, and no more?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.simulate import EXACT_LOGS, NO_LOGS, Logs, Meter, draw_logs, draw_meter, draw_wearer, simulate_life
from glucolab.simulate.logs import write_logs
from glucolab.simulate.meter import choose_check_times, take_checks

START = pd.Timestamp("2026-02-03T08:00Z")
END = START + pd.Timedelta(days=14)


@pytest.fixture(scope="module")
def lived():
    rng = np.random.default_rng(1)
    wearer = draw_wearer(
        rng,
        snacks_per_day=2.0,
        stress_events_per_day=1.0,
        energy_per_sleep_h=0.0,
        energy_per_dip=0.0,
        energy_per_rise=0.0,
    )
    return simulate_life(rng, wearer, START, END, ZoneSpans(("UTC",)))


def test_drawn_meters_are_compliant_most_of_the_time(lived):
    """95 % within 15 mg/dL below 100 and within 15 % above (ISO 15197:2013, table in PMC4525642)."""
    rng = np.random.default_rng(2)
    times = choose_check_times(rng, lived, 40, START, END)
    within = []
    for _ in range(60):
        checks = take_checks(rng, lived, draw_meter(rng, gross_share=0.0), times)
        error = (checks["glucose_mg_dl"] - checks["blood_mg_dl"]).abs()
        within.append((error <= np.where(checks["blood_mg_dl"] < 100, 15, 0.15 * checks["blood_mg_dl"])).mean())
    assert 0.93 < np.mean(within) < 0.999


def test_a_meters_bias_is_in_all_its_checks_and_gross_errors_are_marked(lived):
    rng = np.random.default_rng(3)
    times = choose_check_times(rng, lived, 200, START, END)
    checks = take_checks(rng, lived, Meter(bias_percent=6, random_percent=3, gross_share=0.2), times)
    ratio = checks["glucose_mg_dl"] / checks["blood_mg_dl"]
    assert ratio[~checks["gross"]].mean() == pytest.approx(1.06, abs=0.01)
    assert ratio[checks["gross"]].min() > 1.15
    assert 0.1 < checks["gross"].mean() < 0.3


def test_check_times_are_spread_over_the_wear_and_the_day(lived):
    times = choose_check_times(np.random.default_rng(4), lived, 24, START, END)
    assert len(times) >= 18
    assert times.min() > START
    assert times.max() < END
    assert len(np.unique(times.floor("D"))) >= 9
    assert times.hour.max() - times.hour.min() > 10


def test_an_exact_log_holds_what_was_eaten_when_it_was(lived):
    meals = write_logs(np.random.default_rng(5), lived, EXACT_LOGS, START, END)["meals"]
    eaten = lived.meals.loc[meals["meal"]]
    assert len(meals) == ((lived.meals["time"] > START) & (lived.meals["time"] < END)).sum()
    assert (meals["time"].to_numpy() - eaten["time"].to_numpy() <= pd.Timedelta(seconds=30)).all()
    np.testing.assert_allclose(meals["carbs_g"], eaten["carbs_g"].round(0))


def test_a_sparse_log_misses_snacks_and_is_late(lived):
    rng = np.random.default_rng(6)
    meals = write_logs(rng, lived, draw_logs(rng, sparse=True, late_min=10.0), START, END)["meals"]
    eaten = lived.meals.loc[meals["meal"]]
    snacks = eaten["slot"].str.contains("snack").sum(), lived.meals["slot"].str.contains("snack").sum()
    assert snacks[0] < 0.6 * snacks[1]
    late = (meals["time"].to_numpy() - eaten["time"].to_numpy()) / pd.Timedelta(minutes=1)
    assert 5 < np.mean(late) < 16


def test_no_log_leaves_no_table(lived):
    assert write_logs(np.random.default_rng(7), lived, NO_LOGS, START, END) == {}


def test_two_trackers_see_the_same_nights_with_errors_of_their_own(lived):
    logs = Logs(trackers=(("watch", -10.0, 5.0, 1.0), ("mattress", 30.0, 25.0, 0.7)))
    sleep = write_logs(np.random.default_rng(8), lived, logs, START, END)["sleep"]
    true = lived.sleep.set_index(lived.sleep["end"].dt.date)["asleep_min"]
    off = {
        name: rows["asleep_min"].to_numpy() - true[rows["end"].dt.date].to_numpy()
        for name, rows in sleep.groupby("source")
    }
    assert np.mean(off["watch"]) == pytest.approx(-10, abs=6)
    assert np.mean(off["mattress"]) > 8
    assert len(off["mattress"]) < len(off["watch"])
