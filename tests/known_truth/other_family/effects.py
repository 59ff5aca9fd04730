"""What is planted, and in which words does the package ask for it?"""

from __future__ import annotations

from dataclasses import dataclass

WALK, FIRST, EVENING, SLEEP = "walk_after", "protein_first", "evening_meal", "asleep_h"
"""Factors by their names in the contract."""
ON_RISE = (WALK, FIRST, EVENING)
"""Those that change the response to a meal."""
QUESTIONS = {WALK: "rise_mg_dl", FIRST: "rise_mg_dl", EVENING: "rise_mg_dl", SLEEP: "mean_mg_dl"}
"""Factor and outcome as in the table of effects."""
NIL_SHARE = 1 / 3
"""Share of studies in which a factor does nothing; assumed, so that claims where nothing is can be counted."""
WALK_TAKES = (0.20, 0.45)
"""Part of the response that a walk after the meal takes off; assumed, about what trials of walks report."""
FIRST_TAKES = (0.15, 0.40)
"""Part of the response that protein eaten first takes off; assumed, about what trials of food order report."""
EVENING_RAISES = (0.15, 0.45)
"""Part by which the response to a meal from 18:00 is larger; assumed, about what trials of meal hours report."""
SLEEP_PER_HOUR_MG_DL = (1.5, 3.5)
"""What an hour less asleep raises the whole next day by; assumed. [mg/dL per h]"""
EVENING_FROM_H, EVENING_TO_H, DAY_FROM_H = 18.0, 24.0, 4.0
"""Hours between which the contract asks of meals of the evening, and from when of those of the day. [h]"""
ALONE_MIN = 180.0
"""Meals of the evening are asked of only if no other food was written in so many minutes before. [min]"""


@dataclass(frozen=True)
class Effects:
    """Relative changes of a response, and what an hour less asleep does to the level of a day [mg/dL]; 0 is nil."""

    walk_after: float
    protein_first: float
    evening_meal: float
    less_sleep: float

    def planted(self, factor: str) -> float:
        """In the sense of the table of effects: relative for rises, mg/dL an hour *more* for sleep."""
        return -self.less_sleep if factor == SLEEP else float(getattr(self, factor))
