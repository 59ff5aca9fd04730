"""How near the truth did it come? One row a figure and wear, counts of readings by flag, one row a claim."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from glucolab.analysis import analyse_study, analyse_wear
from glucolab.results import StudyAnalysis, WearAnalysis
from glucolab.simulate import Simulated, SimulatedWear
from glucolab.simulate.blood import add_exercise, add_food

FIGURE_COLUMNS = ["kind", "figure", "truth", "naive", "estimate", "low", "high"]
FLAGGED = ("pressure", "jump", "stuck")
"""Flags whose recall and precision are counted; limits, duplicates and warm-up are matters of arithmetic."""
CLAIMS = ("lower", "higher")
FOOD_FOR_MIN = 300
"""So long food is looked for after a meal; what acts longer is the person's level to who reads the table. [min]"""
DEEP_MG_DL = 10
"""A low deeper than the sensor's noise, which a method should find. [mg/dL]"""


def score_wear(kind: str, made: Simulated) -> tuple[list[tuple], list[tuple]]:
    """Rows of figures as FIGURE_COLUMNS, and of readings: kind, flag, counts as in :func:`count_flags`."""
    worn = made.wears[0]
    analysis = analyse_wear(worn.record, made.study)
    figures = [(kind, *row) for row in (*_summary_figures(worn, analysis), *_meal_figures(worn, analysis))]
    return figures, [(kind, *row) for row in count_flags(worn, analysis)]


def score_study(kind: str, made: Simulated) -> tuple[list[tuple], list[tuple]]:
    """Rows of figures (differences between wears), and of claims: kind, what, truth, low, high, verdict."""
    analysis = analyse_study(made.study)
    figures = [(kind, *row) for row in _study_figures(made, analysis)]
    claims = [
        (kind, "difference", truth, low, high, verdict)
        for _, _, truth, _, _, low, high, verdict in _with_verdicts(kind, made, analysis)
    ]
    energy = analysis.tables["energy_effects"].rename(columns={"feeling": "outcome"})
    asked = pd.concat([analysis.tables["effects"], energy], ignore_index=True)
    effects = asked.merge(made.truth.effects, on=["factor", "outcome"], suffixes=("", "_true"))
    claims += [
        (kind, f"effect {row.factor} on {row.outcome}", row.estimate_true, row.low, row.high, row.verdict)
        for row in effects.itertuples()
    ]
    return figures, claims


def _study_figures(made: Simulated, analysis: StudyAnalysis) -> Iterator[tuple]:
    yield from _differences(made, analysis)
    yield from _dish_figures(made, analysis)
    yield from _parts(made, analysis)
    levers = analysis.tables["levers"].merge(made.truth.levers, on="factor", suffixes=("", "_true"))
    for row in levers.itertuples():
        yield f"lever {row.factor}", row.on_mean_mg_dl_true, np.nan, row.on_mean_mg_dl, row.low_mg_dl, row.high_mg_dl


def _parts(made: Simulated, analysis: StudyAnalysis) -> Iterator[tuple]:
    """Each part of the last wear's average beside the life: food is what was logged, for five hours after it."""
    told = analysis.tables["average_parts"].set_index("part")
    if not len(told):
        return
    worn = next(one for one in made.wears if one.record.name == told["wear"].iloc[0])
    lived, time = worn.lived, worn.truth.time
    inside = lived.time.get_indexer(time)
    logged = lived.meals.iloc[np.unique(worn.logged["meals"]["meal"])]
    food, exercise = add_food(lived, logged, FOOD_FOR_MIN)[inside], add_exercise(lived)[inside]
    left = worn.truth.blood_mg_dl - food - exercise
    level = left[time.tz_convert(worn.record.zones.names[0]).hour < 6].mean()
    truth = {"level": level, "food": food.mean(), "movement": exercise.mean(), "rhythm": left.mean() - level}
    for part, true in truth.items():
        yield (f"average: {part}", true, np.nan, *told.loc[part, ["mg_dl", "low_mg_dl", "high_mg_dl"]])


