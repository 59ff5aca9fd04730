"""Are dishes pooled as a hierarchical model says, and pairs of them read off as they stand? Numbers on paper."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.relating.effects import dishes
from glucolab.relating.effects.dishes import (
    PooledDishes,
    adjust_for_after,
    compare_dishes,
    draw_dish_rises,
    estimate_dishes,
    gather_dish_rises,
)
from tests.relating.invented import Truth, invent

NO_GAIN = np.zeros((1, 1))
MANY = 400_000


def eaten(rises: dict[str, list[float]], se_mg_dl: dict[str, float] | float) -> pd.DataFrame:
    """Eatings of one wear; the error of each is its dish's."""
    rows = [(name, rise) for name, own in rises.items() for rise in own]
    table = pd.DataFrame(rows, columns=["dish", "rise_mg_dl"]).assign(wear=0)
    return table.assign(se_mg_dl=table["dish"].map(se_mg_dl) if isinstance(se_mg_dl, dict) else se_mg_dl)


def predict(eatings: pd.DataFrame, names: list[str]) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of the dishes' rises, by generalised least squares over all eatings at once.

    Rises are normal: an average without prior, b² shared by eatings of one dish, w² + error² of each alone. At given w
    and b, best linear prediction (Henderson, Biometrics 1975;31:423; from memory); both integrated over by sums of
    narrow steps, w from a normal of its logarithm about log 16 with SD 0.5, b from half a normal with SD 12. The
    likelihood is that of the eatings once the average is integrated out. All are of one wear, whose sensor adds
    something of SD 6 to each of its rises: to all dishes alike.
    """
    y, error = eatings["rise_mg_dl"].to_numpy(), eatings["se_mg_dl"].to_numpy()
    member = (eatings["dish"].to_numpy()[:, None] == np.array(names)).astype(float)
    log_w, b = (grid.ravel() for grid in np.meshgrid(np.linspace(np.log(2.4), np.log(52.5), 45), np.arange(0.5, 60)))
    alone = (np.exp(2 * log_w)[:, None] + error**2)[:, :, None] * np.eye(len(y))
    v = alone + b[:, None, None] ** 2 * (member @ member.T)
    inverse = np.linalg.inv(v)
    of_average = 1 / inverse.sum(axis=(1, 2))
    average = of_average * (inverse @ y).sum(axis=1)
    left = y - average[:, None]
    log_likelihood = np.log(of_average) - np.linalg.slogdet(v)[1] - np.einsum("ki,kij,kj->k", left, inverse, left)
    log_prior = stats.norm.logpdf(log_w, np.log(16), 0.5) + stats.halfnorm.logpdf(b, scale=12)
    share = np.exp(log_likelihood / 2 + log_prior - np.max(log_likelihood / 2 + log_prior))
    share /= share.sum()
    pull = b[:, None, None] ** 2 * (member.T @ inverse)
    mean = average[:, None] + np.einsum("kdi,ki->kd", pull, left)
    free = 1 - pull.sum(axis=2)
    covariance = b[:, None, None] ** 2 * (np.eye(len(names)) - pull @ member)
    covariance += of_average[:, None, None] * free[:, :, None] * free[:, None, :]
    middle = share @ mean
    about = mean - middle
    return middle, np.tensordot(share, covariance + about[:, :, None] * about[:, None, :], 1) + 6.0**2


@pytest.mark.parametrize(
    ("rises", "se_mg_dl", "near"),
    [
        ({"bread": [12, 25, 18, 30], "rice": [50, 61, 44], "soup": [5, 9], "tart": [74], "pear": [33, 40]},
         {"bread": 3.0, "rice": 9.0, "soup": 5.0, "tart": 4.0, "pear": 12.0}, 0.005),
        ({"bread": [20, 31, 17, 26, 12, 30, 24, 16], "rice": [48, 51, 50], "tart": [80]}, 1.0, 0.005),
        ({"bread": [10], "rice": [60], "tart": [95]}, 6.0, 0.005),
    ],
    ids=["a usual week", "one dish eaten often", "each eaten once"],
)  # fmt: skip
def test_dishes_are_drawn_toward_the_average_as_best_linear_prediction_says(monkeypatch, rises, se_mg_dl, near):
    """Four hundred thousand draws: means are then off by a six-hundredth of an SD."""
    monkeypatch.setattr(dishes, "_DRAWS", MANY)
    eatings, names = eaten(rises, se_mg_dl), list(rises)
    mean, covariance = predict(eatings, names)
    draws = draw_dish_rises(eatings, names, NO_GAIN)
    sd = np.sqrt(np.diag(covariance))
    assert draws.shape == (MANY, len(names))
    assert (draws.mean(axis=0) - mean) / sd == pytest.approx(0, abs=near)
    assert draws.std(axis=0) / sd == pytest.approx(1, abs=near)
    assert np.corrcoef(draws.T) == pytest.approx(covariance / np.outer(sd, sd), abs=near)


def test_eatings_and_dishes_that_never_differ_are_still_thought_to_by_a_little(monkeypatch):
    """Sixty dishes eaten a hundred times, all alike: all mass lies on the least spreads, 2.5 and 0.75 mg/dL.

    A dish's own mean has variance 2.5²/100 = 0.0625, a ninth of 0.75² = 0.5625 that dishes have among each other, so
    that it counts nine tenths: 1 / (1/0.0625 + 1/0.5625) = 0.05625, and a hundredth of the average's
    (0.0625 + 0.5625) / 60.
    """
    monkeypatch.setattr(dishes, "SHARED_RISE_SD_MG_DL", 0.0)
    names = [f"dish {i:02}" for i in range(60)]
    draws = draw_dish_rises(eaten({name: [30.0] * 100 for name in names}, 0.0), names, NO_GAIN)
    assert draws.var(axis=0).mean() == pytest.approx(0.05625 + 0.625 / 60 / 100, rel=0.01)
    assert draws.mean() == pytest.approx(30, abs=0.005)


def test_however_much_dishes_differ_their_spread_is_bounded():
    """A hundred dishes eaten once, half at 630 and half at -570 mg/dL, known to 60: the largest spreads, 50 and 59.25.

    The dish's own rise then counts 59.25² / (59.25² + 50² + 60²) of its distance of 600 from the average; its variance
    is 1 / (1/59.25² + 1/(50² + 60²)), beside the average's (59.25² + 6100) / 100 times the square of what is left for
    that, and 6² that the sensor adds to all.
    """
    names = [f"dish {i:02}" for i in range(100)]
    draws = draw_dish_rises(
        eaten({name: [630.0 - 1200 * (i % 2)] for i, name in enumerate(names)}, 60.0), names, NO_GAIN
    )
    apart, between, own = draws.mean(axis=0) - 30, 59.25**2, 50.0**2 + 60**2
    assert apart[::2].mean() == pytest.approx(600 * between / (between + own), rel=0.005)
    assert apart[1::2].mean() == pytest.approx(-600 * between / (between + own), rel=0.005)
    expected = 1 / (1 / between + 1 / own) + (between + own) / 100 * (own / (between + own)) ** 2 + 36
    assert draws.var(axis=0).mean() == pytest.approx(expected, rel=0.01)


TWO_WEARS = pd.DataFrame({
    "dish": ["bread", "bread", "bread", "rice"], "wear": [0, 0, 1, 1], "rise_mg_dl": [20.0, 30, 25, 60],
    "se_mg_dl": 4.0,
})  # fmt: skip
"""Two thirds of the bread was eaten in the first wear; all rice in the second."""


class TestGains:
    """What is eaten in a wear is off by its gain alike; a dish of two wears by each for its share of the eatings."""

    @pytest.fixture(autouse=True)
    def nothing_added(self, monkeypatch):
        monkeypatch.setattr(dishes, "SHARED_RISE_SD_MG_DL", 0.0)
        monkeypatch.setattr(dishes, "_DRAWS", MANY // 4)

    def test_a_dish_of_both_wears_is_off_by_two_thirds_of_one_and_a_third_of_the_other(self, monkeypatch):
        monkeypatch.setattr(dishes, "_DRAWS", MANY)
        names, errors = ["bread", "rice"], np.array([[0.2, 0.0], [0.0, 0.1]])
        drawn = draw_dish_rises(TWO_WEARS, names, errors) / draw_dish_rises(TWO_WEARS, names, np.zeros((2, 2)))
        assert drawn.mean(axis=0) == pytest.approx(1, abs=0.002)
        covariance = [[(0.4 / 3) ** 2 + (0.1 / 3) ** 2, 0.1**2 / 3], [0.1**2 / 3, 0.1**2]]
        assert np.cov(drawn.T) == pytest.approx(np.array(covariance), abs=1e-4)

    def test_it_has_nothing_to_do_with_the_rest(self):
        """The variance of a product of independent parts: (mean² + variance) (1 + gain²) - mean²."""
        eatings, names = eaten({"bread": [10, 35, 20], "rice": [30, 60], "tart": [80]}, 4.0), ["bread", "rice", "tart"]
        plain = draw_dish_rises(eatings, names, NO_GAIN)
        moved = draw_dish_rises(eatings, names, np.array([[0.25]]))
        mean, variance = plain.mean(axis=0), plain.var(axis=0)
        assert moved.mean(axis=0) == pytest.approx(mean, rel=0.005)
        assert moved.var(axis=0) == pytest.approx((mean**2 + variance) * 1.0625 - mean**2, rel=0.02)
        gain = moved[:, 0] / plain[:, 0] - 1
        for power in (1, 2):
            for of in (plain.mean(axis=1), (plain - mean)[:, 0] ** 2, np.abs(plain[:, 0] - plain[:, 1])):
                assert np.corrcoef(gain**power, of)[0, 1] == pytest.approx(0, abs=0.012)


class TestWhatASensorAdds:
    """Something of SD 6 mg/dL, a wear's own, to all that is eaten in it; a dish of two wears by each for its share."""

    def added(self, monkeypatch, gain_errors):
        """What is added, and what it is added to."""
        monkeypatch.setattr(dishes, "_DRAWS", MANY)
        full = draw_dish_rises(TWO_WEARS, ["bread", "rice"], gain_errors)
        monkeypatch.setattr(dishes, "SHARED_RISE_SD_MG_DL", 0.0)
        without = draw_dish_rises(TWO_WEARS, ["bread", "rice"], gain_errors)
        return full - without, without

    def test_what_was_eaten_in_two_wears_feels_two_thirds_of_one_and_a_third_of_the_other(self, monkeypatch):
        """36 (4/9 + 1/9) for the bread, 36 for the rice, 36/3 for both."""
        drawn, _ = self.added(monkeypatch, np.zeros((2, 1)))
        assert drawn.mean(axis=0) == pytest.approx(0, abs=0.04)
        assert np.cov(drawn.T) == pytest.approx(np.array([[20.0, 12.0], [12.0, 36.0]]), abs=0.3)
        assert stats.kurtosis(drawn[:, 1]) == pytest.approx(0, abs=0.03), "normal"

    def test_it_has_nothing_to_do_with_gains_and_dishes(self, monkeypatch):
        drawn, without = self.added(monkeypatch, np.array([[0.3], [0.3]]))
        crossed = np.corrcoef(np.column_stack([drawn, without]).T)[:2, 2:]
        assert crossed == pytest.approx(0, abs=0.007)
        assert np.corrcoef(drawn[:, 1] ** 2, without[:, 1] ** 2)[0, 1] == pytest.approx(0, abs=0.007)

    def test_it_is_not_averaged_out_by_eating_more_and_drops_out_of_a_difference(self):
        """Forty eatings of each of two dishes, exactly known: the rest of it hardly counts beside 6."""
        rises = {"bread": list(30 + stats.norm.ppf((np.arange(40) + 0.5) / 40)), "rice": [60.0] * 40}
        draws = draw_dish_rises(eaten(rises, 0.0), ["bread", "rice"], NO_GAIN)
        assert draws.std(axis=0) == pytest.approx(6, rel=0.04)
        assert (draws[:, 0] - draws[:, 1]).std() == pytest.approx(2.5 * np.sqrt(2 / 40), rel=0.05)


