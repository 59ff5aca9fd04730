"""Does a claim follow from its interval, and only from it?"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab.record import VERDICTS
from glucolab.relating.effects.questions import OUTCOMES
from glucolab.relating.statistics.claims import adjust_p_values, decide_claim, decide_verdict, worth_noticing


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (-9.0, -4.0, "lower"),
        (-9.0, -0.1, "lower"),
        (0.1, 9.0, "higher"),
        (-9.0, 0.5, "cannot_tell_yet"),
        (-9.0, 0.0, "cannot_tell_yet"),
        (0.0, 9.0, "cannot_tell_yet"),
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


@pytest.mark.parametrize(
    ("outcome", "least"),
    [
        ("mean_mg_dl", 3.0),
        ("overnight_mean_mg_dl", 3.0),
        ("sd_mg_dl", 1.0),  # a third of the mean's
        ("rise_mg_dl", 5.0),
        ("iauc_2h_mg_dl_min", 0.5 * 120 * 5.0),  # half of two hours times the rise
        ("cv_percent", 1.0),
        ("energy", 0.5),  # half a step
        ("asleep_h", 15 / 60),
    ],
)
def test_a_change_up_to_what_is_worth_noticing_is_too_small_to_matter_and_beyond_it_is_not(outcome, least):
    """For a person who would notice 3 mg/dL of a mean. The interval ends a hair inside, or a hair outside."""
    worth = worth_noticing(outcome, 3.0)
    assert decide_verdict(-0.999 * least, 0.999 * least, worth) == "too_small_to_matter"
    assert decide_verdict(-0.999 * least, 1.001 * least, worth) == "cannot_tell_yet"
    assert decide_verdict(-1.001 * least, 0.999 * least, worth) == "cannot_tell_yet"
    assert decide_verdict(0.5 * least, 1.001 * least, worth) == "higher"


def test_a_claim_may_be_false_one_time_in_ten():
    """Ten findings of which the largest p is 0.10 are all claimed, by scipy's q-values; of 0.11 the last is not."""
    for last, claimed in ((0.10, 10), (0.11, 9)):
        q = adjust_p_values(np.array([*np.linspace(0.01, 0.09, 9), last]))
        assert q == pytest.approx(stats.false_discovery_control([*np.linspace(0.01, 0.09, 9), last]))
        assert sum(decide_claim(-9.0, -4.0, 3.0, one) == "lower" for one in np.round(q, 12)) == claimed
