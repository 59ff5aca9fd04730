"""Does the page say in words what forecasts.csv holds, and call no rise good or bad?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from glucolab.record import OUTPUT_TABLES
from glucolab.showing.display import Display
from glucolab.showing.words.findings.forecasts import say_beside_forecast, say_forecasts


def table(n: int = 30, miss: float = 5.0, usual: float = 10.0) -> pd.DataFrame:
    """Forecasts that miss by `miss`, to either side in turn; the usual rise misses by `usual`."""
    side = np.where(np.arange(n) % 2, 1.0, -1.0)
    rise = 40 + 10 * np.sin(np.arange(n))
    return pd.DataFrame({
        "time": pd.date_range("2026-03-01T12:00Z", periods=n, freq="D"), "wear": "w", "dish": "",
        "forecast_mg_dl": rise + miss * side, "low_mg_dl": rise - 20, "high_mg_dl": rise + 20,
        "usual_mg_dl": rise + usual * side, "rise_mg_dl": rise, "held": np.arange(n) > 2,
    })[OUTPUT_TABLES["forecasts"].names]  # fmt: skip


def test_how_much_less_it_misses_is_said_with_the_ceiling():
    said = say_forecasts(table(), Display())
    assert "Each of 30 meals was predicted from those of earlier days" in said
    assert "missed by 50\u00a0% less than expecting your usual rise (5 instead of 10\u00a0mg/dL)" in said
    assert "two eatings of one meal correlated by 0.66 in a trial of repeated meals" in said
    assert "90 % of the rises lay within their interval" in said


def test_where_it_is_no_better_that_is_said():
    said = say_forecasts(table(miss=9.6), Display())
    assert "no better than expecting your usual rise. Predicting your meals does not work yet." in said
    assert "9\u00a0% less" in say_forecasts(table(miss=9.1), Display())


def test_too_few_say_how_many_it_takes():
    assert say_forecasts(table(19), Display()).startswith("19 meals were predicted")
    assert say_forecasts(table(1), Display()).startswith("1 meal was predicted")
    assert say_forecasts(table(0), Display()).startswith("No meal was predicted")
    assert "it takes 20" in say_forecasts(table(0), Display())


def test_without_figures_no_glucose_is_said():
    hidden = Display(numbers=False)
    assert "mg/dL" not in say_forecasts(table(), hidden)
    row = next(table(1).itertuples())
    assert "(" not in say_beside_forecast(row._replace(held=True), hidden)


def test_what_came_is_set_beside_what_was_predicted_without_blame():
    row = next(table(1).itertuples())._replace(low_mg_dl=12.0, high_mg_dl=50.0)
    within = say_beside_forecast(row._replace(rise_mg_dl=31.0, held=True), Display())
    assert within == "That is within what your earlier meals predicted (+12 to +50\u00a0mg/dL)."
    more = say_beside_forecast(row._replace(rise_mg_dl=60.0, held=False), Display())
    assert more.startswith("That is more than your earlier meals predicted (+12 to +50\u00a0mg/dL)")
    assert "a single one says little" in more
    assert "That is less than" in say_beside_forecast(row._replace(rise_mg_dl=2.0, held=False), Display())
    assert "0.7 to +2.8\u00a0mmol/L" in say_beside_forecast(row._replace(held=True), Display("mmol/L"))
