"""What the average is made of, in words."""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.showing.display import Display
from glucolab.showing.words.findings.average_parts import say_average_parts

PARTS = pd.DataFrame(
    [("level", 83.4, 73.1, 93.7), ("food", 7.3, 3.9, 10.6), ("movement", -0.9, -1.6, -0.2), ("rhythm", 4.0, -2.0, 10.0),
     ("rest", -0.2, -1.1, 0.7)],
    columns=["part", "mg_dl", "low_mg_dl", "high_mg_dl"],
)  # fmt: skip


@pytest.mark.parametrize(
    ("display", "said"),
    [
        (
            Display("mg/dL"),
            "At night you are at about 83 mg/dL; food adds 7 (4 to 11) and exercise takes off 0.9 (0.2 to 1.6). "
            "Whether being up changes it is not clear yet.",
        ),
        (
            Display("mmol/L"),
            "At night you are at about 4.6 mmol/L; food adds 0.4 (0.2 to 0.6) and exercise takes off 0.05 "
            "(0.01 to 0.09). Whether being up changes it is not clear yet.",
        ),
        (
            Display(numbers=False),
            "Most of your average is the level of your nights; food and being up come on top.",
        ),
    ],
)
def test_the_average_is_told_from_the_night_up(display, said):
    assert say_average_parts(PARTS, display).replace("\N{NO-BREAK SPACE}", " ") == said


def test_nothing_is_said_without_the_table():
    assert say_average_parts(PARTS[:0], Display()) == ""
