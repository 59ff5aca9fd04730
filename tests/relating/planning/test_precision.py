"""Is what the next wear could decide what the parts of its error make it? Written out by hand, quantiles by scipy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import integrate, optimize, stats

from glucolab.record import Goal, empty_output
from glucolab.record.habit_outputs import EFFECTS
from glucolab.relating.comparing.periods import build_periods
from glucolab.relating.effects.verdicts import errors_to_stand_out
from glucolab.relating.planning import precision
from glucolab.relating.planning.precision import _advise, next_days, plan_checks, plan_next_wear, plan_questions
from tests.relating.comparing.measured import make_bias, measured

Z = stats.norm.ppf(0.95)
PRIOR = (0.20**2 + 0.11**2) * 100**2
"""Variance of a nameless sensor's bias at 100 mg/dL, before any check: 20 % its model's, 11 % its own."""


def half_recorded(days: int) -> np.ndarray:
    values = np.full(days * 288, 100.0)
    values[::2] = np.nan
    return values


def wears(**second):
    return [
        measured("a", 0, days=8, days_var=2.0, hours_var=1.0, df=9.0, values=half_recorded(8)),
        measured("b", 60, **({"days": 4, "days_var": 1.0, "hours_var": 0.5, "df": 6.0} | second)),
    ]


def planned(goal=95.0, days=14.0, **second):
    mine = wears(**second)
    periods = build_periods(mine, make_bias([0.0, 0.0], PRIOR * np.eye(2)))
    return plan_checks(periods, mine, goal, days).set_index("checks")


EXPECTED_DAYS = 14 * (4 + 4) / 12
"""Of 12 days worn so far 8 were recorded: of 14 as many in proportion."""
DAYS = (2.0 * 4 + 1.0 * 4) / 2 / EXPECTED_DAYS
HOURS = (1.0 * 4 + 0.5 * 4) / 2 / EXPECTED_DAYS
DF = 3 + EXPECTED_DAYS - 1


def test_half_widths_without_checks():
    row = planned().loc[0]
    assert row["mean_half_mg_dl"] == pytest.approx(Z * np.sqrt(PRIOR + HOURS))
    total = DAYS + HOURS + PRIOR
    usual = stats.t.ppf(0.95, min(total**2 / (DAYS**2 / DF), 1e6)) * np.sqrt(total)
    assert row["usual_half_mg_dl"] == pytest.approx(usual)
    both = DAYS + 1.0
    df_days = both**2 / (DAYS**2 / DF + 1.0 / 6)
    normal = 2 * PRIOR + HOURS + 0.5
    total = both + normal
    change = stats.t.ppf(0.95, min(total**2 / (both**2 / df_days), 1e6)) * np.sqrt(total)
    assert row["change_half_mg_dl"] == pytest.approx(change)
    assert row["smallest_change_mg_dl"] == pytest.approx(change + stats.norm.ppf(0.8) * np.sqrt(total))


def mean_of_shapes(first_h: float, last_h: float) -> np.ndarray:
    """Mean of cosine and sine of a whole and of half a day between two hours, by quadrature."""
    shapes = (lambda t, k=k, part=part: part(k * np.pi * t / 12) for k in (1, 2) for part in (np.cos, np.sin))
    return np.array([integrate.quad(shape, first_h, last_h)[0] for shape in shapes]) / (last_h - first_h)


def waking_hours_off_the_day() -> float:
    """Variance of a nameless sensor's bias from 7 to 23 h less that of the whole day, at 100 mg/dL.

    Models differ by 6 % from midnight to six, by the two first Fourier parts of a night of eight hours about 2:30; by
    1 % in each part besides. Sensors of one model differ by 1.8 % in each.
    """
    night = mean_of_shapes(2.5 - 4, 2.5 + 4)
    night /= night @ mean_of_shapes(0, 6)
    awake = mean_of_shapes(7, 23)
    return 100**2 * ((0.06 * awake @ night) ** 2 + (0.01**2 + 0.018**2) * awake @ awake)


def test_checks_narrow_the_mean_as_independent_ones_would():
    """n checks of 6 %; a meter of 5 %, strips of 2 % and a bias by the hour that they share; evenly over the wear and
    the waking hours.

    Drift adds nothing then. The bias by the hour is, over waking hours, off that of the day by 2.7 %.

    A Student t error of v degrees has (v + 1) / (v + 3) of the information that a normal one of its scale has (Lange,
    Little & Taylor, J Am Stat Assoc 1989;84:881, from memory); v is 4.
    """
    assert waking_hours_off_the_day() == pytest.approx(2.72**2, rel=0.01)
    table = planned()
    for n in (2, 4, 6, 8, 10, 12, 16, 20):
        error = 6.0**2 / n * 7 / 5 + 5.0**2 + 2.0**2 + waking_hours_off_the_day()
        sensor = 1 / (1 / PRIOR + 1 / error)
        assert table.loc[n, "mean_half_mg_dl"] == pytest.approx(Z * np.sqrt(sensor + HOURS), rel=1e-6)


def test_the_next_sensor_has_none_of_the_last_ones_checks():
    """Of models and meters without a name they tell nothing of it: before its own its mean is as unsure as beside a
    wear without any. How well three of them agreed promises more of its own."""
    mine = wears()
    checked = replace(
        mine[1].trace.check_data, sensor_mg_dl=np.full(3, 120.0), sensor_se_mg_dl=np.ones(3),
        check_mg_dl=np.array([99.0, 100, 101]), place=np.zeros(3), venous=np.array([False, False, True]),
        fed=np.array([False, True, True]), hour=np.array([8.0, 12, 20]),
    )  # fmt: skip
    known = replace(mine[1], trace=replace(mine[1].trace, check_data=checked))
    periods = build_periods(mine, make_bias([0.0, 0.0], PRIOR * np.eye(2)))
    after = plan_checks(periods, [mine[0], known], 95.0, 14.0).set_index("checks")
    assert after.loc[0, "mean_half_mg_dl"] == pytest.approx(Z * np.sqrt(PRIOR + HOURS))
    assert (after["mean_half_mg_dl"] < planned()["mean_half_mg_dl"])[1:].all()
    assert (after["change_half_mg_dl"] < planned()["change_half_mg_dl"]).all()


def test_the_chance_to_tell_the_goal():
    """The next mean moves by all its errors and those of the last; clear is an interval that leaves the goal out."""
    row = planned(goal=97.0, usual=90.0).loc[12]
    half = row["mean_half_mg_dl"]
    moves = (row["smallest_change_mg_dl"] - row["change_half_mg_dl"]) / stats.norm.ppf(0.8)
    expected = stats.norm.cdf((97 - half - 90) / moves) + stats.norm.cdf((90 - 97 - half) / moves)
    assert row["chance_goal_told"] == pytest.approx(expected)
    assert planned(goal=97.0, usual=80.0).loc[12, "chance_goal_told"] > row["chance_goal_told"]
    assert np.isnan(planned(goal=None).loc[0, "chance_goal_told"])


def test_the_advice_is_the_fewest_checks_beyond_which_little_is_gained():
    table = planned()
    half, checks = table[["mean_half_mg_dl", "change_half_mg_dl"]].to_numpy(), table.index.to_numpy(float)
    per_two = (half[1:] / half[:-1]) ** (2 / np.diff(checks)[:, None])
    last = np.flatnonzero(per_two.min(axis=1) < 0.95)
    assert table.index[table["advised"].to_numpy(bool)].tolist() == [table.index[last[-1] + 1] if len(last) else 0]


@pytest.mark.parametrize(
    ("halves", "advised"),
    [
        ([20, 15, 10, 9.9, 9.8, 9.7, 9.6, 9.5, 9.4], 4),
        ([9] * 9, 0),
        ([20, 19, *[19] * 7], 0),  # a twentieth less is not enough
        ([20, 18.9, *[18.9] * 7], 2),
        ([20] * 7 + [18.0, 18.0], 16),  # four more checks: 0.949 for each two
        ([20] * 7 + [18.1, 18.1], 0),  # 0.951
        ([20] * 8 + [18.0], 20),
    ],
)
@pytest.mark.parametrize(("one", "other"), [("mean", "change"), ("change", "mean")])
def test_advice_by_hand(halves, advised, one, other):
    """Of the average or of a change: the other is as known without a stick as with twenty."""
    columns = {f"{one}_half_mg_dl": np.array(halves, float), f"{other}_half_mg_dl": 12.0}
    table = planned().reset_index().assign(**columns)
    assert table["checks"][_advise(table)].tolist() == [advised]


def test_the_next_wear_lasts_as_long_as_the_last_sensor_was_to():
    assert next_days(wears()) == 14
    assert next_days(wears(life_days=10.0)) == 10


def test_questions_come_as_often_as_so_far():
    """8 days' worth recorded in 12 worn: of 6 more days, 4 are; rows by half."""
    effects = pd.DataFrame(
        {"factor": ["stress"], "outcome": ["mean_mg_dl"], "contrast": [""], "unit": ["mg/dL"], "estimate": [2.0],
         "low": [-1.0], "high": [5.0], "n_with": [40], "n_without": [0], "n_alone": [np.nan],
         "n_days": [8], "p_value": [0.2],
         "q_value": [0.2], "verdict": ["cannot_tell_yet"], "needed": [np.nan]}
    ).reindex(columns=EFFECTS.names)  # fmt: skip
    mine = wears()
    periods = build_periods(mine, make_bias([0.0, 0.0], PRIOR * np.eye(2)))
    tables = plan_next_wear(periods, mine, effects, NO_LEVERS, Goal(95.0), 6.0)
    row = tables["next_questions"].iloc[0]
    assert row["rows_now"] == 40
    assert row["rows_next"] == 20


