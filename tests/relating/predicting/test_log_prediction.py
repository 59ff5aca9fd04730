"""Is the log said to predict meals where it does, and never where it does not? Invented tables of meals."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.record import OUTPUT_TABLES
from glucolab.relating.predicting.log_prediction import (
    FEWEST_DAYS_TO_PREDICT,
    FEWEST_MEALS,
    NUMBERS,
    _decide,
    compare_errors,
    estimate_prediction,
    predict_left_out,
)
from tests.relating.invented import Truth, invent

Log = Callable[[pd.DataFrame], np.ndarray]


def nothing(meals: pd.DataFrame) -> np.ndarray:
    return np.zeros(len(meals))


def carbohydrate_and_dish(meals: pd.DataFrame) -> np.ndarray:
    """Half a mg/dL a gram, and twelve more for half of the dishes: common sizes of rises, from memory."""
    return 0.5 * meals["carbs_g"].to_numpy() + 12.0 * meals["dish"].isin(["d0", "d1", "d2", "d3"]).to_numpy()


def draw_meals(
    seed: int, n_wears: int, log: Log, noise_mg_dl: float = 12.0, n_days: int = 13, heavy: bool = False
) -> pd.DataFrame:
    """Three meals a day; a level a wear, a mood a day (4 mg/dL), and noise that nobody wrote down."""
    rng = np.random.default_rng([seed, n_wears, 11])
    day = np.repeat(np.arange(n_wears * n_days), 3)
    wear = day // n_days
    meals = pd.DataFrame(rng.standard_normal((len(day), len(NUMBERS))), columns=list(NUMBERS))
    meals["carbs_g"] = rng.uniform(20, 90, len(day))
    meals["dish"] = rng.choice([*(f"d{i}" for i in range(8)), ""], len(day))
    left = noise_mg_dl * (rng.standard_t(3, len(day)) if heavy else rng.standard_normal(len(day)))
    own = 30 + 8 * rng.standard_normal(n_wears)[wear] + 4 * rng.standard_normal(n_wears * n_days)[day]
    rise = own + log(meals) + left
    meals[list(NUMBERS)] = meals[list(NUMBERS)].mask(rng.random((len(day), len(NUMBERS))) < 0.03)
    return meals.assign(wear=wear, day=day + 60 * wear, rise_mg_dl=rise)


def judge(meals: pd.DataFrame) -> dict:
    return compare_errors(*predict_left_out(meals), meals["day"].to_numpy())


@pytest.mark.parametrize("n_wears", [2, 4])
def test_where_nothing_in_the_log_matters_it_is_hardly_ever_said_to_be_better(n_wears):
    """Half the tables with errors of heavy tails. A false claim in one of ten is the most that the project allows."""
    found = [judge(draw_meals(seed, n_wears, nothing, heavy=seed % 2 == 0))["verdict"] for seed in range(60)]
    assert found.count("better") <= 6
    assert found.count("no_better") > 50


def test_where_the_log_matters_much_three_wears_mostly_find_it():
    """Carbohydrate of SD 20 g at 0.5 and dishes give a variance of 138, mood and noise of 160: √(160/298) = 0.73.

    That is what all the meals in the world would reach; 21 coefficients learnt by least squares from 105 meals give
    √(1 + 21/105) of it, 0.80.
    """
    found = [judge(draw_meals(seed, 3, carbohydrate_and_dish)) for seed in range(40)]
    verdicts = [one["verdict"] for one in found]
    assert verdicts.count("better") >= 30
    assert "no_better" not in verdicts
    assert 0.73 < np.median([one["error_ratio"] for one in found]) < 0.85


@pytest.mark.parametrize("n_wears", [2, 4])
def test_the_interval_holds_what_a_model_then_reaches_on_new_days(n_wears):
    """Truth: all days of the study learnt from, and 47 new days of each wear predicted.

    Of 90 % intervals over 40 studies, under 75 % is found once in two hundred; the plain resampling held two thirds.
    """
    held = []
    for seed in range(40):
        meals = draw_meals(seed, n_wears, carbohydrate_and_dish, 20.0, n_days=60)
        start = meals.groupby("wear")["day"].transform("min")
        seen, new = meals[meals["day"] - start < 13], meals[meals["day"] - start >= 13]
        found = judge(seen.reset_index(drop=True))
        held.append(found["low"] <= _reach(seen, new) <= found["high"])
    assert np.mean(held) >= 0.75


def _reach(seen: pd.DataFrame, new: pd.DataFrame) -> float:
    """Ratio of errors over new days, by scikit-learn's own pipeline."""
    from sklearn.compose import make_column_transformer
    from sklearn.impute import SimpleImputer
    from sklearn.linear_model import BayesianRidge
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import OneHotEncoder, StandardScaler

    usual = seen.groupby("wear")["rise_mg_dl"].mean()
    columns = make_column_transformer(
        (make_pipeline(SimpleImputer(), StandardScaler()), list(NUMBERS)),
        (OneHotEncoder(handle_unknown="ignore", sparse_output=False), ["dish"]),
    )
    over = seen["rise_mg_dl"] - seen["wear"].map(usual)
    spread = over.std()
    model = make_pipeline(columns, BayesianRidge()).fit(seen, over / spread)
    left = new["rise_mg_dl"] - new["wear"].map(usual)
    return float(np.sqrt(np.mean((left - spread * model.predict(new)) ** 2) / np.mean(left**2)))


