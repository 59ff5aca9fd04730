"""Are invented studies as reading would give them, with a truth that agrees with itself?"""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

from glucolab.clock import ZoneSpans
from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study
from glucolab.record import Person, empty_table
from glucolab.simulate import (
    Logs,
    draw_meter,
    draw_sensor,
    draw_wearer,
    gather,
    simulate_demo,
    simulate_study,
    simulate_wear,
    write_study,
)

START = pd.Timestamp("2026-03-24T07:10:00Z")


@pytest.fixture(scope="module")
def worn():
    rng = np.random.default_rng(1)
    return simulate_wear(
        rng, draw_wearer(rng), draw_sensor(rng, interval_min=5.0), START, meter=draw_meter(rng), checks=8
    )


def test_tables_have_the_schemas_columns_and_types(worn):
    for name, table in worn.record.tables.items():
        empty = empty_table(name)
        assert list(table.columns)[: empty.shape[1]] == list(empty.columns)
        assert (table.dtypes.iloc[: empty.shape[1]] == empty.dtypes).all(), name
        assert list(table.index) == list(range(2, len(table) + 2))


def test_true_bias_is_what_the_undisturbed_sensor_reads_above_blood(worn):
    settled = worn.truth.readings[~worn.truth.readings["warm_up"]]
    read_high = (settled["undisturbed_mg_dl"] - settled["blood_mg_dl"]).mean()
    assert worn.truth.bias_mg_dl == pytest.approx(read_high, abs=0.8)


def test_true_mean_is_that_of_the_blood_at_the_readings(worn):
    truth = worn.truth
    assert truth.mean_mg_dl == pytest.approx(truth.readings["blood_mg_dl"].mean(), abs=0.7)
    assert truth.minutes_below + truth.minutes_in_range + truth.minutes_above == pytest.approx(1440)
    assert len(truth.readings) == len(worn.record.glucose)
    assert truth.readings.index.equals(worn.record.glucose.index)
    assert len(truth.blood_mg_dl) == 14 * 1440


def test_mean_while_wearing_scatters_about_the_usual_mean():
    rng = np.random.default_rng(2)
    off = []
    for _ in range(40):
        wearer = draw_wearer(rng)
        truth = simulate_wear(rng, wearer, draw_sensor(rng, interval_min=15.0), START, logs=Logs()).truth
        off.append(truth.mean_mg_dl - truth.usual_mean_mg_dl)
    assert abs(np.mean(off)) < 4 * np.std(off) / np.sqrt(40)
    assert 0.7 < np.std(off) < 3.5


def test_the_same_seed_gives_the_same_study():
    one, two = (simulate_study(np.random.default_rng(3), wears=2) for _ in range(2))
    for a, b in zip(one.study.wears, two.study.wears, strict=True):
        assert a.tables.keys() == b.tables.keys()
        for name in a.tables:
            pd.testing.assert_frame_equal(a.table(name), b.table(name))
    other = simulate_study(np.random.default_rng(4), wears=2)
    assert not other.study.wears[0].glucose["glucose_mg_dl"].equals(one.study.wears[0].glucose["glucose_mg_dl"])


def test_changes_of_level_are_the_changes_of_the_usual_mean():
    made = simulate_study(np.random.default_rng(5), wears=3, level_changes_mg_dl=[0.0, -5.0, -9.0])
    found = made.truth.changes.set_index(["period_a", "period_b"])["difference_mg_dl"]
    assert found["wear_1", "wear_2"] == pytest.approx(-5)
    assert found["wear_2", "wear_3"] == pytest.approx(-4)


def test_sensors_side_by_side_see_one_blood():
    made = simulate_study(np.random.default_rng(6), wears=2, side_by_side=True, one_model=False)
    a, b = made.wears
    np.testing.assert_array_equal(a.truth.blood_mg_dl, b.truth.blood_mg_dl)
    assert a.record.sensor_model != b.record.sensor_model
    pd.testing.assert_frame_equal(a.record.meals, b.record.meals)
    assert made.truth.changes["difference_mg_dl"].iloc[0] == 0


def test_a_written_study_reads_back_as_it_was(tmp_path):
    """Over the spring clock change, in another zone, in mmol/L, with every table and both laboratory tables."""
    rng = np.random.default_rng(7)
    made = simulate_study(
        rng,
        wears=2,
        first_start=START,
        apart_days=30,
        zones=ZoneSpans(("America/St_Johns",)),
        sensor={"rounds_to_mmol_l": True},
    )
    write_study(made.study, tmp_path / "study")
    _same(made.study, read_study(tmp_path / "study"))


def test_a_running_wear_reads_back_without_an_end(tmp_path):
    rng = np.random.default_rng(9)
    one = simulate_wear(rng, draw_wearer(rng), draw_sensor(rng), START, 4.0, running=True)
    study = gather("study", [one], Person("Europe/Warsaw")).study
    write_study(study, tmp_path)
    read = read_study(tmp_path, now=START + pd.Timedelta(days=4))
    assert read.wears[0].running
    assert read.wears[0].end is None
    assert read.wears[0].ended is None
    _same(study, read)


def test_the_demo_reads_back_as_it_was(tmp_path):
    study = simulate_demo().study
    write_study(study, tmp_path)
    read = read_study(tmp_path)
    assert read.problems == ()
    _same(study, read)


def _same(made, read):
    assert (made.person, made.goal, made.unit) == (read.person, read.goal, read.unit)
    for name in made.tables:
        pd.testing.assert_frame_equal(made.table(name), read.table(name))
    for a, b in zip(made.wears, read.wears, strict=True):
        for field in (f.name for f in fields(a) if f.name not in ("tables", "found_walks")):
            assert getattr(a, field) == getattr(b, field), field
        assert a.tables.keys() == b.tables.keys()
        for name in a.tables:
            pd.testing.assert_frame_equal(a.table(name), b.table(name))


def test_a_folder_with_something_in_it_is_left_alone(tmp_path):
    (tmp_path / "README.md").write_text("mine")
    study = simulate_study(np.random.default_rng(8), wears=1).study
    write_study(study, tmp_path)
    with pytest.raises(NothingToDo, match="not empty"):
        write_study(study, tmp_path)
    assert (tmp_path / "README.md").read_text() == "mine"