def test_recorded_eatings_of_a_dish_are_counted_once_with_their_own_error():
    """Of two sensors the first's; of an error of 10 in all 6 is what a sensor adds and, at 48 mg/dL, 4.8 its gain's."""
    half = 10 * stats.norm.ppf(0.95)
    (wear,) = invent(np.random.default_rng(8), Truth(), 1)[0]
    meals = wear.meal_responses.head(7).assign(
        time=pd.date_range("2026-01-06T08:00", periods=7, freq="4h", tz="UTC"),
        dish=["rice", "", None, "soup", "soup", "rice", "rice"], name="lunch",
        rise_mg_dl=[48.0, 20, 20, np.nan, 0.0, 30, 40], usable_2h=pd.array([True] * 5 + [False] * 2, "boolean"),
        reason=[""] * 5 + ["gap", "next_occasion;exercise"],
    )  # fmt: skip
    meals = meals.assign(rise_low_mg_dl=meals["rise_mg_dl"] - half, rise_high_mg_dl=meals["rise_mg_dl"] + half)
    twins = [replace(wear, meal_responses=meals, gain_errors=np.array([sd])) for sd in (0.1, 0.0)]
    found = gather_dish_rises(twins)
    assert found["dish"].tolist() == ["rice", "soup", "rice"]
    assert found["wear"].tolist() == [0, 0, 0]
    assert found["rise_mg_dl"].tolist() == [48.0, 0.0, 40.0]
    assert found["se_mg_dl"].tolist() == pytest.approx([6.4, 8.0, np.sqrt(64 - 16)])
    assert found["alone"].tolist() == [True, True, False]
    assert found["exercised"].tolist() == [0.0, 0.0, 1.0]


