"""What did blood glucose do? One value a minute from body, days and food, and what living like this gives."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from glucolab.clock import Days, ZoneSpans, days_between, local_hours, to_utc
from glucolab.simulate.exercise import exercise_heights, sport_peaks
from glucolab.simulate.filters import box_smooth, smooth_noise
from glucolab.simulate.life import Life, autocorrelated, live
from glucolab.simulate.wearer import Wearer

LEAD = pd.Timedelta(hours=36)
"""Life drawn before a wear [h]; assumed. Shorter starts it without the meals, night and stress that still act."""
_TAIL = pd.Timedelta(hours=6)
"""Life drawn after it [h]; assumed. Shorter leaves the last meals without a true window."""
FLOOR_MG_DL = 45.0
"""Blood is not let below this, and hardly ever gets there [mg/dL]; assumed. Higher cuts off true lows."""

_WINDOW_MIN = 480
"""How long an event acts [min]; assumed. Shorter cuts tails that the usual mean counts, and shifts what is true."""
_DIP_AFTER_PEAK_MIN = 95.0
"""From the peak to the dip [min]; assumed. Far off, true dips miss the contract's window of two to three hours."""
_DIP_SHARPNESS = 5.0
"""As `sharpness` of a body, of the dip [1]; assumed. Smaller widens the dip into the peak and lowers true rises."""
DAWN_WIDTH_H = 1.3
"""SD of the rise about waking [h]; assumed. Wider passes into breakfast, and its rise is no longer food's alone."""


@dataclass(frozen=True, eq=False)
class Lived:
    """A span of an invented life, and the blood glucose it gave.

    Attributes
    ----------
    start, end : pandas.Timestamp
        The span asked for; `time` reaches further on both sides. [UTC]
    time : pandas.DatetimeIndex
        Every minute, shape (n,). [UTC]
    blood_mg_dl : numpy.ndarray
        Shape (n,). [mg/dL]
    days : clock.Days
        The local days of `life`, whose rows they share.
    meals : pandas.DataFrame
        As in `life`, with `time` [UTC], `height_mg_dl` and `peak_min` of the response of each.
    activity, stress_events, sleep : pandas.DataFrame
        With `start`, `time`, or `start` and `end`. [UTC]
    """

    wearer: Wearer
    zones: ZoneSpans
    start: pd.Timestamp
    end: pd.Timestamp
    life: Life
    days: Days
    time: pd.DatetimeIndex
    blood_mg_dl: np.ndarray
    meals: pd.DataFrame
    activity: pd.DataFrame
    stress_events: pd.DataFrame
    sleep: pd.DataFrame

    def minute(self, times: pd.DatetimeIndex | pd.Series) -> np.ndarray:
        """Position of UTC times on the minute grid, as fractions, shape (k,). [min]"""
        return (pd.DatetimeIndex(times).as_unit("us").asi8 - self.time.asi8[0]) / 60e6


