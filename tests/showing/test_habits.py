"""Does the page say of habits what their table says, and that they are as written down?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.showing.words.findings.habits import say_change, say_habit_means, say_habits

CARBS = {
    "wear_a": "a", "wear_b": "b", "habit": "carbs_g", "unit": "g", "mean_a": 165.4, "mean_b": 127.0,
    "difference": -38.4, "low": -60.2, "high": -15.6, "verdict": "lower",
}  # fmt: skip
SLEEP = CARBS | {
    "habit": "asleep_h", "unit": "h", "mean_a": 6.54, "difference": 0.17, "low": -0.6, "high": 0.96,
    "verdict": "cannot_tell_yet",
}  # fmt: skip


def test_what_differs_is_said_with_its_interval_and_what_it_may_do():
    said = say_habits(pd.DataFrame([CARBS, SLEEP]))
    assert said.startswith("As written down, carbohydrate lower, \u221238\u00a0g (\u221260 to \u221216) a day.")
    assert "Part of a difference may go with that" in said


def test_nothing_for_sure_and_nothing_known():
    assert "Your notes show no clear difference: carbohydrate and time asleep" in say_habits(
        pd.DataFrame([CARBS | {"verdict": "cannot_tell_yet"}, SLEEP])
    )
    assert "too few days" in say_habits(pd.DataFrame([CARBS | {"difference": np.nan}]))


def test_decimals_follow_the_unit():
    assert say_change(pd.Series(SLEEP)) == "+0.2\u00a0h (\u22120.6 to +1.0)"
    assert say_habit_means(pd.Series(SLEEP), "mean_a") == "6.5\u00a0h"
    assert say_habit_means(pd.Series(CARBS), "mean_a") == "165\u00a0g"