def followed(rises, after_g, dish, se=0.0) -> pd.DataFrame:
    return pd.DataFrame({"dish": dish, "rise_mg_dl": rises, "se_mg_dl": se, "carbs_after_g": after_g, "exercised": 0.0})


def test_what_followed_is_adjusted_for_within_dishes_and_drawn_toward_people():
    """Two hundred eatings of two dishes, half followed by 60 g which add 12 mg/dL. Beforehand 0.03 a gram, SD 0.12.

    The sum of squares within dishes is 200 * 30², its weight 1 / 16²: of the 0.2 that the eatings say
    1 / (1 + 256 / (180,000 * 0.0144)) = 0.910 counts.
    """
    after = np.tile([0.0, 60.0], 100)
    dish = np.repeat(["bread", "rice"], 100)
    eatings = followed(np.where(dish == "bread", 30.0, 50.0) + 0.2 * after, after, dish)
    adjusted, errors = adjust_for_after(eatings, ["bread", "rice"])
    per_g = 0.03 + 0.910 * (0.2 - 0.03)
    assert (eatings["rise_mg_dl"] - adjusted["rise_mg_dl"]).to_numpy() == pytest.approx(
        per_g * after, rel=2e-3, abs=1e-9
    )
    sd = 30 / np.sqrt(180_000 / 256 + 1 / 0.0144)
    assert np.linalg.norm(errors, axis=1) == pytest.approx([sd, sd], rel=1e-3)