def days_that_differ(seed: int) -> pd.DataFrame:
    """Each day has its own level, far beyond the noise, and its own word for a dish."""
    meals = draw_meals(seed, 3, nothing, noise_mg_dl=3.0)
    level = 30 * np.random.default_rng(seed).standard_normal(meals["day"].max() + 1)
    return meals.assign(
        dish=[f"of day {day}" for day in meals["day"]], rise_mg_dl=meals["rise_mg_dl"] + level[meals["day"]]
    )


def test_a_column_that_tells_the_day_does_not_help():
    for seed in range(5):
        found = judge(days_that_differ(seed))
        assert found["verdict"] != "better"
        assert found["error_ratio"] > 0.97


def test_it_would_help_if_days_were_not_left_out_whole():
    """Else the test above would show nothing: every meal a day of its own, and the leak is wide open."""
    meals = days_that_differ(0)
    log, average = predict_left_out(meals.assign(day=np.arange(len(meals))))
    assert np.sqrt(log.sum() / average.sum()) < 0.6


def test_a_meal_is_predicted_from_other_days_alone():
    """Changing the rises of one day leaves what is predicted of it as it was."""
    meals = draw_meals(0, 2, carbohydrate_and_dish)
    changed = meals.assign(rise_mg_dl=meals["rise_mg_dl"] + 500.0 * (meals["day"] == 5))
    mine = (meals["day"] == 5).to_numpy()
    for before, after in zip(predict_left_out(meals), predict_left_out(changed), strict=True):
        errors = np.sqrt(before[mine])
        moved = np.minimum(abs(np.sqrt(after[mine]) - (500 + errors)), abs(np.sqrt(after[mine]) - (500 - errors)))
        assert moved == pytest.approx(0, abs=1e-6)


def test_the_interval_is_that_of_ratios_widened_for_folds():
    """Paired errors of many days: the delta method gives the SE of a log ratio; Nadeau & Bengio the rest.

    Ten folds: √(1 + 10/9) = 1.453, with t = 1.833 of nine degrees of freedom (any table) for the normal 1.645.
    """
    rng = np.random.default_rng(0)
    average, log = rng.chisquare(1, 4000), 0.5 * rng.chisquare(1, 4000)
    found = compare_errors(log, average, np.arange(4000))
    error = np.std(log / log.mean() - average / average.mean()) / np.sqrt(4000) / 2
    assert found["error_ratio"] == pytest.approx(np.sqrt(log.mean() / average.mean()))
    width = np.log(found["high"] / found["low"])
    assert width == pytest.approx(2 * 1.833 * 1.453 * error, rel=0.05)


