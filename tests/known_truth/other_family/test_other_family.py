"""Is the judge of another family a fair one? Its truths by hand, and two studies from end to end."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tests.known_truth.other_family.blood import Blood, make_blood
from tests.known_truth.other_family.curves import FAMILIES, FULL_MIN, draw_shape
from tests.known_truth.other_family.effects import EVENING, FIRST, ON_RISE, QUESTIONS, SLEEP, WALK, Effects
from tests.known_truth.other_family.judging import Row, find_asked, judge
from tests.known_truth.other_family.living import DAY_MIN, DAYS, live
from tests.known_truth.other_family.rest import MINUTES, follow_sleep
from tests.known_truth.other_family.summing import ALL, summarise
from tests.known_truth.other_family.traits import CLOCK, GRAZING, KINDS, Traits, calm, draw_traits, make_rng
from tests.known_truth.other_family.wearing import invent, moments, wear_all

NOTHING, LARGE = Effects(0.0, 0.0, 0.0, 0.0), Effects(-0.5, -0.5, 0.6, 5.0)
PEAKS_MIN = {"fast": (24, 36), "slow": (85, 150), "two humps": (28, 145), "late": (99, 151), "usual": (35, 70)}


def lived_calmly(effects: Effects, kind: str = "usual", seed: int = 1) -> tuple[Traits, Blood]:
    rng = make_rng(kind, seed, 0)
    traits = replace(calm(draw_traits(rng, kind)), effects=effects)
    return traits, make_blood(rng, traits, live(rng, traits))


def alone(blood: Blood) -> list[int]:
    """Meals before which nothing was eaten for as long as a response is followed, and nothing in two hours after."""
    apart = np.diff([eating.minute for eating in blood.eatings])
    return [k for k in range(1, len(apart)) if apart[k - 1] >= FULL_MIN + 30 and apart[k] > 120]


class TestCurves:
    @pytest.mark.parametrize("family", FAMILIES)
    def test_peaks_lie_where_they_are_said_to(self, family):
        minutes = np.arange(FULL_MIN, dtype=float)
        for seed in range(20):
            course = draw_shape(np.random.default_rng(seed), family).at(minutes)
            assert PEAKS_MIN[family][0] <= course.argmax() <= PEAKS_MIN[family][1]
            assert course.max() == pytest.approx(1.0, abs=0.01)
            assert abs(course[-1]) < 0.05
            assert abs(course[:2]).max() < 0.02

    def test_a_fast_one_is_back_by_ninety_minutes(self):
        assert draw_shape(np.random.default_rng(1), "fast").at(np.array([90.0]))[0] < 0.1

    def test_onset_and_stretch_move_and_widen_it(self):
        shape, minutes = draw_shape(np.random.default_rng(1), "usual"), np.arange(0.0, 300.0)
        assert shape.at(2 * minutes + 10, onset_min=10, stretch=2) == pytest.approx(shape.at(minutes))


class TestTruth:
    @pytest.mark.parametrize("kind", KINDS)
    def test_half_the_responses_are_half_the_rises(self, kind):
        _, blood = lived_calmly(NOTHING, kind)
        whole, half = blood.total(), blood.total(0.5)
        rises = np.array([(blood.rise(whole, k), blood.rise(half, k)) for k in range(len(blood.eatings))])
        assert rises[:, 1] == pytest.approx(rises[:, 0] / 2, nan_ok=True)
        assert np.nanmean(rises[:, 0]) > 10

    @pytest.mark.parametrize("factor", ON_RISE)
    def test_a_planted_share_is_that_share_of_the_rise(self, factor):
        _, blood = lived_calmly(replace(LARGE, less_sleep=0.0))
        total, chosen = blood.total(), alone(blood)
        assert chosen
        for k in chosen:
            without, having = (blood.rise(total, k, **{factor: there}) for there in (False, True))
            assert having == pytest.approx((1 + LARGE.planted(factor)) * without)
            assert blood.rise(total, k) == pytest.approx(having if getattr(blood.eatings[k], factor) else without)

    def test_an_hour_less_asleep_raises_the_whole_local_day(self):
        rng = make_rng("usual", 1, 0)
        traits = replace(calm(draw_traits(rng, "usual")), effects=LARGE)
        life = live(rng, traits)
        days = follow_sleep(traits, life, np.arange(MINUTES, dtype=float)).reshape(DAYS, DAY_MIN).mean(axis=1)
        slope = np.polyfit(life.asleep_h, days, 1)[0]
        assert slope == pytest.approx(LARGE.planted(SLEEP), rel=0.03)


class TestLife:
    def test_the_same_seed_is_the_same_study(self):
        (_, first), (_, second) = invent("slow", 3, 1), invent("slow", 3, 1)
        for one, other in zip(first, second, strict=True):
            for name in one.wear.tables:
                pd.testing.assert_frame_equal(one.wear.tables[name], other.wear.tables[name])

    @pytest.mark.parametrize("kind", KINDS)
    def test_blood_is_that_of_somebody_without_diabetes(self, kind):
        blood = np.array([one.blood.total() for number in range(2) for one in invent(kind, 2, number)[1]])
        assert 82 < blood.mean() < 115
        assert 8 < blood.std(axis=1).mean() < 22
        assert (blood < 60).mean() < 0.005
        assert (blood > 180).mean() < 0.01

    def test_who_grazes_eats_often(self):
        eaten = {kind: len(invent(kind, 1, 0)[1][0].life.eatings) / DAYS for kind in (GRAZING, "usual")}
        assert 5 < eaten[GRAZING] < 9
        assert 3 < eaten["usual"] < 5

    def test_one_log_is_an_hour_late(self):
        late = []
        for one in invent(CLOCK, 1, 0)[1]:
            true = moments(one.midnight, np.array([eating.logged_at for eating in one.life.eatings]))
            late.append(float(((one.written - true) / pd.Timedelta(minutes=1)).dropna().to_series().median()))
        assert sorted(late) == [0.0, 0.0, 60.0]

    def test_wears_are_two_weeks_apart(self):
        wears = [one.wear for one in invent("usual", 1, 0)[1]]
        for before, after in itertools.pairwise(wears):
            assert after.start - before.end >= pd.Timedelta(days=13)


class TestJudging:
    @pytest.mark.parametrize(("kind", "seed"), [("usual", 3), ("fast", 1)])
    def test_large_effects_are_found_and_held(self, kind, seed):
        rng = make_rng(kind, seed, 0)
        traits = replace(draw_traits(rng, kind), effects=LARGE)
        rows = {row.question: row for row in judge(traits, wear_all(rng, traits))}
        assert list(rows) == list(QUESTIONS)
        for row in rows.values():
            assert row.low <= row.truth <= row.high, row
            assert row.verdict == ("higher" if row.truth > 0 else "lower"), row
        for factor in ON_RISE:
            row = rows[factor]
            assert row.truth == pytest.approx(LARGE.planted(factor) * row.usual, rel=0.35)
            # the truth is of meals that stood alone; what is asked rests on all that were recorded
            assert 0.7 * (row.n_with + row.n_without) <= row.asked <= 1.1 * (row.n_with + row.n_without)
        assert rows[SLEEP].truth == LARGE.planted(SLEEP)

    def test_what_is_asked_of_is_what_the_contract_says(self):
        _, worn = invent("usual", 1, 0)
        responses = pd.DataFrame({"time": worn[0].written.dropna(), "usable_2h": True})
        asked = {factor: find_asked(worn[0], responses, factor) for factor in ON_RISE}
        eatings = worn[0].life.eatings
        assert asked[WALK] == [k for k, eating in enumerate(eatings) if eating.logged]
        assert set(asked[FIRST]) == {k for k in asked[WALK] if eatings[k].order_written}
        assert set(asked[EVENING]) < set(asked[WALK])
        assert find_asked(worn[0], responses.assign(usable_2h=False), WALK) == []


class TestTable:
    def test_a_question_is_summed_up(self):
        def row(planted: float, truth: float, estimate: float, verdict: str) -> Row:
            share = (estimate / 25, estimate / 25 - 0.1, estimate / 25 + 0.1)
            of_one = (estimate, estimate - 4, estimate + 4, 20.0, 40.0, 0.5, *share)
            return Row("usual", WALK, 1, 0, planted, truth, truth, 30.0, 60, 20, *of_one, verdict, "", "none", 5.0)

        rows = [
            row(-0.3, -9.0, -8.0, "lower"), row(-0.3, -9.0, -2.0, "cannot_tell_yet"), row(-0.3, -9.0, 5.0, "higher"),
            row(-0.3, -9.0, np.nan, "not_enough_data"), row(0.0, 0.0, 5.0, "higher"), row(0.0, 0.0, 1.0, "lower"),
        ]  # fmt: skip
        table = summarise(rows).set_index(["question", "kind"])
        found = table.loc[WALK, ALL]
        assert found[["n", "answered", "nil_n", "nil_answered"]].tolist() == [4, 3, 2, 2]
        assert found[["found", "wrong", "hold"]].tolist() == pytest.approx([1 / 3] * 3)
        assert found[["bias", "width", "caught"]].tolist() == pytest.approx([22 / 3, 8.0, 5 / 27])
        # -8/25 ± .1 holds -9/30, and so neither do -2/25 nor 5/25
        assert found["share_hold"] == pytest.approx(1 / 3)
        assert found[["nil_claimed", "nil_hold"]].tolist() == pytest.approx([1.0, 0.5])
        assert table.loc[WALK, "usual"].tolist() == found.tolist()