def _raw(worn: SimulatedWear) -> pd.Series:
    """Readings after warm-up as they came, duplicates out, by time."""
    glucose = worn.record.glucose
    kept = ~worn.truth.readings["warm_up"] & ~worn.truth.readings["duplicate"]
    glucose = glucose[kept].drop_duplicates("time")
    return pd.Series(glucose["glucose_mg_dl"].to_numpy(), index=pd.DatetimeIndex(glucose["time"]))


def _summary_figures(worn: SimulatedWear, analysis: WearAnalysis) -> Iterator[tuple]:
    truth, summary, raw = worn.truth, analysis.summary, _raw(worn)
    local = raw.index.tz_convert(worn.record.zones.names[0])
    day = summary["minutes_per_day"] or {}
    night = truth.overnight_mean_mg_dl if worn.record.has("sleep") else truth.clock_night_mean_mg_dl
    yield from (
        ("mean", truth.mean_mg_dl, raw.mean(), *_estimate(summary["mean"])),
        ("usual mean", truth.usual_mean_mg_dl, raw.mean(), *_estimate(summary["usual_mean"])),
        ("SD", truth.sd_mg_dl, raw.std(), *_estimate(summary["sd"])),
        ("overnight mean", night, raw[local.hour < 6].mean(), *_estimate(summary["overnight_mean"])),
        (
            "minutes in range",
            truth.minutes_in_range,
            1440 * raw.between(70, 140).mean(),
            *_estimate(day.get("in_range")),
        ),
        (
            "minutes below",
            truth.minutes_below,
            1440 * (raw < 70).mean(),
            *_estimate(day.get("below_range")),
        ),
        ("minutes above", truth.minutes_above, 1440 * (raw > 140).mean(), *_estimate(day.get("above_range"))),
        ("bias", truth.bias_mg_dl, _naive_bias(worn, raw), *_estimate(summary["bias_mg_dl"])),
        ("lag", truth.lag_min, np.nan, *_estimate(summary["lag_min"])),
        ("excursions a day", truth.excursions_per_day, np.nan, *_estimate(summary["excursions_per_day"])),
        ("dips a day", truth.dips_per_day, np.nan, *_estimate(summary["dips_per_day"])),
    )


def _estimate(value: dict | None) -> tuple[float, float, float]:
    return (np.nan, np.nan, np.nan) if value is None else (value["estimate"], value["low"], value["high"])


def _naive_bias(worn: SimulatedWear, raw: pd.Series) -> float:
    """Mean of the nearest reading minus the check."""
    checks = worn.record.checks
    if not len(checks):
        return 0.0
    nearest = raw.iloc[raw.index.get_indexer(pd.DatetimeIndex(checks["time"]), method="nearest")]
    return float(np.mean(nearest.to_numpy() - checks["glucose_mg_dl"].to_numpy()))


def _meal_figures(worn: SimulatedWear, analysis: WearAnalysis) -> Iterator[tuple]:
    """Rise, time to peak and area of usable occasions; the naive rise is the raw maximum minus the raw value before."""
    found = analysis.tables["meal_responses"]
    found = found[found["usable_2h"].fillna(False).astype(bool)]
    both = found.merge(worn.truth.occasions, on="time", suffixes=("", "_true"))
    raw = _raw(worn)
    for row in both.itertuples():
        after = raw[row.time : row.time + pd.Timedelta(minutes=120)]
        before = raw[: row.time]
        if not len(after) or not len(before):
            continue
        above = after - before.iloc[-1]
        minutes = (after.index - row.time) / pd.Timedelta(minutes=1)
        yield ("meal rise", row.rise_mg_dl_true, above.max(), row.rise_mg_dl, row.rise_low_mg_dl, row.rise_high_mg_dl)
        yield ("time to peak", row.time_to_peak_min_true, minutes[above.argmax()], row.time_to_peak_min, np.nan, np.nan)
        area = np.trapezoid(above.clip(lower=0), minutes)
        yield ("area 2 h", row.iauc_2h_mg_dl_min_true, area, row.iauc_2h_mg_dl_min, np.nan, np.nan)


