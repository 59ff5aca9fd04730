"""Who is the invented wearer? The knobs of body, habits, and what truly moves their glucose."""

from __future__ import annotations

from dataclasses import dataclass, field

SHORT_NIGHT_HOURS = 6.0
"""A night with less sleep is short [h]; the contract's, factor `short_night`. Any other number gives wearers an effect
on other nights than the question asks about."""

EVENING_HOUR = 18.0
"""A meal from here on is an evening meal [local hours]; the contract's, factor `evening_meal`. Any other number gives
wearers an effect on other meals than the question asks about."""


@dataclass(frozen=True)
class Dish:
    """One thing that is eaten again and again.

    Attributes
    ----------
    slot : {"breakfast", "main", "snack"}
        When it is eaten.
    carbs_g, fiber_g, protein_g, fat_g : float
        Of a usual portion. [g]
    response : float
        Rise per gram relative to the wearer's own, what tells dishes of equal carbohydrate apart.
    repeats : bool
        False: a one-off, whose `dish` stays empty in the log and whose contents vary freely.
    weight : float
        How often it is chosen, relative to the others of its slot.
    """

    name: str
    slot: str
    carbs_g: float
    fiber_g: float = 3.0
    protein_g: float = 10.0
    fat_g: float = 8.0
    response: float = 1.0
    sweet: bool = False
    repeats: bool = True
    weight: float = 1.0


@dataclass(frozen=True)
class Body:
    """How glucose behaves in this body.

    Ranges are from references.md; "assumed" where no published figure was at hand.

    Attributes
    ----------
    level_mg_dl : float
        Blood glucose far from food, all effects at zero; `draw_wearer` sets it so that the usual
        mean is 99 +- 6 (98-99, Shah et al. 2019; up to 104 in later studies). [mg/dL]
    day_sd_mg_dl, day_autocorrelation : float
        Of whole days' levels. Fasting values vary by 7.5 +- 4.3 from day to day, sensor and hour
        counted in (Shilo et al. 2024); of that 2-7 is taken as the day's own. Autocorrelation 0-0.6. [mg/dL]
    wander_sd_mg_dl, wander_min : float
        Background wander within the day: what makes a healthy coefficient of variation of
        17 +- 3 % together with meals (Shah et al. 2019); SD and time constant. [mg/dL], [min]
    circadian_mg_dl, circadian_hour : float
        Half the swing over the day, and the hour of its top. Nights lie 4 (JDRF 2010) to 11
        (Freckmann et al. 2007) mg/dL lower, meals included, which alone lower them by most of it. [mg/dL], [h]
    dawn_mg_dl : float
        Rise about waking, before any food. In the healthy plasma is flat in the early morning; in type 2 diabetes
        it rises by 16 (references A1): 0-5 for most, 12 in a few. [mg/dL]
    rise_per_g : float
        Height of the response per gram of carbohydrate at 50 g: meals with 50 g peak 15-50 mg/dL
        above the level (Freckmann et al. 2007: 99-137). [mg/dL per g]
    carb_power : float
        Height goes with carbohydrate to this power: 1 is proportional, less saturates; assumed.
    time_to_peak_min, time_to_peak_sd : float
        46-50 min after standard meals (Freckmann et al. 2007), median 50 where no more than 90 were looked at, and
        97 +- 31 by person in free life (DuBose 2020, references A1): 30-140. Fat and order delay it further. [min]
    sharpness : float
        Large: the response is short. At 2.5 it is back to a tenth after three times the time to peak.
    eating_sd : float
        Log spread between eatings of one dish: duplicate meals agree with an intraclass
        correlation of only 0.14-0.31 (Hengist et al. 2025), SD 11 mg/dL of a mean increment.
    dip_fraction : float
        Depth of the dip two to three hours after, as a part of the rise; the top quarter of
        people dip by 18 % of baseline (Wyatt et al. 2021).
    exercise_rise_mg_dl : float
        Of a vigorous effort, half as much of a moderate one; rises with training are common
        (references.md 12a, no source). [mg/dL]
    exercise_fall_mg_dl : float
        Of aerobic exercise, moderate or vigorous, on its own; with the rise, exercise takes glucose from start to
        nadir by -15 +- 18, strength training by -9 +- 12 (DuBose 2020, references A1). [mg/dL]
    stress_rise_mg_dl : float
        Bump of one stressful moment; +1.5 mmol/L in type 2 diabetes, none in healthy older
        people (references.md 9): 0-12 here. [mg/dL]
    """

    level_mg_dl: float = 88.0
    day_sd_mg_dl: float = 4.0
    day_autocorrelation: float = 0.3
    wander_sd_mg_dl: float = 5.0
    wander_min: float = 60.0
    circadian_mg_dl: float = 3.0
    circadian_hour: float = 15.0
    dawn_mg_dl: float = 5.0
    rise_per_g: float = 0.8
    carb_power: float = 0.9
    time_to_peak_min: float = 44.0
    time_to_peak_sd: float = 8.0
    sharpness: float = 2.0
    eating_sd: float = 0.3
    dip_fraction: float = 0.2
    exercise_rise_mg_dl: float = 15.0
    exercise_fall_mg_dl: float = 0.0
    stress_rise_mg_dl: float = 0.0