def test_one_eating_that_was_followed_is_put_right_by_what_is_known_of_people():
    """30 g eaten after add 0.9; 3.6 of that may be otherwise, six for exercise."""
    eatings = followed([40.0, 40.0], [30.0, 0.0], ["bread", "rice"]).assign(exercised=[0.0, 1.0])
    adjusted, errors = adjust_for_after(eatings, ["bread", "rice"])
    assert adjusted["rise_mg_dl"].tolist() == pytest.approx([39.1, 40.0])
    assert np.linalg.norm(errors, axis=1) == pytest.approx([3.6, 6.0])


HUNDRED_AND_ONE = np.arange(101.0)
"""Quantiles of 0, 1 ... 100 are what they say: 5 and 95."""


def pooled(**draws) -> PooledDishes:
    columns = np.column_stack([values for values, _ in draws.values()])
    counts = np.array([count for _, count in draws.values()])
    return PooledDishes(list(draws), counts, counts - 1, columns)


def test_a_row_a_dish_with_mean_and_ends():
    table = estimate_dishes(pooled(bread=(HUNDRED_AND_ONE, 3), rice=(2 * HUNDRED_AND_ONE + 7, 1)))
    assert table.to_numpy().tolist() == [["bread", 3, 2, 50, 5, 95], ["rice", 1, 0, 107, 17, 197]]


def test_every_two_dishes_eaten_twice_stand_beside_each_other():
    """Bread less rice runs from -20 to 80: mean 30, ends -15 and 75, above nought in 80 of 101; tart was eaten once."""
    level = np.zeros(101)
    table = compare_dishes(
        pooled(bread=(HUNDRED_AND_ONE, 3), rice=(level + 20, 2), pear=(level + 106, 2), tart=(level, 1)), 3.0
    )
    found = table.set_index(["dish_a", "dish_b"]).drop(columns="verdict")
    assert list(found.index) == [("bread", "rice"), ("bread", "pear"), ("rice", "pear")]
    assert found.to_numpy() == pytest.approx(
        np.array([[30, -15, 75, 80 / 101], [-56, -101, -11, 0], [-86, -86, -86, 0]], float)
    )
    assert table["verdict"].tolist() == ["cannot_tell_yet", "lower", "lower"]


def test_dishes_that_are_equal_do_not_raise_more_than_each_other():
    table = compare_dishes(pooled(bread=(np.array([1.0, 2, 3, 4]), 2), rice=(np.array([1.0, 2, 3, 3]), 2)), 3.0)
    assert table["probability_a_higher"].tolist() == [0.25]


def test_a_chance_is_counted_over_four_thousand_draws():
    """The smallest step that a chance can take, as the noise of the ends of intervals is that of so many."""
    eatings = eaten({"bread": [20, 28, 24], "rice": [26, 31, 30], "pear": [22, 29]}, 3.0)
    names = ["bread", "rice", "pear"]
    counts = np.array([3, 3, 2])
    table = compare_dishes(PooledDishes(names, counts, counts, draw_dish_rises(eatings, names, NO_GAIN)), 3.0)
    chance = table["probability_a_higher"].to_numpy(float) * 4000
    assert chance == pytest.approx(chance.round(), abs=1e-6)
    assert ((chance > 40) & (chance < 3960)).all()
