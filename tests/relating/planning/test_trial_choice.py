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


def test_a_factor_brings_its_arms_and_an_own_column_too():
    """What cannot be chosen by lot is refused, and what is unknown is answered with what there is."""

    def asked(factor: str, **wish) -> Experiment:
        wished = Wish(START, factor=factor, **({"dish": "rice"} | wish))
        return choose_trials(make_table("trials"), tables(), wished, {"vinegar"})[0]

    assert asked("walk_after").arms == ("walk", "rest")
    assert (asked("fiber_g").arms, asked("fiber_g").factor) == (("more fiber", "as usual"), "fiber_g")
    for name in ("vinegar", "covariate:vinegar"):
        own = asked(name)
        assert (own.arms, own.factor) == (("vinegar", "no vinegar"), "covariate:vinegar")
        assert "under vinegar in days.csv" in own.note
    for factor, said in (("stress", "relaxation_min"), ("short_night", "sleep badly"), ("late screen", "vinegar")):
        with pytest.raises(NothingToDo, match=said):
            asked(factor)
    with pytest.raises(NothingToDo, match="brings its arms"):
        asked("walk_after", dish="")


def test_arms_without_a_dish_are_dishes_if_the_log_knows_one():
    known = tables(("Set cream", 2))
    (chosen,) = choose_trials(make_table("trials"), known, Wish(START, arms=("set cream", "cake")))
    assert [chosen.dish_of(arm) for arm in chosen.arms] == ["set cream", "cake"]
    with pytest.raises(NothingToDo, match="one of which at least the log knows"):
        choose_trials(make_table("trials"), known, Wish(START, arms=("standing", "sitting")))


def test_an_experiment_of_dishes_goes_on_with_each_arms_own():
    rows = [row | {"dish": row["arm"]} for row in trial("sweets", ("cake", "cream"), "2026-02-09")]
    (chosen,) = choose_trials(make_table("trials", *rows), tables(), Wish(START, trial="sweets"))
    assert [chosen.dish_of(arm) for arm in ("cake", "cream")] == ["cake", "cream"]


def test_of_two_dishes_as_much_is_looked_for_as_they_differed():
    pairs = pd.DataFrame({"dish_a": ["cake", "cake"], "dish_b": ["cream", "rice"], "difference_mg_dl": [-14.0, 30.0]})
    sweets = Experiment("sweets", ("cake", "cream"), ("cake", "cream"), "", "")
    assert size_to_find({"dish_pairs": pairs}, sweets, 3.0) == 14
