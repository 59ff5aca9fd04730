"""Do the sentences on habits and the goal say what levers.csv says, without figures where none are wanted?"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest

from glucolab.record import Goal
from glucolab.showing.display import NO_BREAK as SPACE
from glucolab.showing.display import Display
from glucolab.showing.words.findings.levers import list_levers, say_levers, say_step

MG, MMOL, WORDS_ONLY = Display(), Display("mmol/L"), Display(numbers=False)
GOAL = Goal(95.0)
WALK = {"factor": "walk_after", "now": 0.32, "change": "", "on_mean_mg_dl": -3.6, "low_mg_dl": -7.4, "high_mg_dl": -0.8,
        "source": "effects", "verdict": "lower"}  # fmt: skip
SLEEP = WALK | {"factor": "asleep_h", "now": 6.5, "on_mean_mg_dl": -1.4, "low_mg_dl": -8.4, "high_mg_dl": 5.6,
                "verdict": "cannot_tell_yet"}  # fmt: skip
PROTEIN = WALK | {"factor": "protein_first", "on_mean_mg_dl": -0.2, "low_mg_dl": -1.0, "high_mg_dl": 0.6,
                  "verdict": "too_small_to_matter"}  # fmt: skip
CARBS = WALK | {"factor": "carbs_g", "on_mean_mg_dl": np.nan, "low_mg_dl": np.nan, "high_mg_dl": np.nan,
                "verdict": "not_enough_data"}  # fmt: skip


def said(*rows: dict, usual: float = 98.0, goal: Goal = GOAL, display: Display = MG) -> tuple[str, list[str]]:
    return say_levers(pd.DataFrame(rows), usual, goal, display)


def test_each_habit_by_its_verdict():
    _, rows = said(WALK, SLEEP, PROTEIN, CARBS)
    assert rows == [
        f"Walking after each larger meal, not only after 32{SPACE}% of them, would lower your average by 4{SPACE}mg/dL "
        "(1 to 7).",
        f"An hour more sleep: not clear yet. So far it would lower your average by 1{SPACE}mg/dL; could be 8 lower to "
        "6 higher.",
        f"Eating protein first at each larger meal, not only at 32{SPACE}% of them: too small to matter for your "
        "average.",
        "Not enough data yet: 30 g less carbohydrate a day.",
    ]


def test_what_stands_out_alone_only_may_be_chance():
    _, rows = said(WALK | {"verdict": "cannot_tell_yet"})
    assert "not clear yet. So far it would lower" in rows[0]
    assert "; 1 to 7 on its own, which may be chance." in rows[0]


@pytest.mark.parametrize(
    ("usual", "rows", "lead"),
    [
        (95.5, [WALK], "One habit alone would very likely close that distance: walking after each larger meal."),
        (98.0, [WALK], "No habit alone would surely close that distance; together these might: walking after each"),
        (100.0, [WALK, SLEEP], "What is clear so far would not close it; what might, if it holds: walking after each"),
        (120.0, [WALK, SLEEP], "None of these habits would close that distance."),
        (94.0, [WALK], "Your average is at your goal already; these habits might keep it there."),
    ],
)
def test_the_distance_to_the_goal_and_what_might_close_it(usual, rows, lead):
    found, _ = said(*rows, usual=usual)
    assert lead in found
    away = {95.5: "0.5", 98.0: "3", 100.0: "5", 120.0: "25"}.get(usual)
    assert found.startswith(f"Your goal is {away}{SPACE}mg/dL away. ") == (away is not None)


def test_without_a_goal_or_an_average_no_distance_is_said():
    assert said(WALK, goal=Goal(None))[0] == ""
    assert said(WALK, usual=np.nan)[0] == ""
    assert said(CARBS)[0].startswith("No habit can be set against the average yet")


def test_hidden_numbers_stay_hidden():
    lead, rows = said(WALK, SLEEP, PROTEIN, display=WORDS_ONLY)
    text = re.sub(rf"32{SPACE}%", "", " ".join([lead, *rows]))
    assert not re.search(r"\d", text)
    assert "would lower your average." in text


def test_other_units_and_labels():
    assert f"by 0.2{SPACE}mmol/L (0.0 to 0.4)" in said(WALK, display=MMOL)[1][0]
    drawn = list_levers(pd.DataFrame([WALK | {"change": "a walk after each larger meal"}, CARBS]))
    assert drawn["label"].tolist() == ["a walk after each larger meal"]


def test_what_is_clear_comes_first():
    table = pd.DataFrame([SLEEP, WALK])
    assert list_levers(table)["factor"].tolist() == ["walk_after", "asleep_h"]
    assert said(SLEEP, WALK)[1][0].startswith("Walking after each larger meal")


def test_the_first_screen_names_the_clear_habit_that_helps_most_and_never_eating_less():
    less = CARBS | {"on_mean_mg_dl": -5.0, "low_mg_dl": -7.0, "high_mg_dl": -3.0, "verdict": "lower"}
    step = say_step(pd.DataFrame([less, SLEEP, WALK]), 98.0, GOAL, MG)
    assert step == (
        "To come nearer to your goal, if the habit is the reason: walking after each larger meal, not only after "
        f"32{SPACE}% of them, would lower your average over day and night by 4{SPACE}mg/dL (1 to 7)."
    )
    assert say_step(pd.DataFrame([less, SLEEP]), 98.0, GOAL, MG) == ""
    assert say_step(pd.DataFrame([WALK]), 94.0, GOAL, MG) == ""
    assert say_step(pd.DataFrame([WALK]), np.nan, GOAL, MG) == ""
    assert say_step(pd.DataFrame([WALK]), 98.0, Goal(None), MG) == ""