def simulate_life(
    rng: np.random.Generator,
    wearer: Wearer,
    start: pd.Timestamp,
    end: pd.Timestamp,
    zones: ZoneSpans,
    plan: pd.DataFrame | None = None,
    ill_dates: pd.DatetimeIndex | None = None,
) -> Lived:
    """Draw what a wearer does, and their blood glucose.

    Parameters
    ----------
    rng : numpy.random.Generator
    wearer : Wearer
    start, end : pandas.Timestamp
        [UTC]
    zones : ZoneSpans
        What the clocks showed.
    plan, ill_dates : optional
        As for :func:`glucolab.simulate.life.live`.

    Returns
    -------
    Lived
        Meals, movement, sleep and stress, and ``blood_mg_dl`` every minute.

    References
    ----------
    .. [1] Freckmann et al., J Diabetes Sci Technol 2007;1:695-703.
    .. [2] Shah et al., J Clin Endocrinol Metab 2019;104:4356-4364.
    .. [3] Wyatt et al., Nat Metab 2021;3:523-529.

    Examples
    --------
    >>> import glucolab as gl, numpy as np, pandas as pd
    >>> from glucolab.clock import UTC
    >>> rng, start = np.random.default_rng(7), pd.Timestamp("2026-02-03T07:00Z")
    >>> lived = gl.simulate.simulate_life(rng, gl.simulate.draw_wearer(rng), start, start + pd.Timedelta(days=1), UTC)
    >>> lived.blood_mg_dl.shape == lived.time.shape
    True
    """
    first, last = (start - LEAD).floor("min"), (end + _TAIL).ceil("min")
    days = days_between(first, last, zones)
    life = live(rng, wearer, days.dates, plan, ill_dates)
    time = pd.date_range(first, last, freq="min", unit="us")
    body = wearer.body
    meals = life.meals.assign(
        time=instants(life, life.meals, zones),
        height_mg_dl=response_heights(wearer, life.meals, life.days)
        * np.exp(_eating_noise(rng, body.eating_sd, len(life.meals))),
        peak_min=peak_times(wearer, life.meals, body.time_to_peak_sd * rng.standard_normal(len(life.meals))),
    )
    activity = life.activity.assign(
        start=instants(life, life.activity, zones), height_mg_dl=exercise_heights(rng, wearer, life.activity)
    )
    stress = life.stress_events.assign(time=instants(life, life.stress_events, zones))
    lived = Lived(
        wearer, zones, start, end, life, days, time, np.zeros(len(time)), meals, activity, stress, _sleep(life, zones)
    )
    blood = _background(rng, lived) + _events(lived)
    return Lived(**{**lived.__dict__, "blood_mg_dl": np.maximum(blood, FLOOR_MG_DL)})


def instants(life: Life, events: pd.DataFrame, zones: ZoneSpans, hour: str = "hour") -> pd.DatetimeIndex:
    """UTC times of events given by day and local hour; an hour that spring skips is taken an hour later."""
    return local_instants(life.dates[events["day"].to_numpy()], events[hour].to_numpy(), zones)


def local_instants(dates: pd.DatetimeIndex, hours: np.ndarray, zones: ZoneSpans) -> pd.DatetimeIndex:
    """UTC times, to the second, of local hours since each date's midnight, shape (m,)."""
    local = dates + pd.to_timedelta(np.round(np.asarray(hours, float) * 3600).astype("int64"), unit="s").as_unit("us")
    times = to_utc(local, zones).times
    if times.hasnans:
        times = times.where(np.asarray(times.notna()), to_utc(local + pd.Timedelta(hours=1), zones).times)
    return times


def response_heights(wearer: Wearer, meals: pd.DataFrame, days: pd.DataFrame) -> np.ndarray:
    """Height of the response expected of each meal, its own spread left out, shape (m,). [mg/dL]"""
    effects, body = wearer.effects, wearer.body
    day = meals["day"].to_numpy()
    short = days["short_night"].to_numpy()[day]
    log_factor = (
        effects.walk_after * meals["walk_after"]
        + effects.protein_first * (meals["eaten_first"] == "protein")
        + effects.evening * meals["evening"]
        + effects.eaten_out * (meals["setting"] == "out")
        + effects.fiber * (meals["fiber_g"] - 5) / 10
        + effects.fat * (meals["fat_g"] - 12) / 10
        + effects.protein * (meals["protein_g"] - 18) / 10
        + effects.short_night_response * short
        + effects.sweet_after_short_night * (short & meals["sweet"].to_numpy(bool))
        + effects.stress_response * (days["stress"].to_numpy()[day] - wearer.habits.stress)
    ).to_numpy(float)
    carbs = np.maximum(meals["carbs_g"].to_numpy(float), 0.0)
    return (
        body.rise_per_g * 50 * (carbs / 50) ** body.carb_power * meals["response"].to_numpy(float) * np.exp(log_factor)
    )


