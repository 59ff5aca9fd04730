"""Is it what the contract says? Checks of tables and summaries against the one schema in `record`."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd

from glucolab.record import (
    FLAGS,
    GAP_KINDS,
    LINKS,
    RESPONSE_REASONS,
    STUDY_OUTPUTS,
    STUDY_SUMMARY_KEYS,
    VERDICTS,
    WEAR_OUTPUTS,
    WEAR_SUMMARY_KEYS,
)
from glucolab.record.trial_outputs import TRIAL_REASONS

ESTIMATES = ("mean", "sd", "cv_percent", "usual_mean", "overnight_mean", "excursions_per_day",
             "excursions_per_day_without_exercise", "dips_per_day", "lag_min", "bias_mg_dl",
             "log_clock_min")  # fmt: skip


def check_wear(one) -> None:
    """Every table and key of a wear's part of the contract, by name, kind and meaning."""
    for name, table in WEAR_OUTPUTS.items():
        check_table(one.tables[name], table, covariates=name == "daily")
    assert set(one.tables) == set(WEAR_OUTPUTS)
    check_wear_summary(one.summary)
    check_wear_tables(one)


def check_study(whole) -> None:
    """Every table and key of the study's part."""
    assert set(whole.tables) == set(STUDY_OUTPUTS)
    for name, table in STUDY_OUTPUTS.items():
        check_table(whole.tables[name], table)
    assert list(whole.summary) == [key.name for key in STUDY_SUMMARY_KEYS]
    json.dumps(whole.summary, allow_nan=False)
    for name in (
        "comparisons",
        "habit_changes",
        "effects",
        "dish_pairs",
        "trial_results",
        "trial_carry_over",
        "lab_changes",
        "lab_checks",
        "energy_effects",
    ):
        assert set(whole.tables[name]["verdict"]) <= set(VERDICTS)
    reasons = {word for cell in whole.tables["trial_dates"]["reason"] for word in cell.split(";") if word}
    assert reasons <= set(TRIAL_REASONS)
    for name, low, middle, high in (
        ("periods", "mean_low_mg_dl", "mean_mg_dl", "mean_high_mg_dl"),
        ("comparisons", "low_mg_dl", "difference_mg_dl", "high_mg_dl"),
        ("effects", "low", "estimate", "high"),
        ("trial_results", "low", "difference", "high"),
        ("trial_carry_over", "low", "difference", "high"),
        ("dishes", "low_mg_dl", "rise_mg_dl", "high_mg_dl"),
        ("dish_pairs", "low_mg_dl", "difference_mg_dl", "high_mg_dl"),
        ("lab_indices", "low", "value", "high"),
        ("lab_checks", "low_mg_dl", "sensor_mg_dl", "high_mg_dl"),
        ("lab_checks", "difference_low_mg_dl", "difference_mg_dl", "difference_high_mg_dl"),
        ("check_agreement", "low_mg_dl", "difference_mg_dl", "high_mg_dl"),
        ("check_agreement", "limit_low_low_mg_dl", "limit_low_mg_dl", "limit_low_high_mg_dl"),
        ("check_agreement", "limit_high_low_mg_dl", "limit_high_mg_dl", "limit_high_high_mg_dl"),
        ("check_agreement", "slope_low", "slope", "slope_high"),
        ("energy_effects", "low", "estimate", "high"),
        ("spread_shares", "low", "share", "high"),
        ("habit_changes", "low", "difference", "high"),
        ("block_changes", "low_mg_dl", "change_mg_dl", "high_mg_dl"),
    ):
        check_interval(whole.tables[name], low, middle, high)
    shares = whole.tables["comparisons"][["share_days", "share_hours", "share_sensor"]].dropna().sum(axis=1)
    assert np.allclose(shares.astype(float), 1)


def check_interval(frame: pd.DataFrame, low: str, middle: str, high: str) -> None:
    values = frame[[low, middle, high]].astype(float)
    shown = values[middle].notna()
    assert values.loc[shown].notna().all(axis=None), f"a {middle} without an interval"
    assert (values.loc[shown, low] <= values.loc[shown, middle] + 1e-9).all()
    assert (values.loc[shown, middle] <= values.loc[shown, high] + 1e-9).all()


def check_table(frame: pd.DataFrame, table, covariates: bool = False) -> None:
    names = list(frame.columns)
    if covariates:
        assert names[: len(table.names)] == table.names
        for name in names[len(table.names) :]:
            assert pd.api.types.is_numeric_dtype(frame[name]) or frame[name].dtype == "boolean"
    else:
        assert names == table.names
    if len(frame):
        for column in table.columns:
            check_kind(frame[column.name], column.kind, f"{table.name}.{column.name}")


