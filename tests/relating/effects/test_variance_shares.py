"""Does a share of the spread between days hold the truth, and is it kept back where days are few?"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm, pearsonr

from glucolab.relating.effects.variance_shares import FEWEST_DAYS_TO_SHARE, bound_ratio, measure_shares

GROUP = np.array([0, 1, 2, 2, 3])


def test_one_regressor_without_others_agrees_with_fishers_z():
    """Fisher, Metron 1921;1:3-32: atanh of r is normal with variance 1/(n - 3); scipy carries it out."""
    rng = np.random.default_rng(1)
    for n, r in ((30, 0.6), (60, 0.4), (200, 0.8)):
        x = rng.standard_normal(n)
        y = r * x + np.sqrt(1 - r**2) * rng.standard_normal(n)
        found = pearsonr(x, y)
        ends = found.confidence_interval(0.9)
        squared = found.statistic**2
        _, low, high = bound_ratio(squared / (1 - squared), 1, n - 1)
        # z is itself a little wide at 30: of samples with r = 0.663, 6 % and not 5 % lie below the 0.474 drawn
        assert low / (1 + low) == pytest.approx(ends.low**2, abs=0.03)
        assert high / (1 + high) == pytest.approx(ends.high**2, abs=0.03)


def test_a_sample_that_explains_no_more_than_chance_has_a_share_of_nought():
    """By chance alone p of n - 1 parts are explained on average (Wishart, QJR Meteorol Soc 1931;57:258)."""
    middle, low, _ = bound_ratio(4 / (29 - 4), 4, 29)
    assert low == 0
    assert middle < 0.05


@pytest.mark.parametrize("shares", [(0, 0, 0, 0), (0.1, 0.1, 0.1, 0), (0.3, 0, 0, 0.1), (0.5, 0.1, 0, 0)])
@pytest.mark.parametrize("n_days", [FEWEST_DAYS_TO_SHARE, 39, 80])
def test_intervals_hold_the_truth(shares, n_days):
    """Truth by construction; of 90 % intervals over 60 studies, under 72 % is found once in ten thousand."""
    truth, found = zip(*(_invent(seed, n_days, shares) for seed in range(60)), strict=True)
    truth, found = np.array(truth), np.array(found)
    held = (truth >= found[..., 1] - 1e-9) & (truth <= found[..., 2])
    assert held.mean() > 0.85
    assert held.mean(axis=0).min() > 0.72


def test_where_nothing_goes_with_it_a_share_above_nought_is_told_in_one_of_twenty():
    found = np.array([_invent(seed, 26, (0, 0, 0, 0))[1] for seed in range(150)])
    told = np.mean(found[..., 1] > 0, axis=0)
    # the upper tail of a binomial with chance 0.05 over 150: above 0.10 once in two hundred
    assert told.max() <= 0.10


def test_a_share_is_that_of_days_and_not_of_what_is_new_each_day():
    """Days alike by 0.6 and a habit that is not: what is new in a day is less than the day; 80 days, share 0.3."""
    found = np.array([_invent(seed, 80, (0.3, 0, 0, 0), rho=0.6)[1][0, 0] for seed in range(60)])
    assert np.median(found) == pytest.approx(0.3, abs=0.05)


def test_a_column_told_by_the_others_gets_no_share():
    rng = np.random.default_rng(0)
    columns = rng.standard_normal((40, 2))
    columns = np.column_stack([columns, columns.sum(axis=1)])
    found = measure_shares(
        columns[:, 0] + rng.standard_normal(40), columns, np.arange(3), np.zeros(40, int), np.arange(40)
    )
    assert not {0, 1, 2} & found.keys()
    assert len(found) == 1


def _invent(seed: int, n_days: int, shares: tuple[float, ...], rho: float = 0.3) -> tuple[np.ndarray, np.ndarray]:
    """True shares and those found; habits independent, a level a wear, days alike from one to the next by `rho`."""
    rng = np.random.default_rng([seed, n_days, int(100 * sum(shares))])
    n_wears = max(1, round(n_days / 13))
    wear = np.sort(np.arange(n_days) % n_wears)
    columns = rng.standard_normal((n_days, len(GROUP)))
    share = np.array(shares)
    coefficient = np.sqrt(share / np.bincount(GROUP))[GROUP] * rng.choice([-1, 1], len(GROUP))
    left = 1 - share.sum()
    error = rng.standard_normal(n_days)
    for i in range(1, n_days):
        if wear[i] == wear[i - 1]:
            error[i] = rho * error[i - 1] + np.sqrt(1 - rho**2) * error[i]
    outcome = columns @ coefficient + np.sqrt(left) * error + 5 * norm.rvs(size=n_wears, random_state=rng)[wear]
    found = measure_shares(outcome, columns, GROUP, wear, np.arange(n_days) + 100 * wear)
    return np.append(share / (share + left), 1 - left), np.array([found[g] for g in range(5)])