def test_sensors_of_one_model_err_alike_and_a_change_hardly_feels_it():
    """What a model's sensors share, 20 %, drops out of their difference: 11 % of each stay, at 100 mg/dL."""
    mine = [measured("a", 0, days_var=2.0, sensor_model="x"), measured("b", 60, sensor_model="x")]
    row = plan_checks(build_periods(mine, make_bias([0.0, 0.0], PRIOR * np.eye(2))), mine, 95.0, 14.0).iloc[0]
    total = 2 * 11.0**2 + (0.5 * 4 / 14 + 0.5) + ((2.0 * 4 + 1.0 * 4) / 2 / 14 + 1.0)
    moves = (row["smallest_change_mg_dl"] - row["change_half_mg_dl"]) / stats.norm.ppf(0.8)
    assert moves == pytest.approx(np.sqrt(total))
    assert row["mean_half_mg_dl"] == pytest.approx(Z * np.sqrt(PRIOR + 0.5 * 4 / 14))


def test_a_mean_that_few_days_make_has_wider_tails():
    """At a level of 10 mg/dL a sensor errs little and days count: their variance has 10 + 14 - 1 degrees of freedom."""
    mine = [measured(name, day, 10.0, days_var=400.0) for name, day in (("a", 0), ("b", 60))]
    periods = build_periods(mine, make_bias([0.0, 0.0], PRIOR / 100 * np.eye(2)))
    row = plan_checks(periods, mine, None, 14.0).iloc[0]
    days, normal = 400 * 4 / 14, PRIOR / 100 + 0.5 * 4 / 14
    df = (days + normal) ** 2 / (days**2 / 23)
    assert row["usual_half_mg_dl"] == pytest.approx(stats.t.ppf(0.95, df) * np.sqrt(days + normal))
    both, normal = days + 400.0, 2 * PRIOR / 100 + 0.5 * 4 / 14 + 0.5
    df = (both + normal) ** 2 / (days**2 / 23 + 400.0**2 / 9)
    assert row["change_half_mg_dl"] == pytest.approx(stats.t.ppf(0.95, df) * np.sqrt(both + normal))


