"""What goes in? The schema of a study folder: its TOML keys and its tables."""

from __future__ import annotations

from datetime import date, datetime

from glucolab.record.columns import Column, Key, Table
from glucolab.units import GLUCOSE_UNITS


def _amount(name: str, text: str, high: float | None = None) -> Column:
    """An optional amount, zero or more, and no more than can be eaten at once."""
    return Column(name, "number", text, low=0.0, high=high)


def _scale(name: str, text: str) -> Column:
    """An optional rating from 0 to 10."""
    return Column(name, "number", text, low=0.0, high=10.0)


STUDY_KEYS: dict[str, tuple[Key, ...]] = {
    "person": (
        Key("time_zone", "zone", "IANA name of the zone the person lives in", required=True, example="Europe/Lisbon"),
        Key("under_18", "true_false", "true: the tool describes and refuses to advise", False),
        Key("pregnant", "true_false", "true: the tool describes and refuses to advise", False),
        Key("glucose_lowering_medicine", "true_false", "true: the tool describes and refuses to advise", False),
    ),
    "show": (
        Key("unit", "choice", "what pages show; tables are always mg/dL", "mg/dL", choices=GLUCOSE_UNITS),
        Key("numbers", "true_false", "false: pages use words and shapes, no glucose figures", True),
    ),
    "goal": (
        Key("mean_mg_dl", "number", "reach a mean below this", example=95, low=50.0, high=300.0),
        Key("mean_mmol_l", "number", "the same in mmol/L; write one of the two", example=5.3, low=2.8, high=16.7),
        Key("start", "date", "from when the goal is pursued", example=date(2026, 1, 1)),
        Key("by", "date", "until when", example=date(2026, 9, 30)),
        Key("worth_noticing_mg_dl", "number", "a smaller difference is called too small to matter", 3.0, low=0.0, high=50.0),
    ),
    "range": (
        Key("low_mg_dl", "number", "lower edge of the band that minutes in range count", 70.0, low=30.0, high=300.0),
        Key("high_mg_dl", "number", "upper edge of that band", 140.0, low=31.0, high=500.0),
    ),
}  # fmt: skip

STUDY_FREE_KEYS: dict[str, Key] = {
    "describe": Key(
        "late_screen_min", "text",
        "a column of your own in days.csv, in words that anybody may read: glucolab share prints these instead of its name",
        example="screen use in the evening",
    ),
}  # fmt: skip
"""Sections of study.toml whose keys the wearer names, each with an example of one."""

WEAR_KEYS: tuple[Key, ...] = (
    Key("start", "time", "when it was inserted (local wall time, or with an offset)", required=True, example=datetime(2026, 2, 3, 8, 10)),
    Key("end", "time", "when it came off; absent: still running", example=datetime(2026, 2, 17, 7, 40)),
    Key("ended", "choice", "how it came off", choices=("removed", "fell_off", "failed"), example="removed"),
    Key("unit", "choice", "of every glucose value in this folder", required=True, choices=GLUCOSE_UNITS, example="mg/dL"),
    Key("sensor", "text", "free text: tells sensors apart", example="spare A"),
    Key("sensor_model", "text", "free text: one model's sensors share a systematic bias", example="model A"),
    Key("meter", "text", "free text: the meter behind checks.csv", example="kitchen meter"),
    Key("site", "text", "free text: where on the body", example="left upper arm"),
    Key("life_days", "number", "how long the sensor is made to last", example=14, low=0.5, high=400.0),
    Key("warm_up_hours", "number", "readings kept, flagged, not used", 24.0, low=0.0, high=240.0),
    Key("interval_min", "number", "sampling interval; absent: the median step", example=5, low=0.5, high=60.0),
    Key("memory_hours", "number", "how long the sensor remembers between scans; absent: it sends by itself", example=8, low=0.1, high=1000.0),
    Key("reads_from_mg_dl", "number", "the sensor's floor: a reading there is censored, not measured", 40.0, low=0.0, high=100.0),
    Key("reads_to_mg_dl", "number", "the sensor's ceiling", 400.0, low=150.0, high=1000.0),
    Key("log_ahead_min", "number", "how far the clock of what was logged is ahead of the sensor's: taken off its times", 0.0, low=-720.0, high=720.0),
    Key("time_zone", "zone", "overrides the study's; a change during a wear goes in notes.csv", example="America/Recife"),
)  # fmt: skip

GLUCOSE = Table(
    "glucose",
    "a row a sensor reading",
    (
        Column("time", "time", "when it was read", required=True),
        Column("glucose", "number", "in the wear's unit; `LO`, `HI`, `<40` and `>400` are read as floor and ceiling", required=True, low=0.0),
        Column("taken", "choice", "how it came", choices=("automatic", "by_hand")),
    ),
)  # fmt: skip

MEALS = Table(
    "meals",
    "a row a food or drink eaten",
    (
        Column("time", "time", "when eating began; may be empty where a photo has a capture time"),
        Column("name", "text", "what it was", required=True),
        # the 99th percentile of young men's days is 5,378 kcal (US reference intakes, table of 2005), fibre's mean 18 g a
        # day: one row with the energy of such a day, or five days' fibre, is a typing error
        _amount("carbs_g", "carbohydrate, as the label prints it [g]", 600.0),
        _amount("fiber_g", "fibre [g]", 90.0),
        _amount("protein_g", "protein [g]", 350.0),
        _amount("fat_g", "fat [g]", 350.0),
        _amount("energy_kcal", "energy [kcal]", 5400.0),
        _amount("alcohol_g", "alcohol [g]", 300.0),
        _amount("caffeine_mg", "caffeine [mg]", 3000.0),
        Column("eaten_first", "choice", "what was eaten first", choices=("carbs", "protein", "fiber", "mixed")),
        Column("setting", "choice", "where", choices=("home", "out")),
        Column("dish", "text", "the same word for the same dish: groups repeats"),
        Column("photo", "text", "file name in photos/"),
        Column("note", "text", "anything"),
    ),
)  # fmt: skip

