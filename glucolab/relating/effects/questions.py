"""Which questions are asked, and why? The fixed list of factors and outcomes, so that few are asked, and all reported.

Every further factor raises the q-values of all. A pair is here because a source or the wearer's own
belief speaks for it; a factor and an outcome that only happen to stand in the same folder are not. The first question
of a factor is its one test; the others are read once that one is clear.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from glucolab.relating.observations.days_and_meals import OF_THE_WEAR

HOURS = ("at_noon", "in_afternoon", "in_evening")
"""Parts of the day of a meal, against the morning."""

PORTION_CV = 0.2
"""Relative error of the carbohydrate written for one eating [1]: estimates of nutrients beside weights (the review at
dapa-toolkit.mrc.ac.uk, on a page that reports it); 20.9 +- 9.7 % of people who count (Brazeau et al., Diabetes Res Clin
Pract 2013;99:19, from memory). Too small leaves effects of carbohydrate attenuated, too large inflates them."""
UNWRITTEN_SNACK_H = 0.5
"""Error of the time since the last meal [h]: one evening in sixteen something is eaten two hours after the last meal
written down (assumed). Too small leaves that factor's effects attenuated, too large inflates them."""

PER_10_G_OF_CARBS = {
    "rise_mg_dl": (5.0, 3.0),
    "iauc_2h_mg_dl_min": (325.0, 195.0),
    "net_area_3h_mg_dl_min": (375.0, 225.0),
}
"""What 10 g more carbohydrate do, before anything is seen: mean and SD between people [mg/dL; mg/dL min]. Meals of 50 g
peaked 10 to 48 mg/dL above a 24-hour mean of 89 by what else was in them (Freckmann et al., J Diabetes Sci Technol
2007;1:695), 14 open recordings with logs as people keep them say 3 (`relating.predicting.meal_prior`); an area is 65
min of its rise, over three hours 75 (of invented meals). A narrower SD would overrule people who differ; a far wider
one lets two dishes that differ in all they hold say 17."""

KIN = {
    "asleep_h": ("asleep_h", "short_night"),
    "short_night": ("asleep_h", "short_night"),
    "morning_exercise": ("morning_exercise", "exercise_min"),
    "carbs_g": ("carbs_g", "log_carbs"),
    "evening_meal": HOURS,
}
"""What says the same as a factor, and so is not adjusted for when it is asked about."""

ADJUSTED_FOR = {
    "day": ("asleep_h", "stress", "carbs_g", "exercise_min", *OF_THE_WEAR),
    "meal": (
        "log_carbs", "fiber_g", "protein_g", "fat_g", "walk_after", "protein_first", "carbs_before_g", "carbs_after_g",
        "exercised", "baseline_mg_dl", *HOURS,
    ),
}  # fmt: skip
"""Possible confounders: what varies together with the factors."""

AREA_FACTORS = ("walk_after", "protein_first", "carbs_g")
"""Of meals, what a wearer could change and how much of it reaches the day's average."""

ADJUSTED_FOR_BESIDES = {
    ("last_meal_to_sleep_h", "sleep"): ("bedtime_h",),
    ("carbs_after_short_night", "rise"): ("carbs_g", "short_night"),
    **dict.fromkeys(((factor, "area") for factor in AREA_FACTORS), ("carbs_after_3h_g",)),
}
"""By factor and outcome: a late bedtime alone lengthens the time since the last meal and shortens sleep; a product is
read beside its parts; an area over three hours holds what was eaten in the third."""


@dataclass(frozen=True)
class Factor:
    """Something done or undergone.

    Attributes
    ----------
    contrast : str
        The comparison in words.
    per : str
        Unit of the factor in the estimate; empty for with against without.
    step : float
        How much of its column the estimate is per.
    grows : bool
        It lowers or raises a response by a part of it: more where a large one is to be expected. The estimate is
        then for a response of usual size.
    of_dish : bool
        It is known better of a dish than of one eating: portions and logs err, which would hide part of it.
    error_cv, error_sd : float
        Errors of what is written, relative and in the unit of the column, where they are so large that the effect must
        be corrected for them; assumed, see there.
    undisturbed : bool
        Meals while the last food is still being digested are left out: adjusting for how much it was does not
        make up for glucose that falls already, as it does after dinner.
    of_hours : bool
        It is a part of the day set against the others, which differ among themselves too.
    split_by : str
        Column that says with or without, where the factor is a product of it with another.
    range_of : str
        Column whose own range is spoken of, where it is not the factor's.
    expected : mapping of str to (float, float)
        By outcome, mean and SD of the effect before anything is seen, where people agree so far; empty elsewhere.
    """

    contrast: str
    per: str = ""
    step: float = 1.0
    grows: bool = False
    of_dish: bool = False
    error_cv: float = 0.0
    error_sd: float = 0.0
    undisturbed: bool = False
    of_hours: bool = False
    split_by: str = ""
    range_of: str = ""
    expected: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def split(self) -> bool:
        """Rows are with it or without."""
        return not self.per or bool(self.split_by)


