"""Is the next wear planned well: times that are steady and spread, a fair lot, chances that come true?"""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2, chisquare, norm

from glucolab.clock import ZoneSpans, local_hours, to_local
from glucolab.errors import NothingToDo
from glucolab.record import empty_output
from glucolab.record.habit_outputs import EFFECTS
from glucolab.relating.planning.check_times import TypicalDay, plan_check_times
from glucolab.relating.planning.plan import _plan_trial, _taken, whole_days
from glucolab.relating.planning.precision import plan_questions
from glucolab.relating.planning.trial_choice import Wish, choose_trials
from glucolab.relating.planning.trial_design import draw_trial_dates, estimate_eating_spread, usable_share
from tests.hand_made import at, make_study, make_table, make_wear
from tests.relating.planned import eaten, worn

WARSAW = ZoneSpans(("Europe/Warsaw",))
DATES = pd.date_range("2026-03-01", periods=12, freq="D")


def typical_day(wake_h: float = 7.0, bed_h: float = 23.0) -> TypicalDay:
    """Glucose that moves fast from 8 to 9:30, 13 to 14:30 and 19 to 20:30, and is highest in the evening."""
    half_hour = np.arange(48)
    fast = np.isin(half_hour, [16, 17, 18, 26, 27, 28, 38, 39, 40])
    return TypicalDay(90.0 + half_hour / 4, np.where(fast, 1.5, 0.2), wake_h, bed_h)


@pytest.mark.parametrize("checks", [1, 2, 6, 12, 20])
def test_checks_are_taken_awake_while_glucose_is_steady(checks):
    planned = plan_check_times(typical_day(), DATES, checks, WARSAW)
    hours = local_hours(pd.DatetimeIndex(planned["time"]), WARSAW)
    assert len(planned) == checks
    assert ((hours > 7) & (hours < 22.75)).all()
    assert (planned["usual_slope_mg_dl_min"] < 0.5).all()
    assert planned["time"].is_monotonic_increasing


def test_checks_are_spread_over_the_days_the_day_and_the_range():
    planned = plan_check_times(typical_day(), DATES, 8, WARSAW)
    local = to_local(pd.DatetimeIndex(planned["time"]), WARSAW)
    assert local.normalize().nunique() == 8
    assert local[0].normalize() == DATES[0]
    assert local[-1].normalize() == DATES[-1]
    quarter = np.floor((local.hour - 7) / 4)
    # two on waking; of the other six, four go once round the day, and two begin anew
    assert np.bincount(quarter.astype(int), minlength=4).tolist() == [4, 1, 2, 1]
    assert np.ptp(planned["usual_mg_dl"]) > 5  # of 8 that the waking day spans


def test_checks_of_a_night_owl_and_of_someone_who_never_logged_a_slow_hour():
    late = plan_check_times(typical_day(11.0, 26.5), DATES, 6, WARSAW)
    hours = local_hours(pd.DatetimeIndex(late["time"]), WARSAW)
    assert (((hours - 11) % 24) < 15.5).all()
    unknown = TypicalDay(np.full(48, np.nan), np.full(48, np.nan), 7.0, 23.0)
    assert len(plan_check_times(unknown, DATES, 6, WARSAW)) == 6


def test_every_way_of_the_lot_is_as_likely():
    """Three pairs, each in either order: 8 ways, each drawn as often as any other (chi-squared)."""
    free = DATES[:6]
    drawn = ["".join(draw_trial_dates(free, ("a", "b"), 3, seed)["arm"]) for seed in range(4000)]
    counts = pd.Series(drawn).value_counts()
    assert len(counts) == 8
    assert chisquare(counts).pvalue > 0.001


def test_the_lot_takes_free_days_evenly_and_refuses_where_there_are_too_few():
    plan = draw_trial_dates(DATES, ("walk", "rest"), 3, 7)
    assert plan["arm"].value_counts().to_dict() == {"walk": 3, "rest": 3}
    assert plan["date"].is_unique
    assert plan["date"].diff().dropna().between(pd.Timedelta(days=2), pd.Timedelta(days=3)).all()
    assert set(plan["date"]) <= set(DATES)
    pd.testing.assert_frame_equal(plan, draw_trial_dates(DATES, ("walk", "rest"), 3, 7))
    with pytest.raises(ValueError, match="14 dates are asked for and 12 are free"):
        draw_trial_dates(DATES, ("walk", "rest"), 7, 7)