def peak_times(wearer: Wearer, meals: pd.DataFrame, own_min: np.ndarray) -> np.ndarray:
    """Minutes from eating to the top of each response, shape (m,). [min]"""
    first = meals["eaten_first"].isin(["protein", "fiber"]).to_numpy()
    delay = (
        wearer.effects.fat_delay_min * (meals["fat_g"].to_numpy(float) - 12) / 10
        + wearer.effects.first_delay_min * first
    )
    return np.clip(wearer.body.time_to_peak_min + delay + own_min, 18, 180)


def bump(minutes: np.ndarray, peak_min: np.ndarray, sharpness: float) -> np.ndarray:
    """A smooth rise to 1 at `peak_min` and fall, zero before 0: (t/p)^k exp(k (1 - t/p))."""
    share = np.maximum(minutes, 0.0) / peak_min
    return share**sharpness * np.exp(sharpness * (1 - share))


def bump_area(peak_min: np.ndarray, sharpness: float) -> np.ndarray:
    """Whole area under :func:`bump`. [min]"""
    return peak_min * math.exp(sharpness) * sharpness ** -(sharpness + 1) * math.gamma(sharpness + 1)


def meal_curves(wearer: Wearer, minutes: np.ndarray, height_mg_dl: np.ndarray, peak_min: np.ndarray) -> np.ndarray:
    """What food adds to blood glucose, `minutes` after eating, the later dip included. [mg/dL]"""
    dip = wearer.body.dip_fraction * bump(minutes, peak_min + _DIP_AFTER_PEAK_MIN, _DIP_SHARPNESS)
    return height_mg_dl * (bump(minutes, peak_min, wearer.body.sharpness) - dip)


def meal_areas(rng: np.random.Generator, wearer: Wearer, meals: pd.DataFrame, days: pd.DataFrame) -> np.ndarray:
    """Whole area that each meal adds, shape (m,). [mg/dL min]"""
    peak = peak_times(wearer, meals, wearer.body.time_to_peak_sd * rng.standard_normal(len(meals)))
    dip = wearer.body.dip_fraction * bump_area(peak + _DIP_AFTER_PEAK_MIN, _DIP_SHARPNESS)
    return response_heights(wearer, meals, days) * (bump_area(peak, wearer.body.sharpness) - dip)


def awake_shift(wearer: Wearer, days: pd.DataFrame) -> np.ndarray:
    """What a day's sleep, stress and the like add while awake, shape (d,). [mg/dL]"""
    effects, habits = wearer.effects, wearer.habits
    return (
        effects.per_asleep_h * (days["asleep_h"] - habits.asleep_h)
        + effects.short_night * days["short_night"]
        + effects.per_stress_point * (days["stress"] - habits.stress)
        + effects.per_caffeine_100mg * (days["caffeine_mg"] - habits.caffeine_mg) / 100
        + effects.per_relaxation_10min * (days["relaxation_min"] - habits.relaxation_min) / 10
        + effects.morning_exercise * days["morning_exercise"]
        + effects.ill * days["ill"]
        + effects.per_covariate_sd * (days["covariate"] - habits.covariate_mean) / max(habits.covariate_sd, 1e-9)
    ).to_numpy(float)


def _eating_noise(rng: np.random.Generator, sd: float, n: int) -> np.ndarray:
    return sd * rng.standard_normal(n) - sd**2 / 2


def _sleep(life: Life, zones: ZoneSpans) -> pd.DataFrame:
    """A row a night that ends on a day of the life: day, start, end, asleep_min."""
    days = life.days
    bed = local_instants(life.dates[:-1], days["bed_h"].to_numpy()[:-1], zones)
    wake = local_instants(life.dates[1:], days["wake_h"].to_numpy()[1:], zones)
    return pd.DataFrame(
        {"day": np.arange(1, len(days)), "start": bed, "end": wake, "asleep_min": days["asleep_h"].to_numpy()[1:] * 60}
    )


