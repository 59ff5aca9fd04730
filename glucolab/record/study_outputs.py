"""What comes out of a study? The schema of its tables and of its summary."""

from __future__ import annotations

import pandas as pd

from glucolab.record.columns import Key, Table, name_columns
from glucolab.record.habit_outputs import AVERAGE_PARTS, EFFECTS, ENERGY_EFFECTS, LEVERS
from glucolab.record.outputs import ESTIMATE, WEAR_OUTPUTS
from glucolab.record.trial_outputs import TRIAL_CARRY_OVER, TRIAL_DATES

PERIODS = Table("periods", "a row a wear or stretch", name_columns(
    ("level", "text", "wear or stretch"),
    ("name", "text", "of the wear, or first and last wear of the stretch"),
    ("start", "date", "first local day"),
    ("end", "date", "last local day"),
    ("days", "number", "length in days"),
    ("coverage", "number", "0-1"),
    ("mean_mg_dl", "number", "of blood over the period's own span [mg/dL]"),
    ("mean_low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("mean_high_mg_dl", "number", "upper end [mg/dL]"),
    ("usual_low_mg_dl", "number", "what living like this gives: lower end, days counted in [mg/dL]"),
    ("usual_high_mg_dl", "number", "upper end [mg/dL]"),
    ("sd_mg_dl", "number", "standard deviation [mg/dL]"),
    ("cv_percent", "number", "coefficient of variation [%]"),
    ("bias_mg_dl", "number", "mean of sensor minus blood at the wearer's own level [mg/dL]"),
    ("bias_low_mg_dl", "number", "lower end [mg/dL]"),
    ("bias_high_mg_dl", "number", "upper end [mg/dL]"),
    ("checks_used", "count", "blood values used"),
    ("probability_goal_met", "number", "that the true mean over this period's span lay below the goal, 0-1"),
))  # fmt: skip

COMPARISONS = Table("comparisons", "a row a pair of periods", name_columns(
    ("level", "text", "wear or stretch"),
    ("period_a", "text", "the earlier"),
    ("period_b", "text", "the later"),
    ("relation", "text", "later or overlapping"),
    ("difference_mg_dl", "number", "of the usual means, b - a: negative = lower later [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("probability_lower", "number", "that b is lower than a, 0-1"),
    ("verdict", "text", "lower, higher, too_small_to_matter, cannot_tell_yet or not_enough_data"),
    ("largest_block", "text", "night, morning, afternoon or evening: where most of the change lies, or unclear"),
    ("share_days", "number", "of the variance: which days happened to be worn, 0-1"),
    ("share_hours", "number", "which hours are missing, and noise, 0-1"),
    ("share_sensor", "number", "the sensors' bias, 0-1"),
    ("checks_needed", "count", "more checks in each until the half-width falls under what is worth noticing; empty if over 40 or out of reach"),
    ("changed", "text", "what else changed: site, model, meter, …"),
))  # fmt: skip

DISHES = Table("dishes", "a row a dish", name_columns(
    ("dish", "text", "the dish"),
    ("n", "count", "recorded eatings"),
    ("n_alone", "count", "of them, those with no other food or exercise within two hours"),
    ("rise_mg_dl", "number", "pooled toward the person's own average [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
))  # fmt: skip

DISH_PAIRS = Table("dish_pairs", "a row a pair of dishes", name_columns(
    ("dish_a", "text", "one"),
    ("dish_b", "text", "the other"),
    ("difference_mg_dl", "number", "rise of a minus rise of b [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("probability_a_higher", "number", "0-1"),
    ("verdict", "text", "of a against b"),
))  # fmt: skip

TRIAL_RESULTS = Table("trial_results", "a row a planned experiment, pair of arms and outcome", name_columns(
    ("trial", "text", "its name"),
    ("arm_a", "text", "one arm"),
    ("arm_b", "text", "the other"),
    ("outcome", "text", "what was compared"),
    ("n_a", "count", "usable occasions of a"),
    ("n_b", "count", "usable occasions of b"),
    ("difference", "number", "b minus a"),
    ("low", "number", "lower end of its 90 % interval"),
    ("high", "number", "upper end"),
    ("p_exact", "number", "over all ways the dates could have been drawn, at a size fixed beforehand"),
    ("verdict", "text", "of b against a; while dates are ahead, lower or higher only where stop says so"),
    ("p_anytime", "number", "valid however often it was looked at; 1 before any pair of dates is over"),
    ("stop", "true_false", "decided: no further date is needed"),
))  # fmt: skip

LAB_VALUES = Table("lab_values", "a row a laboratory value that is used", name_columns(
    ("date", "date", "of the draw"),
    ("time", "text", "HH:MM, of the draw, empty if not written"),
    ("analyte", "text", "what was measured; one that is not known here as it is written"),
    ("value", "number", "the result"),
    ("unit", "text", "of it"),
    ("fasting", "true_false", "marked as fasting"),
    ("compared", "true_false", "how far it varies within a person is known here, so that changes are judged; else it is only drawn"),
    ("meal_time", "text", "HH:MM of the last meal logged in the eight hours before a value marked as fasting, which is then in doubt"),
    ("meal", "text", "what that meal was"),
    ("minutes_since_meal", "number", "from it to the draw [min]"),
))  # fmt: skip

LAB_CHANGES = Table("lab_changes", "a row an analyte and two following dates", name_columns(
    ("analyte", "text", "what was measured"),
    ("date_a", "date", "the earlier draw"),
    ("date_b", "date", "the later"),
    ("value_a", "number", "earlier value"),
    ("value_b", "number", "later value"),
    ("unit", "text", "of both"),
    ("change_percent", "number", "[%]"),
    ("reference_change_percent", "number", "what a change in this direction must exceed to be more than noise, 95 % two-sided [%]"),
    ("verdict", "text", "lower, higher, cannot_tell_yet or not_enough_data"),
))  # fmt: skip

LABS_AND_SENSOR = Table("labs_and_sensor", "a row a laboratory value beside a period's figure", name_columns(
    ("date", "date", "of the draw"),
    ("analyte", "text", "what was measured"),
    ("value", "number", "the result"),
    ("unit", "text", "of it"),
    ("period", "text", "the wear it is set beside"),
    ("sensor_figure", "text", "which figure of the sensor"),
    ("sensor_value", "number", "that figure [mg/dL]"),
    ("low", "number", "lower end of its 90 % interval [mg/dL]"),
    ("high", "number", "upper end [mg/dL]"),
))  # fmt: skip

NEXT_CHECKS = Table("next_checks", "a row a number of finger-sticks in the next wear", name_columns(
    ("checks", "count", "finger-sticks, spread over the wear while glucose is steady"),
    ("mean_half_mg_dl", "number", "half-width of that wear's mean, 90 % [mg/dL]"),
    ("usual_half_mg_dl", "number", "half-width of its usual mean, days counted in [mg/dL]"),
    ("change_half_mg_dl", "number", "half-width of its difference from the latest wear [mg/dL]"),
    ("smallest_change_mg_dl", "number", "a true change that would be told four times out of five [mg/dL]"),
    ("chance_goal_told", "number", "that the interval of its mean leaves the goal on one side, if life stays as it is; empty without a goal, 0-1"),
    ("advised", "true_false", "beyond it two more hardly narrow a change"),
))  # fmt: skip

NEXT_QUESTIONS = Table("next_questions", "a row a question of effects.csv that is open and that further wears may tell", name_columns(
    ("factor", "text", "what is looked at"),
    ("outcome", "text", "what it may go with"),
    ("contrast", "text", "the comparison in words"),
    ("estimate", "number", "so far"),
    ("low", "number", "lower end of its 90 % interval"),
    ("high", "number", "upper end"),
    ("unit", "text", "of the estimate"),
    ("rows_now", "count", "days or occasions so far"),
    ("rows_next", "count", "of them expected in the next wear, if habits stay"),
    ("chance_told", "number", "that the next wear tells it: lower, higher or too small to matter, 0-1"),
    ("wears_needed", "count", "wears until it is told four times out of five; empty if over six"),
    ("on_mean_mg_dl", "number", "how much the habit may change the day's average, either way; empty for what is no lever [mg/dL]"),
))  # fmt: skip

LAB_INDICES = Table("lab_indices", "a row an insulin value with the glucose of its draw", name_columns(
    ("date", "date", "of the draw"),
    ("time", "text", "HH:MM, of the draw, empty if not written"),
    ("index", "text", "homa_ir: glucose in mmol/L times insulin in mIU/L over 22.5, both fasting"),
    ("value", "number", "of this draw [1]"),
    ("low", "number", "lower end of where the person's own level may lie, given one draw [1]"),
    ("high", "number", "upper end [1]"),
    ("level", "number", "of the interval, 0-1"),
    ("glucose_mg_dl", "number", "of the draw [mg/dL]"),
    ("insulin_miu_l", "number", "of the draw [mIU/L]"),
    ("reason", "text", "why there is no value: not_fasting, no_glucose, several_glucose; empty if there is one"),
))  # fmt: skip

LAB_CHECKS = Table("lab_checks", "a row a laboratory glucose and a wear at whose time it was drawn", name_columns(
    ("date", "date", "of the draw"),
    ("time", "text", "HH:MM, of the draw, on the clocks of that day; empty if not written"),
    ("wear", "text", "worn then"),
    ("value_mg_dl", "number", "the laboratory's glucose [mg/dL]"),
    ("raw_mg_dl", "number", "the sensor's nearest reading as measured [mg/dL]"),
    ("sensor_mg_dl", "number", "the wear's estimate of blood at that time, lag and bias removed [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval, the sensor's bias counted in [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("difference_mg_dl", "number", "estimate minus laboratory: positive = the sensor's estimate is higher [mg/dL]"),
    ("difference_low_mg_dl", "number", "lower end, the laboratory's own error and the minute of the draw counted in [mg/dL]"),
    ("difference_high_mg_dl", "number", "upper end [mg/dL]"),
    ("verdict", "text", "of the estimate against the laboratory; cannot_tell_yet: no further apart than is to be expected"),
    ("check_line", "count", "line of the wear's checks.csv that holds this value already; empty if none does"),
    ("reason", "text", "why there is no figure: no_time, no_reading; empty if there is one"),
))  # fmt: skip

HABIT_CHANGES = Table("habit_changes", "a row a wear, the wear before it and a habit, as written down", name_columns(
    ("wear_a", "text", "the earlier wear"),
    ("wear_b", "text", "the later one"),
    ("habit", "text", "column of daily.csv"),
    ("unit", "text", "of the means, a day"),
    ("mean_a", "number", "of the earlier wear's days"),
    ("mean_b", "number", "of the later one's"),
    ("difference", "number", "later minus earlier"),
    ("low", "number", "lower end of its 90 % interval"),
    ("high", "number", "upper end"),
    ("days_a", "count", "days on which it is known"),
    ("days_b", "count", "days on which it is known"),
    ("p_value", "number", "Welch's t, grown for days that resemble each other"),
    ("q_value", "number", "adjusted over the habits of the pair (Benjamini-Hochberg)"),
    ("verdict", "text", "lower, higher, cannot_tell_yet or not_enough_data"),
))  # fmt: skip

CHECK_AGREEMENT = Table("check_agreement", "a row a wear: the sensor as measured beside its finger-sticks", name_columns(
    ("wear", "text", "name of the wear"),
    ("sensor_model", "text", "of wear.toml"),
    ("meter", "text", "behind the finger-sticks; its own error is in every difference"),
    ("n", "count", "finger-sticks with a usable reading within 15 min"),
    ("difference_mg_dl", "number", "mean of reading minus finger-stick; empty below three [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval, the meter's error not counted in [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("sd_mg_dl", "number", "standard deviation of single differences [mg/dL]"),
    ("limit_low_mg_dl", "number", "lower limit of agreement, mean - 1.96 SD; empty below eight [mg/dL]"),
    ("limit_low_low_mg_dl", "number", "lower end of that limit's 90 % interval [mg/dL]"),
    ("limit_low_high_mg_dl", "number", "upper end [mg/dL]"),
    ("limit_high_mg_dl", "number", "upper limit of agreement, mean + 1.96 SD [mg/dL]"),
    ("limit_high_low_mg_dl", "number", "lower end of that limit's 90 % interval [mg/dL]"),
    ("limit_high_high_mg_dl", "number", "upper end [mg/dL]"),
    ("slope", "number", "of the difference on the mean of both: how it goes with the level [mg/dL per mg/dL]"),
    ("slope_low", "number", "lower end of its 90 % interval"),
    ("slope_high", "number", "upper end"),
    ("slope_told", "true_false", "that the slope is not nil, one false claim in ten shared over the wears"),
))  # fmt: skip

SPREAD_SHARES = Table("spread_shares", "a row a figure of days and a group of habits", name_columns(
    ("outcome", "text", "mean_mg_dl or sd_mg_dl of a day"),
    ("group", "text", "sleep, stress, food, movement, or together"),
    ("made_of", "text", "columns of daily.csv that stand for it; empty: not written on most days"),
    ("share", "number", "of the variance between days of a wear that the other groups leave; together: of all of it [0-1]"),
    ("low", "number", "lower end of its 90 % interval"),
    ("high", "number", "upper end"),
    ("n_days", "count", "days on which all of it is known"),
    ("days_needed", "count", "more days until the interval is at most 0.4 wide; empty if it is"),
))  # fmt: skip

LOG_PREDICTION = Table("log_prediction", "one row: rises predicted from the log, days left out in turn; written by `report` alone", name_columns(
    ("n_meals", "count", "usable meals"),
    ("n_days", "count", "days they lie on"),
    ("error_log_mg_dl", "number", "root mean square error of the rise predicted from the log [mg/dL]"),
    ("error_average_mg_dl", "number", "of the wearer's own average in that wear [mg/dL]"),
    ("error_ratio", "number", "the first over the second: below 1 = the log does better [1]"),
    ("low", "number", "lower end of its 90 % interval, whole days resampled [1]"),
    ("high", "number", "upper end [1]"),
    ("verdict", "text", "better, no_better (by a twentieth or more), cannot_tell_yet or not_enough_data"),
))  # fmt: skip

FORECASTS = Table("forecasts", "a row a judged occasion, predicted from the meals of earlier days alone", name_columns(
    ("time", "time", "of the occasion, moved where the log's clock is surely off"),
    ("wear", "text", "name of the wear"),
    ("dish", "text", "the dish, if one"),
    ("forecast_mg_dl", "number", "the rise predicted [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval, from what earlier forecasts missed by [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("usual_mg_dl", "number", "mean rise of the meals of earlier days, to set beside it [mg/dL]"),
    ("rise_mg_dl", "number", "the rise that came [mg/dL]"),
    ("held", "true_false", "it lay within the interval"),
))  # fmt: skip

STUDY_OUTPUTS = {t.name: t for t in (
    PERIODS, COMPARISONS, HABIT_CHANGES, EFFECTS, LEVERS, AVERAGE_PARTS, DISHES, DISH_PAIRS, FORECASTS, TRIAL_RESULTS,
    TRIAL_DATES, TRIAL_CARRY_OVER, LAB_VALUES, LAB_CHANGES, LABS_AND_SENSOR, LAB_INDICES, LAB_CHECKS, CHECK_AGREEMENT, ENERGY_EFFECTS,
    SPREAD_SHARES, NEXT_CHECKS, NEXT_QUESTIONS,
)}  # fmt: skip
REPORT_OUTPUTS = {LOG_PREDICTION.name: LOG_PREDICTION}
"""Of the study too, but worked out where pages are made: it takes longer than `measure` may."""

OUTPUT_TABLES = WEAR_OUTPUTS | STUDY_OUTPUTS | REPORT_OUTPUTS


def empty_output(name: str) -> pd.DataFrame:
    """A table of the contract without rows."""
    return pd.DataFrame(columns=OUTPUT_TABLES[name].names)


STUDY_SUMMARY_KEYS: tuple[Key, ...] = (
    Key("contract", "count", "version of this contract"),
    Key("goal", "{mean_mg_dl, start, by, worth_noticing_mg_dl}", "the goal, or null"),
    Key("trend", ESTIMATE, "change of the usual mean per 30 days, from four stretches on, else null [mg/dL]"),
    Key("versions", "{package: version}", "what computed it"),
    Key("input_hashes", "{file: SHA-256}", "of every file read"),
    Key("problems", "list of text", "what was wrong with the input, file and line"),
    Key("withheld", "{figure: sentence}", "figures that the data cannot support, and why"),
    Key("cautions", "list of text", "the sentences that apply"),
)  # fmt: skip