def test_whole_days_begin_after_warm_up_and_end_before_the_sensor_comes_off():
    dates = whole_days(date(2026, 3, 1), 14, 24)
    assert [dates[0].date(), dates[-1].date()] == [date(2026, 3, 3), date(2026, 3, 14)]
    assert whole_days(date(2026, 3, 1), 14, 11)[0].date() == date(2026, 3, 2)
    assert whole_days(date(2026, 3, 1), 14, 12)[0].date() == date(2026, 3, 2), "ready at the midnight it begins with"
    assert whole_days(date(2026, 3, 1), 14, 13)[0].date() == date(2026, 3, 3)
    assert not len(whole_days(date(2026, 3, 1), 2, 24))


def eatings(rng: np.random.Generator, sd: float, dishes: int = 6, times: int = 5) -> pd.DataFrame:
    dish = np.repeat([f"dish {i}" for i in range(dishes)], times)
    rise = np.repeat(rng.normal(35, 6, dishes), times) + rng.normal(0, sd, dishes * times)
    return pd.DataFrame({"dish": dish, "wear": 0, "rise_mg_dl": rise, "se_mg_dl": 4.0, "gain_sd": 0.1})


@pytest.mark.parametrize(("sd", "times"), [(10.0, 5), (14.0, 5), (25.0, 5), (7.0, 12)])
def test_the_spread_between_eatings_is_learnt_from_the_person(sd, times):
    """True spread between the 5th and 95th percentile of what is believed in 85 to 97 of 100 people.

    So from three fifths to one and a half of the 16.5 that are thought usual; who is further off needs more eatings.
    """
    rng = np.random.default_rng(11)
    held = [
        np.quantile(estimate_eating_spread(eatings(rng, sd, times=times), "dish 0", seed).sd_mg_dl, [0.05, 0.95])
        for seed in range(200)
    ]
    inside = np.mean([low <= sd <= high for low, high in held])
    assert 0.85 <= inside <= 1.0


def test_a_new_dish_and_a_new_person_get_the_published_spread():
    """16 mg/dL between two eatings of one meal, beside 4 of measurement, known as six eatings tell it.

    Half as much again as 10.7 to 11.3 of the mean of two hours (Hengist et al., PMC10371100).
    """
    nobody = eatings(np.random.default_rng(0), 10.0).iloc[:1]
    believed = estimate_eating_spread(nobody, "never eaten", 1)
    assert believed.eatings == 0
    assert believed.typical_mg_dl == pytest.approx(np.hypot(16.0, 4.0) * np.sqrt(6 / chi2.median(6)), rel=0.05)


def test_usable_share_is_drawn_toward_that_of_all_meals():
    dishes = ["soup"] * 2 + ["rice"] * 20
    meals = pd.DataFrame({"dish": dishes, "name": "lunch", "usable_2h": [False] * 2 + [True] * 20})
    assert 0.5 < usable_share(meals, "soup") < 0.75
    assert usable_share(meals, "rice") > 0.9


def as_effects(true: np.ndarray, se: np.ndarray, rng: np.random.Generator) -> pd.DataFrame:
    n = len(true)
    estimate = true + se * rng.standard_normal(n)
    table = pd.DataFrame({"estimate": estimate, "low": estimate - 1.645 * se, "high": estimate + 1.645 * se})
    for name in ("estimate", "low", "high"):
        table[f"range_{name}"] = table[name]
    table["factor"], table["outcome"] = [f"covariate:{i}" for i in range(n)], "mean_mg_dl"
    table["contrast"], table["unit"] = "", "mg/dL"
    table["n_with"], table["n_without"], table["n_days"], table["needed"] = 26, 0, 26, np.nan
    table["n_alone"] = np.nan
    inside, beyond = (table["low"] >= -3) & (table["high"] <= 3), table["low"] * table["high"] > 0
    table["verdict"] = np.where(beyond, "lower", np.where(inside, "too_small_to_matter", "cannot_tell_yet"))
    table["p_value"] = table["q_value"] = np.where(beyond, 0.01, 0.5)
    return table.reindex(columns=EFFECTS.names)


