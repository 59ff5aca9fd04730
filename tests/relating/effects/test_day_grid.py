"""Does the grid keep the answers of effects.csv, give others by the same regression, and seldom claim what is nil?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.stats import false_discovery_control

from glucolab.relating.effects.day_grid import GRID_OUTCOMES, relate_all_days
from glucolab.relating.effects.effects import estimate_effects
from glucolab.relating.effects.one_pair import relate_days
from tests.relating.invented import Truth, invent

WORTH = 3.0
ADJUSTED = ["asleep_h", "stress", "carbs_g", "exercise_min"]
NO_EFFECTS = pd.DataFrame(
    columns=["factor", "outcome", "range_from", "range_to", "range_estimate", "range_low", "range_high",
             "p_value", "q_value", "verdict"]
)  # fmt: skip
ANSWERS = ["range_from", "range_to", "range_estimate", "range_low", "range_high", "p_value", "q_value"]


def wears_of(seed: int, truth: Truth, **more):
    return invent(np.random.default_rng([seed, 26]), truth, **more)[0]


@pytest.fixture(scope="module")
def asked():
    """Wears of somebody whose sleep and screens matter, their effects.csv and their grid."""
    wears = wears_of(1, Truth(day={"asleep_h": -4.0, "screen_min": 0.2}, linked=0.4, day_sd=2.0))
    effects = estimate_effects(wears, WORTH)
    return wears, effects, relate_all_days(wears, effects, WORTH)


def cell_of(grid, covariate: str, outcome: str) -> pd.Series:
    cells = grid.cells
    return cells[(cells["covariate"] == covariate) & (cells["outcome"] == outcome)].iloc[0]


def test_every_covariate_stands_against_mean_swing_and_night(asked):
    _, _, grid = asked
    counts = grid.cells.groupby("covariate")["outcome"].agg(list)
    assert {"asleep_h", "stress", "caffeine_mg", "exercise_min", "carbs_g", "fiber_g", "screen_min"} <= set(
        counts.index
    )
    assert all(outcomes == list(GRID_OUTCOMES) for outcomes in counts)
    of_mean = grid.cells[grid.cells["outcome"] == "mean_mg_dl"]["range_estimate"].abs()
    assert of_mean.is_monotonic_decreasing


def test_what_effects_csv_asks_has_its_answer_there(asked):
    _, effects, grid = asked
    of_days = effects.assign(covariate=effects["factor"].str.removeprefix("covariate:"))
    of_days = of_days[of_days["outcome"].isin(GRID_OUTCOMES) & of_days["covariate"].isin(grid.cells["covariate"])]
    assert len(of_days) >= 9
    for _, row in of_days.iterrows():
        cell = cell_of(grid, row["covariate"], row["outcome"])
        assert cell["in_effects"]
        assert cell["verdict"] == row["verdict"]
        assert cell[ANSWERS].astype(float).tolist() == row[ANSWERS].astype(float).tolist()
    assert int(grid.cells["in_effects"].sum()) == len(of_days)


def test_the_days_that_a_cell_opens_are_those_behind_its_figure(asked):
    """The regression of effects.csv and that of one link at a time are written apart, and must not part."""
    _, _, grid = asked
    for (covariate, outcome), relation in grid.relations.items():
        cell = cell_of(grid, covariate, outcome)
        for name in ("range_from", "range_to", "range_estimate", "range_low", "range_high"):
            assert cell[name] == pytest.approx(relation.over_range[name], abs=1e-6)
        assert cell["days"] == len(relation.points)


@pytest.mark.parametrize(("outcome", "follows"), [("sd_mg_dl", 0), ("overnight_mean_mg_dl", 1)])
def test_a_link_that_only_the_grid_asks_is_what_least_squares_gives(outcome, follows):
    """Against statsmodels' OLS with an intercept for each wear: the prior of the tool weighs little in 600 days."""
    wears = wears_of(2, Truth(night={"caffeine_mg": 3.0}, linked=0.4), n_wears=10, n_days=60)
    cell = cell_of(relate_all_days(wears, NO_EFFECTS, WORTH), "caffeine_mg", outcome)
    days = pd.concat([wear.daily.assign(wear=i, y=wear.daily[outcome].shift(-follows)) for i, wear in enumerate(wears)])
    days["place"] = np.tile(np.arange(60.0), 10)
    days["settling"] = np.exp(-days["place"] / 2)
    days = days.dropna(subset="y")
    known = days[["caffeine_mg", *ADJUSTED, "place", "settling"]].astype(float)
    known[list("abcdefghij")] = pd.get_dummies(days["wear"]).to_numpy(float)
    fitted = sm.OLS(days["y"].astype(float), known).fit()
    start, end = np.percentile(days["caffeine_mg"], [10, 90])
    assert (cell["range_from"], cell["range_to"]) == pytest.approx((start, end))
    assert not cell["in_effects"]
    assert cell["range_estimate"] == pytest.approx((end - start) * fitted.params.iloc[0], abs=0.08)
    width = 2 * 1.645 * (end - start) * fitted.bse.iloc[0]
    assert cell["range_high"] - cell["range_low"] == pytest.approx(width, rel=0.3)


def test_q_of_the_others_is_over_the_whole_grid_and_grows_for_many_looks(asked):
    """Against scipy's false_discovery_control (Benjamini & Hochberg)."""
    wears, _, grid = asked
    alone = relate_all_days(wears, NO_EFFECTS, WORTH).cells
    q = false_discovery_control(np.minimum(3.25 * alone["p_value"].to_numpy(float), 1))
    assert alone["q_value"].to_numpy(float) == pytest.approx(q)
    mine = grid.cells[~grid.cells["in_effects"]].merge(alone, on=["covariate", "outcome"], suffixes=("", "_alone"))
    assert mine["q_value"].tolist() == mine["q_value_alone"].tolist()
    claimed = mine["verdict"].isin(["lower", "higher"])
    assert (mine.loc[claimed, "q_value"] <= 0.1).all()


def test_a_grid_of_nothing_seldom_claims():
    """24 people with nothing true, two wears: the links that only a grid asks, at 0.10 of grids at most by their q."""
    some = []
    for seed in range(24):
        cells = relate_all_days(wears_of(seed + 100, Truth(), n_wears=2), NO_EFFECTS, WORTH).cells
        some.append(cells["verdict"].isin(["lower", "higher"]).any())
    assert np.sum(some) <= 5  # of 24: more in 3 of 100 such runs if one in ten is true (binomial)


def test_a_night_of_illness_is_no_night_after():
    wear = wears_of(3, Truth())[0]
    ill = np.zeros(len(wear.daily), bool)
    ill[6] = True
    both = [
        relate_days([one], "stress", "overnight_mean_mg_dl", next_day=True) for one in (wear, replace(wear, ill=ill))
    ]
    lost = set(both[0].points["date"]) - set(both[1].points["date"])
    assert lost == {wear.daily["date"].iloc[5], wear.daily["date"].iloc[6]}


def test_nothing_written_down_is_an_empty_grid():
    wear = wears_of(4, Truth())[0]
    bare = replace(wear, daily=wear.daily[["date", "coverage", "enough", *GRID_OUTCOMES]], day_covariates=())
    grid = relate_all_days([bare], NO_EFFECTS, WORTH)
    assert len(grid.cells) == 0
    assert grid.relations == {}
