"""Do energy and focus go with the rise after eating, the later dip, or neither, given hour and sleep?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from glucolab.clock import local_hours, to_local
from glucolab.measuring.meals import LEAST_RISE_MG_DL
from glucolab.record.habit_outputs import ENERGY_EFFECTS
from glucolab.relating.effects.design import rests_on_many
from glucolab.relating.effects.effects import FEWEST_DAYS
from glucolab.relating.effects.measurement_error import allow_for_errors
from glucolab.relating.effects.own_range import own_range
from glucolab.relating.effects.sensor_gain import allow_for_gains
from glucolab.relating.effects.verdicts import count_needed, z_to_stand_out
from glucolab.relating.observations.days_and_meals import keep_once, within_wears
from glucolab.relating.observations.meal_weights import own_errors_mg_dl
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.relating.statistics.claims import CLAIM_Q, LOOKS, adjust_p_values, decide_verdict, worth_noticing
from glucolab.relating.statistics.fixed_effects import RegressionRows, estimate_meal_coefficient
from glucolab.relating.statistics.intercepts import partial_out
from glucolab.relating.statistics.permutation import N_ORDERS, deal_orders, permutation_p_value, restrict_orders

_FEELINGS = ("energy", "focus")
STEP_MG_DL = 10.0
"""What a slope is per [mg/dL]; a choice of print."""
ERROR_LOG_SD = 0.3
"""How uncertain the variance of a rise's measurement error is: SD of its logarithm [1]; assumed, its intervals hold 84
to 89 of 100. Too small makes corrected intervals too narrow, too large too wide."""
ERROR_SHARES = {"rise_mg_dl": 1.0, "dip_mg_dl": 0.25}
"""Measurement error variance of each, over that of a rise [1]: a dip is never below 0, which cuts off most of the error
of small ones; from invented meals with known truth (see the test). Too small leaves a slope attenuated, too large
inflates it."""
_REACH_MIN = 240.0
"""Notes up to so long after eating belong to that meal [min]; assumed. Longer dilutes the meal with what follows,
shorter loses notes."""
RISE_FROM_MIN, DIP_FROM_MIN = 30.0, 120.0
"""From when a note may follow the rise (assumed) and the dip (its window in the contract) [min]. Earlier lets a feeling
count that came before what should explain it, later loses notes."""
_CONTRAST = {
    "rise_mg_dl": "notes from the peak on until four hours after eating, adjusted for the dip so far",
    "dip_mg_dl": "notes two to four hours after eating, adjusted for the rise",
}
_ADJUSTED = ("hour_sin", "hour_cos", "minutes", "asleep_h")
_BESIDES = {"rise_mg_dl": "dip_so_far_mg_dl", "dip_mg_dl": "rise_mg_dl"}


def estimate_energy_effects(wears: Sequence[WearTables]) -> pd.DataFrame:
    """``energy_effects.csv``: what a larger rise, and a deeper dip, of the last meal goes with.

    Parameters
    ----------
    wears : sequence of WearTables
        Of one person; one wear alone is allowed.

    Returns
    -------
    DataFrame
        Energy and focus against rise and dip, within wears, adjusted for hour of day, minutes since eating and sleep of
        the night before. Notes of one day share their part and whole days are permuted; days of illness are left out.

    Notes
    -----
    What came first: a note counts for the rise only from the peak on (where none was seen: from 30 min on
    if the rise stays under 10 mg/dL, else after the two hours), so that the rise is done before it is felt. The dip's
    window opens at two hours and closes at three: up to an hour of it may lie after the note, and whoever feels weary
    may move less or eat sooner. Neither is read as a cause. Estimates are corrected for the errors of rise and dip, as
    far as the rise's own standard error estimates them; what the sensors' gains may be off by widens the interval.
    """
    notes = _gather_notes(wears)
    orders = deal_orders(notes["wear"].to_numpy(), notes["day"].to_numpy(), N_ORDERS) if len(notes) else None
    gain_errors = np.array([wear.gain_errors for wear in wears])
    asked = [(feeling, factor) for feeling in _FEELINGS for factor in _CONTRAST]
    table = pd.DataFrame([_answer(notes, orders, gain_errors, *of) for of in asked])
    table["q_value"] = adjust_p_values(np.minimum(LOOKS * table["p_value"].to_numpy(), 1.0))
    worth = worth_noticing("energy", np.nan)
    ends = zip(table["range_low"], table["range_high"], table["q_value"], strict=True)
    table["verdict"] = [decide_verdict(low, high, worth, q) for low, high, q in ends]
    table["needed"] = _count_needed(table, worth)
    return table.astype(dict.fromkeys(("n", "n_days", "needed"), "Int64"))[ENERGY_EFFECTS.names]


def _count_needed(table: pd.DataFrame, worth: float) -> np.ndarray:
    q = table["q_value"]
    z = z_to_stand_out(int(q.notna().sum()), int(q.le(CLAIM_Q).sum()))
    spans = table[["range_estimate", "range_low", "range_high"]].to_numpy(float)
    needed = count_needed(spans, table["n"].to_numpy(float), np.full(len(q), worth), z)
    return np.where(table["verdict"].eq("cannot_tell_yet"), needed, np.nan)


def _answer(
    notes: pd.DataFrame, orders: np.ndarray | None, gain_errors: np.ndarray, feeling: str, factor: str
) -> dict[str, object]:
    """The row of one question, before the others are known."""
    answer: dict[str, object] = {
        "feeling": feeling, "factor": factor, "contrast": f"{STEP_MG_DL:g} mg/dL more, {_CONTRAST[factor]}, hour, time "
        "since eating and sleep; within wears, days of illness left out", "unit": f"points per {STEP_MG_DL:g} mg/dL",
        "estimate": np.nan, "low": np.nan, "high": np.nan, "p_value": np.nan, "n": 0, "n_days": 0,
        "range_from": np.nan, "range_to": np.nan, "range_estimate": np.nan, "range_low": np.nan, "range_high": np.nan,
    }  # fmt: skip
    if orders is None:
        return answer
    keep = (notes[[feeling, factor]].notna().all(axis=1) & (notes["minutes"] >= notes[f"{factor}_from"])).to_numpy()
    kept = notes[keep]
    n_days = len(kept[["wear", "day"]].drop_duplicates())
    answer |= {"n": len(kept), "n_days": n_days}
    if n_days < FEWEST_DAYS:
        return answer
    rows = _regression(kept, feeling, factor)
    if not rests_on_many(rows):
        return answer
    found = estimate_meal_coefficient(rows)
    p_value = permutation_p_value(found.whitened, restrict_orders(orders, keep))
    error_variance = float(((kept["se_mg_dl"] / STEP_MG_DL) ** 2).mean()) * ERROR_SHARES[factor]
    ends = allow_for_errors(found.estimate, found.low, found.high, rows, error_variance, ERROR_LOG_SD)
    ends = allow_for_gains(*ends, rows, gain_errors)
    names = "estimate", "low", "high"
    over_range = own_range(kept[factor].to_numpy(float)).tell(ends, STEP_MG_DL)
    return answer | dict(zip(names, ends, strict=True)) | over_range | {"p_value": p_value}


def _regression(kept: pd.DataFrame, feeling: str, factor: str) -> RegressionRows:
    n, wear = len(kept), kept["wear"].to_numpy()
    value = kept[factor].to_numpy() / STEP_MG_DL
    adjusted = [_standardise(kept[name].to_numpy(float), wear) for name in (*_ADJUSTED, _BESIDES[factor])]
    return RegressionRows(
        outcome=partial_out(kept[feeling].to_numpy(float), wear),
        factor=value - value.mean(),
        fixed=np.empty((n, 0)),
        adjusted=np.column_stack([column for column in adjusted if column.any()] or [np.empty((n, 0))]),
        wear=wear,
        day=kept["day"].to_numpy(),
        dish=np.empty((n, 0)),
        alone=np.zeros(n),
        weight=np.ones(n),
    )


def _standardise(values: np.ndarray, wear: np.ndarray) -> np.ndarray:
    """Mean 0 and SD 1 within wears, 0 where not known; all 0 where it is seldom known or does not vary."""
    known = ~np.isnan(values)
    column = np.zeros(len(values))
    if known.mean() <= 0.5:
        return column
    column[known] = within_wears(values[known], wear[known])
    spread = np.sqrt(np.mean(column[known] ** 2))
    return column / spread if spread > 1e-9 else 0 * column


def _gather_notes(wears: Sequence[WearTables]) -> pd.DataFrame:
    """A row a note within four hours of eating, sorted by wear and time.

    Columns: wear, day (days since 1970), energy, focus, minutes (since eating), hour_sin, hour_cos, asleep_h,
    rise_mg_dl and dip_mg_dl (where usable), se_mg_dl of either, dip_so_far_mg_dl (0 before two hours), and from when
    each counts.
    """
    parts = [part for i, wear in enumerate(wears) if len(part := _notes_of(wear, i))]
    if not parts:
        return pd.DataFrame()
    notes = pd.concat(parts, ignore_index=True)
    once = keep_once(notes["wear"].to_numpy(), pd.DatetimeIndex(notes["written"]).asi8)
    return notes[once].reset_index(drop=True)


def _notes_of(wear: WearTables, position: int) -> pd.DataFrame:
    if not len(wear.energy) or not len(wear.meal_responses):
        return pd.DataFrame()
    felt = wear.energy.assign(time=wear.energy["time"].astype("datetime64[us, UTC]")).sort_values("time")
    eaten = _eaten(wear.occasions, wear.gain_sd)
    notes = pd.merge_asof(
        felt[["time", *_FEELINGS]], eaten, left_on="time", right_on="occasion",
        tolerance=pd.Timedelta(minutes=_REACH_MIN),
    )  # fmt: skip
    notes = notes[notes["occasion"].notna()].reset_index(drop=True)
    notes["minutes"] = (notes["time"] - notes["occasion"]).dt.total_seconds() / 60
    notes["dip_so_far_mg_dl"] = notes["dip_mg_dl"].where(notes["minutes"] >= DIP_FROM_MIN, 0.0)
    angle = 2 * np.pi * local_hours(pd.DatetimeIndex(notes["time"]), wear.zones) / 24
    notes["written"] = wear.as_written(notes["time"])
    notes["hour_sin"], notes["hour_cos"] = np.sin(angle), np.cos(angle)
    dates = to_local(pd.DatetimeIndex(notes["time"]), wear.zones).normalize()
    notes["wear"], notes["day"] = position, dates.asi8 // 86_400_000_000
    place = pd.DatetimeIndex(wear.daily["date"]).as_unit("us").get_indexer(dates)
    notes["asleep_h"] = np.append(wear.daily["asleep_h"].to_numpy(float), np.nan)[place]
    ill = np.zeros(len(wear.daily), bool) if wear.ill is None else np.asarray(wear.ill, bool)
    return notes[~np.append(ill, False)[place]]


def _eaten(responses: pd.DataFrame, gain_sd: float) -> pd.DataFrame:
    """Occasions with the rise and dip that may be used, and from how many minutes on a note follows each."""
    eaten = responses.sort_values("time", ignore_index=True)
    rise, peak = eaten["rise_mg_dl"].to_numpy(float), eaten["time_to_peak_min"].to_numpy(float)
    unseen = np.where(rise < LEAST_RISE_MG_DL, RISE_FROM_MIN, DIP_FROM_MIN)
    return pd.DataFrame({
        "occasion": eaten["time"].astype("datetime64[us, UTC]"),
        "rise_mg_dl": np.where(eaten["usable_2h"].eq(True).fillna(False), rise, np.nan),
        "dip_mg_dl": np.where(eaten["usable_3h"].eq(True).fillna(False), eaten["dip_mg_dl"].to_numpy(float), np.nan),
        "se_mg_dl": own_errors_mg_dl(eaten, gain_sd),
        "rise_mg_dl_from": np.where(np.isnan(peak), unseen, np.maximum(peak, RISE_FROM_MIN)),
        "dip_mg_dl_from": DIP_FROM_MIN,
    })  # fmt: skip