def test_chances_that_a_question_is_told_come_true():
    """Effects of people drawn here (half of them nil, half of SD 4 mg/dL); a next wear half as long as all so far.

    The rule is applied to what old and new rows together give: of the questions open now and given a chance, as many
    are told as was said, in every third of them.
    """
    rng = np.random.default_rng(20261126)
    said, told = [], []
    for _ in range(150):
        true = np.where(rng.random(40) < 0.5, 0.0, rng.normal(0, 4, 40))
        se = rng.uniform(1.0, 5.0, 40)
        now = as_effects(true, se, rng).assign(needed=np.arange(40))
        plan = plan_questions(now.assign(contrast=[str(i) for i in range(40)]), empty_output("levers"), 26.0, 13.0, 3.0)
        which = plan["contrast"].astype(int).to_numpy()
        new = true[which] + se[which] * np.sqrt(2) * rng.standard_normal(len(which))
        both = (2 * plan["estimate"].to_numpy(float) + new) / 3
        half = 1.645 * se[which] * np.sqrt(2 / 3)
        threshold = max((now["q_value"] <= 0.1).sum() + 1, 1) * 0.10 / 40
        z = max(1.645, -norm.ppf(threshold / 2))
        stands = np.abs(both) > z / 1.645 * half
        told += list(stands | ((both - half >= -3) & (both + half <= 3)))
        said += list(plan["chance_told"])
    said, told = np.array(said), np.array(told)
    thirds = np.array_split(np.argsort(said), 3)
    assert np.mean(told) == pytest.approx(np.mean(said), abs=0.05)
    for part in thirds:
        assert told[part].mean() == pytest.approx(said[part].mean(), abs=0.10)


TRIALS = pd.DataFrame({
    "date": pd.to_datetime(["2026-02-04", "2026-02-05"]), "trial": "tea", "arm": ["tea", "none"], "time": None,
    "dish": "rice", "note": "one cup",
})  # fmt: skip
TABLES = {
    "dishes": pd.DataFrame({"dish": ["soup", "rice"], "n": [9, 4]}),
    "trial_results": pd.DataFrame({"trial": ["tea"], "outcome": ["rise_mg_dl"], "verdict": ["cannot_tell_yet"]}),
}
START = date(2026, 3, 1)


def test_the_open_experiment_goes_on_else_one_is_suggested():
    (going_on,) = choose_trials(TRIALS, TABLES, Wish(START))
    assert (going_on.trial, going_on.arms, going_on.dishes, going_on.note) == (
        "tea",
        ("none", "tea"),
        ("rice",),
        "one cup",
    )
    told = TABLES | {"trial_results": TABLES["trial_results"].assign(verdict="lower")}
    assert choose_trials(TRIALS, told, Wish(START))[0].factor == "walk_after"
    assert choose_trials(TRIALS, told, Wish(START))[0].dishes == ("soup",)
    nothing_eaten = told | {"dishes": TABLES["dishes"].iloc[:0]}
    assert choose_trials(TRIALS, nothing_eaten, Wish(START)) == []


def test_a_wish_that_lacks_something_says_what():
    with pytest.raises(NothingToDo, match="“vinegar” is not in"):
        choose_trials(TRIALS, TABLES, Wish(START, trial="vinegar"))
    with pytest.raises(NothingToDo, match="two arms and a dish"):
        choose_trials(TRIALS, TABLES, Wish(START, arms=("a", "b")))
    (own,) = choose_trials(TRIALS, TABLES, Wish(START, arms=("vinegar", "none"), dish="rice"))
    assert own.trial == "vinegar or none with rice"


def planned_trial(free_days: int, usable: int, difference_mg_dl: float):
    """An experiment on porridge, eaten ten times so far, so often usable, at rises of 36 and 44 mg/dL in turn."""
    meals = [eaten(at("08:00", i), rise=40.0 + 4 * (-1) ** i, reason="" if i < usable else "snack") for i in range(10)]
    wear = worn(meals)
    for end, half in (("low", -6.0), ("high", 6.0)):
        wear.meal_responses[f"rise_{end}_mg_dl"] = wear.meal_responses["rise_mg_dl"] + half
    whole = pd.date_range("2026-03-01", periods=free_days, freq="D", unit="us")
    wish = Wish(START, trial="tea", arms=("none", "tea"), dish="porridge", difference_mg_dl=difference_mg_dl)
    return _plan_trial(make_study(make_wear()), [wear], {}, whole, wish)