@dataclass(frozen=True)
class Outcome:
    """What it may go with: the contract's name, the column that holds it, unit, and when it is looked at."""

    name: str
    column: str
    unit: str
    when: str
    rows: str

    @property
    def of_glucose(self) -> bool:
        """The sensor shows it, and its gain scales it."""
        return self.unit.startswith("mg/dL")

    @property
    def kind(self) -> str:
        """What is asked about together: glucose, or sleep and feelings by their own name."""
        return "glucose" if self.of_glucose else self.name

    @property
    def needs_readings(self) -> bool:
        """A figure of a day that needs enough of it; a meal's own coverage is judged with the meal."""
        return self.rows == "day" and self.of_glucose


@dataclass(frozen=True)
class Pair:
    """One question: names of a factor and of an outcome below, and why it is asked."""

    factor: str
    outcome: str
    reason: str


FACTORS = {
    "asleep_h": Factor("an hour more asleep the night before", "h"),
    "short_night": Factor("after a night under 6 h against after a longer one"),
    "stress": Factor("a point (0-10) more stress", "point"),
    "caffeine_mg": Factor("100 mg more caffeine", "100 mg", 100.0),
    "relaxation_min": Factor("10 min more relaxation", "10 min", 10.0),
    "morning_exercise": Factor("days with exercise before 11:00 against days without"),
    "last_meal_to_sleep_h": Factor("an hour more between the last meal and sleep", "h", error_sd=UNWRITTEN_SNACK_H),
    "walk_after": Factor("meals with a walk within 45 min after against meals without", grows=True),
    "protein_first": Factor("meals with protein eaten first against another order", grows=True),
    "fiber_g": Factor("10 g more fibre", "10 g", 10.0, of_dish=True),
    "protein_g": Factor("10 g more protein", "10 g", 10.0, of_dish=True),
    "fat_g": Factor("10 g more fat", "10 g", 10.0, of_dish=True),
    "carbs_g": Factor(
        "10 g more carbohydrate", "10 g", 10.0, of_dish=True, error_cv=PORTION_CV, expected=PER_10_G_OF_CARBS
    ),
    "carbs_after_short_night": Factor(
        "50 g more carbohydrate (a large dessert) after a night under 6 h against the same after a longer one",
        "50 g",
        50.0,
        split_by="short_night",
        range_of="carbs_g",
    ),
    "evening_meal": Factor(
        "meals from 18:00 to midnight against meals from 04:00 to 18:00, none within three hours after other food",
        grows=True,
        undisturbed=True,
        of_hours=True,
    ),
    "eaten_out": Factor("the same dish eaten out against at home", grows=True),
}
"""By the contract's names; steps [unit of the column] are the contract's, 50 g assumed, errors as above. A larger step
makes an effect look larger beside what is worth noticing."""

OUTCOMES = {
    "mean": Outcome("mean_mg_dl", "mean_mg_dl", "mg/dL", "the same day", "day"),
    "sd": Outcome("sd_mg_dl", "sd_mg_dl", "mg/dL", "the same day", "day"),
    "overnight": Outcome("overnight_mean_mg_dl", "next_overnight_mean_mg_dl", "mg/dL", "the night that follows", "day"),
    "day after": Outcome("next_mean_mg_dl", "next_mean_mg_dl", "mg/dL", "the next day", "day"),
    "sleep": Outcome("asleep_h", "next_asleep_h", "h", "the night that follows", "day"),
    "energy": Outcome("energy", "energy", "points", "the same day", "day"),
    "rise": Outcome("rise_mg_dl", "rise_mg_dl", "mg/dL", "within two hours", "meal"),
    "iauc": Outcome("iauc_2h_mg_dl_min", "iauc_2h_mg_dl_min", "mg/dL min", "over two hours", "meal"),
    "area": Outcome("net_area_3h_mg_dl_min", "net_area_3h_mg_dl_min", "mg/dL min", "over three hours", "meal"),
}

KIND_OF = {outcome.name: outcome.kind for outcome in OUTCOMES.values()}
"""By the outcome's name in the contract."""