ACTIVITY = Table(
    "activity",
    "a row a walk, workout or other movement",
    (
        Column("start", "time", "when it began", required=True),
        Column("minutes", "number", "how long [min]", required=True, low=0.0, high=2880.0),
        Column("kind", "text", "walk, run, strength, …", required=True),
        Column("effort", "choice", "how hard", choices=("light", "moderate", "vigorous")),
        Column("note", "text", "anything"),
    ),
)  # fmt: skip

MOVEMENT = Table(
    "movement",
    "a row a minute or a quarter of an hour, as a wrist writes it",
    (
        Column("time", "time", "when the minute, or the quarter of an hour, began", required=True),
        # an hour of running has some 10,000 steps, a wrist in a car park some more; running at 22 km/h is 23 METs
        # (compendium of physical activities, from memory)
        Column("steps", "number", "steps in it; 0 where none were made, empty where nothing was recorded", low=0.0, high=15000.0),
        Column("heart_rate_bpm", "number", "its mean heart rate [beats/min]; empty, or absent for hours: not worn", low=20.0, high=250.0),
        Column("mets", "number", "its mean energy use over that at rest [MET]", low=0.0, high=25.0),
        Column("source", "text", "which device"),
    ),
)  # fmt: skip

SLEEP = Table(
    "sleep",
    "a row a sleep, of one tracker",
    (
        Column("start", "time", "when it began", required=True),
        Column("end", "time", "when it ended", required=True),
        Column("source", "text", "which tracker"),
        Column("asleep_min", "number", "time asleep within it [min]", low=0.0, high=1440.0),
        Column("awakenings", "number", "how often awake", low=0.0, high=500.0),
        _scale("quality", "0-10"),
    ),
)  # fmt: skip

DAYS = Table(
    "days",
    "a row a local day",
    (
        Column("date", "date", "the local day", required=True),
        _scale("stress", "0-10"),
        _amount("caffeine_mg", "caffeine of the day [mg]"),
        Column("relaxation_min", "number", "breathing, meditation, … [min]", low=0.0, high=1440.0),
        _amount("steps", "steps"),
        Column("resting_hr_bpm", "number", "resting heart rate [beats/min]; empty: not measured", low=20.0, high=250.0),
        Column("hrv_ms", "number", "heart rate variability [ms]; empty: not measured", low=1.0, high=1000.0),
        Column("ill", "true_false", "ill that day"),
    ),
    covariates=True,
)  # fmt: skip

FEELINGS = Table(
    "feelings",
    "a row a moment at which feelings were noted",
    (
        Column("time", "time", "when", required=True),
        _scale("energy", "0-10"),
        _scale("focus", "0-10"),
        _scale("hunger", "0-10"),
        _scale("stress", "0-10"),
        Column("note", "text", "anything"),
    ),
)  # fmt: skip

CHECKS = Table(
    "checks",
    "a row a blood glucose value beside the sensor",
    (
        Column("time", "time", "when the blood was drawn", required=True),
        Column("glucose", "number", "in the wear's unit", required=True, low=0.0),
        Column("source", "choice", "from a finger or a vein", choices=("fingerstick", "venous")),
        Column("note", "text", "anything"),
    ),
)  # fmt: skip

NOTES = Table(
    "notes",
    "a row an event that the readings should be read with",
    (
        Column("start", "time", "when it began", required=True),
        Column("kind", "choice", "what it was", required=True,
               choices=("pressure", "heat", "knock", "swim", "travel", "medicine", "illness", "other")),
        Column("end", "time", "when it ended"),
        Column("time_zone", "zone", "for travel: the zone the clocks show from `start` on"),
        Column("note", "text", "anything"),
    ),
)  # fmt: skip

LABS = Table(
    "labs",
    "a row a laboratory value",
    (
        Column("date", "date", "when the blood was drawn", required=True),
        Column("analyte", "text", "what was measured", required=True),
        Column("value", "number", "the result", required=True),
        Column("unit", "text", "of the result", required=True),
        Column("time", "clock", "clock time of the draw, HH:MM"),
        Column("fasting", "true_false", "eight hours or more without food"),
        Column("method", "text", "of the laboratory"),
        Column("laboratory", "text", "which laboratory"),
        Column("low", "number", "the laboratory's lower limit"),
        Column("high", "number", "the laboratory's upper limit"),
    ),
)  # fmt: skip

TRIALS = Table(
    "trials",
    "a row a planned occasion of a self-experiment",
    (
        Column("date", "date", "the day drawn for it", required=True),
        Column("trial", "text", "name of the experiment", required=True),
        Column("arm", "text", "what is to be done that day", required=True),
        Column("time", "clock", "clock time, HH:MM; absent: the first meal of the dish that day"),
        Column("dish", "text", "the dish that is eaten"),
        Column("block", "text", "dates that were drawn among each other, as plan writes it; absent: within the wear"),
        Column("note", "text", "anything"),
    ),
)  # fmt: skip

WEAR_TABLES = {t.name: t for t in (GLUCOSE, MEALS, ACTIVITY, MOVEMENT, SLEEP, DAYS, FEELINGS, CHECKS, NOTES)}
STUDY_TABLES = {t.name: t for t in (LABS, TRIALS)}
INPUT_TABLES = WEAR_TABLES | STUDY_TABLES
