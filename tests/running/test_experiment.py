"""Can an experiment be planned, lived and judged by commands alone? Two desserts, eaten by an invented wearer."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.running.cli import main
from glucolab.simulate import draw_logs, draw_meter, draw_sensor, draw_wearer, gather, simulate_study, simulate_wear
from glucolab.simulate.folder import write_study
from glucolab.simulate.wearer import Dish

CREAM, CAKE = "set cream", "layer cake"
DAYS = 19
"""17 whole days: eight pairs of dates."""
START = pd.Timestamp("2026-10-01T07:10:00Z")


@pytest.fixture(scope="module")
def person():
    """Somebody whose cake raises glucose far more than their cream, after one wear."""
    rng = np.random.default_rng(12)
    wearer = draw_wearer(rng)
    desserts = (Dish(CREAM, "main", 12.0, response=0.7), Dish(CAKE, "main", 75.0, response=1.4))
    wearer = replace(wearer, dishes=(*wearer.dishes, *desserts))
    logs, meter = draw_logs(rng, sparse=False), draw_meter(rng)
    made = simulate_study(rng, wearer=wearer, wears=1, logs=logs, meter=meter, sensor={"interval_min": 5.0})
    return wearer, logs, meter, made


@pytest.fixture(scope="module")
def planned(person, tmp_path_factory):
    """The study so far, and the plan that the command made of it."""
    folder = tmp_path_factory.mktemp("desserts")
    write_study(person[-1].study, folder / "study")
    typed = ["--start", "2026-10-01", "--days", str(DAYS), "--arms", f"{CREAM},{CAKE}", "--seed", "3"]
    assert main(["plan", str(folder / "study"), *typed, "--out", str(folder / "plan")]) in (0, 1)
    return folder


def live(person, planned, days, name):
    """The next wear for so many days, kept to the plan, in a study folder with the plan's rows as trials.csv."""
    wearer, logs, meter, made = person
    rows = pd.read_csv(planned / "plan" / "next_trial.csv", parse_dates=["date"])
    agreed = pd.DataFrame({"date": rows["date"], "slot": "lunch", "dish": rows["dish"], "walk": False, "first": None})
    rng = np.random.default_rng(5)
    worn = draw_sensor(rng, level_mg_dl=95.0, interval_min=5.0)
    times = pd.date_range(START + pd.Timedelta(days=2), periods=4, freq="36h")
    last = START + pd.Timedelta(days=days)
    agreed = agreed[agreed["date"].dt.tz_localize("UTC") < last.normalize()]
    wear = simulate_wear(
        rng,
        wearer,
        worn,
        START,
        days,
        name="wear_2",
        logs=logs,
        meter=meter,
        check_times=times[times < last],
        plan=agreed,
    )
    study = planned / name
    write_study(gather("after", [*made.wears, wear], made.study.person).study, study)
    shutil.copy(planned / "plan" / "next_trial.csv", study / "trials.csv")
    return study


def result_of(study, out):
    assert main(["measure", str(study), "--out", str(out)]) in (0, 1)
    table = pd.read_csv(out / "study" / "trial_results.csv")
    return table[table["outcome"] == "rise_mg_dl"].iloc[0]


def test_the_plan_has_each_dessert_once_in_every_pair_of_dates(planned):
    rows = pd.read_csv(planned / "plan" / "next_trial.csv")
    assert (rows["arm"] == rows["dish"]).all()
    assert rows.groupby("block")["arm"].apply(sorted).tolist() == [sorted([CREAM, CAKE])] * 8
    said = json.loads((planned / "plan" / "next_wear.json").read_text())["trial"]
    assert said["dishes"] == [CREAM, CAKE]
    assert 0 < said["chance_early"] <= said["chance_told"]


def test_looked_at_on_the_way_and_at_the_end(person, planned, capsys):
    """After four pairs nothing can be decided; at the end the cake is found to raise glucose more."""
    row = result_of(live(person, planned, 11, "on_the_way"), planned / "half")
    assert (row["stop"], row["p_anytime"] > 0.1) == (False, True)
    assert row["verdict"] in ("cannot_tell_yet", "not_enough_data")
    assert "Not decided yet: " in capsys.readouterr().out
    row = result_of(live(person, planned, DAYS, "at_the_end"), planned / "whole")
    assert (row["arm_a"], row["arm_b"], row["verdict"]) == (CAKE, CREAM, "lower")
    assert row["p_exact"] <= 0.1
    assert row["difference"] < -15


def test_a_slip_in_a_name_is_asked_about(person, planned, capsys):
    study = live(person, planned, DAYS, "misnamed")
    path = study / "wear_periods" / "wear_2" / "meals.csv"
    rows = pd.read_csv(planned / "plan" / "next_trial.csv")
    day = rows.loc[rows["arm"] == CREAM, "date"].iloc[0]
    meals = pd.read_csv(path, dtype=str)
    mine = meals["time"].str.startswith(day) & (meals["dish"] == CREAM)
    assert mine.any()
    meals.loc[mine, ["name", "dish"]] = f"{CREAM} (usual)"
    meals.to_csv(path, index=False)
    capsys.readouterr()
    main(["check", str(study)])
    assert "is that the dish?" in capsys.readouterr().out


def test_two_arms_that_are_no_dishes_need_one(planned, capsys):
    assert main(["plan", str(planned / "study"), "--start", "2026-10-01", "--arms", "standing,sitting"]) == 2
    assert "or two dishes, one of which at least the log knows" in capsys.readouterr().err
