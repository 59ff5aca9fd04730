"""Does the mean curve of a dish stop where most of its lines do?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.conventions import name_dishes
from glucolab.relating.observations.meal_curves import average_eatings


def eatings(*curves):
    return pd.concat(
        [
            pd.DataFrame({"dish": "soup", "time": i, "minutes": np.arange(0, 20, 5), "above_mg_dl": curve})
            for i, curve in enumerate(curves)
        ]
    )


def test_where_one_of_two_lines_ends_their_mean_ends_and_does_not_jump():
    mean = average_eatings(eatings([0.0, 10.0, 20.0, 30.0], [0.0, 30.0, np.nan, np.nan]))
    assert mean["minutes"].tolist() == [0, 5]
    assert mean["above_mg_dl"].tolist() == [0.0, 20.0]


def test_one_line_of_four_may_be_missing():
    mean = average_eatings(eatings([0.0] * 4, [4.0] * 4, [8.0] * 4, [0.0, np.nan, np.nan, np.nan]))
    assert mean["minutes"].tolist() == [0, 5, 10, 15]
    assert mean["above_mg_dl"].tolist() == [3.0, 4.0, 4.0, 4.0]


def test_a_repeat_is_told_by_dish_and_where_none_is_written_by_name():
    meals = pd.DataFrame({"name": ["Soup", "soup, at home", None], "dish": ["", "soup", np.nan]})
    assert name_dishes(meals).tolist() == ["Soup", "soup", ""]
