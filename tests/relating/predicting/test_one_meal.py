"""Does one meal get the curve that this person's meals have, and a band that holds the next one?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from glucolab.analysis import analyse_study
from glucolab.errors import NothingToDo
from glucolab.on_request import predict_meal
from glucolab.record import Person
from glucolab.relating.observations.days_and_meals import gather_days, gather_meals
from glucolab.relating.predicting.meal_model import expect, expected_rises, fit, tabulate_groups, tabulate_log
from glucolab.relating.predicting.one_meal import curves_of
from tests.known_truth.other_family.wearing import as_study, invent


@pytest.fixture(scope="module")
def analysis():
    return analyse_study(as_study(invent("usual", 5, 0)[1]))


def dishes_of(analysis) -> list[str]:
    tables = [one.related.meal_responses for one in analysis.wears]
    names = [name for table in tables for name in table.loc[table["carbs_g"] > 20, "dish"].dropna() if name]
    return sorted(set(names), key=names.count, reverse=True)


def test_more_carbohydrate_raises_more_and_the_curve_begins_at_nothing(analysis):
    small, large = (predict_meal(analysis, hour=13, carbs_g=grams) for grams in (15.0, 90.0))
    assert large.rise["estimate"] > small.rise["estimate"] + 5
    assert large.curve["minutes"].tolist() == [0, *range(15, 181, 15)]
    assert large.curve.iloc[0, 1:].tolist() == [0, 0, 0]
    assert (large.curve["low_mg_dl"] <= large.curve["above_mg_dl"]).all()
    assert (large.curve["high_mg_dl"] - large.curve["low_mg_dl"]).iloc[1:].gt(5).all()
    assert large.rise["low"] < large.rise["estimate"] < large.rise["high"]
    # the highest of a curve is at least as high as the mean curve
    assert large.rise["estimate"] > large.curve["above_mg_dl"].max() - 3


def test_a_dish_is_predicted_by_what_it_held_so_far(analysis):
    dish = dishes_of(analysis)[0]
    found = predict_meal(analysis, hour=13, dish=dish)
    meals = [one.related.meal_responses for one in analysis.wears]
    eaten = [table.loc[table["dish"] == dish, "carbs_g"].mean() for table in meals]
    assert np.nanmin(eaten) - 1 <= found.carbs_g <= np.nanmax(eaten) + 1
    assert found.of_dish >= 2
    assert predict_meal(analysis, hour=13, dish=dish, carbs_g=20.0).carbs_g == 20.0


def test_what_each_meal_did_lies_near_what_is_predicted_for_it(analysis):
    """Nine in ten bands hold meals of their own dish, carbohydrate and hour; these were learnt from too."""
    held = []
    for one in analysis.wears:
        meals = one.related.meal_responses
        for meal in meals[meals["usable_2h"].astype(bool) & meals["carbs_g"].notna()].head(12).itertuples():
            rise = predict_meal(analysis, hour=meal.time.hour, carbs_g=meal.carbs_g).rise
            held.append(rise["low"] <= meal.rise_mg_dl <= rise["high"])
    assert 0.8 <= np.mean(held) <= 1


def test_what_cannot_be_predicted_is_refused_in_words(analysis):
    with pytest.raises(NothingToDo, match="how much carbohydrate"):
        predict_meal(analysis, hour=13)
    with pytest.raises(NothingToDo, match="no meal of the log has the dish"):
        predict_meal(analysis, hour=13, dish="moon cheese")
    for hour, grams in ((-1, 50.0), (24.5, 50.0), (np.nan, 50.0), (13, -30.0), (13, np.inf)):
        with pytest.raises(NothingToDo, match="between 0 and 24"):
            predict_meal(analysis, hour=hour, carbs_g=grams)
    described = replace(analysis, study=replace(analysis.study, person=Person("UTC", pregnant=True)))
    with pytest.raises(NothingToDo):
        predict_meal(described, hour=13, carbs_g=50)
    without = [
        replace(one, related=replace(one.related, meal_responses=one.related.meal_responses.iloc[:0]))
        for one in analysis.wears
    ]
    with pytest.raises(NothingToDo, match="three hours of known glucose"):
        predict_meal(replace(analysis, wears=tuple(without)), hour=13, carbs_g=50)


def test_the_band_comes_from_what_each_meal_misses_by_when_it_is_left_out(analysis):
    """The rise's, each meal left out and the model fitted anew; of carbohydrate alone, at a usual level."""
    wears, traces = [one.related.as_asked for one in analysis.wears], [one.trace for one in analysis.wears]
    meals = gather_meals(wears, gather_days(wears))
    curves = curves_of(meals, traces)
    known = ~meals["left_out"].to_numpy() & ~np.isnan(curves).any(axis=1) & meals["rise_mg_dl"].notna().to_numpy()
    meals = meals[known].reset_index(drop=True)
    dish, rise = meals["dish"].to_numpy(), meals["rise_mg_dl"].to_numpy()[:, None]
    dishes = np.unique(dish[dish != ""])
    level = meals.groupby("wear")["baseline_mg_dl"].transform("mean").to_numpy()
    own = [tabulate_groups(dish, dishes), tabulate_groups(meals["wear"].to_numpy(), np.arange(len(wears)))]
    columns, prior = np.hstack([tabulate_log(meals, level), *own]), expect(expected_rises(), len(dishes), len(wears))
    misses = []
    for i in range(len(meals)):
        others = np.arange(len(meals)) != i
        model = fit(columns[others].T @ columns[others], columns[others].T @ rise[others], prior)
        with_it = fit(columns.T @ columns, columns.T @ rise, prior).predict(columns[i : i + 1])[0][0, 0]
        left_out = rise[i, 0] - model.predict(columns[i : i + 1])[0][0, 0]
        misses.append(left_out / (0.64 + 0.01 * max(with_it, 0)))
    scatter = np.sqrt((4 * 400 + np.sum(np.square(misses))) / (4 + len(meals)))
    found = predict_meal(analysis, hour=13, carbs_g=60.0)
    asked = pd.DataFrame([{**dict.fromkeys(meals.columns, np.nan), "hour": 13.0, "carbs_g": 60.0, "dish": ""}])
    zero = ["carbs_before_g", "carbs_after_g", "exercised", "walk_after", "protein_first", "eaten_out"]
    asked[zero] = 0.0
    row = np.zeros((1, columns.shape[1]))
    row[:, : -sum(part.shape[1] for part in own)] = tabulate_log(asked, np.full(1, np.nan))
    mean, spread = fit(columns.T @ columns, columns.T @ rise, prior).predict(row)
    half = stats.t.ppf(0.95, 4 + len(meals)) * scatter * (0.64 + 0.01 * mean[0, 0]) * spread[0]
    assert found.rise["estimate"] == pytest.approx(mean[0, 0])
    assert found.rise["high"] - found.rise["estimate"] == pytest.approx(half)
