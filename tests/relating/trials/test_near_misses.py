"""Is a date that may have been logged otherwise asked about, and nothing else?"""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.relating.trials.near_misses import are_alike, doubt_trial_dates
from tests.hand_made import at, make_study, make_table, make_wear
from tests.relating.planned import plan


def logged(*rows):
    """A study of one planned date, 3 February, with these meals: (day, clock, dish)."""
    meals = make_table("meals", *({"time": at(clock, day), "name": "lunch", "dish": dish} for day, clock, dish in rows))
    return make_study(make_wear(days=5, meals=meals), tables={"trials": plan(["walk"], dish="groats", time=None)})


def said_of(*rows, **columns):
    study = logged(*rows)
    for name, value in columns.items():
        study.tables["trials"][name] = pd.Series([value] * len(study.trials), index=study.trials.index, dtype="str")
    return [str(problem) for problem in doubt_trial_dates(study)]


def test_a_dish_of_another_name_is_asked_about_with_its_row():
    (said,) = said_of((0, "12:40", "Groats (usual)"))
    assert said.startswith("trials.csv line ")
    assert "on 3 February “groats” was planned for “walk” and is not in the log; “Groats (usual)” at 12:40 is" in said
    assert "is that the dish?" in said
    assert "meals.csv line" in said


@pytest.mark.parametrize("rows", [[(0, "12:40", "Groats ")], [(0, "12:40", "soup")], [(3, "12:40", "groats")], []])
def test_what_was_found_and_what_is_not_near_is_not_asked_about(rows):
    assert said_of(*rows) == []


def test_the_day_after_and_another_hour():
    assert "it was eaten on 4 February" in said_of((1, "12:40", "groats"))[0]
    assert "it was eaten at 18:30 that day" in said_of((0, "18:30", "groats"), time="12:30")[0]
    assert said_of((0, "13:59", "groats"), time="12:30") == []


def test_another_arms_dish_is_no_slip():
    study = logged((0, "12:40", "groats cake"))
    both = pd.concat([study.trials, study.trials.assign(dish="groats cake", date=at("00:00", 2).tz_localize(None))])
    study.tables["trials"] = both.set_axis([2, 3])
    assert doubt_trial_dates(study) == []


def test_names_that_may_be_one_dish():
    assert are_alike("groats", "groats (usual)")
    assert are_alike("buckwheat porridge", "buckweat porridge")
    assert not are_alike("rice", "ricotta")
    assert not are_alike("rice", "")
