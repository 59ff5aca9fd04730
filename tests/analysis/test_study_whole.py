"""Do wears stay apart, and does one bad wear never stop the others?"""

from __future__ import annotations

import pandas as pd
import pytest

import glucolab.analysis as analysis
from glucolab.analysis import analyse_study, analyse_wear
from tests.analysis.contract import check_study, check_wear
from tests.analysis.test_wear_alone import glucose, meals
from tests.hand_made import START, make_study, make_table, make_wear


def wear(name, first_day=0, days=5, shift=0.0, seed=0, checks=0, **changes):
    """A wear that begins some days later, with readings shifted and checks that agree with them."""
    start = START + pd.Timedelta(days=first_day)
    frame = glucose(days, seed=seed)
    frame = frame.assign(
        time=frame["time"] + pd.Timedelta(days=first_day), glucose_mg_dl=frame["glucose_mg_dl"] + shift
    )
    eaten = meals(int(days)).assign(time=lambda t: t["time"] + pd.Timedelta(days=first_day))
    picked = frame.iloc[150 : 150 + 97 * checks : 97]
    rows = [{"time": t, "glucose_mg_dl": g} for t, g in zip(picked["time"], picked["glucose_mg_dl"], strict=True)]
    tables = {"glucose": frame, "meals": eaten, "checks": make_table("checks", *rows)}
    return make_wear(name, days=days, start=start, meter="m", sensor_model="A", **tables, **changes)


def test_a_wears_figures_never_change_because_another_was_added():
    first = wear("first", checks=4)
    others = [wear("second", 60, seed=1, checks=4), wear("beside", 2, seed=2, shift=20)]
    apart = analyse_study(make_study(first)).wears[0]
    together = next(one for one in analyse_study(make_study(first, *others)).wears if one.wear.name == "first")
    assert apart.summary == together.summary
    for name, frame in apart.tables.items():
        pd.testing.assert_frame_equal(frame, together.tables[name])


def test_one_bad_wear_is_listed_and_the_others_go_on(monkeypatch):
    def fail_on_bad(one, study):
        if one.name == "bad":
            raise RuntimeError("no such luck")
        return analyse_wear(one, study)

    monkeypatch.setattr(analysis, "analyse_wear", fail_on_bad)
    lines = []
    whole = analyse_study(make_study(wear("good"), wear("bad", 30), wear("fine", 60)), lines.append)
    check_study(whole)
    assert [one.wear.name for one in whole.wears] == ["good", "fine"]
    listed = [problem for problem in whole.left_out if problem.file == "wear_periods/bad"]
    assert len(listed) == 1
    assert listed[0].text.endswith("): RuntimeError: no such luck")
    assert listed[0].trace.startswith("Traceback")
    assert listed[0].left_out
    assert any("no such luck" in text for text in whole.summary["problems"])
    assert "bad" in " ".join(lines)
    assert set(whole.tables["periods"]["name"]) == {"good", "fine"}


def test_all_wears_bad_is_still_an_answer(monkeypatch):
    def fail(one, study):
        raise ValueError("broken")

    monkeypatch.setattr(analysis, "analyse_wear", fail)
    whole = analyse_study(make_study(wear("bad")))
    check_study(whole)
    assert whole.wears == ()
    assert len(whole.left_out) == 1
    assert whole.summary["withheld"]["periods"]


