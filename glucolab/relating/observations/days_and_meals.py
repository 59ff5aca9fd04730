"""What was done, and what came of it? One table of days and one of meals, over the wears, for every question."""

from __future__ import annotations

from collections.abc import Sequence
from weakref import WeakKeyDictionary

import numpy as np
import pandas as pd

from glucolab.clock import ONE_DAY, local_hours, to_local
from glucolab.conventions import is_exercise
from glucolab.relating.observations.meal_weights import as_floats, own_errors_mg_dl
from glucolab.relating.observations.wear_tables import WearTables

SHORT_NIGHT_H = 6.0
"""Less sleep makes a short night [h]; the contract's. Higher counts ordinary nights, lower leaves few to compare."""
MORNING_ENDS_H = 11.0
"""Exercise before it is of the morning, meals after it of noon [local hours]; the contract's. Later mixes noon in."""
EVENING_BEGINS_H = 18.0
"""From here on a meal is of the evening [local hours]; the contract's. Earlier thins out a contrast of evenings with
late lunches, later with early dinners."""
EVENING_ENDS_H = 4.0
"""Meals from midnight until then are in neither group of the evening question [local hours]; assumed. Earlier counts
late snacks as breakfasts, later drops early breakfasts."""
LATER_THAN_USUAL_H = 3.0
"""A last meal so much longer before sleep than is usual in the wear is not believed: a later one was not logged [h];
assumed. Shorter drops true early dinners, longer keeps false fasts, which attenuate the effect."""

STILL_DIGESTING_H = 3.0
"""Food within so long before a meal still acts in it [h]: a meal is judged for two to three hours (common practice).
Shorter takes an earlier meal's fall for this one's, longer leaves fewer undisturbed meals."""

OF_OTHER_CAUSES = frozenset({"next_occasion", "exercise"})
"""Reasons against a meal's own figures that are none against what many meals say together: in 14 open recordings a
random half of all occasions tells from the other by a tenth less error than one of those that stood alone."""
UNWRITTEN_G = 30.0
"""Carbohydrate of what was eaten within another meal's two hours and has none written [g]; assumed: a snack's. Taken
for nothing, such meals would pass for undisturbed ones; too much, little is left of them."""
WINDOW_MIN, LONG_WINDOW_MIN = 120.0, 180.0
"""Of a meal's figures; the contract's. They weigh what is eaten within them [min]; others would weigh it wrongly."""

SETTLING_DAYS = 2.0
"""Time constant in which a new sensor settles [days]: with it nil covariates since insertion miss nil no more often
than they say on real days; assumed. Far shorter or longer, a covariate of first days takes it up."""
OF_THE_WEAR = ("place_in_wear", "settling")
"""What every regression of days is adjusted for: sensors drift, and so do weeks."""
_FIGURES = ("baseline_mg_dl", "rise_mg_dl", "iauc_2h_mg_dl_min", "net_area_3h_mg_dl_min")
_SAME_DAY = ("stress", "caffeine_mg", "relaxation_min", "carbs_g", "fiber_g", "exercise_min", "asleep_h")


_DAYS: WeakKeyDictionary[WearTables, pd.DataFrame] = WeakKeyDictionary()
"""What was gathered of each wear: several questions ask for it."""


def gather_days(wears: Sequence[WearTables]) -> pd.DataFrame:
    """A row a local day of each wear, sorted by wear and date.

    Columns
    -------
    wear : int, position in `wears`; date; day : int, days since 1970; left_out : ill that day, or in the night
    that follows for `night_left_out`; place_in_wear (-1/2 to 1/2) and settling (1 on the first day, then less);
    enough : coverage, `night_enough` of the day on which the following night ends; the factors of days under the
    contract's names, `covariate:<name>`, exercise_min and bedtime_h (hours after noon); the outcomes mean_mg_dl,
    sd_mg_dl, energy (mean of the day), next_overnight_mean_mg_dl, next_asleep_h (the night that follows) and
    next_mean_mg_dl (the next day), NaN at the wear's end.
    """
    for wear in wears:
        if wear not in _DAYS:
            _DAYS[wear] = _days_of(wear)
    return _stack([_DAYS[wear].assign(wear=i) for i, wear in enumerate(wears)])


