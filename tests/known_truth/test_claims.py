"""A person in whom nothing is true, followed over two wears."""

import pandas as pd

from tests.known_truth.claims import follow, tabulate_looks


def test_of_one_person_followed_over_two_wears_nothing_is_claimed():
    followed = follow(1003, 2)
    assert followed["look"].tolist() == [1, 2]
    assert followed["stood"].tolist() == [0, 0]


def test_shares_are_of_looks_and_of_people():
    """Three people over two looks: one claim that stood, one that came and went, none."""
    followed = pd.DataFrame({"person": [1, 1, 2, 2, 3, 3], "look": [1, 2] * 3, "stood": [1, 2, 1, 0, 0, 0]})
    row = tabulate_looks(followed).iloc[0]
    assert (row["people"], row["at a look"], row["for three"]) == (3, 0.5, 0)
    assert (row["at any look"], row["stood for two wears"]) == (2 / 3, 1 / 3)