class TestPeriods:
    def test_wears_less_than_14_days_apart_are_one_stretch(self):
        whole = analyse_study(make_study(wear("a"), wear("b", 18), wear("c", 5 + 18 + 14)))
        stretches = whole.tables["periods"].query("level == 'stretch'")
        assert stretches["name"].tolist() == ["a … b", "c"]
        assert stretches["days"].tolist() == [10, 5]

    def test_exactly_14_days_apart_are_two(self):
        whole = analyse_study(make_study(wear("a"), wear("b", 19)))
        assert (whole.tables["periods"]["level"] == "stretch").sum() == 2

    def test_dates_are_the_wearers(self):
        row = analyse_study(make_study(wear("a", 3))).tables["periods"].iloc[0]
        assert row["start"] == pd.Timestamp("2026-02-06")

    def test_the_last_day_is_one_that_was_worn(self):
        row = analyse_study(make_study(wear("a"))).tables["periods"].iloc[0]
        assert row["end"] == pd.Timestamp("2026-02-07"), "taken off at the midnight that begins the 8th"

    def test_days_that_two_sensors_shared_count_once(self):
        whole = analyse_study(make_study(wear("a"), wear("b", 2, seed=1)))
        assert whole.tables["periods"].query("level == 'stretch'")["days"].tolist() == [7]

    def test_the_goal_is_met_more_probably_the_lower_the_mean(self):
        whole = analyse_study(make_study(wear("high", checks=8, shift=15), wear("low", 60, checks=8, shift=-25)))
        met = whole.tables["periods"].set_index(["level", "name"])["probability_goal_met"]
        assert met["wear", "low"] > 0.9 > 0.1 > met["wear", "high"]


class TestComparisons:
    def test_the_later_minus_the_earlier_whatever_the_order_of_names(self):
        whole = analyse_study(make_study(wear("z", checks=8), wear("a", 60, shift=-40, seed=1, checks=8)))
        row = whole.tables["comparisons"].query("level == 'wear'").iloc[0]
        assert (row["period_a"], row["period_b"], row["relation"]) == ("z", "a", "later")
        assert row["difference_mg_dl"] == pytest.approx(-40, abs=8)
        assert row["verdict"] == "lower"
        assert row["probability_lower"] > 0.99

    def test_without_checks_a_moderate_change_cannot_be_told(self):
        """Two sensors of one model differ by 13 % give or take (0.09 sqrt 2)."""
        whole = analyse_study(make_study(wear("a"), wear("b", 60, shift=-9, seed=1)))
        row = whole.tables["comparisons"].query("level == 'wear'").iloc[0]
        assert row["verdict"] == "cannot_tell_yet"
        assert row["share_sensor"] > 0.8

    def test_sensors_worn_at_once_show_no_change(self):
        whole = analyse_study(make_study(wear("a", checks=6), wear("b", 0, shift=40, seed=1, checks=6)))
        row = whole.tables["comparisons"].query("level == 'wear'").iloc[0]
        assert row["relation"] == "overlapping"
        assert row["verdict"] not in ("lower", "higher")
        assert (whole.tables["periods"]["level"] == "stretch").sum() == 1

    def test_what_else_changed_is_named(self):
        whole = analyse_study(make_study(wear("a", site="left arm"), wear("b", 60, site="belly")))
        assert whole.tables["comparisons"]["changed"].str.contains("site").all()
        same = analyse_study(make_study(wear("a", site="left arm"), wear("b", 60, site="left arm")))
        assert not same.tables["comparisons"]["changed"].str.contains("site|meter|model").any()

    def test_a_sampling_interval_that_nobody_wrote_has_not_changed(self):
        same = analyse_study(make_study(wear("a"), wear("b", 60, interval_min=None)))
        assert not same.tables["comparisons"]["changed"].str.contains("interval").any()

    def test_a_wear_too_short_for_a_mean_gets_no_verdict(self):
        whole = analyse_study(make_study(wear("a"), wear("b", 60, days=1)))
        assert whole.tables["comparisons"].query("level == 'wear'")["verdict"].tolist() == ["not_enough_data"]


class TestTrend:
    def test_only_from_four_stretches_on(self):
        three = analyse_study(make_study(*[wear(f"w{i}", 60 * i, seed=i) for i in range(3)]))
        assert three.summary["trend"] is None
        assert "four" in three.summary["withheld"]["trend"]
        four = analyse_study(make_study(*[wear(f"w{i}", 60 * i, seed=i, shift=-8.0 * i, checks=8) for i in range(4)]))
        assert four.summary["trend"]["estimate"] == pytest.approx(-4, abs=1.5)
        assert four.summary["trend"]["low"] < -4 < four.summary["trend"]["high"]


def test_every_wear_is_announced():
    lines = []
    for one in analyse_study(make_study(wear("a"), wear("b", 60)), lines.append).wears:
        check_wear(one)
    assert sum("wear 1 of 2: a" in line for line in lines) == 1
