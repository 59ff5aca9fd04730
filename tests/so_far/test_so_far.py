"""Does a wear's page speak from that wear and the earlier ones alone, and do its curves show what was eaten?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from glucolab.analysis import analyse_study
from glucolab.reading.folder import read_study
from glucolab.record import SO_FAR_OUTPUTS, empty_output
from glucolab.results import StudyAnalysis
from glucolab.so_far import _Lines, _mean_lines, choose_page_findings, find_averages, look_at_all, look_back
from tests.conftest import REPOSITORY


@pytest.fixture(scope="module")
def analysis() -> StudyAnalysis:
    return analyse_study(read_study(REPOSITORY / "sample_data"))


def test_with_the_newest_wear_it_is_the_study(analysis):
    """The newest wear's page and the study's show the same figures."""
    so_far = look_back(analysis.study, analysis.wears)
    assert so_far.fault == ""
    assert set(so_far.tables) == set(SO_FAR_OUTPUTS)
    for name in SO_FAR_OUTPUTS.keys() - {"curves"}:
        pd.testing.assert_frame_equal(so_far.tables[name], analysis.tables[name])
    pd.testing.assert_frame_equal(so_far.tables["curves"], look_at_all(analysis).tables["curves"])


def test_a_later_wear_changes_nothing(analysis):
    alone = replace(analysis.study, wears=analysis.study.wears[:1])
    pd.testing.assert_frame_equal(
        analyse_study(alone).tables["periods"], look_back(analysis.study, analysis.wears[:1]).tables["periods"]
    )


def test_the_average_of_each_wear_is_that_of_its_page(analysis):
    averages = find_averages(analysis)
    for i, (one, own) in enumerate(zip(analysis.wears, averages, strict=True), start=1):
        shown = look_back(analysis.study, analysis.wears[:i]).find(one.wear.name)
        assert own is not None
        assert shown is not None
        assert own["mean_mg_dl"] == pytest.approx(shown["mean_mg_dl"])


def test_who_is_only_described_is_told_no_change_and_no_link(analysis):
    person = replace(analysis.study.person, pregnant=True)
    so_far = look_back(replace(analysis.study, person=person), analysis.wears)
    assert len(so_far.tables["periods"])
    assert so_far.tables["periods"]["probability_goal_met"].isna().all()
    assert not any(len(table) for name, table in so_far.tables.items() if name != "periods")


def test_a_fault_is_kept_and_said(analysis, monkeypatch):
    def fail(*_: object) -> None:
        raise ValueError("no such bias")

    monkeypatch.setattr("glucolab.so_far.relate_so_far", fail)
    so_far = look_back(analysis.study, analysis.wears)
    assert "could not be set beside each other" in so_far.fault
    assert so_far.find(analysis.wears[0].wear.name) is None


def test_a_curve_is_the_trace_above_the_half_hour_before(analysis):
    """Of an eating chosen by hand: readings.csv's values at its minutes, less the meal's own baseline."""
    curves = look_at_all(analysis).tables["curves"]
    found = choose_page_findings(analysis.tables)
    assert found[0].name == "walk after porridge"
    mine = curves[(curves["finding"] == "walk after porridge") & (curves["line"] == 1)]
    dates = analysis.tables["trial_dates"]
    first = dates[dates["used"].astype(bool)].iloc[0]
    one = next(wear for wear in analysis.wears if wear.wear.name == first["wear"])
    meals = one.tables["meal_responses"]
    local = pd.DatetimeIndex(meals["time"]).tz_convert(one.wear.zones.names[0])
    meal = meals[(local.strftime("%Y-%m-%d %H:%M") == f"{first['date']:%Y-%m-%d} {first['time']}")].iloc[0]
    glucose = pd.Series(one.trace.glucose_mg_dl, index=one.trace.time)
    hour = meal["time"] + pd.Timedelta(minutes=60)
    near = glucose[
        (glucose.index >= hour - pd.Timedelta(minutes=5)) & (glucose.index <= hour + pd.Timedelta(minutes=5))
    ]
    drawn = float(mine.loc[mine["minutes"] == 60, "above_mg_dl"].iloc[0])
    assert near.min() - 0.1 <= drawn + meal["baseline_mg_dl"] <= near.max() + 0.1


def test_means_hold_equal_what_is_to_be_equal():
    """Heights of 2 a gram and 10 less with the habit, which goes with large meals: by hand, at the mean of 30 g."""
    grams = np.array([10.0, 20.0, 30.0, 30.0, 40.0, 50.0])
    sides = np.array(["without", "without", "without", "with", "with", "with"], dtype=object)
    heights = 2 * grams - 10 * (sides == "with")
    lines = _Lines(sides, np.array([0.0]), heights[:, None], grams[:, None])
    np.testing.assert_allclose(_mean_lines(lines, ["with", "without"]).ravel(), [50.0, 60.0])
    plain = replace(lines, equal=np.empty((6, 0)))
    np.testing.assert_allclose(_mean_lines(plain, ["with", "without"]).ravel(), [70.0, 40.0])


def test_a_mean_ends_where_most_of_its_lines_do():
    above = np.array([[1.0, np.nan], [3.0, 5.0], [5.0, np.nan], [1.0, 2.0]])
    lines = _Lines(np.array(["a", "a", "a", "b"], dtype=object), np.array([0.0, 10.0]), above, np.empty((4, 0)))
    means = _mean_lines(lines, ["a", "b"])
    np.testing.assert_allclose(means[:, 0], [3.0, 1.0])
    assert np.isnan(means[:, 1]).all()


def effect(factor, outcome="rise_mg_dl", verdict="lower", stood=1.0, q_value=0.05):
    return {"factor": factor, "outcome": outcome, "verdict": verdict, "stood": stood, "q_value": q_value}


def trial(name, arms=("rest", "walk"), verdict="lower", p_exact=0.01):
    row = {"trial": name, "arm_a": arms[0], "arm_b": arms[1], "outcome": "rise_mg_dl", "verdict": verdict}
    return row | {"p_exact": p_exact}


def lead(effects=(), trials=()):
    tables = {
        "effects": pd.DataFrame(list(effects)) if effects else empty_output("effects"),
        "trial_results": pd.DataFrame(list(trials)) if trials else empty_output("trial_results"),
        "levers": pd.DataFrame({"factor": ["asleep_h", "walk_after"], "on_mean_mg_dl": [-2.9, -0.7]}),
    }
    return [one.name for one in choose_page_findings(tables)]


class TestChoosePageFindings:
    def test_what_has_held_and_changes_the_average_most_leads_two_at_most(self):
        """An hour of sleep by 2.9, a walk by 0.7, stress by nothing known; a new link comes last, however clear."""
        held = [
            effect("carbs_g", stood=1.0, q_value=0.001),
            effect("stress", stood=3.0, q_value=0.01),
            effect("walk_after", stood=2.0),
            effect("asleep_h", "mean_mg_dl", stood=2.0, q_value=0.09),
        ]
        assert lead(held) == ["asleep_h", "walk_after"]
        assert lead(held[:2]) == ["stress", "carbs_g"]

    def test_an_experiment_leads_and_its_habit_is_not_told_twice(self):
        held = [effect("walk_after", stood=3.0), effect("carbs_g", verdict="higher")]
        assert lead(held, [trial("walks")]) == ["walks", "carbs_g"]

    def test_what_is_not_clear_or_no_glucose_does_not_lead(self):
        rows = [effect("stress", verdict="cannot_tell_yet"), effect("asleep_h", outcome="energy")]
        assert lead(rows, [trial("walks", verdict="cannot_tell_yet")]) == []

    def test_nothing_asked(self):
        assert lead() == []
