"""Is every planned date told of: which occasion it found, whether it counts, why not, and was one arm missed more?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import fisher_exact

from glucolab.clock import ZoneSpans
from glucolab.record import RESPONSE_REASONS
from glucolab.record.trial_outputs import TRIAL_DATES, TRIAL_REASONS
from glucolab.relating.trials.date_outcomes import compare_missed, compare_shares, find_trial_dates, flag_missed
from tests.analysis.contract import check_table
from tests.hand_made import at, make_table
from tests.relating.planned import eaten, plan, worn


def reasons(wears, planned):
    return find_trial_dates(wears, planned)["reason"].tolist()


def test_nothing_planned_gives_an_empty_table_with_its_columns():
    dates = find_trial_dates([worn([eaten(at("08:00"))])], make_table("trials"))
    assert len(dates) == 0
    assert list(dates[TRIAL_DATES.names].columns) == TRIAL_DATES.names
    assert len(compare_missed(dates)) == 0


def test_a_used_date_carries_what_was_logged():
    meals = [eaten(at("08:05"), rise=31, walk=False, first="carbs"), eaten(at("08:15", 1), rise=25, walk=True)]
    dates = find_trial_dates([worn(meals, "left")], plan(["rest", "walk"]))
    check_table(dates[TRIAL_DATES.names], TRIAL_DATES)
    assert dates["used"].tolist() == [True, True]
    assert dates["reason"].tolist() == ["", ""]
    assert dates["time"].tolist() == ["08:05", "08:15"]
    assert dates["wear"].tolist() == ["left", "left"]
    assert dates["walk_after"].tolist() == [False, True]
    assert dates["eaten_first"].tolist() == ["carbs", ""]
    assert dates["rise_mg_dl"].tolist() == [31, 25]


def test_where_no_dish_is_written_the_name_is_the_dish():
    meals = [eaten(at("08:05"), dish="", name="Porridge"), eaten(at("08:15", 1), dish=None, name=" porridge")]
    assert reasons([worn(meals)], plan(["rest", "walk"])) == ["", ""]
    assert reasons([worn([eaten(at("08:05"), dish="eggs", name="porridge")])], plan(["rest"])) == ["not_found"]


def test_dates_come_by_trial_and_day():
    both = pd.concat([plan(["rest"], 3), plan(["walk"], 1), plan(["a"], 2, trial="first")])
    dates = find_trial_dates([], both)
    assert dates["arm"].tolist() == ["a", "walk", "rest"]


@pytest.mark.parametrize("reason", [*RESPONSE_REASONS, "flagged;exercise"])
def test_an_occasion_that_cannot_be_used_says_why_and_keeps_its_figures(reason):
    dates = find_trial_dates([worn([eaten(at("08:00"), rise=12, reason=reason)])], plan(["rest"]))
    assert dates["reason"].tolist() == [reason]
    assert dates["used"].tolist() == [False]
    assert dates["rise_mg_dl"].tolist() == [12]
    assert set(reason.split(";")) <= set(TRIAL_REASONS)


def test_the_first_eating_of_the_dish_that_day_counts_even_if_a_later_one_is_usable():
    meals = [eaten(at("07:00"), "eggs"), eaten(at("08:00"), rise=11), eaten(at("18:00"), rise=99),
             eaten(at("08:00", 1), reason="gap"), eaten(at("18:00", 1), rise=99)]  # fmt: skip
    dates = find_trial_dates([worn(meals)], plan(["rest", "walk"]))
    assert dates["rise_mg_dl"].tolist() == [11, 40]
    assert dates["reason"].tolist() == ["no_other_arm", "gap"]


@pytest.mark.parametrize(
    ("clock", "rise"),
    [("12:40", 12), ("18:00", 18), ("21:00", 18), ("21:01", None), ("06:29", None), ("06:30", 8), ("09:45", None)],
)
def test_a_planned_time_takes_the_nearest_within_ninety_minutes(clock, rise):
    meals = [
        eaten(at("08:00"), rise=8),
        eaten(at("11:30"), rise=11),
        eaten(at("12:50"), rise=12),
        eaten(at("19:30"), rise=18),
    ]
    dates = find_trial_dates([worn(meals)], plan(["rest"], time=clock))
    assert dates["rise_mg_dl"].dropna().tolist() == ([] if rise is None else [rise])
    assert (dates["reason"] == "not_found").tolist() == [rise is None]


def test_a_time_without_a_dish_takes_any_food_and_neither_can_be_looked_for():
    wear = worn([eaten(at("08:10"), "", rise=8)])
    assert find_trial_dates([wear], plan(["rest"], time="08:00", dish=None))["rise_mg_dl"].tolist() == [8]
    assert reasons([wear], plan(["rest"], dish=None)) == ["not_said"]


def test_dates_are_the_wearers_own():
    """23:30 UTC on the third is 08:30 on the fourth in Tokyo."""
    tokyo = ZoneSpans(("Asia/Tokyo",))
    dates = find_trial_dates([worn([eaten(at("23:30"), rise=7)], zones=tokyo)], plan(["rest", "walk"]))
    assert dates["time"].tolist() == ["", "08:30"]


def test_the_sensor_that_can_be_used_is_taken_where_two_were_worn():
    left, right = worn([eaten(at("08:00"), rise=1, reason="gap")], "left"), worn([eaten(at("08:00"), rise=2)], "right")
    dates = find_trial_dates([left, right], plan(["rest"]))
    assert dates["wear"].tolist() == ["right"]
    neither = find_trial_dates([left, left], plan(["rest"]))
    assert neither["reason"].tolist() == ["gap"]


def test_one_eating_planned_for_two_arms_counts_for_neither_and_twice_for_one_arm_once():
    meals = [eaten(at("08:00")), eaten(at("08:00", 1), rise=5), eaten(at("08:00", 2))]
    planned = pd.concat([plan(["rest", "walk", "rest"]), plan(["walk", "walk"])])
    dates = find_trial_dates([worn(meals)], planned)
    assert dates["reason"].tolist() == ["two_arms", "two_arms", "", "planned_twice", ""]


def test_a_wear_with_one_arm_alone_lacks_a_partner():
    meals = [eaten(at("08:00", i)) for i in range(6)]
    wears = [worn(meals[:3], "one", n_days=3), worn(meals[3:], "two", first_day=3, n_days=3)]
    dates = find_trial_dates(wears, plan(["rest", "walk", "rest", "walk", "walk", "walk"]))
    assert dates["reason"].tolist() == ["", "", "", "no_other_arm", "no_other_arm", "no_other_arm"]
    assert not flag_missed(dates).any()


def test_dates_between_wears_on_which_nothing_was_logged_and_still_ahead():
    wears = [worn([eaten(at("08:00"))], "one", n_days=2), worn([], "two", first_day=4, n_days=2, running=True)]
    planned = plan(["rest", "walk", "rest", "walk", "rest", "walk", "rest"])
    before = ["no_other_arm", "not_found", "not_worn", "not_worn", "not_found"]
    assert reasons(wears, planned) == [*before, "ahead", "ahead"]
    ended = [wears[0], worn([], "two", first_day=4, n_days=2)]
    assert reasons(ended, planned)[-2:] == ["not_found", "ahead"], "the last day of an ended wear is over"
    assert reasons([], planned) == ["ahead"] * 7


def test_every_reason_has_a_place_above():
    said = {"not_worn", "not_found", "not_said", "two_arms", "planned_twice", "no_other_arm", "ahead"}
    assert said == set(TRIAL_REASONS) - set(RESPONSE_REASONS)


def test_fishers_tea():
    """Four of eight cups had milk first; three of the four named rightly: (16 + 1 + 16 + 1) / 70 two-sided.

    Fisher, The Design of Experiments, 1935, chapter II (from memory: 70 ways, 16 with one mistake on each side).
    """
    assert compare_shares(3, 4, 1, 4) == pytest.approx(34 / 70)
    assert compare_shares(4, 4, 0, 4) == pytest.approx(2 / 70)


def test_p_of_missed_dates_agrees_with_scipy():
    rng = np.random.default_rng(3)
    for n_a, n_b in rng.integers(1, 20, (60, 2)).tolist():
        missed_a, missed_b = int(rng.integers(0, n_a + 1)), int(rng.integers(0, n_b + 1))
        theirs = fisher_exact([[missed_a, n_a - missed_a], [missed_b, n_b - missed_b]]).pvalue
        assert compare_shares(missed_a, n_a, missed_b, n_b) == pytest.approx(theirs, abs=1e-12)


def test_one_arm_missed_more_is_counted_without_what_is_ahead():
    walks = [eaten(at("08:00", i), reason="exercise" if i % 2 else "") for i in range(12)]
    planned = plan(["rest", "walk"] * 10)
    dates = find_trial_dates([worn(walks, n_days=12)], planned)
    row = compare_missed(dates).iloc[0]
    assert dates["reason"].tolist() == ["no_other_arm", "exercise"] * 6 + ["ahead"] * 8
    assert row[["arm_a", "missed_a", "n_a", "arm_b", "missed_b", "n_b"]].tolist() == ["rest", 0, 6, "walk", 6, 6]
    assert row["p_value"] == pytest.approx(2 / 924)  # one way of 924 on each side