def _background(rng: np.random.Generator, lived: Lived) -> np.ndarray:
    """Everything but single events: level, days, hours, wander, shape (n,). [mg/dL]"""
    body, time, n = lived.wearer.body, lived.time, len(lived.time)
    five = np.arange(0, n, 5)
    hours = np.interp(np.arange(n), five, np.unwrap(local_hours(time[::5], lived.zones) * math.pi / 12)) * 12 / math.pi
    day = body.day_sd_mg_dl * autocorrelated(rng, len(lived.days.dates), body.day_autocorrelation)
    wake = lived.minute(local_instants(lived.life.dates, lived.life.days["wake_h"].to_numpy(), lived.zones))
    bed = lived.minute(local_instants(lived.life.dates, lived.life.days["bed_h"].to_numpy(), lived.zones))
    steps = np.zeros(n + 1)
    shift = awake_shift(lived.wearer, lived.life.days)
    np.add.at(steps, np.clip(np.round(wake), 0, n).astype(int), shift)
    np.add.at(steps, np.clip(np.round(bed), 0, n).astype(int), -shift)
    dawn = np.zeros(n)
    for centre in wake + 30:
        lo, hi = max(0, int(centre) - 300), min(n, int(centre) + 300)
        if lo < hi:
            dawn[lo:hi] += body.dawn_mg_dl * np.exp(-0.5 * ((np.arange(lo, hi) - centre) / 60 / DAWN_WIDTH_H) ** 2)
    return (
        body.level_mg_dl + dawn
        + body.circadian_mg_dl * np.cos((hours - body.circadian_hour) * math.pi / 12)
        + box_smooth(day[np.clip(lived.days.of(time), 0, None)], 240)
        + box_smooth(np.cumsum(steps)[:n], 45)
        + body.wander_sd_mg_dl * smooth_noise(rng, n, body.wander_min, 12.0)
    )  # fmt: skip


def _events(lived: Lived) -> np.ndarray:
    """What meals, exercise and moments of stress add, shape (n,). [mg/dL]"""
    stress = lived.stress_events
    height = lived.wearer.body.stress_rise_mg_dl * stress["strength"].to_numpy()[:, None] / 7
    tense = _add(lived, lived.minute(stress["time"]), lambda t: height * bump(t, np.array(25.0), 2.0))
    return add_food(lived, lived.meals) + add_exercise(lived) + tense


def add_food(lived: Lived, meals: pd.DataFrame, for_min: int = _WINDOW_MIN) -> np.ndarray:
    """What some rows of a life's meals add, so long after each, shape (n,). [mg/dL]"""
    height, peak = meals["height_mg_dl"].to_numpy()[:, None], meals["peak_min"].to_numpy()[:, None]
    return _add(lived, lived.minute(meals["time"]), lambda t: meal_curves(lived.wearer, t, height, peak), for_min)


def add_exercise(lived: Lived) -> np.ndarray:
    """What a life's exercise adds, shape (n,). [mg/dL]"""
    sport = lived.activity
    height, peak = sport["height_mg_dl"].to_numpy()[:, None], sport_peaks(sport)[:, None]
    return _add(lived, lived.minute(sport["start"]), lambda t: height * bump(t, peak, 3.0))


def _add(
    lived: Lived, at_min: np.ndarray, curve: Callable[[np.ndarray], np.ndarray], for_min: int = _WINDOW_MIN
) -> np.ndarray:
    """Curves that begin at fractional minutes, added up on whole minutes, shape (n,)."""
    total = np.zeros(len(lived.time))
    if not len(at_min):
        return total
    first, after = np.ceil(at_min).astype(int), np.arange(for_min + 1)
    values = curve(after[None, :] + (first - at_min)[:, None])
    where = first[:, None] + after[None, :]
    inside = (where >= 0) & (where < len(total))
    np.add.at(total, where[inside], values[inside])
    return total
