"""Which people could there be? Wearers drawn from the published ranges that their knobs cite."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from glucolab.simulate.streams import named_stream
from glucolab.simulate.usual_level import usual_mean_mg_dl
from glucolab.simulate.wearer import Body, Dish, Effects, Habits, Wearer

PEAK_MEDIAN_MIN, PEAK_LOG_SD = 65.0, 0.4
"""Median time to peak over people [min], and its log spread [1]: between 46-50 after standard meals (Freckmann 2007),
a median of 50 among fits limited to 90 min, and 97 ± 31 by person in free life (DuBose 2020, references A1), all within
its middle nine tenths. An earlier median spares the tool the peaks that a window of two hours cuts off."""
_QUICK_PEAK_MIN = 44.0
"""Time to peak at which `sharpness` is drawn as it is [min]: later ones are sharper in proportion, or they would last
for most of the day, which no cohort's averages show; assumed."""
EXERCISE_FALL_MG_DL = (21.0, 13.0)
"""Mean and SD over people of what aerobic exercise takes off [mg/dL]: with the rises of hard efforts -15 ± 18 from
start to nadir (DuBose 2020, references A1). None would leave a fall after a meal to the meal alone."""
PROTEIN, FAT = (-0.2, 0.07), (-0.08, 0.03)
"""Mean and SD of the log effect per 10 g in whoever has one [1]: gram for gram protein lowers two to three times as
much as fat (J Nutr 2006;136:2506, references A1); their spread assumed. Reversed, as before, advice on them would be
tried on the wrong food."""


def draw_wearer(
    rng: np.random.Generator,
    *,
    usual_mean_mg_dl: float | None = None,
    effects: bool = True,
    dishes: int = 10,
    **fixed: Any,
) -> Wearer:
    """Draw an invented wearer.

    Parameters
    ----------
    rng : numpy.random.Generator
    usual_mean_mg_dl : float, optional
        What living so is to give; default drawn, 99 +- 6 within 88-118: 98-99 in the young (Shah 2019), 102-104
        elsewhere (references.md 6). [mg/dL]
    effects : bool
        False: nothing moves glucose but food itself; what is true of nobody, and what claims are tested on.
    dishes : int
        How many dishes are repeated.
    **fixed
        Fields of Body, Habits or Effects that are not drawn.

    Returns
    -------
    Wearer

    Raises
    ------
    TypeError
        For a knob that does not exist.

    References
    ----------
    .. [1] Shah et al., J Clin Endocrinol Metab 2019;104:4356-4364.
    .. [2] Freckmann et al., J Diabetes Sci Technol 2007;1:695-703.
    .. [3] Hengist et al., Am J Clin Nutr 2025;121:74 (PMC10371100).

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> wearer = gl.simulate.draw_wearer(rng, usual_mean_mg_dl=99.0)
    >>> round(gl.simulate.usual_mean_mg_dl(wearer), 3)
    99.0
    """
    parts: dict[type, dict[str, Any]] = {
        Body: _draw_body(rng),
        Habits: _draw_habits(rng),
        Effects: _draw_effects(rng) if effects else {"ill": 0.0},
    }
    known = {f.name: part for part in parts for f in fields(part)}
    for name, value in fixed.items():
        if name not in known:
            raise TypeError(f"a wearer has no knob {name}")
        parts[known[name]][name] = value
    wanted = float(np.clip(rng.normal(99, 6), 88, 118)) if usual_mean_mg_dl is None else usual_mean_mg_dl
    wearer = Wearer(Body(**parts[Body]), Habits(**parts[Habits]), Effects(**parts[Effects]), draw_dishes(rng, dishes))
    return wearer if "level_mg_dl" in fixed else with_usual_mean(wearer, wanted)


def with_usual_mean(wearer: Wearer, wanted_mg_dl: float) -> Wearer:
    """The same person at another level, so that living as they do gives `wanted_mg_dl`.

    Parameters
    ----------
    wearer : Wearer
    wanted_mg_dl : float
        [mg/dL]

    Returns
    -------
    Wearer

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> other = gl.simulate.with_usual_mean(gl.simulate.draw_wearer(rng), 104.0)
    >>> round(gl.simulate.usual_mean_mg_dl(other), 3)
    104.0
    """
    level = wearer.body.level_mg_dl + wanted_mg_dl - usual_mean_mg_dl(wearer)
    return replace(wearer, body=replace(wearer.body, level_mg_dl=level))


