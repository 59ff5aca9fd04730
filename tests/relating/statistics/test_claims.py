"""Does a claim follow from its interval, and only from it?"""

from __future__ import annotations

import numpy as np
import pytest

from glucolab.record import VERDICTS
from glucolab.relating.effects.questions import OUTCOMES
from glucolab.relating.statistics.claims import decide_claim, decide_verdict, worth_noticing


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (-9.0, -4.0, "lower"),
        (-9.0, -0.1, "lower"),
        (0.1, 9.0, "higher"),
        (-9.0, 0.5, "cannot_tell_yet"),
        (-9.0, 0.0, "cannot_tell_yet"),
        (-2.0, 2.5, "too_small_to_matter"),
        (-3.0, 3.0, "too_small_to_matter"),
        (0.5, 2.0, "too_small_to_matter"),  # surely there, and surely too small
        (None, None, "not_enough_data"),
        (np.nan, 1.0, "not_enough_data"),
        (-np.inf, np.inf, "not_enough_data"),
    ],
)
def test_the_interval_decides(low, high, expected):
    assert decide_verdict(low, high, 3.0) == expected
    assert expected in VERDICTS


def test_a_claim_among_many_needs_its_q_value():
    assert decide_claim(-9.0, -4.0, 3.0, q_value=0.10) == "lower"
    assert decide_claim(-9.0, -4.0, 3.0, q_value=0.11) == "cannot_tell_yet"
    assert decide_claim(-9.0, -4.0, 3.0, q_value=np.nan) == "cannot_tell_yet"
    assert decide_claim(-2.0, 2.0, 3.0, q_value=0.9) == "too_small_to_matter"


def test_every_outcome_has_something_worth_noticing():
    for outcome in OUTCOMES.values():
        assert worth_noticing(outcome.name, 3.0) > 0
    assert worth_noticing("mean_mg_dl", 3.0) == 3.0
    assert worth_noticing("rise_mg_dl", 6.0) == 2 * worth_noticing("rise_mg_dl", 3.0)
    assert worth_noticing("asleep_h", 6.0) == worth_noticing("asleep_h", 3.0)
