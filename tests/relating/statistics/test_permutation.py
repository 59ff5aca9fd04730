"""Are days dealt anew as wholes and within their wear, and is p the share of orders that least squares counts?"""

from __future__ import annotations

from collections import Counter
from itertools import combinations, permutations, product

import numpy as np
import pytest

from glucolab.relating.statistics.fixed_effects import Whitened
from glucolab.relating.statistics.intercepts import WearIntercepts
from glucolab.relating.statistics.permutation import deal_orders, permutation_p_value, restrict_orders

WEAR = np.array([0, 0, 0, 0, 0, 1, 1, 1, 2])
DAY = np.array([4, 4, 5, 6, 6, 6, 6, 7, 8])
"""Three days of a wear with two, one and two rows; two of the next, which begins on that last day; one of a third."""
BLOCKS = ((0, 1), (2,), (3, 4)), ((5, 6), (7,)), ((8,),)
N_ORDERS = 6000


class TestOrders:
    orders = deal_orders(WEAR, DAY, N_ORDERS)

    def test_each_holds_every_row_once_and_keeps_it_in_its_wear(self):
        assert self.orders.shape == (N_ORDERS, len(WEAR))
        assert (np.sort(self.orders, axis=1) == np.arange(len(WEAR))).all()
        assert (WEAR[self.orders] == WEAR).all()

    def test_rows_of_a_day_stay_next_to_each_other(self):
        """So a wear's rows have as many borders between days as it has days, less one."""
        for wear, blocks in enumerate(BLOCKS):
            mine = DAY[self.orders[:, wear == WEAR]]
            assert (np.count_nonzero(np.diff(mine, axis=1), axis=1) == len(blocks) - 1).all()

    def test_every_order_of_days_comes_as_often(self):
        """Three days have six orders, each a thousand times but for chance: 5 SD of it are 144; two have two."""
        counts = Counter(tuple(dict.fromkeys(days)) for days in DAY[self.orders[:, WEAR == 0]].tolist())
        assert len(counts) == 6
        assert list(counts.values()) == pytest.approx([1000] * 6, abs=5 * np.sqrt(N_ORDERS * 5 / 36))
        first = np.mean(DAY[self.orders[:, 5]] == 7)
        assert first == pytest.approx(0.5, abs=5 * np.sqrt(0.25 / N_ORDERS))

    def test_rows_of_a_day_change_places_among_themselves(self):
        for early, late in ((0, 1), (3, 4), (5, 6)):
            place = np.argsort(self.orders, axis=1)
            assert np.mean(place[:, early] < place[:, late]) == pytest.approx(0.5, abs=5 * np.sqrt(0.25 / N_ORDERS))

    def test_wears_are_dealt_apart(self):
        """What one wear's order is says nothing of another's: four corners a quarter each."""
        late_first = DAY[self.orders[:, 0]] == 6, DAY[self.orders[:, 5]] == 7
        assert np.mean(late_first[0] & late_first[1]) == pytest.approx(1 / 6, abs=5 * np.sqrt(5 / 36 / N_ORDERS))


def test_among_the_rows_kept_the_order_stays():
    """Rows 0, 2 and 3 of five are kept and numbered 0, 1 and 2."""
    orders = np.array([[4, 3, 2, 1, 0], [2, 0, 1, 4, 3]])
    keep = np.array([True, False, True, True, False])
    assert restrict_orders(orders, keep).tolist() == [[2, 1, 0], [1, 0, 2]]
    assert restrict_orders(orders, np.ones(5, bool)).tolist() == orders.tolist()


def two_wears(rng: np.random.Generator, outcome: np.ndarray, factor: np.ndarray, beside: np.ndarray) -> Whitened:
    """Two wears of four rows, in units in which an intercept adds other than one to each row."""
    column = rng.uniform(0.5, 2.0, 8)
    intercepts = WearIntercepts(column, np.array([0, 4]))
    own = intercepts.partial_out(np.column_stack([outcome, factor, beside]))
    return Whitened(intercepts, own[:, 0], own[:, 1], own[:, 2:])


WITHIN = np.array([[*a, *(4 + np.array(b))] for a, b in product(permutations(range(4)), repeat=2)])
"""All 576 orders that keep two wears of four rows apart."""


