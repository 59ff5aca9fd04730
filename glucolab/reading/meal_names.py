"""What does the name of a meal say? Whether it names a dish, and whether it is a drink without nutrients."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from glucolab.reading.text import plain, plain_words

MEALS_OF_THE_DAY = plain_words(
    "breakfast, brunch, lunch, dinner, supper, snack, snacks, tea, fruhstuck, mittagessen, mittag, abendessen, "
    "abendbrot, zwischenmahlzeit, petit dejeuner, dejeuner, diner, gouter, collation, encas, desayuno, almuerzo, "
    "comida, merienda, cena, tentempie, cafe da manha, pequeno almoco, almoco, jantar, lanche, ceia, colazione, "
    "pranzo, spuntino, merenda, ontbijt, middageten, avondeten, tussendoortje, sniadanie, obiad, kolacja, przekaska, "
    "podwieczorek, snidane, obed, vecere, svacina, kahvalti, ogle yemegi, aksam yemegi, ara ogun, atistirmalik, "
    "frukost, mellanmal, middag, kvallsmat, morgenmad, frokost, aftensmad, kveldsmat, aamiainen, lounas, paivallinen, "
    "illallinen, valipala, 朝食, 昼食, 夕食, 間食, 早餐, 午餐, 晚餐, 加餐, 아침, 점심, 저녁, 간식, завтрак, "
    "обед, ужин, перекус, полдник, reggeli, ebed, vacsora, uzsonna, sarapan, makan siang, makan malam, πρωινο, "
    "μεσημεριανο, βραδινο, mic dejun, pranz, cina, gustare"
)
"""Words for which meal of the day it was: no dish has such a name; everyday words, from memory."""
_BESIDE = plain_words(
    "a, the, my, some, first, second, third, 1st, 2nd, 3rd, early, late, light, small, big, quick, main, other, "
    "morning, midday, afternoon, evening, night, bedtime, pre, post, meal, food, time"
)
"""What such a name may hold besides and still say no more."""
DRINKS_WITHOUT = plain_words(
    "water, tap water, mineral water, sparkling water, soda water, black coffee, coffee, espresso, americano, "
    "filter coffee, tea, black tea, green tea, herbal tea, mint tea, wasser, mineralwasser, kaffee, schwarzer kaffee, "
    "tee, eau, cafe, cafe noir, the, agua, cafe solo, acqua, caffe, kawa, czarna kawa, woda, herbata"
)
"""Drinks that have under 5 g of carbohydrate by their name alone; everyday words, from memory. Too long a list keeps
sweet drinks from counting as food, too short a one lets a coffee end the meal before it."""


DRINKS = plain_words(
    "beer, ale, lager, cider, wine, champagne, cocktail, whisky, whiskey, gin, vodka, rum, juice, smoothie, cola, "
    "lemonade, soda, coffee, latte, cappuccino, espresso, macchiato, cocoa, tea, milk, shake, milkshake, kefir, water, "
    "squash, drink, bier, wein, sekt, saft, schorle, limonade, limo, kaffee, tee, kakao, milch, wasser, getrank, "
    "milchkaffee, ol, vin, saft, mjolk, kaffe, te, vand, vatten, piwo, wino, sok, kawa, herbata, mleko, woda, pivo, "
    " vino, caj, kava, kahvi, olut, viini, mehu, maito, bira, sarap, cay, kahve, sut, пиво, вино, сок, чай, кофе"
)
"""Last words of drinks in languages that put what it is last; everyday words, from memory. A dish taken for a drink is
listed below the others, a drink taken for a dish among them: no figure changes."""
_FIRST_OF_DRINKS = plain_words(
    "biere, vin, jus, cafe, lait, eau, boisson, cerveza, vino, zumo, jugo, leche, agua, refresco, birra, succo, "
    "spremuta, caffe, latte, acqua, bibita, cerveja, vinho, suco, sumo, cha, leite"
)
"""First words of drinks where that comes first ("jus d'orange")."""
_JOINS = plain_words("with, and, in, mit, und, med, och, og, z, ze, i, w, s, se, a, al, con, e, alla")
"""Between what is eaten and what goes with it ("rice with milk")."""
_LONGEST_DRINK = 4
"""Words that the name of a drink has at most; assumed. Longer names are of dishes with something to drink."""


def is_drink(name: pd.Series) -> np.ndarray:
    """True for what is a drink by its name, shape (n,)."""
    words = [plain(text).split() for text in name.fillna("")]
    return np.array([0 < len(name) <= _LONGEST_DRINK and _names_drink(name) for name in words], dtype=bool)


def _names_drink(words: list[str]) -> bool:
    return words[0] in _FIRST_OF_DRINKS or (words[-1] in DRINKS and _JOINS.isdisjoint(words))


@cache
def names_no_dish(name: str) -> bool:
    """True for a name that is empty or only says which meal of the day it was."""
    text = plain(name)
    if text in MEALS_OF_THE_DAY:
        return True
    # "late lunch", "snack 2"
    left = [word for word in text.split() if word not in _BESIDE and not word.isdecimal()]
    return " ".join(left) in MEALS_OF_THE_DAY or not left


def name_dishes(dish: pd.Series, name: pd.Series) -> pd.Series:
    """What each eating is a repeat of: its dish, and where none is written its name, if that names a dish.

    Parameters
    ----------
    dish, name : Series of str, shape (n,)
        Empty or NA where nothing is written.

    Returns
    -------
    Series of str, shape (n,)
        Empty where nothing tells.
    """
    written, named = dish.fillna("").str.strip(), name.fillna("").str.strip()
    says = np.array([not names_no_dish(text) for text in named], dtype=bool)
    return written.where(written != "", named.where(says, ""))


def is_drink_without(name: pd.Series) -> np.ndarray:
    """True for drinks without nutrients by their name alone, shape (n,)."""
    return np.array([plain(text) in DRINKS_WITHOUT for text in name.fillna("")], dtype=bool)