def count_flags(worn: SimulatedWear, analysis: WearAnalysis) -> list[tuple[str, int, int, int, int]]:
    """flag, true, flagged, both, faulty (flagged, and wrong in any way); "lost": clean readings, those taken out.

    Readings in warm-up, at a limit or doubled are left aside. Clean is a reading without artefact whose neighbours have
    none either, so that where exactly a low begins counts for nothing.
    """
    truth = worn.truth.readings
    flags = analysis.tables["readings"]["flags"].fillna("").str.split(";").to_numpy()
    aside = (truth["warm_up"] | truth["limit"] | truth["duplicate"]).to_numpy()
    disturbed = (
        truth[["pressure", "jump", "stuck", "loosening"]].any(axis=1) | (truth["pressure_mg_dl"].abs() > 1)
    ).to_numpy()
    near = disturbed | np.roll(disturbed, 1) | np.roll(disturbed, -1)
    rows = []
    out = np.zeros(len(truth), bool)
    for flag in FLAGGED:
        flagged = np.array([flag in found for found in flags])
        out |= flagged
        true = truth[flag].to_numpy() & ~aside
        rows.append(
            (
                flag,
                int(true.sum()),
                int((flagged & ~aside).sum()),
                int((flagged & true).sum()),
                int((flagged & near & ~aside).sum()),
            )
        )
    deep = (truth["pressure_mg_dl"] <= -DEEP_MG_DL).to_numpy() & ~aside
    pressed = np.array(["pressure" in found for found in flags])
    rows.append((f"pressure over {DEEP_MG_DL}", int(deep.sum()), 0, int((pressed & deep).sum()), 0))
    clean = ~near & ~aside
    return [*rows, ("lost", int(clean.sum()), int((clean & out).sum()), 0, 0)]


def _with_verdicts(kind: str, made: Simulated, analysis: StudyAnalysis) -> list[tuple]:
    table = analysis.tables["comparisons"]
    table = table[table["level"] == "wear"].merge(
        made.truth.changes, on=["period_a", "period_b"], suffixes=("", "_true")
    )
    raw = {worn.record.name: _raw(worn).mean() for worn in made.wears}
    return [
        (kind, "difference", row.difference_mg_dl_true, raw[row.period_b] - raw[row.period_a],
         row.difference_mg_dl, row.low_mg_dl, row.high_mg_dl, row.verdict)
        for row in table.itertuples()
    ]  # fmt: skip


def _dish_figures(made: Simulated, analysis: StudyAnalysis) -> Iterator[tuple]:
    """Rises of dishes and their differences; the naive rise is the plain mean of what was measured."""
    truth = made.truth.dishes.set_index("dish")["rise_mg_dl"]
    meals = pd.concat([one.tables["meal_responses"] for one in analysis.wears])
    meals = meals[meals["usable_2h"].fillna(False).astype(bool)]
    plain = meals.groupby("dish")["rise_mg_dl"].mean()
    dishes, pairs = analysis.tables["dishes"], analysis.tables["dish_pairs"]
    for row in dishes[dishes["dish"].isin(truth.index)].itertuples():
        yield ("dish rise", truth[row.dish], plain.get(row.dish, np.nan), row.rise_mg_dl, row.low_mg_dl, row.high_mg_dl)
    for row in pairs[pairs["dish_a"].isin(truth.index) & pairs["dish_b"].isin(truth.index)].itertuples():
        naive = plain.get(row.dish_a, np.nan) - plain.get(row.dish_b, np.nan)
        true = truth[row.dish_a] - truth[row.dish_b]
        yield ("dish pair", true, naive, row.difference_mg_dl, row.low_mg_dl, row.high_mg_dl)


def _differences(made: Simulated, analysis: StudyAnalysis) -> list[tuple]:
    return [row[1:7] for row in _with_verdicts("", made, analysis)]
