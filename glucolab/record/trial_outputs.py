"""What comes out of a planned experiment beside its result? The schema of its dates and of its carry-over."""

from __future__ import annotations

from glucolab.record.columns import Table, name_columns
from glucolab.record.outputs import RESPONSE_REASONS

NOT_YET = ("ahead",)
OF_THE_PLAN = ("no_other_arm",)
TRIAL_REASONS = (
    *RESPONSE_REASONS, "not_worn", "not_found", "not_said", "two_arms", "planned_twice", *OF_THE_PLAN, *NOT_YET,
)  # fmt: skip
"""Why a planned date is not used. `not_worn`: no sensor that day; `not_found`: nothing such was logged that day;
`not_said`: trials.csv names neither a dish nor a time; `two_arms`: one occasion planned for two arms;
`planned_twice`: a second row for the same occasion; `no_other_arm`: usable, but its wear has no usable occasion of
another arm; `ahead`: after the last day of all wears, or not logged yet on the last day of a running one."""

TRIAL_DATES = Table("trial_dates", "a row a planned date of a planned experiment", name_columns(
    ("date", "date", "the day planned"),
    ("trial", "text", "its name"),
    ("arm", "text", "what was to be done"),
    ("dish", "text", "the dish, as planned"),
    ("block", "text", "dates drawn among each other, as planned; empty: within the wear"),
    ("time", "clock", "local time of the occasion found; empty if none was"),
    ("wear", "text", "the wear it was found in"),
    ("used", "true_false", "it counts in trial_results.csv"),
    ("reason", "text", "why not: as in meal_responses.csv, or not_worn, not_found, not_said, two_arms, planned_twice, no_other_arm, ahead"),
    ("walk_after", "true_false", "a walk or light effort was logged after it, or found in movement.csv; empty where nobody would know"),
    ("eaten_first", "text", "what was eaten first, as logged"),
    ("rise_mg_dl", "number", "the rise after it, whether it is used or not [mg/dL]"),
    ("iauc_2h_mg_dl_min", "number", "the area under the rise over two hours [mg/dL min]"),
))  # fmt: skip

TRIAL_CARRY_OVER = Table("trial_carry_over", "a row a planned experiment, pair of arms and outcome: whether the time before still shows", name_columns(
    ("trial", "text", "its name"),
    ("arm_a", "text", "one arm"),
    ("arm_b", "text", "the other"),
    ("outcome", "text", "what was compared"),
    ("n_after_a", "count", "usable occasions whose previous one, at most two days before, was a"),
    ("n_after_b", "count", "whose previous one was b"),
    ("difference", "number", "after b minus after a, adjusted for own arm and wear"),
    ("low", "number", "lower end of its 90 % interval"),
    ("high", "number", "upper end"),
    ("p_exact", "number", "over all ways of dealing the previous arms among occasions of one arm and wear"),
    ("verdict", "text", "of after b against after a"),
))  # fmt: skip

TRIAL_CURVES = Table("trial_curves", "a row five minutes of a date that counts: glucose after eating, from its own start", name_columns(
    ("trial", "text", "its name"),
    ("arm", "text", "what was to be done"),
    ("date", "date", "the day planned"),
    ("minutes", "number", "from eating on, -30 to 180 [min]"),
    ("above_mg_dl", "number", "above the mean of the half hour before; empty where nothing was recorded [mg/dL]"),
))  # fmt: skip
