"""Does a claim follow from its interval, and only from it?"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from glucolab.record import STUDY_OUTPUTS, VERDICTS
from glucolab.relating.effects.questions import OUTCOMES
from glucolab.relating.statistics.claims import LOOKS, adjust_by_factor, adjust_p_values, decide_verdict, worth_noticing


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
        (0.5, 2.0, "higher"),  # surely there, and small: never called too small
        (-2.0, -0.5, "lower"),
        (None, None, "not_enough_data"),
        (np.nan, 1.0, "not_enough_data"),
        (-np.inf, np.inf, "not_enough_data"),
    ],
)
def test_the_interval_decides(low, high, expected):
    assert decide_verdict(low, high, 3.0) == expected
    assert expected in VERDICTS


def test_a_claim_among_many_needs_its_q_value():
    assert decide_verdict(-9.0, -4.0, 3.0, q_value=0.10) == "lower"
    assert decide_verdict(-9.0, -4.0, 3.0, q_value=0.11) == "cannot_tell_yet"
    assert decide_verdict(-9.0, -4.0, 3.0, q_value=np.nan) == "cannot_tell_yet"
    assert decide_verdict(-2.0, 2.0, 3.0, q_value=0.9) == "too_small_to_matter"
    assert decide_verdict(0.5, 2.0, 3.0, q_value=0.9) == "too_small_to_matter"


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
        assert sum(decide_verdict(-9.0, -4.0, 3.0, one) == "lower" for one in np.round(q, 12)) == claimed


def test_a_factor_of_one_question_has_the_q_value_that_scipy_gives():
    p = np.array([0.004, 0.2, 0.03, 0.9, 0.011])
    alone = np.ones(5, bool)
    assert adjust_by_factor(p, np.arange(5), alone) == pytest.approx(stats.false_discovery_control(p))


def test_a_factor_three_times_as_likely_needs_a_third_of_the_proof():
    """Weights 3, 1, 1, 1 over their mean 1.5 are 2 and 2/3: p over these is what the usual procedure then sees."""
    p = np.array([0.04, 0.015, 0.5, 0.8])
    found = adjust_by_factor(p, np.arange(4), np.ones(4, bool), np.array([3.0, 1.0, 1.0, 1.0]))
    assert found == pytest.approx(stats.false_discovery_control(np.minimum(p / np.array([2, 2 / 3, 2 / 3, 2 / 3]), 1)))
    one_unknown = np.array([0.04, np.nan, 0.5, 0.8])  # weights are shared among those that are asked
    found = adjust_by_factor(one_unknown, np.arange(4), np.ones(4, bool), np.array([3.0, 9.0, 1.0, 1.0]))
    assert found[0] == pytest.approx(0.04 / 1.8 * 3)


def test_an_area_beside_a_rise_is_no_further_test_and_never_clearer_than_it():
    """Three rises and an area beside the first: the rises' q-values are as if nobody had asked for an area."""
    p, factor = np.array([0.01, 0.02, 0.5, 0.001]), np.array([0, 1, 2, 0])
    found = adjust_by_factor(p, factor, np.array([True, True, True, False]))
    assert found[:3] == pytest.approx(stats.false_discovery_control(p[:3]))
    assert found[3] == pytest.approx(found[0])
    p[0] = 0.6
    assert adjust_by_factor(p, factor, np.array([True, True, True, False]))[3] >= 0.1


def test_areas_of_clear_factors_are_read_at_the_level_of_these():
    """Ten factors, four of them clear: an area of one of these is clear at a p of 0.1 x 4 / 10, and not above."""
    p = np.array([0.001] * 4 + [0.8] * 6 + [0.0399, 0.0401])
    factor = np.array([*range(10), 0, 1])
    found = adjust_by_factor(p, factor, np.array([True] * 10 + [False] * 2))
    assert (found[10] <= 0.1, found[11] <= 0.1) == (True, False)


def test_several_leading_questions_make_one_test_as_scipy_combines_them():
    """Simes' p of three, by hand: the least of 3 p1, 3/2 p2 and p3, in order."""
    p = np.array([0.02, 0.03, 0.04, 0.5])
    found = adjust_by_factor(p, np.array([0, 0, 0, 1]), np.ones(4, bool))
    simes = min(3 * 0.02, 1.5 * 0.03, 0.04)
    of_factors = stats.false_discovery_control([simes, 0.5])
    assert found[3] == pytest.approx(of_factors[1])
    assert found[:3] == pytest.approx(np.maximum(of_factors[0], 2 * stats.false_discovery_control(p[:3])))


def test_of_claims_made_in_this_way_at_most_one_in_ten_is_false():
    """300 files of 20 factors, five of them real (z about 3), each asked about twice, area and rise alike by 0.8."""
    rng = np.random.default_rng(20261130)
    false, none_true = [], []
    for _ in range(300):
        for real, kept in ((5, false), (0, none_true)):
            shift = np.where(np.arange(20) < real, 3.0, 0.0)
            rise = rng.standard_normal(20) + shift
            area = 0.8 * (rise - shift) + 0.6 * rng.standard_normal(20) + shift
            p = 2 * stats.norm.sf(np.abs(np.concatenate([rise, area])))
            q = adjust_by_factor(p, np.tile(np.arange(20), 2), np.repeat([True, False], 20))
            claimed = q <= 0.1
            kept.append((claimed & (np.tile(shift, 2) == 0)).sum() / max(claimed.sum(), 1))
    assert 0.05 < np.mean(false) <= 0.1
    assert np.mean(none_true) == pytest.approx(0.1, abs=0.04)


def test_what_was_not_asked_has_no_q_value():
    p = np.array([np.nan, 0.03, 0.01, np.nan])
    found = adjust_by_factor(p, np.array([0, 1, 0, 2]), np.array([True, True, False, True]))
    assert found == pytest.approx([np.nan, 0.03, np.nan, np.nan], nan_ok=True)


def test_the_contract_says_by_what_q_is_multiplied():
    said = {column.name: column.text for column in STUDY_OUTPUTS["energy_effects"].columns}["q_value"]
    assert f"times {LOOKS:g} for many looks" in said
