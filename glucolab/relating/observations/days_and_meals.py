"""What was done, and what came of it? One table of days and one of meals, over the wears, for every question."""

from __future__ import annotations

from collections.abc import Sequence
from weakref import WeakKeyDictionary

import numpy as np
import pandas as pd

from glucolab.clock import ONE_DAY, local_hours, to_local
from glucolab.conventions import is_exercise
from glucolab.intervals import standard_errors
from glucolab.measuring.meals import SHARED_RISE_SD_MG_DL
from glucolab.relating.observations.wear_tables import WearTables
from glucolab.units import Values

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

LEAST_OWN_ERROR = 0.5
"""Least share of a rise's standard error that is its own and not the gain's [1]; assumed. Lower lets some meals count
as nearly exact, higher gives large rises too little weight."""

_EATING_CV = 0.4
"""SD between eatings of one meal over the mean rise [1]: 16 mg/dL (see `SAME_DISH_SD_MG_DL`) of about 40. It shapes
weights: too small lets the sensor's error outweigh the meals' own."""
_GROWING = 0.6
"""Share of that variance that grows with the square of the meal's size [1]; assumed. Too small gives large meals too
much weight, too large small ones."""
SETTLING_DAYS = 2.0
"""Time constant in which a new sensor settles [days]: with it nil covariates since insertion miss nil no more often
than they say on real days; assumed. Far shorter or longer, a covariate of first days takes it up."""
OF_THE_WEAR = ("place_in_wear", "settling")
"""What every regression of days is adjusted for: sensors drift, and so do weeks."""
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
    sd_mg_dl, energy (mean of the day), next_overnight_mean_mg_dl and next_asleep_h (the night that follows, NaN at
    the wear's end).
    """
    for wear in wears:
        if wear not in _DAYS:
            _DAYS[wear] = _days_of(wear)
    return _stack([_DAYS[wear].assign(wear=i) for i, wear in enumerate(wears)])


def gather_meals(wears: Sequence[WearTables], days: pd.DataFrame) -> pd.DataFrame:
    """A row an occasion whose two-hour figures may be used, sorted by wear and time.

    Columns
    -------
    wear, date, day : as in :func:`gather_days`; time [UTC]; dish (empty: none); hour (local); rise_mg_dl and
    its own standard error rise_se_mg_dl; iauc_2h_mg_dl_min; the factors of meals under the contract's names; what
    is adjusted for: log_carbs, carbs_before_g (of a last occasion within three hours, which `digesting` says), at_noon,
    baseline_mg_dl, in_afternoon, in_evening; left_out as in :func:`gather_days`. An occasion seen by two sensors at
    once is kept for the one with more usable occasions.
    """
    meals = _stack([_meals_of(wear, i) for i, wear in enumerate(wears)])
    if not len(meals):
        return meals
    of_the_day = days[["wear", "date", "asleep_h", "short_night", "stress", "left_out"]]
    meals = meals.merge(of_the_day, on=["wear", "date"], how="left", validate="many_to_one")
    usual_carbs_g = meals.groupby("wear")["carbs_g"].transform("mean")
    meals["carbs_after_short_night"] = (meals["carbs_g"] - usual_carbs_g) * meals["short_night"]
    meals["left_out"] = meals["left_out"].eq(True)
    once = keep_once(meals["wear"].to_numpy(), pd.DatetimeIndex(meals["time"]).asi8)
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
        days[name] = _numbers(daily[name])
    days["short_night"] = (days["asleep_h"] < SHORT_NIGHT_H).astype(float).where(days["asleep_h"].notna())
    days["morning_exercise"] = _exercised_in_the_morning(wear, dates)
    days["last_meal_to_sleep_h"] = _fasting_before_sleep_h(wear, dates)
    days["bedtime_h"] = _bedtimes_h(wear, dates)
    days["energy"] = _daily_energy(wear, dates)
    for name in wear.day_covariates:
        days[f"covariate:{name}"] = _numbers(daily[name])
    tomorrow = dates.get_indexer(dates + ONE_DAY)
    night = {"overnight_mean_mg_dl": "next_overnight_mean_mg_dl", "asleep_h": "next_asleep_h"}
    for source, name in night.items():
        days[name] = np.append(_numbers(daily[source]), np.nan)[tomorrow]
    days["night_enough"] = np.append(enough, False)[tomorrow]
    days["night_left_out"] = ill | np.append(ill, False)[tomorrow]
    return days


def tell_place(days: int) -> tuple[np.ndarray, np.ndarray]:
    """Where each day lies in its wear, -1/2 to 1/2, and how new the sensor is, from 1 downward, shape (days,) each."""
    since = np.arange(days)
    return since / max(days - 1, 1) - 0.5, np.exp(-since / SETTLING_DAYS)


def _numbers(values: pd.Series) -> np.ndarray:
    """Floats, true as 1, missing as NaN; times and text never come here."""
    return values.to_numpy(dtype=float, na_value=np.nan)


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
    usable = eaten["usable_2h"].eq(True).fillna(False).to_numpy(bool)
    since_last_h = np.diff(pd.DatetimeIndex(eaten["time"]).as_unit("us").asi8, prepend=0) / 3.6e9
    rows = eaten[usable].reset_index(drop=True)
    times = pd.DatetimeIndex(rows["time"]).as_unit("us")
    dates, hour = to_local(times, wear.zones).normalize(), local_hours(times, wear.zones)
    meals = pd.DataFrame({"wear": position, "date": dates, "day": dates.asi8 // 86_400_000_000, "time": times})
    meals["hour"], meals["dish"] = hour, rows["dish"].fillna("").str.strip().to_numpy(object)
    for name in ("baseline_mg_dl", "rise_mg_dl", "iauc_2h_mg_dl_min", "carbs_g", "fiber_g", "protein_g", "fat_g"):
        meals[name] = _numbers(rows[name])
    before = np.append(0.0, _numbers(eaten["carbs_g"])[:-1])
    meals["digesting"] = (since_last_h < STILL_DIGESTING_H)[usable]
    meals["carbs_before_g"] = np.where(since_last_h < STILL_DIGESTING_H, before, 0.0)[usable]
    meals["rise_se_mg_dl"] = own_errors_mg_dl(rows, wear.gain_sd)
    meals["walk_after"] = _numbers(rows["walk_after"]) if len(wear.activity) else np.nan
    meals["protein_first"] = _one_of(rows["eaten_first"], "protein")
    meals["eaten_out"] = _one_of(rows["setting"], "out")
    late, night = hour >= EVENING_BEGINS_H, hour < EVENING_ENDS_H
    meals["evening_meal"] = np.where(night, np.nan, late.astype(float))
    meals["log_carbs"] = np.log1p(meals["carbs_g"] / 30)
    meals["at_noon"] = ((hour >= MORNING_ENDS_H) & (hour < 15)).astype(float)
    meals["in_afternoon"] = ((hour >= 15) & ~late).astype(float)
    meals["in_evening"] = (late | night).astype(float)
    return meals


def own_errors_mg_dl(responses: pd.DataFrame, gain_sd: float) -> np.ndarray:
    """Standard errors of the rises without what the sensor does to all of a wear's alike, shape (m,). [mg/dL]

    Its gain counted in, a large rise would weigh less for being large; what it adds to all tells none from another.

    Parameters
    ----------
    responses : DataFrame
        ``meal_responses``.
    gain_sd : float
        Of the wear. [1]
    """
    not_added = np.maximum(rise_errors_mg_dl(responses) ** 2 - SHARED_RISE_SD_MG_DL**2, 0.0)
    gain = gain_sd * _numbers(responses["rise_mg_dl"])
    return np.sqrt(np.maximum(not_added - gain**2, LEAST_OWN_ERROR**2 * not_added))


def rise_errors_mg_dl(responses: pd.DataFrame) -> np.ndarray:
    """Standard errors of the rises of meal_responses.csv, from their 90 % intervals, shape (m,). [mg/dL]"""
    return standard_errors(_numbers(responses["rise_low_mg_dl"]), _numbers(responses["rise_high_mg_dl"]))


def _one_of(values: pd.Series, word: str) -> np.ndarray:
    """1 where it is the word, 0 where it is another, NaN where nothing was written."""
    text = values.fillna("").str.strip().to_numpy(object)
    return np.where(text == "", np.nan, (text == word).astype(float))


def expected_sizes(carbs_g: np.ndarray, outcome: np.ndarray) -> np.ndarray:
    """How large each meal's response is to be expected from its carbohydrate alone; mean 1, at least 0.2, shape (n,).

    A straight line through the person's own meals; 1 where carbohydrate is not logged, or does not go with it.
    """
    known = ~np.isnan(carbs_g)
    size = np.ones(len(carbs_g))
    if known.sum() < 10 or np.ptp(carbs_g[known]) == 0 or outcome.mean() <= 0:
        return size
    slope, start = np.polyfit(carbs_g[known], outcome[known], 1)
    if slope > 0:
        size[known] = np.maximum((start + slope * carbs_g[known]) / outcome[known].mean(), 0.2)
    return size / size.mean()


def eating_weights(size: np.ndarray, rise_mg_dl: np.ndarray, rise_se_mg_dl: np.ndarray) -> np.ndarray:
    """How much each response weighs, relative to one of usual size measured without error, shape (n,).

    Parameters
    ----------
    size : array, shape (n,)
        Of :func:`expected_sizes`.
    rise_mg_dl, rise_se_mg_dl : array, shape (n,)
        Rises and their standard errors; NaN: not known, taken as none. [mg/dL]
    """
    error = np.nan_to_num(rise_se_mg_dl, nan=0.0) / max(float(np.nanmean(rise_mg_dl)), 10.0)
    return _EATING_CV**2 / (_EATING_CV**2 * grow_with_size(size) + error**2)


def grow_with_size(size: Values) -> Values:
    """Variance between eatings of one meal of that expected size, over that of a meal of usual size; any shape."""
    return 1 - _GROWING + _GROWING * size**2