_MEAL_REASONS = {
    "walk_after": "smaller area in type 2 diabetes (Reynolds 2016), lower at 60 min in health (Reynolds & Venn 2018)",
    "protein_first": "lower peak with carbohydrate last in health (2020, references 9)",
    "fiber_g": "slower absorption; said by wearers",
    "protein_g": "lower peak with protein before (Smedegaard 2023)",
    "fat_g": "later and lower; said by wearers",
    "carbs_g": "what a rise is made of",
    "evening_meal": "higher in the biological evening (Morris 2015), but the counter-example too",
    "eaten_out": "other recipe, other portion, other haste",
}

PAIRS: tuple[Pair, ...] = (
    Pair("asleep_h", "mean", "less insulin sensitivity after short sleep (Donga 2010, Buxton 2010)"),
    Pair("short_night", "mean", "the same, where only short nights matter"),
    Pair("stress", "mean", "said to raise it, also without food"),
    Pair("caffeine_mg", "mean", "less insulin sensitivity (Shi 2016)"),
    Pair("relaxation_min", "mean", "the opposite of stress, and what can be done"),
    Pair("morning_exercise", "mean", "lower 24-h mean (DiPietro 2013)"),
    Pair("asleep_h", "sd", "a bad night makes a restless day; said by wearers"),
    Pair("stress", "sd", "bumps without food; said by wearers"),
    Pair("morning_exercise", "sd", "a rise with training, flatter after"),
    Pair("stress", "overnight", "said to raise it, also without food"),
    Pair("relaxation_min", "overnight", "the opposite of stress"),
    Pair("morning_exercise", "overnight", "sensitivity lasts into the night"),
    Pair("last_meal_to_sleep_h", "overnight", "a late meal is still being digested"),
    Pair("last_meal_to_sleep_h", "sleep", "both directions in which wearers believe: food late, sleep short"),
    Pair("stress", "sleep", "stress and sleep travel together"),
    Pair("caffeine_mg", "sleep", "keeps awake"),
    Pair("relaxation_min", "sleep", "the opposite of stress"),
    Pair("asleep_h", "energy", "what the night gives the day"),
    Pair("stress", "energy", "what the day takes"),
    Pair("caffeine_mg", "energy", "what it is drunk for"),
    Pair("morning_exercise", "energy", "said by wearers"),
    Pair("asleep_h", "rise", "poorer sleep goes with higher responses, within person too (Tsereteli 2022)"),
    Pair("carbs_after_short_night", "rise", "sweet food after a short night, said by wearers"),
    Pair("stress", "rise", "slower fall after a meal under stress in diabetes (references 9)"),
    *(Pair(factor, outcome, reason) for factor, reason in _MEAL_REASONS.items() for outcome in ("rise", "iauc")),
)


OWN_OUTCOMES = ("mean", "overnight", "day after")
"""Of a covariate that the wearer writes down: nobody knows when it acts."""


def covariate_pairs(names: Iterable[str]) -> tuple[Pair, ...]:
    """The questions of each covariate of the wearer's own: the same day, the night that follows and the next day."""
    return tuple(Pair(f"covariate:{name}", o, "the wearer writes it down") for name in names for o in OWN_OUTCOMES)


AREA_PAIRS = tuple(Pair(factor, "area", "how much of it reaches the day's average") for factor in AREA_FACTORS)
"""Not of the file: they say how large, of what the file says is there."""


BELIEVED = ("carbs_g", "walk_after", "protein_first", "asleep_h", "stress")
"""What trials in people, or most who wear a sensor, say moves glucose (the reasons above)."""
BELIEVED_WEIGHT = 3.0
"""How much likelier than the others, as a weight among the tests of a file [1]; assumed, before any p was seen. Larger
finds more of these and less of all else: over three wears of 100 invented people 0.50 of walks instead of 0.41, 0.56 of
protein first instead of 0.46. 1 weighs all alike."""


def weigh(table: pd.DataFrame) -> np.ndarray:
    """How much each row's factor weighs among the tests, shape (n,)."""
    likely = table["factor"].isin(BELIEVED) & table["outcome"].map(KIND_OF).eq("glucose")
    return np.where(likely, BELIEVED_WEIGHT, 1.0)


def is_leading(table: pd.DataFrame) -> np.ndarray:
    """True for the one question by which a factor enters the family of tests, shape (n,).

    The first that is asked of it of one kind of outcome; of the wearer's own covariates every one.

    Parameters
    ----------
    table : DataFrame
        Rows of effects.csv, in the order of `PAIRS`.
    """
    seen = pd.DataFrame({"factor": table["factor"], "kind": table["outcome"].map(KIND_OF)})
    own = seen["factor"].str.startswith("covariate:")
    return (own | ~seen.duplicated()).to_numpy(bool)