def test_less_than_a_day_leaves_the_days_known_beforehand():
    """Ten degrees of freedom, and no fewer."""
    mine = wears()
    periods = build_periods(mine, make_bias([0.0, 0.0], PRIOR * np.eye(2)))
    expected = precision._expected_variances(periods, mine, 0.75)
    assert expected == pytest.approx({"days": 6.0 / 0.5, "hours": 3.0 / 0.5, "df": 10.0})


@pytest.mark.parametrize(
    ("usual", "half", "moves", "chance"),
    [
        (100.0, 2.0, 4.0, 0.10564977 + 0.59870633),  # Φ(-5/4) and Φ(1/4)
        (92.0, 2.0, 4.0, 0.77337265 + 0.04005916),  # Φ(3/4) and Φ(-7/4)
        (97.0, 0.0, 4.0, 1.0),
    ],
)
def test_the_chance_to_tell_a_goal_of_97_from_the_table_of_the_normal(usual, half, moves, chance):
    assert precision._chance_goal_decided(usual, 97.0, half, moves) == pytest.approx(chance, abs=2e-8)


KINDS = (0.2, 0.5, 1.0, 2.0, 4.0)
BEFORE = (0.4, 0.2, 0.2, 0.1, 0.1)
"""SDs of the kinds of effects over what is worth noticing, and their shares before a person's own answers, which these
count as twenty of: nine in ten effects are then under 2.3 times what is worth noticing."""


