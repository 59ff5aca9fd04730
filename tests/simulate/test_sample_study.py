"""Does the sample study hold every stream and artefact it is meant to teach, and is it remade to the byte?"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from glucolab.record import WEAR_TABLES
from glucolab.simulate import simulate_demo, write_demo

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"


@pytest.fixture(scope="module")
def demo():
    return simulate_demo()


def test_the_sample_data_is_what_the_command_writes(tmp_path):
    write_demo(tmp_path)
    made = {p.relative_to(tmp_path): p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    kept = {p.relative_to(SAMPLE): p.read_bytes() for p in SAMPLE.rglob("*") if p.is_file() and p.name != "README.md"}
    assert made.keys() == kept.keys()
    assert [str(k) for k in made if made[k] != kept[k]] == []
    assert sum(len(v) for v in made.values()) < 2_000_000


def test_every_table_is_there_in_every_wear(demo):
    for wear in demo.study.wears:
        assert set(wear.tables) == set(WEAR_TABLES) - {"movement"}, wear.name
        assert wear.end is not None


def test_every_artefact_is_there(demo):
    winter, summer, autumn = (w.truth.readings for w in demo.wears)
    for kind in ("pressure", "jump", "stuck", "duplicate", "limit", "warm_up"):
        assert winter[kind].any() or autumn[kind].any(), kind
    assert autumn["loosening"].any()
    assert all(r["pressure"].sum() > 10 for r in (winter, summer, autumn))
    assert demo.study.wears[2].glucose["limit"].eq("low").any()


def test_the_summer_wear_is_scanned_missed_by_night_abroad_and_fell_off(demo):
    summer = demo.study.wears[1]
    assert (summer.ended, summer.memory_hours, summer.interval_min, summer.unit) == ("fell_off", 8, 15, "mmol/L")
    assert summer.end - summer.start < pd.Timedelta(days=11)
    assert (summer.glucose["taken"] == "by_hand").sum() > 30
    assert (summer.glucose["time"].diff() > pd.Timedelta(hours=1)).any()
    assert list(summer.notes["time_zone"].dropna()) == ["Asia/Tbilisi", "Europe/Warsaw"]


def test_the_autumn_wear_spans_the_clock_change(demo):
    autumn = demo.study.wears[2]
    change = pd.Timestamp("2026-10-25T01:00Z")
    assert autumn.start < change < autumn.end
    assert autumn.glucose["time"].between(change - pd.Timedelta(hours=1), change + pd.Timedelta(hours=1)).sum() > 20


def test_two_wears_share_a_model_and_all_have_checks(demo):
    models = [w.sensor_model for w in demo.study.wears]
    assert models[0] == models[2] != models[1]
    assert [len(w.checks) for w in demo.study.wears] == [6, 12, 8]
    assert {w.meter for w in demo.study.wears} == {"workshop meter"}


def test_panels_and_trial(demo):
    labs, trials = demo.study.labs, demo.study.trials
    assert labs.groupby("date").size().to_list() == [7, 7]
    arms = trials[trials["date"] != pd.Timestamp("2026-10-22")].groupby("arm").size()
    assert (arms >= 6).all()
    assert len(arms) == 2
    autumn = demo.wears[2]
    eaten = (
        autumn.record.meals[autumn.record.meals["name"] == "buckwheat porridge"]["time"]
        .dt.tz_convert("Europe/Warsaw")
        .dt.normalize()
    )
    logged = trials["date"].isin(eaten.dt.tz_localize(None))
    assert logged.sum() >= 11
    assert not logged[trials["date"] == pd.Timestamp("2026-10-22")].any()


def test_panels_are_drawn_fasting(demo):
    for wear, day in ((demo.wears[0], "2026-02-10T06:30Z"), (demo.wears[2], "2026-10-28T06:30Z")):
        before = (pd.Timestamp(day) - wear.lived.meals["time"]) / pd.Timedelta(hours=1)
        assert before[before > 0].min() > 8


def test_truth_holds_a_drop_real_effects_and_a_goal_in_doubt(demo):
    change = demo.truth.changes.set_index(["period_a", "period_b"])["difference_mg_dl"][
        "2026-02_winter", "2026-10_autumn"
    ]
    assert -8 <= change <= -6
    effects = demo.truth.effects.set_index(["factor", "outcome"])["estimate"]
    assert effects["walk_after", "rise_mg_dl"] < -5
    assert effects["asleep_h", "mean_mg_dl"] < -0.5
    assert effects["covariate:late_screen_min", "mean_mg_dl"] == 0
    usual = demo.truth.wears["2026-10_autumn"].usual_mean_mg_dl
    assert abs(usual - demo.study.goal.mean_mg_dl) < 2
    assert np.isfinite(usual)