def draw_dishes(rng: np.random.Generator, n: int) -> tuple[Dish, ...]:
    """Dishes that differ in what they hold, and by a log SD of 0.22 beyond that (assumed).

    Parameters
    ----------
    rng : numpy.random.Generator
    n : int
        How many.

    Returns
    -------
    tuple of Dish
        Two of five are a breakfast or a snack.

    References
    ----------
    .. [1] Freckmann et al., J Diabetes Sci Technol 2007;1:695-703.

    Examples
    --------
    >>> import glucolab as gl, numpy as np
    >>> rng = np.random.default_rng(7)
    >>> [dish.slot for dish in gl.simulate.draw_dishes(rng, 5)]
    ['breakfast', 'main', 'main', 'main', 'snack']
    """
    slots = ["breakfast", "main", "main", "main", "snack"] * (n // 5 + 1)
    usual = {"breakfast": (45, 4, 12, 9), "main": (58, 7, 28, 18), "snack": (20, 2, 3, 6)}
    dishes = []
    for i, slot in enumerate(slots[:n]):
        carbs, fiber, protein, fat = (
            float(np.round(v * np.exp(np.clip(rng.normal(0, 0.3), -0.7, 0.7)), 0)) for v in usual[slot]
        )
        sweet = bool(rng.random() < (0.6 if slot == "snack" else 0.15))
        dishes.append(
            Dish(f"dish {i + 1}", slot, carbs, fiber, protein, fat, float(np.exp(rng.normal(0, 0.22))), sweet)
        )
    return tuple(dishes)


def _draw_body(rng: np.random.Generator) -> dict[str, float]:
    peaks, falls = named_stream(rng, "time to peak"), named_stream(rng, "exercise fall")
    peak = float(np.clip(PEAK_MEDIAN_MIN * np.exp(PEAK_LOG_SD * peaks.standard_normal()), 30, 140))
    return {
        "day_sd_mg_dl": rng.uniform(2, 7), "day_autocorrelation": rng.uniform(0, 0.6),
        "wander_sd_mg_dl": rng.uniform(2, 5), "wander_min": rng.uniform(40, 120),
        "circadian_mg_dl": rng.uniform(0, 3), "circadian_hour": rng.uniform(12, 19),
        "dawn_mg_dl": min(float(rng.exponential(2.2)), 12.0),
        "rise_per_g": float(np.clip(rng.normal(0.8, 0.14), 0.48, 1.15)), "carb_power": rng.uniform(0.7, 1.0),
        "time_to_peak_min": peak, "time_to_peak_sd": rng.uniform(4, 12),
        "sharpness": rng.uniform(1.5, 2.7) * max(peak / _QUICK_PEAK_MIN, 1.0),
        "eating_sd": rng.uniform(0.15, 0.4), "dip_fraction": rng.uniform(0, 0.4),
        "exercise_rise_mg_dl": rng.choice([0.0, rng.uniform(5, 30)]),
        "exercise_fall_mg_dl": float(np.clip(falls.normal(*EXERCISE_FALL_MG_DL), 0, 45)),
        "stress_rise_mg_dl": rng.choice([0.0, rng.uniform(4, 12)]),
    }  # fmt: skip


def _draw_habits(rng: np.random.Generator) -> dict[str, object]:
    drinks = named_stream(rng, "drinks")
    return {
        "breakfast_h": rng.uniform(6.8, 9.0), "lunch_h": rng.uniform(12.0, 13.8), "dinner_h": rng.uniform(18.3, 20.8),
        "meal_jitter_h": rng.uniform(0.2, 1.0), "skip_breakfast": rng.choice([0.0, 0.05, 0.3]),
        "snacks_per_day": rng.uniform(0.3, 2.4),
        "one_off_share": rng.uniform(0.1, 0.5), "portion_sd": rng.uniform(0.05, 0.25),
        "out_share": rng.uniform(0.05, 0.35),
        "walk_share": rng.uniform(0.15, 0.5), "protein_first_share": rng.uniform(0.1, 0.4),
        "bed_h": rng.uniform(22.2, 24.3), "bed_sd_h": rng.uniform(0.3, 0.9),
        "asleep_h": rng.uniform(6.3, 7.9), "asleep_sd_h": rng.uniform(0.6, 1.2),
        "stress": rng.uniform(2.5, 5.5), "caffeine_mg": rng.uniform(60, 280), "exercise_share": rng.uniform(0.1, 0.6),
        "ill_share": rng.choice([0.0, 0.03]), "linked": rng.choice([0.0, 0.0, 0.3, 0.6]),
        "drink_share": float(drinks.choice([0.0, 0.0, 0.2, 0.4])),
    }  # fmt: skip


def _draw_effects(rng: np.random.Generator) -> dict[str, float]:
    """Each is nil for a third of people, the response after a short night for half (references A3: in three controlled
    studies for all); of night length and the short night, at most one works on the level.
    """
    food = named_stream(rng, "protein and fat")
    ranges = {
        "per_stress_point": (0, 1.6), "per_caffeine_100mg": (0, 2), "per_relaxation_10min": (-0.8, 0),
        "morning_exercise": (-4, 0), "walk_after": (-0.5, 0),
        "protein_first": (-0.6, 0), "fiber": (-0.2, 0), "evening": (-0.05, 0.4),
        "eaten_out": (0, 0.3), "short_night_response": (0, 0.1),
        "stress_response": (0, 0.03), "sweet_after_short_night": (0, 0.3),
        "sleep_per_gap_h": (0, 0.3), "energy_per_dip": (0, 1.0),
        "energy_per_rise": (-0.3, 0.3), "energy_per_sleep_h": (0, 0.8),
    }  # fmt: skip
    nil = {name: 1 / 3 for name in ranges} | {"short_night_response": 1 / 2}
    drawn = {name: rng.uniform(low, high) * (rng.random() > nil[name]) for name, (low, high) in ranges.items()}
    drawn |= {
        name: min(food.normal(*size), 0.0) * (food.random() > 1 / 3)
        for name, size in (("protein", PROTEIN), ("fat", FAT))
    }
    night = ("per_asleep_h", rng.uniform(-3, 0)) if rng.random() < 0.5 else ("short_night", rng.uniform(0, 6))
    drawn[night[0]] = night[1] * (rng.random() > 1 / 3)
    return drawn | {
        "ill": rng.uniform(0, 12),
        "fat_delay_min": rng.uniform(0, 6),
        "first_delay_min": rng.uniform(0, 12),
    }