def likeliest_shares(size: np.ndarray, se: np.ndarray) -> np.ndarray:
    """Where 20 Σ before·log(share) + Σ log(Σ share·density) is largest: its slopes are all 20 + n (Lagrange)."""
    density = stats.norm.pdf(size, 0.0, np.hypot(np.array(KINDS)[:, None], se))

    def slopes(logs: np.ndarray) -> np.ndarray:
        share = np.exp(logs)
        return 20 * np.array(BEFORE) / share + (density / (share @ density)).sum(axis=1) - 20 - len(size)

    found = optimize.root(slopes, np.log(BEFORE), tol=1e-14)
    return np.exp(found.x)


@pytest.mark.parametrize("n", [1, 8, 40])
def test_shares_of_the_kinds_are_the_likeliest(n):
    """Spread evenly from nil to three times what is worth noticing, with errors of a half and a whole of it in turn."""
    size, se = np.linspace(0.0, 3.0, n), np.where(np.arange(n) % 2 == 0, 0.5, 1.0)
    assert precision._learn_sizes(size, se) == pytest.approx(likeliest_shares(size, se), abs=1e-4)


def chances(size: float, se: float, shares: np.ndarray, more: float, z: float) -> tuple[float, float]:
    """That old and new rows together stand out, and that they stand out or are too small, by summing over the truth.

    New rows bring an estimate about the truth with a variance of se² / more; both together are its mean with the old
    one, weighted 1 to `more`, and have a standard error of se / √(1 + more).
    """
    truth = np.linspace(-30.0, 30.0, 3_001)
    weight = (shares @ stats.norm.pdf(truth, 0.0, np.array(KINDS)[:, None])) * stats.norm.pdf(size, truth, se)
    weight /= weight.sum()
    both = stats.norm((size + more * truth) / (1 + more), se * np.sqrt(more) / (1 + more))
    half, room = z * se / np.sqrt(1 + more), 1 - Z * se / np.sqrt(1 + more)
    stands_out = both.cdf(-half) + both.sf(half)
    between = both.cdf(min(half, room)) - both.cdf(-min(half, room)) if room > 0 else 0.0
    return float(weight @ stands_out), float(weight @ (stands_out + between))


QUESTIONS = pd.DataFrame(
    [  # size and standard error over what is worth noticing, q
        ("stress", "mean_mg_dl", 0.5, 0.6, 0.4, "cannot_tell_yet"),
        ("walk_after", "rise_mg_dl", -1.4, 1.1, 0.3, "cannot_tell_yet"),
        ("caffeine_mg", "sd_mg_dl", -0.3, 0.45, 0.6, "cannot_tell_yet"),
        ("fiber_g", "rise_mg_dl", 0.85, 0.3, 0.11, "cannot_tell_yet"),
        ("eaten_out", "rise_mg_dl", 2.0, 1.0, 0.15, "cannot_tell_yet"),
        ("asleep_h", "mean_mg_dl", 3.0, 0.5, 0.10, "higher"),
        ("ill", "mean_mg_dl", 0.1, 0.2, 0.8, "too_small_to_matter"),
        ("travel", "mean_mg_dl", np.nan, np.nan, np.nan, "not_enough_data"),
    ],
    columns=["factor", "outcome", "size", "se", "q_value", "verdict"],
)
WORTH = {"mean_mg_dl": 3.0, "rise_mg_dl": 5.0, "sd_mg_dl": 1.0}
"""Where 3 mg/dL of a mean are worth noticing."""


NO_LEVERS = empty_output("levers")


