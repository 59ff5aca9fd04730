"""Does a name stand for a dish only where it names one, and is a drink without nutrients known by its name?"""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.reading.meal_names import is_drink, is_drink_without, name_dishes, names_no_dish


@pytest.mark.parametrize(
    "name", ["", "Lunch", "  dinner ", "late lunch", "Snack 2", "2nd breakfast", "Frühstück", "Petit-déjeuner", "夕食"]
)
def test_a_name_that_only_says_which_meal_it_was_names_no_dish(name):
    assert names_no_dish(name)


@pytest.mark.parametrize("name", ["rice", "lunch: rice", "breakfast porridge", "tea cake", "big apple pie"])
def test_any_other_name_does(name):
    assert not names_no_dish(name)


def test_the_dish_goes_before_the_name():
    dish, name = pd.Series(["Soup", None, "", None, None]), pd.Series(["lunch", " rice", "eggs", None, "lunch"])
    assert name_dishes(dish, name).tolist() == ["Soup", "rice", "eggs", "", ""]


def test_a_drink_without_nutrients_is_known_by_the_whole_of_its_name():
    names = pd.Series(["Black coffee", "water", "coffee with milk", "orange juice", None, "Espresso"])
    assert is_drink_without(names).tolist() == [True, True, False, False, False, True]


@pytest.mark.parametrize(
    ("name", "drink"),
    [
        ("Red wine", True), ("orange juice", True), ("jus d'orange", True), ("glass of milk", True), ("beer", True),
        ("Latte macchiato", True), ("vino tinto", True), ("Milch", True), ("czarna kawa", True), ("", False),
        ("rice with milk", False), ("wine gums", False), ("tea cake", False), ("the usual curry", False),
        ("spaghetti al vino", False), ("Fisch in Wein", False), ("a long name that ends in tea", False),
    ],
)  # fmt: skip
def test_drinks_are_known_by_their_names_and_dishes_with_them_are_not(name, drink):
    """Everyday names, as a speaker of the language would read them."""
    assert is_drink(pd.Series([name])).tolist() == [drink]
