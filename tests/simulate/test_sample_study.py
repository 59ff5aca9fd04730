"""Does the sample study hold every stream and artefact it is meant to teach, and is it remade to the byte?"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from glucolab.analysis import analyse_study
from glucolab.record import WEAR_TABLES
from glucolab.simulate import simulate_demo, write_demo
from glucolab.simulate.demo import TRIAL_MISSED
from tests.simulate.story import CHANCE_OF_GOAL, find_proven, find_vanished, is_nil

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
    winter, _, autumn, _ = (w.truth.readings for w in demo.wears)
    for kind in ("pressure", "jump", "stuck", "duplicate", "limit", "warm_up"):
        assert winter[kind].any() or autumn[kind].any(), kind
    assert autumn["loosening"].any()
    assert all(w.truth.readings["pressure"].sum() * w.record.interval_min > 60 for w in demo.wears)
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


def test_three_wears_share_a_model_and_all_have_checks(demo):
    models = [w.sensor_model for w in demo.study.wears]
    assert models[0] == models[2] == models[3] != models[1]
    assert [len(w.checks) for w in demo.study.wears] == [7, 12, 8, 14]
    assert [int(w.checks["source"].eq("venous").sum()) for w in demo.study.wears] == [1, 0, 0, 2]
    assert {w.meter for w in demo.study.wears} == {"workshop meter"}


def test_panels_and_trial(demo):
    labs, trials = demo.study.labs, demo.study.trials
    assert labs.groupby("date").size().to_list() == [7, 7]
    assert trials.groupby(["block", "arm"]).size().to_list() == [1] * 14  # of each pair of mornings one an arm


def test_panels_are_drawn_fasting_and_stand_among_the_checks(demo):
    labs = demo.study.labs.query("analyte == 'glucose'").set_index("date")["value"]
    for wear, day in ((demo.wears[0], "2026-02-10"), (demo.wears[3], "2026-11-18")):
        drawn = pd.Timestamp(f"{day}T06:30Z")
        before = (drawn - wear.lived.meals["time"]) / pd.Timedelta(hours=1)
        assert before[before > 0].min() > 8
        check = wear.record.checks.set_index("time").loc[drawn]
        assert (check["source"], check["glucose_mg_dl"]) == ("venous", labs[pd.Timestamp(day)])


def test_truth_holds_a_drop_under_the_goal_and_real_effects(demo):
    change = demo.truth.changes.set_index(["period_a", "period_b"])["difference_mg_dl"]
    assert -12 <= change["2026-02_winter", "2026-11_late_autumn"] <= -10
    effects = demo.truth.effects.set_index(["factor", "outcome"])["estimate"]
    assert effects["walk_after", "rise_mg_dl"] < -5
    assert effects["asleep_h", "mean_mg_dl"] < -0.5
    assert effects["covariate:late_screen_min", "mean_mg_dl"] == 0
    usual = [demo.truth.wears[w.name].usual_mean_mg_dl for w in demo.study.wears]
    assert usual == sorted(usual, reverse=True)
    assert usual[0] > demo.study.goal.mean_mg_dl > usual[-1]


@pytest.fixture(scope="module")
def told(demo):
    return analyse_study(demo.study)


def test_the_goal_is_reached_and_the_fall_is_clear(demo, told):
    periods = told.tables["periods"].query("level == 'wear'").set_index("name")
    first, last = periods.index[0], periods.index[-1]
    assert periods["probability_goal_met"][first] <= 1 - CHANCE_OF_GOAL
    assert periods["probability_goal_met"][last] >= CHANCE_OF_GOAL
    fall = told.tables["comparisons"].query("level == 'wear'").set_index(["period_a", "period_b"]).loc[(first, last)]
    assert fall["verdict"] == "lower"
    assert fall["low_mg_dl"] < demo.truth.changes.iloc[2]["difference_mg_dl"] < fall["high_mg_dl"]


def test_an_experiment_proves_the_walk(demo, told):
    proven = find_proven(told.tables["trial_results"])
    assert proven["trial"].to_list() == ["walk after porridge"]
    row = proven.iloc[0]
    assert row["p_exact"] < 0.02
    dates = told.tables["trial_dates"].set_index("date")["used"]
    assert not dates[TRIAL_MISSED]
    assert dates.sum() == len(dates) - 2  # one more lies in a gap
    assert row["low"] < demo.truth.trials.set_index("outcome")["difference"]["rise_mg_dl"] < row["high"] < 0


def test_a_finding_that_nothing_was_true_of_is_gone_with_the_next_wear(demo, told):
    gone = find_vanished(demo.study, told.wears, told.tables["effects"])
    assert gone[is_nil(demo, gone)]["wears"].isin([2, 3]).any()


def test_a_question_is_open_and_says_what_it_needs(told):
    effects = told.tables["effects"]
    assert (effects["verdict"].eq("cannot_tell_yet") & effects["needed"].le(60)).any()
    assert len(told.tables["next_questions"]) > 0