@pytest.mark.parametrize(("stress", "first"), [(4.0, "stress"), (0.75, "stress"), (0.55, "protein_first")])
def test_what_a_habit_might_do_to_the_average_comes_first_by_its_chance(stress, first):
    """Protein first may change it by 1 (0.6 with a standard error of 0.8), stress by 4 or by less than protein,
    but with the larger chance of an answer; fibre is no lever, however likely.
    """
    asked = QUESTIONS.assign(factor=QUESTIONS["factor"].replace({"eaten_out": "protein_first"}))
    z = stats.norm.ppf(0.95)
    rows = {"factor": ["protein_first", "stress"], "on_mean_mg_dl": [0.6, 0.0]}
    levers = pd.DataFrame(rows).assign(low_mg_dl=[0.6 - 0.8 * z, -stress * z], high_mg_dl=[0.6 + 0.8 * z, stress * z])
    plan = plan_questions(as_effects(asked), levers, 20.0, 20.0, 3.0)
    by_factor = plan.set_index("factor")
    assert by_factor["on_mean_mg_dl"][["stress", "protein_first"]].tolist() == pytest.approx([stress, 1.0])
    assert 1 / 0.75 < by_factor["chance_told"]["stress"] / by_factor["chance_told"]["protein_first"] < 1 / 0.55
    assert plan["factor"].iloc[0] == first
    of_habits = plan["on_mean_mg_dl"].notna().to_numpy()
    assert of_habits.tolist() == [True, True, False, False, False]
    assert plan.loc[~of_habits, "chance_told"].is_monotonic_decreasing


def as_effects(questions: pd.DataFrame) -> pd.DataFrame:
    worth = questions["outcome"].map(WORTH)
    estimate, half = questions["size"] * worth, Z * questions["se"] * worth
    return questions.assign(
        estimate=estimate / 7, low=(estimate - half) / 7, high=(estimate + half) / 7, contrast="", unit="",
        range_estimate=estimate, range_low=estimate - half, range_high=estimate + half,
        n_with=12, n_without=18,
        n_days=30, p_value=questions["q_value"], needed=np.nan,
    ).reindex(columns=EFFECTS.names)  # fmt: skip


def expected_chances(questions: pd.DataFrame, more: float) -> pd.Series:
    """Of the open ones. Asked are seven and claimed is one, at a q of just 0.10; one more would need a p under
    0.10 · 2/7 (Benjamini-Hochberg) over 3.25, since it is asked anew after each wear, times its weight: stress,
    walk and sleep are three times as likely as the other four, 21/13 and 7/13. Every other that is to be expected makes
    it easier by a seventh again. p is of 999 permutations of days, with the tails of Student's t of all days
    less eight.
    """
    known = questions.dropna()
    shares = likeliest_shares(known["size"].to_numpy(), known["se"].to_numpy())
    still = questions[questions["verdict"] == "cannot_tell_yet"]
    weights = still["factor"].isin(["stress", "walk_after", "asleep_h"]).map({True: 21 / 13, False: 7 / 13})
    rows = list(zip(still["size"], still["se"], weights, strict=True))
    claims = [2.0] * len(rows)
    for _ in range(2):
        z = [errors_needed(0.1 / 3.25 * w * n / 7, more) for (_, _, w), n in zip(rows, claims, strict=True)]
        found = [chances(size, se, shares, more, one) for (size, se, _), one in zip(rows, z, strict=True)]
        alone = np.array([stands_out for stands_out, _ in found])
        claims = list(2.0 + alone.sum() - alone)
    return pd.Series([told for _, told in found], index=still["factor"])


def errors_needed(level: float, more: float) -> float:
    """Half of the tests of 999 permutations whose true p is that of so many standard errors come under the level."""
    as_extreme = np.arange(1000)
    most = as_extreme[(1 + as_extreme) / 1000 <= level]
    if not len(most):
        return np.inf
    p = optimize.brentq(lambda p: stats.binom.cdf(most[-1], 999, p) - 0.5, 1e-6, 0.5)
    return float(stats.t.isf(p / 2, 30 * (1 + more) - 8))


@pytest.mark.parametrize(("level", "is_reached"), [(0.0009, False), (0.0011, True), (0.0022, True), (0.03, True)])
def test_errors_that_a_test_of_999_permutations_needs(level, is_reached):
    (found,) = errors_to_stand_out(np.array([level]), np.array([30 * 1.5 - 8]))
    assert np.isfinite(found) == is_reached
    assert found == pytest.approx(errors_needed(level, 0.5), rel=5e-3)  # the median by c + 2/3