def test_a_study_of_wears_gives_one_row_of_the_contract():
    wears, _ = invent(np.random.default_rng(0), Truth(), 2, 14)
    table = estimate_prediction(wears)
    assert list(table.columns) == OUTPUT_TABLES["log_prediction"].names
    row = table.iloc[0]
    assert len(table) == 1
    assert row["n_days"] == 28
    assert row["low"] <= row["error_ratio"] <= row["high"]
    assert row["error_ratio"] == pytest.approx(row["error_log_mg_dl"] / row["error_average_mg_dl"])


@pytest.mark.parametrize("n_days", [0, 4, FEWEST_DAYS_TO_PREDICT - 1])
def test_few_days_are_counted_and_not_judged(n_days):
    wears = invent(np.random.default_rng(0), Truth(), 1, n_days)[0] if n_days else []
    row = estimate_prediction(wears).iloc[0]
    assert row["verdict"] == "not_enough_data"
    assert row["n_days"] == n_days
    assert row[["error_log_mg_dl", "error_ratio", "low", "high"]].isna().all()


def test_few_meals_on_many_days_are_not_judged():
    wears, _ = invent(np.random.default_rng(0), Truth(), 1, 30)
    eaten = wears[0].meal_responses
    eaten["usable_2h"] = eaten["usable_2h"] & (eaten["time"].dt.hour < 10)
    row = estimate_prediction(wears).iloc[0]
    assert FEWEST_DAYS_TO_PREDICT <= row["n_days"] <= row["n_meals"] < FEWEST_MEALS
    assert row["verdict"] == "not_enough_data"


def test_rises_that_never_differ_are_not_judged():
    wears, _ = invent(np.random.default_rng(0), Truth(), 2, 14)
    for wear in wears:
        wear.meal_responses["rise_mg_dl"] = 20.1
    row = estimate_prediction(wears).iloc[0]
    assert row["n_meals"] >= FEWEST_MEALS
    assert row["verdict"] == "not_enough_data"


def test_a_log_without_dishes_or_numbers_predicts_nothing():
    meals = draw_meals(0, 3, nothing).assign(dish="", **dict.fromkeys(NUMBERS, np.nan))
    found = judge(meals)
    assert found["error_ratio"] == pytest.approx(1, abs=0.02)
    assert found["verdict"] == "no_better"


def test_two_days_give_the_interval_on_paper():
    """Drawn twice from two days, each alone is a quarter of the draws and both a half: 5 and 95 % are the days' own.

    Root ratios 0.5 and 1 of a day each, √(5/8) of both; stretched in logarithms about it by √(1 + 10/9) of ten folds
    (Nadeau & Bengio 2003) and by Student's t of nine degrees over the normal.
    """
    log, average, day = np.array([1.0, 4.0]), np.array([4.0, 4.0]), np.array([7, 9])
    found = compare_errors(log, average, day)
    by = np.sqrt(19 / 9) * stats.t.ppf(0.95, 9) / stats.norm.ppf(0.95)
    both = np.sqrt(5 / 8)
    assert found["error_ratio"] == pytest.approx(both)
    assert found["low"] == pytest.approx(both * (0.5 / both) ** by)
    assert found["high"] == pytest.approx(both * (1 / both) ** by)
    assert found["error_log_mg_dl"] == pytest.approx(np.sqrt(2.5))
    assert found["error_average_mg_dl"] == 2
    assert found["verdict"] == "cannot_tell_yet"


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (0.95, 1.2, "no_better"), (0.949, 1.2, "cannot_tell_yet"), (0.95, 0.99, "no_better"), (0.945, 0.999, "better"),
        (0.7, 1.0, "cannot_tell_yet"), (0.7, 0.999, "better"),
    ],
)  # fmt: skip
def test_less_than_a_twentieth_is_no_better(low, high, verdict):
    assert _decide(low, high) == verdict


