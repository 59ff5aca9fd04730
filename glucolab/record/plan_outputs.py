"""What comes out of a plan? The schema of its tables."""

from __future__ import annotations

from glucolab.record.columns import Table, name_columns
from glucolab.record.study_outputs import NEXT_CHECKS, NEXT_QUESTIONS

NEXT_CHECK_TIMES = Table("next_check_times", "a row a finger-stick of the next wear", name_columns(
    ("time", "time", "when to take it"),
    ("usual_mg_dl", "number", "what glucose usually is at that time of day [mg/dL]"),
    ("usual_slope_mg_dl_min", "number", "how fast it usually moves then, rising or falling [mg/dL per min]"),
))  # fmt: skip

NEXT_REPEATS = Table("next_repeats", "a row a number of repeats of the experiment", name_columns(
    ("repeats", "count", "occasions in each arm that can be judged"),
    ("chance_told", "number", "that they tell the difference looked for, by simulation, 0-1"),
))  # fmt: skip

NEXT_TRIAL = Table("next_trial", "a row a date of the experiment, as trials.csv takes it", name_columns(
    ("date", "date", "the day drawn"),
    ("trial", "text", "name of the experiment"),
    ("arm", "text", "what is to be done that day"),
    ("time", "text", "empty: the first meal of the dish that day"),
    ("dish", "text", "the dish that is eaten"),
    ("block", "text", "dates drawn among each other: one of each arm"),
    ("note", "text", "how"),
))  # fmt: skip

PLAN_OUTPUTS = {t.name: t for t in (NEXT_CHECKS, NEXT_CHECK_TIMES, NEXT_QUESTIONS, NEXT_REPEATS, NEXT_TRIAL)}