@dataclass(frozen=True)
class Effects:
    """What truly moves glucose (0 = it does not). The truth that relating is tested against.

    On the level while awake [mg/dL], each given deviation from the wearer's own habit:

    per_asleep_h : per hour asleep the night before. Five hours for a week cost 20 % of insulin
        sensitivity (Buxton 2010), three nights of 1-3 h less left glucose unchanged (2015).
    short_night : after under six hours, on top.
    per_stress_point : of 0-10. per_caffeine_100mg : insulin sensitivity falls (Shi 2016, from
        memory). per_relaxation_10min. morning_exercise : after a workout before 11:00 (24-h mean 127
        to 118 in older people at risk, DiPietro 2013). ill : on ill days, assumed. per_covariate_sd : of the
        wearer's own covariate.

    On the response to food, as the logarithm of a factor:

    walk_after : ratio 0.88 of the area in type 2 diabetes (Reynolds 2016), -0.44 mmol/L in the
        healthy (Reynolds & Venn 2018). protein_first : peaks 3.9 and 2.0 mmol/L (2020): down to -0.6.
    fiber, fat, protein : per 10 g. Gram for gram protein lowers two to three times as much as fat, in a line to
        30 g (20 healthy people, J Nutr 2006;136:2506): -0.2 and -0.08.
    evening : 6.5-17 % higher (Morris 2015, 2016), areas 25-50 % greater (references A1, log 0.22-0.41), or lower.
    eaten_out : assumed. short_night_response : three controlled studies without any (references A3): 0-0.1.
    stress_response (per point), sweet_after_short_night : assumed, the last on sweet dishes only.

    Elsewhere:

    fat_delay_min, first_delay_min : time to peak per 10 g fat; protein or fibre eaten first. [min]
    sleep_per_gap_h : hours of sleep per hour between last meal and bed.
    energy_per_dip, energy_per_rise : points of energy two to three hours after, per 10 mg/dL (r = 0.16-0.19
        between dips and hunger or energy, Wyatt 2021). energy_per_sleep_h : per hour asleep.
    """

    per_asleep_h: float = 0.0
    short_night: float = 0.0
    per_stress_point: float = 0.0
    per_caffeine_100mg: float = 0.0
    per_relaxation_10min: float = 0.0
    morning_exercise: float = 0.0
    ill: float = 6.0
    per_covariate_sd: float = 0.0
    walk_after: float = 0.0
    protein_first: float = 0.0
    fiber: float = 0.0
    fat: float = 0.0
    protein: float = 0.0
    evening: float = 0.0
    eaten_out: float = 0.0
    short_night_response: float = 0.0
    stress_response: float = 0.0
    sweet_after_short_night: float = 0.0
    fat_delay_min: float = 3.0
    first_delay_min: float = 8.0
    sleep_per_gap_h: float = 0.0
    energy_per_dip: float = 0.0
    energy_per_rise: float = 0.0
    energy_per_sleep_h: float = 0.0


@dataclass(frozen=True)
class Habits:
    """How the wearer lives: means, spreads and shares; all assumed, none is a published norm.

    Times are local hours. `bites_per_day` are small eatings between meals, `coffee_after_share` the breakfasts and
    lunches followed by a black coffee, `drink_share` the dinners with alcohol. `linked` (0-0.8) makes habits travel
    together: stress with caffeine, late evenings with short nights, walks with the order of eating, eating out with
    large portions.
    """

    breakfast_h: float = 7.7
    lunch_h: float = 12.8
    dinner_h: float = 19.3
    meal_jitter_h: float = 0.5
    skip_breakfast: float = 0.05
    skip_lunch: float = 0.03
    snacks_per_day: float = 1.2
    one_off_share: float = 0.25
    portion_sd: float = 0.15
    out_share: float = 0.2
    walk_share: float = 0.3
    protein_first_share: float = 0.25
    bed_h: float = 23.2
    bed_sd_h: float = 0.6
    asleep_h: float = 7.1
    asleep_sd_h: float = 0.9
    asleep_autocorrelation: float = 0.2
    stress: float = 4.0
    stress_sd: float = 1.8
    caffeine_mg: float = 180.0
    caffeine_sd: float = 70.0
    relaxation_min: float = 10.0
    exercise_share: float = 0.4
    exercise_morning_share: float = 0.5
    stress_events_per_day: float = 0.4
    ill_share: float = 0.01
    covariate: str = "late_screen_min"
    covariate_mean: float = 40.0
    covariate_sd: float = 25.0
    linked: float = 0.0
    bites_per_day: float = 0.0
    coffee_after_share: float = 0.0
    drink_share: float = 0.0


@dataclass(frozen=True)
class Wearer:
    """An invented person: body, habits, what moves them, and the dishes they repeat."""

    body: Body = field(default_factory=Body)
    habits: Habits = field(default_factory=Habits)
    effects: Effects = field(default_factory=Effects)
    dishes: tuple[Dish, ...] = ()