ALL_USABLE = (10 + 4 * 11 / 11.5) / 14
HALF_USABLE = (5 + 4 * 6 / 11.5) / 14
"""Of ten eatings ten or five were usable; the usual share, (11 or 6) / 11.5, counts as four more."""


def test_three_occasions_an_arm_that_can_be_judged_are_enough_and_fewer_are_not():
    """Half are usable: six dates an arm leave 3.04, and four 2.03; of three dates at 0.987 all are."""
    trial, why = planned_trial(12, 5, 60.0)
    assert (trial.each, why) == (6, "")
    assert trial.usable == pytest.approx(HALF_USABLE)
    trial, why = planned_trial(9, 5, 60.0)
    assert trial is None
    assert why == "9 free days are too few for “tea”: each arm needs 3 occasions that can be judged."
    assert planned_trial(6, 10, 60.0)[0].each == 3
    assert planned_trial(5, 10, 60.0)[0] is None


def test_more_dates_are_planned_than_are_needed_since_some_cannot_be_judged():
    """A difference far beyond the spread needs five occasions: at 0.506 each, ten dates; at 0.988, six."""
    for usable, each in ((5, 10), (10, 6)):
        trial, _ = planned_trial(40, usable, 300.0)
        assert trial.repeats_needed == 5
        assert trial.each == each
        assert trial.expected.chance_told > 0.8
        assert trial.dates["arm"].value_counts().to_dict() == {"none": each, "tea": each}


def test_a_small_difference_takes_all_dates_and_its_chance_is_that_of_the_occasions_judged():
    """Fourteen judged an arm would not find 3 mg/dL. Twelve dates an arm are free, of which 6.07 can be judged."""
    trial, _ = planned_trial(24, 5, 3.0)
    assert trial.repeats_needed is None
    assert trial.each == 12
    told, _ = planned_trial(24, 5, trial.smallest_mg_dl)
    assert told.expected.chance_told == pytest.approx(0.8, abs=0.05)
    chance = told.repeats.set_index("repeats")["chance_told"]
    assert chance[5] < told.expected.chance_told < chance[12]


def test_all_fourteen_are_planned_where_none_is_enough_and_days_are_many():
    """14 occasions at 0.988 are 14.2 dates, so 15."""
    assert planned_trial(60, 10, 0.5)[0].each == int(np.ceil(14 / ALL_USABLE)) == 15


def test_days_that_are_avoided_away_or_planned_already_are_not_free():
    trips = make_table(
        "notes",
        {"start": at("20:00"), "kind": "travel", "end": at("03:00", 1)},
        {"start": at("12:00", 4), "kind": "illness"},
        {"start": at("12:00", 6), "kind": "heat"},
    )
    trials = make_table("trials", *(
        {"date": at("00:00", day).tz_localize(None), "trial": "tea", "arm": "tea", "dish": dish}
        for day, dish in ((8, "rice"), (9, None), (10, "soup"))
    ))  # fmt: skip
    study = make_study(make_wear(days=14, notes=trips), tables={"trials": trials})
    taken = _taken(study, ("rice",), Wish(START, avoid=((date(2026, 2, 20), date(2026, 2, 21)),)))
    assert taken.strftime("%m-%d").tolist() == ["02-03", "02-04", "02-07", "02-11", "02-12", "02-20", "02-21"]


def test_a_sensor_that_comes_off_at_noon_or_midnight():
    """On at noon of the first. Off at noon of the third: the second is whole. Off at midnight that ends it: it too."""
    assert [d.day for d in whole_days(date(2026, 3, 1), 2, 0)] == [2]
    assert [d.day for d in whole_days(date(2026, 3, 1), 2.5, 0)] == [2, 3]
    assert [d.day for d in whole_days(date(2026, 3, 1), 2.49, 0)] == [2]