def check_kind(values: pd.Series, kind: str, where: str) -> None:
    if kind == "time":
        assert values.dtype == pd.DatetimeTZDtype("us", "UTC"), f"{where} is {values.dtype}"
    elif kind == "date":
        assert values.dtype == np.dtype("datetime64[us]"), f"{where} is {values.dtype}"
    elif kind == "true_false":
        assert values.dtype == "boolean", f"{where} is {values.dtype}"
    elif kind in ("number", "count"):
        numbers = values.astype(float)
        assert not np.isinf(numbers).any(), where
        if kind == "count":
            known = numbers.dropna()
            assert ((known == known.round()) & (known >= 0)).all(), where
    else:
        assert values.dropna().map(lambda cell: isinstance(cell, str)).all(), where


def check_wear_summary(summary: dict) -> None:
    assert list(summary) == [key.name for key in WEAR_SUMMARY_KEYS]
    json.dumps(summary, allow_nan=False)
    assert summary["contract"] == 3
    assert summary["unit"] == "mg/dL"
    assert summary["state"] in ("running", "ended")
    assert 0 <= summary["coverage"] <= 1
    assert list(summary["flag_minutes"]) == list(FLAGS)
    assert list(summary["gap_minutes"]) == list(GAP_KINDS)
    for name in ESTIMATES:
        check_estimate(summary, name, summary[name])
    minutes = summary["minutes_per_day"]
    if minutes is None:
        assert summary["withheld"]["minutes_per_day"]
    else:
        assert list(minutes) == ["below_range", "in_range", "above_range"]
        for value in minutes.values():
            check_estimate(summary, "minutes_per_day", value)
        assert (
            sum(value["estimate"] for value in minutes.values()) == 1440
            or abs(sum(value["estimate"] for value in minutes.values()) - 1440) < 1e-6
        )
    shares = summary["usual_mean_error_shares"]
    if shares is None:
        assert summary["usual_mean"] is None
        assert summary["withheld"]["usual_mean"]
    else:
        assert list(shares) == ["days", "hours", "sensor"]
        assert abs(sum(shares.values()) - 1) < 1e-9
        assert min(shares.values()) >= 0
    assert all(isinstance(text, str) and text.endswith(".") for text in summary["withheld"].values())
    assert any("not a diagnosis" in text for text in summary["cautions"])
    assert (summary["next_file"] is None) == (summary["next_file_why"] is None)


def check_estimate(summary: dict, name: str, value) -> None:
    if value is None:
        assert summary["withheld"].get(name), f"{name} is withheld without a sentence"
        return
    assert list(value) == ["estimate", "low", "high", "level"]
    assert value["level"] == 0.9
    assert value["low"] <= value["estimate"] <= value["high"], name
    assert name not in summary["withheld"], f"{name} is shown and withheld"


def check_wear_tables(one) -> None:
    readings, daily, meals = one.tables["readings"], one.tables["daily"], one.tables["meal_responses"]
    source = one.wear.glucose
    assert readings["time"].tolist() == source["time"].tolist(), "every reading in the order of the file"
    assert np.array_equal(readings["glucose_raw_mg_dl"], source["glucose_mg_dl"], equal_nan=True)
    assert one.summary["readings"] == len(source)
    used = one.clean.readings.sort_values("row")["excluded"].to_numpy() == 0
    assert one.summary["readings_used"] == used.sum()
    if one.summary["mean"] is not None:
        assert readings["glucose_mg_dl"].notna().to_numpy().tolist() == used.tolist(), (
            "an estimate where and only where usable"
        )
    words = {word for cell in readings["flags"] for word in cell.split(";") if word}
    assert words <= set(FLAGS)
    assert set(one.tables["flags"]["flag"]) <= set(FLAGS)
    assert set(one.tables["flags"]["action"]) <= {"exclude", "note"}
    assert set(one.tables["gaps"]["kind"]) <= set(GAP_KINDS)
    assert (np.diff(daily["date"]) == np.timedelta64(1, "D")).all()
    lacking = daily[~daily["enough"].to_numpy(dtype=bool)]
    assert lacking[["mean_mg_dl", "sd_mg_dl", "minutes_in_range", "excursions"]].isna().all(axis=None)
    check_interval(meals, "rise_low_mg_dl", "rise_mg_dl", "rise_high_mg_dl")
    reasons = {word for cell in meals["reason"] for word in cell.split(";") if word}
    assert reasons <= set(RESPONSE_REASONS)
    both = meals["usable_2h"].to_numpy(dtype=bool) & meals["usable_3h"].to_numpy(dtype=bool)
    assert ((meals["reason"] == "").to_numpy() == both).all()
    assert (
        meals.loc[meals["usable_2h"].to_numpy(dtype=bool), ["rise_mg_dl", "iauc_2h_mg_dl_min"]].notna().all(axis=None)
    )
    assert meals.loc[meals["usable_3h"].to_numpy(dtype=bool), ["iauc_3h_mg_dl_min", "dip_mg_dl"]].notna().all(axis=None)
    assert (meals["dip_mg_dl"].dropna() >= 0).all()
    assert (meals["iauc_2h_mg_dl_min"].dropna() >= 0).all()
    links = {word for cell in one.tables["excursions"]["linked_to"] for word in cell.split(";")}
    assert links <= set(LINKS)
    assert (one.tables["excursions"]["minutes"] >= 15).all()