def gather_meals(wears: Sequence[WearTables], days: pd.DataFrame) -> pd.DataFrame:
    """A row an occasion whose two hours were recorded, sorted by wear and time.

    What was eaten, or exercised, within them is no reason to leave an occasion out: it is adjusted for.

    Columns
    -------
    wear, date, day : as in :func:`gather_days`; time [UTC], and as `written` where the log was moved; dish (empty:
    none); hour (local); rise_mg_dl and its own standard error rise_se_mg_dl; both areas; the factors of meals under
    the contract's names; what is adjusted for: log_carbs, carbs_before_g (of a last occasion within three hours,
    which `digesting` says), carbs_after_g (eaten within the two hours, by the share of them that was left; of three,
    carbs_after_3h_g), exercised, at_noon, baseline_mg_dl, in_afternoon, in_evening; left_out as in
    :func:`gather_days`; alone: nothing was eaten or exercised within the two hours. An occasion seen by two sensors at
    once is kept for the one with more occasions.
    """
    meals = gather_recorded(wears)
    if not len(meals):
        return meals
    of_the_day = days[["wear", "date", "asleep_h", "short_night", "stress", "left_out"]]
    meals = meals.merge(of_the_day, on=["wear", "date"], how="left", validate="many_to_one")
    usual_carbs_g = meals.groupby("wear")["carbs_g"].transform("mean")
    meals["carbs_after_short_night"] = (meals["carbs_g"] - usual_carbs_g) * meals["short_night"]
    meals["left_out"] = meals["left_out"].eq(True)
    return meals


def gather_recorded(wears: Sequence[WearTables]) -> pd.DataFrame:
    """Those occasions with what is known of them alone, nothing of their day: see :func:`gather_meals`."""
    meals = _stack([_meals_of(wear, i) for i, wear in enumerate(wears)])
    if not len(meals):
        return meals
    once = keep_once(meals["wear"].to_numpy(), pd.DatetimeIndex(meals["written"]).asi8)
    return meals[once].reset_index(drop=True)


def keep_once(wear: np.ndarray, when: np.ndarray) -> np.ndarray:
    """False for a row whose moment another wear with more rows holds too, shape (n,).

    Two sensors worn at once see the same days and meals: they are counted once.

    Parameters
    ----------
    wear, when : array of int, shape (n,)
        Position of the wear; day or moment.
    """
    count = np.bincount(wear)
    rank = np.empty(len(count), int)
    rank[np.argsort(-count, kind="stable")] = np.arange(len(count))
    _, moment = np.unique(when, return_inverse=True)
    best = np.full(moment.max(initial=-1) + 1, len(count))
    np.minimum.at(best, moment, rank[wear])
    return rank[wear] == best[moment]


def within_wears(values: np.ndarray, wear: np.ndarray) -> np.ndarray:
    """Values less the mean of their wear, shape (n,)."""
    count = np.bincount(wear)
    return values - (np.bincount(wear, values) / np.maximum(count, 1))[wear]


