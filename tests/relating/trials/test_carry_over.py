"""Is what the time before left behind found where it is large, and seldom claimed where there is none?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.record.trial_outputs import TRIAL_CARRY_OVER
from glucolab.relating.trials.carry_over import compare_carry_over
from glucolab.relating.trials.date_outcomes import find_trial_dates
from tests.analysis.contract import check_table
from tests.hand_made import at, make_table
from tests.relating.planned import drawn, eaten, plan, worn


def carried(arms, rises, days=None, wears=None, **changes):
    """The row of the rise after a plan of one arm a day, or on the days given."""
    days = range(len(arms)) if days is None else days
    planned = pd.concat([plan([arm], day) for arm, day in zip(arms, days, strict=True)])
    meals = [eaten(at("08:00", day), rise=r) | changes.get(f"on_{day}", {}) for day, r in zip(days, rises, strict=True)]
    worn_ones = [worn(meals, n_days=max(days) + 1)] if wears is None else wears(meals)
    table = compare_carry_over(find_trial_dates(worn_ones, planned), 3.0)
    check_table(table, TRIAL_CARRY_OVER)
    return table[table["outcome"] == "rise_mg_dl"].iloc[0]


ARMS = ["a", "a", "b", "b", "a", "b", "b", "a", "a", "b"]
"""Each arm follows itself and the other: after a come days 1 2 5 8 9, after b days 3 4 6 7."""


def test_nothing_planned_gives_an_empty_table_with_its_columns():
    dates = find_trial_dates([], make_table("trials"))
    assert list(compare_carry_over(dates, 3.0).columns) == TRIAL_CARRY_OVER.names


def test_a_plain_carry_over_is_its_size_and_the_own_arm_drops_out():
    """10 higher after b; b itself 20 lower."""
    rises = [50 - 20 * (arm == "b") + 10 * (i > 0 and ARMS[i - 1] == "b") for i, arm in enumerate(ARMS)]
    row = carried(ARMS, rises)
    assert (row["arm_a"], row["arm_b"], row["n_after_a"], row["n_after_b"]) == ("a", "b", 5, 4)
    assert row["difference"] == pytest.approx(10)
    # own a: days 1 4 7 8, of which 4 and 7 come after b; own b: days 2 3 5 6 9, of which 3 and 6 do: 6 * 10 ways, and
    # only the one seen has the four highest of their own arm on one side
    assert row["p_exact"] == pytest.approx(1 / 60)
    assert row["verdict"] == "higher"


def test_a_date_whose_previous_lies_too_far_back_is_left_out():
    days = [0, 1, 2, 3, 4, 8, 9, 10, 13, 14]
    row = carried(ARMS, [40.0 + i for i in range(10)], days)
    assert row["n_after_a"] + row["n_after_b"] == 7


def test_the_previous_occasion_counts_even_if_its_own_figures_cannot_be_used():
    whole = carried(ARMS, [40.0 + i % 3 for i in range(10)])
    spoilt = carried(ARMS, [40.0 + i % 3 for i in range(10)], on_0={"usable_2h": False, "reason": "gap"})
    assert spoilt["n_after_a"] == whole["n_after_a"]


def test_an_order_that_always_alternates_cannot_say():
    """After rest comes only walk: what came before and what is done now cannot be told apart."""
    row = carried(["a", "b"] * 5, [40.0 + i for i in range(10)])
    assert (row["n_after_a"], row["n_after_b"], row["verdict"]) == (0, 0, "not_enough_data")
    assert np.isnan(row["difference"])


def test_too_few_after_one_arm():
    row = carried(["a", "b", "b", "a"], [40, 41, 42, 43])
    assert row["verdict"] == "not_enough_data"
    assert np.isnan(row["p_exact"])


def test_another_wears_level_is_not_taken_for_a_carry_over():
    arms = ARMS + ARMS
    rises = [40 + (i * 7) % 5 + 40 * (i >= 10) for i in range(20)]

    def two(meals):
        return [worn(meals[:10], "one", n_days=10), worn(meals[10:], "two", first_day=10, n_days=10)]

    row = carried(arms, rises, wears=two)
    assert abs(row["difference"]) < 5


def simulate_one(rng, carry_over):
    """14 dates drawn by lot; the arm lowers the rise by 12 whatever came before. Rises differ by 8 mg/dL SD."""
    in_b = drawn(rng, 14)
    rises = 40 - 12 * in_b + 8 * rng.standard_normal(14)
    rises[1:] += carry_over * in_b[:-1]
    date = pd.date_range("2026-02-03", periods=14, unit="us")
    dates = pd.DataFrame({
        "date": date, "trial": "t", "arm": np.where(in_b, "b", "a"), "wear": "w", "used": True, "reason": "",
        "at": date.tz_localize("UTC") + pd.Timedelta(hours=8), "rise_mg_dl": rises, "iauc_2h_mg_dl_min": 60 * rises,
    })  # fmt: skip
    return compare_carry_over(dates, 3.0).iloc[0]


def test_with_nothing_carried_over_it_is_claimed_at_most_one_time_in_ten():
    """250 trials, and 2 SE of as many: at most 13.8 in a hundred; p falls under a half about half of the time."""
    rng = np.random.default_rng(20)
    rows = pd.DataFrame([simulate_one(rng, 0.0) for _ in range(250)])
    told = rows[rows["verdict"] != "not_enough_data"]
    assert len(told) > 230
    allowed = 2 * np.sqrt(0.09 / len(told))
    assert told["verdict"].isin(["lower", "higher"]).mean() <= 0.10 + allowed
    assert (told["p_exact"] <= 0.10).mean() <= 0.10 + allowed
    assert abs((told["p_exact"] <= 0.50).mean() - 0.50) <= 0.10
    held = ((told["low"] <= 0) & (told["high"] >= 0)).mean()
    assert held >= 0.85


def test_a_large_carry_over_is_found():
    """20 mg/dL where occasions differ by 8: most of 60 trials tell it, and the interval holds it."""
    rng = np.random.default_rng(21)
    rows = pd.DataFrame([simulate_one(rng, 20.0) for _ in range(60)])
    assert (rows["verdict"] == "higher").mean() > 0.8
    told = rows[rows["verdict"] != "not_enough_data"]
    assert ((told["low"] <= 20) & (told["high"] >= 20)).mean() >= 0.82  # 0.90 less 2 SE of 60
