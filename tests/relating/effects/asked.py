"""What is answered of one question, where every row is written by hand?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.relating.effects.effects import _answer, _Asked
from glucolab.relating.effects.questions import ADJUSTED_FOR, Pair


def ask(factor: str, outcome: str, gain_errors: np.ndarray | None = None, **columns) -> dict:
    """One question of rows written by hand, by default a day each of one wear; what is not written is not known."""
    n = len(next(iter(columns.values())))
    usual = {"wear": np.zeros(n, int), "day": np.arange(n), "dish": np.full(n, "", object)}
    usual |= dict.fromkeys(
        (*ADJUSTED_FOR["day"], *ADJUSTED_FOR["meal"], "bedtime_h", "rise_se_mg_dl"), np.full(n, np.nan)
    )
    usual |= dict.fromkeys(("left_out", "night_left_out", "digesting"), np.zeros(n, bool))
    usual |= dict.fromkeys(("enough", "night_enough", "alone"), np.ones(n, bool))
    errors = np.zeros((1, 1)) if gain_errors is None else gain_errors
    return _answer(Pair(factor, outcome, ""), _Asked.of(pd.DataFrame(usual | columns), errors))
