"""Does an experiment decide itself only where it may, however often it is looked at?"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import cache
from itertools import product
from math import comb

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binomtest

from glucolab.relating.planning.trial_design import draw_trial_dates, judge_pairs, toss_values
from glucolab.relating.statistics.claims import CLAIMS
from glucolab.relating.trials import looks
from glucolab.relating.trials.date_outcomes import find_trial_dates
from glucolab.relating.trials.looks import LEAST_TOSSES, first_stop, p_anytime, toss_pairs, weigh_tosses
from glucolab.relating.trials.results import compare_trial_arms
from tests.hand_made import at, make_table
from tests.known_truth.looks import ARMS, NOISES, live
from tests.relating.planned import eaten, worn

ERROR = 0.10
"""What an experiment may err in, looks and all."""


class TestEvidence:
    @pytest.mark.parametrize(("n", "evidence"), [(5, 5.33), (6, 9.14), (7, 16), (8, 28.4), (9, 51.2)])
    def test_of_pairs_that_are_all_alike(self, n, evidence):
        """Worked out apart: 2^n / (n + 1). Ten is asked for: seven decide and six do not."""
        for sign in (1, -1):
            assert weigh_tosses(np.full(n, sign * 3.0))[-1] == pytest.approx(evidence, abs=0.05)
        assert (p_anytime(np.full(n, 3.0)) <= ERROR) == (n >= LEAST_TOSSES)

    def test_of_ten_pairs_one_of_which_is_against(self):
        """9.31, just too little, wherever it stands; p is of the most that it ever was."""
        late = np.array([1.0] * 9 + [-1])
        assert weigh_tosses(late)[-1] == weigh_tosses(late[::-1])[-1] == pytest.approx(9.31, abs=0.005)
        assert p_anytime(late[::-1]) == pytest.approx(1 / 9.31, abs=1e-4)
        assert p_anytime(late) == pytest.approx(10 / 512)

    @pytest.mark.parametrize("n", [4, 11])
    def test_it_is_the_bet_averaged_over_all_shares_of_the_stake(self, n):
        """The integral of (1 + s)^k (1 - s)^(n - k) over s from -1 to 1, evenly, by quadrature."""
        shares, weights = np.polynomial.legendre.leggauss(20)
        for k in range(n + 1):
            tosses = np.repeat([1.0, -1.0], [k, n - k])
            wealth = np.sum(weights / 2 * (1 + shares) ** k * (1 - shares) ** (n - k))
            assert weigh_tosses(tosses)[-1] == pytest.approx(wealth)

    def test_whoever_looks_after_each_of_fourteen_pairs_stops_falsely_less_than_one_time_in_ten(self):
        """All 2^14 orders of heads and tails: as many stop as a walk over their numbers says, in fractions."""
        tosses = np.array(list(product([-1.0, 1.0], repeat=14))).T
        share = np.mean(first_stop(tosses) <= 14)
        walks, stopped = {0: Fraction(1)}, Fraction(0)
        for n in range(1, 15):
            steps: dict[int, Fraction] = {}
            for k, chance in walks.items():
                for new in (k, k + 1):
                    steps[new] = steps.get(new, Fraction(0)) + chance / 2
            decided = {k for k in steps if 2**n >= 10 * (n + 1) * comb(n, k)}
            stopped += sum(steps[k] for k in decided)
            walks = {k: chance for k, chance in steps.items() if k not in decided}
        assert share == pytest.approx(float(stopped))
        assert share < ERROR

    def test_pairs_that_say_nothing_are_no_tosses(self):
        tosses = np.array([[1.0, np.nan, 1, 1, 1, np.nan, 1, 1, 1, 1]]).T
        assert first_stop(tosses).tolist() == [9]
        assert first_stop(tosses[:8]).tolist() == [9], "never, of eight"


def in_blocks(orders: str, **columns) -> pd.DataFrame:
    """A date a day; "rw" is a block whose first date is rest."""
    arms = {"r": "rest", "w": "walk"}
    return make_table("trials", *(
        {"date": at("00:00", i).tz_localize(None), "trial": "walk", "arm": arms[letter], "dish": "porridge",
         "block": f"block {i // 2}", **columns}
        for i, letter in enumerate(orders.replace(" ", ""))
    ))  # fmt: skip


def lived(planned, rises, spoilt=(), running=False):
    meals = [eaten(at("08:00", i), rise=rise, reason="gap" if i in spoilt else "") for i, rise in enumerate(rises)]
    return find_trial_dates([worn(meals, n_days=len(rises), running=running)], planned)


def of_rise(dates):
    table = compare_trial_arms(dates, 3.0)
    return table[table["outcome"] == "rise_mg_dl"].iloc[0]


SEVEN = "rw wr rw rw wr wr rw"
RISES = [50, 31, 28, 47, 52, 29, 49, 33, 30, 51, 34, 46, 48, 27]
"""Fourteen days of seven pairs: rest about 49, walk about 30."""


class TestPairs:
    def test_what_each_pair_says_is_b_minus_a(self):
        tosses = toss_pairs(lived(in_blocks(SEVEN), RISES), "rest", "walk", "rise_mg_dl")
        assert tosses["difference"].tolist() == [-19, -19, -23, -16, -21, -12, -21]

    def test_a_date_alone_is_set_against_the_wears_earlier_ones(self):
        """The third pair has its walk alone: 29 against the mean of 50, 31, 28 and 47."""
        tosses = toss_pairs(lived(in_blocks(SEVEN), RISES, spoilt=(4,)), "rest", "walk", "rise_mg_dl")
        assert tosses["difference"].tolist() == [-19, -19, 29 - 39, -16, -21, -12, -21]
        first_lost = toss_pairs(lived(in_blocks(SEVEN), RISES, spoilt=(0, 2, 3)), "rest", "walk", "rise_mg_dl")
        assert len(first_lost) == 5, "nothing came before the first, and the second pair is lost"

    def test_dates_drawn_otherwise_are_paired_as_they_follow_each_other_if_they_differ(self):
        planned = in_blocks("rw rr wr ww rw").assign(block=None)
        tosses = toss_pairs(lived(planned, [50, 30, 1, 2, 31, 52, 3, 4, 48, 33]), "rest", "walk", "rise_mg_dl")
        assert tosses["difference"].tolist() == [-20, -21, -15]

    def test_a_pair_whose_second_date_is_ahead_waits(self):
        dates = lived(in_blocks(SEVEN), RISES[:13])
        assert dates["reason"].iloc[-1] == "ahead"
        assert len(toss_pairs(dates, "rest", "walk", "rise_mg_dl")) == 6


class TestStop:
    def test_seven_pairs_alike_decide_and_the_exact_test_agrees(self):
        row = of_rise(lived(in_blocks(SEVEN + "rw" * 3), RISES))
        assert row["p_anytime"] == pytest.approx(1 / 16)
        assert row["p_exact"] == pytest.approx(2 / 128)
        assert row["stop"]
        assert row["verdict"] == "lower", "though six dates are ahead"

    def test_six_pairs_do_not_and_nothing_is_claimed_while_dates_are_ahead(self):
        """p is 2 of 64 and would be enough had six been the plan; it may not be looked at and stopped for."""
        row = of_rise(lived(in_blocks(SEVEN), RISES[:12]))
        assert row["p_exact"] == pytest.approx(2 / 64)
        assert (row["p_anytime"], bool(row["stop"])) == (pytest.approx(7 / 64), False)
        assert row["verdict"] == "cannot_tell_yet"
        at_end = of_rise(lived(in_blocks(SEVEN[:17]), RISES[:12]))
        assert (at_end["verdict"], bool(at_end["stop"])) == ("lower", False)

    def test_before_any_pair_p_is_one(self):
        row = of_rise(find_trial_dates([], in_blocks(SEVEN)))
        assert (row["p_anytime"], bool(row["stop"]), row["verdict"]) == (1.0, False, "not_enough_data")

    def test_the_lot_of_pairs_is_drawn_anew_in_pairs(self):
        """Seven pairs with one date lost: 128 ways, of which the one seen and its mirror image are the furthest."""
        row = of_rise(lived(in_blocks(SEVEN), RISES, spoilt=(4,)))
        assert row["p_exact"] == pytest.approx(2 / 128)
        assert (row["n_a"], row["n_b"]) == (6, 7)
        assert row["difference"] == pytest.approx(
            np.mean([31, 28, 29, 33, 30, 34, 27]) - np.mean([50, 47, 49, 51, 46, 48])
        )

    def test_at_the_end_looks_count_too(self):
        """p of the end alone a hair under a tenth: claimed only if it is with the orders that stop at a look."""
        values = 40 + 16 * np.random.default_rng(4).standard_normal((4000, 10, 2)) + [4, 0]
        p_values = judge_pairs(values, np.random.default_rng(0))
        near = values[(p_values > 0.096) & (p_values <= ERROR)][:5]
        signs = np.array(list(product([-1, 1], repeat=10)))
        n, k = np.arange(1, 11), np.cumsum(signs > 0, axis=1)
        stopped = (2.0**n >= 10 * (n + 1) * np.vectorize(comb)(n, k)).any(axis=1)
        verdicts = []
        for pairs in near:
            row = of_rise(lived(in_blocks("rw" * 10), pairs.ravel()))
            apart = pairs[:, 1] - pairs[:, 0]
            as_far = np.abs(signs @ np.abs(apart)) >= abs(apart.sum()) - 1e-9
            assert row["p_exact"] == pytest.approx(as_far.mean())
            assert (row["verdict"] in CLAIMS) == (row["stop"] or np.mean(as_far | stopped) <= ERROR)
            verdicts.append(row["verdict"])
        assert "cannot_tell_yet" in verdicts


def share_that_stop(p_of: Callable[[np.ndarray], float], kind: str) -> float:
    """Of 400 experiments of 24 pairs in which nothing is true, how many reach a tenth at some look."""
    rng = np.random.default_rng(7)
    drawn = [rng.permuted(NOISES[kind](rng, 48).reshape(24, 2), axis=1) for _ in range(400)]
    tosses = [pairs[:, 1] - pairs[:, 0] for pairs in drawn]
    return float(np.mean([any(p_of(row[:n]) <= ERROR for n in range(1, 25)) for row in tosses]))


def plain_p(differences: np.ndarray) -> float:
    """The exact test of the signs at a size fixed beforehand."""
    return _sign_test(int(np.sum(differences > 0)), len(differences))


@cache
def _sign_test(above: int, n: int) -> float:
    return float(binomtest(above, n).pvalue)


@pytest.mark.parametrize("kind", NOISES)
def test_looking_after_every_pair_errs_at_most_one_time_in_ten(kind):
    """And the plain p in its place fails this very test."""
    assert share_that_stop(p_anytime, kind) <= ERROR
    assert share_that_stop(plain_p, kind) > ERROR + 2.5 * np.sqrt(0.09 / 400)


def test_the_table_says_at_each_look_what_the_tosses_so_far_say():
    dates, by_arm = live(np.random.default_rng(3), ("normal", 10, 1.5, 1.0))
    tosses = toss_values(by_arm[None])[0]
    for pairs in range(1, 11):
        ahead = np.arange(20) >= 2 * pairs
        seen = dates.assign(reason=dates["reason"].mask(ahead, "ahead"), used=dates["used"] & ~ahead)
        row = of_rise(seen)
        assert row["p_anytime"] == pytest.approx(p_anytime(tosses[:pairs]))
        assert row["stop"] == (row["p_anytime"] <= ERROR)
        assert (row["verdict"] in CLAIMS) <= (row["stop"] or pairs == 10)


def test_evidence_that_forgets_how_many_ways_there_are_fails_the_count(monkeypatch):
    """Betting all on the side that leads is no martingale: fair coins would stop all the time."""
    monkeypatch.setattr(looks, "betaln", lambda a, b: -np.minimum(a, b) * np.log(2.0))
    looks._deciding.cache_clear()
    tosses = np.array(list(product([-1.0, 1.0], repeat=12))).T
    assert np.mean(first_stop(tosses) <= 12) > ERROR
    looks._deciding.cache_clear()


@pytest.mark.parametrize("kind", NOISES)
def test_no_arm_comes_three_times_running(kind):
    for seed in range(20):
        dates, _ = live(np.random.default_rng(seed), (kind, 7, 0.0, 1.0))
        assert "rest,rest,rest" not in ",".join(dates["arm"])
        assert dates.groupby("block")["arm"].nunique().eq(len(ARMS)).all()


def test_three_arms_come_in_blocks_of_three():
    drawn = draw_trial_dates(pd.date_range("2026-03-01", periods=12), ("a", "b", "c"), 4, 1)
    assert drawn.groupby("block", sort=False)["arm"].apply(lambda arms: "".join(sorted(arms))).tolist() == ["abc"] * 4
    assert drawn["block"].unique().tolist() == ["2026-03-01", "2026-03-04", "2026-03-07", "2026-03-10"]