def ten_days(*wears: int) -> pd.DataFrame:
    """Ten days of three meals, the wear of each day; some of the log is not written, and a dish is eaten once."""
    rng = np.random.default_rng(17)
    meals = pd.DataFrame(rng.standard_normal((30, len(NUMBERS))), columns=list(NUMBERS))
    meals["carbs_g"] = rng.uniform(20, 90, 30)
    meals = meals.mask(rng.random(meals.shape) < 0.1)
    meals["dish"] = np.resize(["rice", "", "bread", "soup", "rice", "bread", ""], 30)
    meals.loc[29, "dish"] = "tart"
    rise = 20 + 0.4 * meals["carbs_g"].fillna(55) + 10 * (meals["dish"] == "rice") + 4 * rng.standard_normal(30)
    wear = np.repeat(wears, 3)
    return meals.assign(day=np.repeat(np.arange(10), 3), wear=wear, rise_mg_dl=rise + 15 * wear)


def test_each_of_ten_days_is_predicted_from_the_nine_others():
    """Their mean by hand, the model by scikit-learn's own pipeline, fitted to each nine days anew."""
    meals = ten_days(0, 0, 0, 0, 0, 1, 1, 1, 1, 1)
    log, average = predict_left_out(meals)
    for day in range(10):
        mine = (meals["day"] == day).to_numpy()
        seen, new = meals[~mine], meals[mine]
        usual = seen.groupby("wear")["rise_mg_dl"].mean()
        over = new["rise_mg_dl"] - new["wear"].map(usual)
        assert average[mine] == pytest.approx(over.to_numpy() ** 2)
        assert np.sqrt(log[mine]) == pytest.approx(abs(over - _predict_over_usual(seen, new, usual)), abs=1e-6)


def _predict_over_usual(seen: pd.DataFrame, new: pd.DataFrame, usual: pd.Series) -> np.ndarray:
    from sklearn.compose import make_column_transformer
    from sklearn.impute import SimpleImputer
    from sklearn.linear_model import BayesianRidge
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import OneHotEncoder, StandardScaler

    dishes = [sorted(set(seen["dish"]) - {""})]
    columns = make_column_transformer(
        (make_pipeline(SimpleImputer(), StandardScaler()), list(NUMBERS)),
        (OneHotEncoder(categories=dishes, handle_unknown="ignore", sparse_output=False), ["dish"]),
    )
    over = seen["rise_mg_dl"] - seen["wear"].map(usual)
    spread = over.std(ddof=0)
    return spread * make_pipeline(columns, BayesianRidge()).fit(seen, over / spread).predict(new)


@pytest.mark.parametrize(("alone", "wears"), [(0, [0, *[1] * 9]), (9, [*[0] * 9, 1])])
def test_the_only_day_of_a_wear_is_predicted_from_all_others(alone, wears):
    """No other day of it is known: the mean of all meals of the nine others stands for it."""
    meals = ten_days(*wears)
    mine = (meals["day"] == alone).to_numpy()
    average = predict_left_out(meals)[1]
    over = meals["rise_mg_dl"][mine] - meals["rise_mg_dl"][~mine].mean()
    assert average[mine] == pytest.approx(over.to_numpy() ** 2)


@pytest.mark.parametrize(
    ("n_days", "per_day", "dropped", "judged"), [(20, 2, 0, True), (20, 2, 1, False), (19, 3, 0, False)]
)
def test_forty_meals_on_twenty_days_are_asked_for(n_days, per_day, dropped, judged):
    wears, _ = invent(np.random.default_rng(3), Truth(snacks=0.0), 1, n_days)
    eaten = wears[0].meal_responses
    usable = (eaten.groupby("day").cumcount() < per_day).to_numpy()
    eaten["usable_2h"] = pd.array(usable & (np.arange(len(eaten)) >= dropped), "boolean")
    row = estimate_prediction(wears).iloc[0]
    assert (row["n_meals"], row["n_days"]) == (n_days * per_day - dropped, n_days)
    assert (row["verdict"] != "not_enough_data") == judged
