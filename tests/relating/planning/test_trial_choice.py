"""Is the experiment the one asked for, open or suggested, and as large a difference looked for as was seen? By hand."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.relating.planning.trial_choice import Experiment, Wish, choose_trials, size_to_find
from tests.hand_made import make_table

START = date(2026, 3, 1)
NOTHING_FOUND = pd.DataFrame(columns=["trial", "outcome", "verdict"])


def tables(*eaten: tuple[str, int], results: pd.DataFrame = NOTHING_FOUND) -> dict[str, pd.DataFrame]:
    return {"dishes": pd.DataFrame(eaten, columns=["dish", "n"]), "trial_results": results}


def trial(name: str, arms: tuple[str, ...], day: str, dish: str = "rice") -> list[dict]:
    return [{"date": pd.Timestamp(day), "trial": name, "arm": arm, "dish": dish} for arm in arms]


def seen(*rows: tuple[str, str, float]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["factor", "outcome", "range_estimate"])


def of_factor(name: str) -> Experiment:
    return Experiment("trial", ("a", "b"), ("rice",), "", name)


def test_without_an_estimate_ten_mg_dl_are_looked_for():
    """An easy walk lowers the rise by 7.9 mg/dL at one hour, the order of eating by 18 to 34 (see the constant)."""
    unknown = seen(("walk_after", "rise_mg_dl", None), ("walk_after", "iauc_2h_mg_dl_min", -900.0))
    assert size_to_find({"effects": unknown.iloc[:0]}, of_factor("walk_after"), 3.0) == 10
    assert size_to_find({"effects": unknown}, of_factor("walk_after"), 3.0) == 10
    assert size_to_find({"effects": unknown}, of_factor(""), 3.0) == 10


def test_as_much_is_looked_for_as_was_seen_but_no_less_than_matters():
    """3 mg/dL of a mean are 5 of a rise: a rise is worth noticing from five thirds of it."""
    effects = seen(("walk_after", "rise_mg_dl", -18.0), ("protein_first", "rise_mg_dl", 2.0))
    assert size_to_find({"effects": effects}, of_factor("walk_after"), 3.0) == 18
    assert size_to_find({"effects": effects}, of_factor("protein_first"), 3.0) == pytest.approx(5.0)
    assert size_to_find({"effects": effects}, of_factor("eaten_out"), 9.0) == pytest.approx(15.0)


@pytest.mark.parametrize(("times", "dish"), [(3, "soup"), (2, None)])
def test_a_dish_eaten_three_times_is_suggested_but_not_one_eaten_twice(times, dish):
    chosen = choose_trials(make_table("trials"), tables(("tea", 1), ("soup", times)), Wish(START))
    assert {one.dishes[0] for one in chosen} == ({dish} if dish else set())
    assert all(one.suggested for one in chosen)


def test_of_many_dishes_the_three_eaten_most_often_are_thought_of():
    eaten = [("a", 3), ("b", 9), ("c", 5), ("d", 4), ("e", 7)]
    chosen = choose_trials(make_table("trials"), tables(*eaten), Wish(START))
    assert [one.dishes[0] for one in chosen if one.factor == "walk_after"] == ["b", "e", "c"]
    named = choose_trials(make_table("trials"), tables(*eaten), Wish(START, dish="a"))
    assert {one.dishes[0] for one in named} == {"a"}


def test_one_arm_is_no_experiment_and_two_are():
    with pytest.raises(NothingToDo, match="two arms and a dish"):
        choose_trials(make_table("trials"), tables(), Wish(START, arms=("walk",), dish="rice"))
    (chosen,) = choose_trials(make_table("trials"), tables(), Wish(START, arms=("rest", "walk"), dish="rice"))
    assert (chosen.trial, chosen.arms, chosen.factor) == ("rest or walk with rice", ("rest", "walk"), "walk_after")


def test_what_was_tried_is_not_suggested_again():
    walked = make_table("trials", *trial("old", ("rest", "walk"), "2026-02-04"))
    assert [one.factor for one in choose_trials(walked, tables(("rice", 9)), Wish(START))] == ["protein_first"]
    both = make_table(
        "trials",
        *trial("old", ("rest", "walk"), "2026-02-04"),
        *trial("order", ("carbs first", "protein first"), "2026-02-05"),
    )
    assert choose_trials(both, tables(("rice", 9)), Wish(START)) == []


def test_of_two_open_experiments_the_later_goes_on():
    rows = [*trial("late", ("a", "b"), "2026-02-09", "soup"), *trial("early", ("c", "d"), "2026-02-04")]
    results = pd.DataFrame(
        {"trial": ["early", "late"], "outcome": "rise_mg_dl", "verdict": ["cannot_tell_yet", "not_enough_data"]}
    )
    (chosen,) = choose_trials(make_table("trials", *rows), tables(results=results), Wish(START))
    assert not chosen.suggested
    assert (chosen.trial, chosen.arms, chosen.dishes, chosen.note) == ("late", ("a", "b"), ("soup",), "")


def test_an_experiment_known_by_name_needs_a_dish():
    known = make_table("trials", *trial("tea", ("none", "tea"), "2026-02-04", None))
    with pytest.raises(NothingToDo, match="no dish for “tea”"):
        choose_trials(known, tables(), Wish(START, trial="tea"))
    (asked,) = choose_trials(known, tables(), Wish(START, trial="tea", dish="rice"))
    assert asked.arms == ("none", "tea")