def test_a_factor_that_three_questions_lead_must_be_clear_among_them():
    """Each of a covariate's three questions needs a p under a third of what its factor needs."""
    asked = [("covariate:screen", name, 2.0, 1.0, 0.2, "cannot_tell_yet") for name in WORTH]
    three = pd.DataFrame(
        [*asked, ("stress", "mean_mg_dl", 0.5, 0.6, 0.4, "cannot_tell_yet")], columns=QUESTIONS.columns
    )
    of_three = plan_questions(as_effects(three), NO_LEVERS, 20.0, 20.0, 3.0).set_index("factor")["chance_told"]
    of_one = plan_questions(as_effects(three.iloc[[0, 3]]), NO_LEVERS, 20.0, 20.0, 3.0).set_index("factor")[
        "chance_told"
    ]
    assert of_three["covariate:screen"].max() < 0.8 * of_one["covariate:screen"]


@pytest.mark.parametrize("more", [0.25, 0.5, 2.0])
def test_chances_are_the_share_of_what_may_be_true_that_would_be_told(more):
    plan = plan_questions(as_effects(QUESTIONS), NO_LEVERS, 20.0, 20.0 * more, 3.0).set_index("factor")
    expected = expected_chances(QUESTIONS, more)
    assert plan["chance_told"][expected.index].to_numpy() == pytest.approx(expected.to_numpy(), abs=2e-3)
    assert plan["chance_told"].is_monotonic_decreasing


def test_wears_needed_are_the_first_whose_rows_tell_four_times_out_of_five():
    plan = plan_questions(as_effects(QUESTIONS), NO_LEVERS, 20.0, 13.0, 3.0).set_index("factor")
    after = pd.DataFrame({wears: expected_chances(QUESTIONS, 0.65 * wears) for wears in range(1, 7)})
    for factor, row in after.iterrows():
        enough = row.index[row >= 0.8]
        assert plan["wears_needed"][factor] == pytest.approx(enough[0] if len(enough) else np.nan, nan_ok=True)
    assert plan["wears_needed"].nunique() >= 2


def test_rows_are_those_with_and_without_and_grow_with_the_days():
    """12 and 18 rows in 20 days; of 13 more days 19.5 come, and nothing has been seen where no day was."""
    plan = plan_questions(as_effects(QUESTIONS), NO_LEVERS, 20.0, 12.0, 3.0)
    assert set(plan["rows_now"]) == {30}
    assert set(plan["rows_next"]) == {18}
    assert plan_questions(as_effects(QUESTIONS), NO_LEVERS, 0.0, 12.0, 3.0).empty


def test_a_single_question_needs_less_than_the_rate_of_one_look():
    """One asked, and anew after each wear: p under 0.1 / 3.25, and claims to be expected do not make that easier."""
    alone = QUESTIONS.iloc[:1]
    shares = likeliest_shares(np.array([0.5]), np.array([0.6]))
    _, told = chances(0.5, 0.6, shares, 0.5, errors_needed(0.1 / 3.25, 0.5))
    found = plan_questions(as_effects(alone), NO_LEVERS, 20.0, 10.0, 3.0)["chance_told"].tolist()
    assert found == pytest.approx([told], abs=1e-3)


@pytest.mark.parametrize(("from_wear", "needed"), [(1, 1), (3, 3), (6, 6), (7, np.nan)])
def test_a_chance_of_just_four_in_five_within_six_wears_is_an_answer(monkeypatch, from_wear, needed):
    """Wears of half as many days as so far, and chances as told."""

    def told(size: np.ndarray, se: np.ndarray, kinds: np.ndarray, more: float, *counts: object) -> np.ndarray:
        return np.full(len(size), 0.8 if more >= from_wear / 2 else 0.79)

    monkeypatch.setattr(precision, "_chances_of_answers", told)
    plan = plan_questions(as_effects(QUESTIONS), NO_LEVERS, 20.0, 10.0, 3.0)
    assert plan["wears_needed"].to_numpy() == pytest.approx(np.full(5, needed), nan_ok=True)


def test_an_effect_beyond_all_kinds_is_of_the_largest():
    """400 times what is worth noticing: a density that no number holds, and still one kind in five."""
    found = precision._kinds(np.array([400.0, 0.0]), np.array([0.5, 1e-9]), np.array(BEFORE))
    assert found[:, 0] == pytest.approx([0, 0, 0, 0, 1], abs=1e-12)
    flat = np.array(BEFORE) / KINDS  # at nought a normal is as high as it is narrow
    assert found[:, 1] == pytest.approx(flat / flat.sum())
