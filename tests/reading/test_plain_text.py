"""Are two words one where only accents differ, and two where a letter does? Everyday words, from memory."""

from __future__ import annotations

import pytest

from glucolab.reading.text import plain


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Crème brûlée", "creme brulee"), ("καφές", "καφες"), ("ёлка", "елка"), ("Łosoś", "losos"),
        ("שָׁלוֹם", "שלום"), ("خُبْز", "خبز"), ("İzmir", "izmir"), ("half_fat  milk!", "Half fat milk"),
    ],
)  # fmt: skip
def test_accents_and_points_part_no_words(one, other):
    assert plain(one) == plain(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("दाल", "दिल"),  # lentils, heart: a vowel sign
        ("ข้าว", "ขาว"),  # rice, white: a tone mark
        ("ガム", "カム"),  # chewing gum, come: a voicing mark
        ("பால்", "பல்"),  # milk, tooth: a vowel sign
    ],
)
def test_signs_that_are_letters_part_words(one, other):
    assert plain(one) != plain(other)
    assert plain(one) == one


def test_marks_stay_within_their_word():
    assert plain("दाल चावल") == "दाल चावल"