def squared_t(rows: Whitened, outcomes: np.ndarray) -> np.ndarray:
    """t² of the factor in the whole model, by what the factor takes from the squares left over; an outcome a column."""
    levels = rows.intercepts.column[:, None] * np.repeat(np.eye(2), 4, axis=0)
    without = np.column_stack([levels, rows.beside])
    left = [left_over(design, outcomes) for design in (without, np.column_stack([without, rows.factor]))]
    return (left[0] - left[1]) / (left[1] / (8 - without.shape[1] - 1))


def left_over(design: np.ndarray, outcomes: np.ndarray) -> np.ndarray:
    return np.sum((outcomes - design @ np.linalg.lstsq(design, outcomes, rcond=None)[0]) ** 2, axis=0)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_p_is_the_share_of_orders_whose_t_is_as_large(seed):
    """Freedman & Lane: residuals of the smaller model in another order, and the factor's t of the whole model anew."""
    rng = np.random.default_rng(seed)
    factor, beside = rng.normal(size=8), rng.normal(size=(8, 2))
    outcome = 1.2 * factor + beside @ [2.0, -1.0] + rng.normal(size=8)
    rows = two_wears(rng, outcome, factor, beside)
    smaller = np.column_stack([rows.intercepts.column[:, None] * np.repeat(np.eye(2), 4, axis=0), rows.beside])
    rest = rows.outcome - smaller @ np.linalg.lstsq(smaller, rows.outcome, rcond=None)[0]
    others = WITHIN[1:]
    as_large = squared_t(rows, rest[others].T) >= squared_t(rows, rows.outcome[:, None])
    assert 0.01 < as_large.mean() < 0.99
    assert permutation_p_value(rows, others) == pytest.approx((1 + as_large.sum()) / 576, abs=1e-12)
    assert permutation_p_value(rows, others[:100]) == pytest.approx((1 + as_large[:100].sum()) / 101, abs=1e-12)


@pytest.mark.parametrize("scale", [0.1, 0.7, 1.3])
def test_orders_that_tie_count_whatever_rounding_does_to_them(scale):
    """Of the 70 ways to choose four of eight, those whose sums lie as far apart as the ones seen, in whole numbers."""
    intercepts = WearIntercepts.of(np.zeros(8, int))
    ways = [[*way, *sorted({*range(8)} - {*way})] for way in combinations(range(8), 4)]
    rng = np.random.default_rng(4)
    for _ in range(20):
        numbers = rng.integers(0, 6, 8)
        factor = np.repeat([1.0, 0.0], 4)
        apart = np.array([abs(2 * numbers[way[:4]].sum() - numbers.sum()) for way in ways])
        if np.ptp(numbers) == 0 or apart[0] == 0:
            continue
        own = intercepts.partial_out(np.column_stack([scale * numbers, factor]))
        rows = Whitened(intercepts, own[:, 0], own[:, 1], np.empty((8, 0)))
        assert permutation_p_value(rows, np.array(ways[1:])) == pytest.approx(np.mean(apart >= apart[0]), abs=1e-12)


def test_where_nothing_is_left_of_the_outcome_there_is_nothing_to_tell():
    rng = np.random.default_rng(5)
    beside = rng.normal(size=(8, 2))
    explained = two_wears(rng, beside @ [3.0, -0.7], rng.normal(size=8), beside)
    assert permutation_p_value(explained, WITHIN[1:]) == 1.0
    told = two_wears(rng, beside @ [3.0, -0.7] + 1e-3 * rng.normal(size=8), rng.normal(size=8), beside)
    assert permutation_p_value(told, WITHIN[1:]) < 1.0


@pytest.mark.parametrize("reading", [1e-5, 1e5])
def test_the_unit_of_outcome_and_factor_changes_nothing(reading):
    rng = np.random.default_rng(6)
    outcome, factor = rng.normal(size=(2, 8))
    plain = two_wears(np.random.default_rng(7), outcome, factor, np.empty((8, 0)))
    other = two_wears(np.random.default_rng(7), reading * outcome, factor / reading, np.empty((8, 0)))
    assert permutation_p_value(other, WITHIN[1:]) == permutation_p_value(plain, WITHIN[1:])