def _stack(parts: list[pd.DataFrame]) -> pd.DataFrame:
    parts = [part for part in parts if len(part)]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def _days_of(wear: WearTables) -> pd.DataFrame:
    daily = wear.daily
    dates = pd.DatetimeIndex(daily["date"]).as_unit("us")
    ill = np.zeros(len(daily), bool) if wear.ill is None else np.asarray(wear.ill, bool)
    enough = daily["enough"].eq(True).fillna(False).to_numpy(bool)
    days = pd.DataFrame({"wear": 0, "date": dates, "day": dates.asi8 // 86_400_000_000})
    days["left_out"], days["enough"] = ill, enough
    days["place_in_wear"], days["settling"] = tell_place(len(days))
    for name in (*_SAME_DAY, "mean_mg_dl", "sd_mg_dl"):
        days[name] = as_floats(daily[name])
    days["short_night"] = (days["asleep_h"] < SHORT_NIGHT_H).astype(float).where(days["asleep_h"].notna())
    days["morning_exercise"] = _exercised_in_the_morning(wear, dates)
    days["last_meal_to_sleep_h"] = _fasting_before_sleep_h(wear, dates)
    days["bedtime_h"] = _bedtimes_h(wear, dates)
    days["energy"] = _daily_energy(wear, dates)
    for name in wear.day_covariates:
        days[f"covariate:{name}"] = as_floats(daily[name])
    tomorrow = dates.get_indexer(dates + ONE_DAY)
    for name in ("overnight_mean_mg_dl", "asleep_h", "mean_mg_dl"):
        days[f"next_{name}"] = np.append(as_floats(daily[name]), np.nan)[tomorrow]
    days["night_enough"] = np.append(enough, False)[tomorrow]
    days["night_left_out"] = ill | np.append(ill, False)[tomorrow]
    return days


def tell_place(days: int) -> tuple[np.ndarray, np.ndarray]:
    """Where each day lies in its wear, -1/2 to 1/2, and how new the sensor is, from 1 downward, shape (days,) each."""
    since = np.arange(days)
    return since / max(days - 1, 1) - 0.5, np.exp(-since / SETTLING_DAYS)


def _exercised_in_the_morning(wear: WearTables, dates: pd.DatetimeIndex) -> np.ndarray:
    """1 on days with exercise that starts before 11:00, 0 on others, NaN where nothing is ever logged, shape (d,)."""
    activity = wear.activity
    if not len(activity):
        return np.full(len(dates), np.nan)
    local = to_local(pd.DatetimeIndex(activity["start"]), wear.zones)
    early = np.asarray(local.hour, float) < MORNING_ENDS_H
    return dates.isin(local[is_exercise(activity).to_numpy() & early].normalize()).astype(float)


def _fasting_before_sleep_h(wear: WearTables, dates: pd.DatetimeIndex) -> np.ndarray:
    """Hours from the last occasion of each day to falling asleep in the night that follows, shape (d,)."""
    nights, meals = wear.sleep, np.sort(pd.DatetimeIndex(wear.occasions["time"]).as_unit("us").asi8)
    result = np.full(len(dates), np.nan)
    if not len(nights) or not len(meals):
        return result
    place = dates.get_indexer(pd.DatetimeIndex(nights["date"]) - ONE_DAY)
    start = pd.DatetimeIndex(nights["start"]).as_unit("us").asi8
    last = np.searchsorted(meals, start, side="right") - 1
    hours = (start - meals[np.maximum(last, 0)]) / 3.6e9
    known = (place >= 0) & (last >= 0)
    result[place[known]] = hours[known]
    return np.where(result <= np.nanmedian(result) + LATER_THAN_USUAL_H, result, np.nan) if known.any() else result


def _bedtimes_h(wear: WearTables, dates: pd.DatetimeIndex) -> np.ndarray:
    """Hours after noon at which the night that follows each day began, shape (d,)."""
    result = np.full(len(dates), np.nan)
    if len(wear.sleep):
        place = dates.get_indexer(pd.DatetimeIndex(wear.sleep["date"]) - ONE_DAY)
        hours = (local_hours(pd.DatetimeIndex(wear.sleep["start"]), wear.zones) - 12) % 24
        result[place[place >= 0]] = hours[place >= 0]
    return result


def _daily_energy(wear: WearTables, dates: pd.DatetimeIndex) -> np.ndarray:
    """Mean of the energy noted on each local day, shape (d,)."""
    noted = wear.energy[wear.energy["energy"].notna()]
    if not len(noted):
        return np.full(len(dates), np.nan)
    date = to_local(pd.DatetimeIndex(noted["time"]), wear.zones).normalize()
    return noted["energy"].astype(float).groupby(date).mean().reindex(dates).to_numpy()


def _meals_of(wear: WearTables, position: int) -> pd.DataFrame:
    eaten = wear.occasions.sort_values("time", ignore_index=True)
    alone = eaten["usable_2h"].eq(True).fillna(False).to_numpy(bool)
    known = alone | (eaten["rise_mg_dl"].notna().to_numpy() & _says_only(eaten["reason"], OF_OTHER_CAUSES))
    at_min = pd.DatetimeIndex(eaten["time"]).as_unit("us").asi8 / 60e6
    since_last_h = np.diff(at_min, prepend=-np.inf) / 60
    rows = eaten[known].reset_index(drop=True)
    times = pd.DatetimeIndex(rows["time"]).as_unit("us")
    dates, hour = to_local(times, wear.zones).normalize(), local_hours(times, wear.zones)
    meals = pd.DataFrame({"wear": position, "date": dates, "day": dates.asi8 // 86_400_000_000, "time": times})
    meals["written"] = wear.as_written(rows["time"])
    meals["hour"], meals["dish"] = hour, rows["dish"].fillna("").str.strip().to_numpy(object)
    for name in (*_FIGURES, "carbs_g", "fiber_g", "protein_g", "fat_g"):
        meals[name] = as_floats(rows[name])
    meals["alone"] = alone[known]
    carbs_g = as_floats(eaten["carbs_g"])
    before = np.append(0.0, carbs_g[:-1])
    meals["digesting"] = (since_last_h < STILL_DIGESTING_H)[known]
    meals["carbs_before_g"] = np.where(since_last_h < STILL_DIGESTING_H, before, 0.0)[known]
    meals["carbs_after_g"] = _eaten_after_g(at_min, carbs_g, WINDOW_MIN)[known]
    meals["carbs_after_3h_g"] = _eaten_after_g(at_min, carbs_g, LONG_WINDOW_MIN)[known]
    meals["exercised"] = rows["reason"].fillna("").str.contains("exercise").to_numpy(float) * ~meals["alone"]
    meals["rise_se_mg_dl"] = own_errors_mg_dl(rows, wear.gain_sd)
    meals["walk_after"] = as_floats(rows["walk_after"])
    meals["protein_first"] = _one_of(rows["eaten_first"], "protein")
    meals["eaten_out"] = _one_of(rows["setting"], "out")
    late, night = hour >= EVENING_BEGINS_H, hour < EVENING_ENDS_H
    meals["evening_meal"] = np.where(night, np.nan, late.astype(float))
    meals["log_carbs"] = np.log1p(meals["carbs_g"] / 30)
    meals["at_noon"] = ((hour >= MORNING_ENDS_H) & (hour < 15)).astype(float)
    meals["in_afternoon"] = ((hour >= 15) & ~late).astype(float)
    meals["in_evening"] = (late | night).astype(float)
    return meals


def _says_only(reasons: pd.Series, words: frozenset[str]) -> np.ndarray:
    """True where every reason is one of these, shape (n,)."""
    return np.array([set(text.split(";")) <= words for text in reasons.fillna("")], dtype=bool)


def _eaten_after_g(at_min: np.ndarray, carbs_g: np.ndarray, window_min: float) -> np.ndarray:
    """Carbohydrate of later occasions within a window, each by the share of it that it had left, shape (n,). [g]"""
    carbs_g = np.nan_to_num(carbs_g, nan=UNWRITTEN_G)
    until = np.searchsorted(at_min, at_min + window_min, side="left")
    eaten, by_time = (np.append(0.0, np.cumsum(values)) for values in (carbs_g, carbs_g * at_min))
    first = np.arange(len(at_min)) + 1
    return ((window_min + at_min) * (eaten[until] - eaten[first]) - (by_time[until] - by_time[first])) / window_min


def _one_of(values: pd.Series, word: str) -> np.ndarray:
    """1 where it is the word, 0 where it is another, NaN where nothing was written."""
    text = values.fillna("").str.strip().to_numpy(object)
    return np.where(text == "", np.nan, (text == word).astype(float))
