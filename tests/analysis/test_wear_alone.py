"""Does one wear alone always come through, however little it holds?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.analysis import analyse_study, analyse_wear
from glucolab.errors import CannotAnalyse
from glucolab.record import Goal, Person
from tests.analysis.contract import check_study, check_wear
from tests.hand_made import START, at, make_glucose, make_study, make_table, make_times, make_wear


def glucose(days=5.0, step_min=5.0, seed=0, level=100.0):
    """Readings with three meals a day."""
    times = make_times(round(days * 1440 / step_min), step_min=step_min)
    minutes = np.arange(len(times)) * step_min
    values = level + np.random.default_rng(seed).normal(0, 2, len(times))
    for hour in (8, 13, 19):
        since = np.maximum(minutes % 1440 - hour * 60, 0) / 35
        values = values + 30 * since**2 * np.exp(2 * (1 - since))
    return make_glucose(times, np.round(values))


def meals(days=5):
    rows = [
        {"time": at(clock, d), "name": name, "dish": name, "carbs_g": 50.0, "time_source": "written"}
        for d in range(days)
        for clock, name in (("08:00", "oats"), ("13:00", "rice"), ("19:00", "soup"))
    ]
    return make_table("meals", *rows)


def alone(wear, **study):
    return analyse_wear(wear, make_study(wear, **study))


def test_nothing_but_glucose():
    one = alone(make_wear(days=5, glucose=glucose()))
    check_wear(one)
    assert one.summary["mean"]["estimate"] == pytest.approx(glucose()["glucose_mg_dl"].mean(), abs=1.5)
    assert one.summary["mean"]["high"] - one.summary["mean"]["low"] > 50, "without checks a sensor's bias is wide open"
    assert one.summary["next_file"] == "checks.csv"
    assert one.summary["dips_per_day"] is None
    assert "meal" in one.summary["withheld"]["dips_per_day"]
    assert one.summary["log_clock_min"] is None
    assert "Too few meals" in one.summary["withheld"]["log_clock_min"]


@pytest.mark.parametrize("late_min", [0, 60])
def test_a_log_that_keeps_another_time_than_the_sensor_is_told(late_min):
    """Eight days of three meals, which glucose follows at once; between them black coffee, which nothing follows."""
    written = meals(8)
    written["time"] += pd.Timedelta(minutes=late_min)
    one, other = (
        alone(make_wear(days=8, glucose=glucose(8), meals=table)) for table in (written, with_coffee(written))
    )
    check_wear(other)
    found = one.summary["log_clock_min"]
    assert found["estimate"] == pytest.approx(late_min, abs=10)
    assert found["low"] < late_min < found["high"]
    assert other.summary["log_clock_min"] == found


def with_coffee(table):
    """Two hours after each meal; a table without dishes of its own."""
    coffee = table.assign(name="Black coffee", dish=None, carbs_g=np.nan, time=table["time"] + pd.Timedelta(hours=2))
    both = pd.concat([table, coffee], ignore_index=True).astype(table.dtypes)
    return both.set_index(pd.RangeIndex(2, len(both) + 2, name="line"))


def test_a_coffee_after_each_meal_changes_no_figure_of_the_meals():
    one, other = (alone(make_wear(days=5, glucose=glucose(), meals=t)) for t in (meals(), with_coffee(meals())))
    minor = other.tables["meal_responses"]["reason"].str.split(";").map(set).map({"minor"}.issubset)
    assert minor.sum() == 15
    assert not other.tables["meal_responses"]["usable_2h"][minor].any()
    kept = other.tables["meal_responses"][~minor].reset_index(drop=True)
    pd.testing.assert_frame_equal(kept, one.tables["meal_responses"], check_like=True)
    assert other.summary["dips_per_day"] == one.summary["dips_per_day"]


@pytest.mark.parametrize("step_min", [1.0, 5.0, 15.0])
@pytest.mark.parametrize("running", [True, False])
def test_every_interval_ended_or_running(step_min, running):
    one = alone(
        make_wear(days=5, running=running, glucose=glucose(step_min=step_min), meals=meals(), interval_min=None)
    )
    check_wear(one)
    assert one.summary["state"] == ("running" if running else "ended")
    assert one.summary["coverage"] > 0.97
    assert one.tables["meal_responses"]["usable_2h"].sum() >= 14


@pytest.mark.parametrize("count", [0, 1, 5, 11, 12, 40])
@pytest.mark.parametrize("running", [True, False])
def test_hardly_any_readings(count, running):
    frame = glucose()[100 : 100 + count]
    one = alone(make_wear(days=5, running=running, glucose=frame, meals=meals(), interval_min=None, warm_up_hours=0))
    check_wear(one)
    assert one.summary["mean"] is None
    assert one.summary["usual_mean"] is None
    assert one.summary["withheld"]["mean"]
    assert not one.tables["daily"]["enough"].any()
    whole = analyse_study(make_study(one.wear))
    check_study(whole)
    assert not [p for p in whole.left_out if "could not be analysed" in p.text]


def test_only_warm_up():
    one = alone(make_wear(days=0.5, glucose=glucose(0.5), warm_up_hours=24))
    check_wear(one)
    assert one.summary["readings_used"] == 0
    assert one.summary["coverage"] == 0


def test_two_days_are_the_least_for_a_figure_of_the_whole_wear():
    short, enough = alone(make_wear(days=1.9, glucose=glucose(1.9))), alone(make_wear(days=2.1, glucose=glucose(2.1)))
    assert short.summary["mean"] is None
    assert "two days" in short.summary["withheld"]["mean"]
    assert enough.summary["mean"] is not None


def test_an_hour_never_recorded_withholds_whole_days():
    frame = glucose()
    hour = pd.DatetimeIndex(frame["time"]).hour
    one = alone(make_wear(days=5, glucose=frame[(hour < 2) | (hour >= 5)]))
    check_wear(one)
    assert one.summary["mean"] is None
    assert ":00 was never recorded" in one.summary["withheld"]["mean"]


def test_shorter_and_holey_is_wider():
    def width(days, keep):
        frame = glucose(days)
        day, hour = (frame["time"] - START).dt.days, pd.DatetimeIndex(frame["time"]).hour
        one = alone(make_wear(days=days, glucose=frame[keep(day, hour)]))
        parts = one.figures.variances
        return parts["days"] + parts["hours"]

    whole = width(10, lambda day, hour: day >= 0)
    assert width(4, lambda day, hour: day >= 0) > whole
    assert width(10, lambda day, hour: (day % 2 == 0) | (hour >= 7)) > whole


@pytest.mark.parametrize("flag", ["under_18", "pregnant", "glucose_lowering_medicine"])
def test_describe_only(flag):
    wears = [make_wear(name, days=5, start=START + pd.Timedelta(days=40 * i), glucose=moved(40 * i), meals=meals())
             for i, name in enumerate(("one", "two"))]  # fmt: skip
    whole = analyse_study(make_study(*wears, person=replace(Person("UTC"), **{flag: True})))
    check_study(whole)
    for name in ("comparisons", "effects", "dishes", "dish_pairs", "trial_results", "trial_dates", "trial_carry_over"):
        assert len(whole.tables[name]) == 0
        assert "pregnant" in whole.summary["withheld"][name]
    assert whole.summary["goal"] is None
    assert whole.summary["trend"] is None
    assert whole.tables["periods"]["probability_goal_met"].isna().all()
    assert whole.tables["periods"]["mean_mg_dl"].notna().all(), "it still describes"
    for one in whole.wears:
        check_wear(one)
        assert any("no plan" in text for text in one.summary["cautions"])


def moved(days):
    frame = glucose()
    return frame.assign(time=frame["time"] + pd.Timedelta(days=days))


def test_what_was_read_stays_as_it_was():
    wear = make_wear(
        days=5,
        glucose=glucose(),
        meals=meals(),
        checks=make_table("checks", {"time": at("13:00", 2), "glucose_mg_dl": 99.0}),
    )
    before = {name: frame.copy(deep=True) for name, frame in wear.tables.items()}
    check_wear(alone(wear))
    for name, frame in wear.tables.items():
        pd.testing.assert_frame_equal(frame, before[name])


def test_the_same_input_gives_the_same():
    wear = make_wear(days=5, glucose=glucose(), meals=meals())
    one, other = alone(wear), alone(wear)
    assert one.summary == other.summary
    for name, frame in one.tables.items():
        pd.testing.assert_frame_equal(frame, other.tables[name])


def test_the_range_is_the_studys():
    checks = make_table("checks", *({"time": at("09:00", day), "glucose_mg_dl": 100.0} for day in (1, 2, 3)))
    wear = make_wear(days=5, glucose=glucose(), checks=checks)
    wide = alone(wear, range_low_mg_dl=40.0, range_high_mg_dl=300.0).summary["minutes_per_day"]
    narrow = alone(wear, range_low_mg_dl=40.0, range_high_mg_dl=100.0).summary["minutes_per_day"]
    assert wide["in_range"]["estimate"] > 1400, "a bias this uncertain leaves a little below 40"
    assert 250 < narrow["above_range"]["estimate"] < 1300


def test_worth_noticing_and_goal_do_not_change_what_was_measured():
    wear = make_wear(days=5, glucose=glucose(), meals=meals())
    assert alone(wear).summary == alone(wear, goal=Goal(80.0, worth_noticing_mg_dl=10.0)).summary


def test_readings_keep_their_estimate_between_grid_points():
    frame = glucose()
    frame = frame.assign(time=frame["time"] + pd.Timedelta(minutes=1, seconds=40))
    one = alone(make_wear(days=5.1, glucose=frame))
    check_wear(one)
    assert np.abs(one.tables["readings"]["glucose_mg_dl"] - frame["glucose_mg_dl"].to_numpy()).median() < 4


def test_a_sensor_worn_for_years_is_refused_in_words():
    with pytest.raises(CannotAnalyse, match=r"check start and end in wear\.toml"):
        alone(make_wear(days=900, glucose=glucose()))
