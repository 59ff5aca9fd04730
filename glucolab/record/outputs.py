"""What comes out of one wear? The schema of its tables and of its summary."""

from __future__ import annotations

from glucolab.record.columns import Key, Table, name_columns

FLAGS = {
    "warm_up": "the sensor's first hours",
    "pressure": "lying on the sensor: a fall and recovery that glucose does not make",
    "jump": "a step faster than physiology",
    "stuck": "the same value for too long",
    "limit": "at the sensor's floor or ceiling: censored, not measured",
    "duplicate": "a second reading for the same moment",
    "clock": "time runs back or is ambiguous",
    "loosening": "the sensor's last days, or peeling: noted, still used",
    "noted": "in a span the wearer noted; a noted pressure, heat or knock excludes",
}

GAP_KINDS = ("missed_scan", "signal_lost", "between_wears", "ended_early", "flagged", "unknown")
LINKS = ("sensor", "exercise", "meal", "stress", "early_morning", "unexplained")
RESPONSE_REASONS = (
    "no_baseline", "gap", "flagged", "next_occasion", "exercise", "outside_wear", "time_uncertain", "minor",
)  # fmt: skip
VERDICTS = ("lower", "higher", "too_small_to_matter", "cannot_tell_yet", "not_enough_data")


READINGS = Table("readings", "every input reading, in order, none dropped", name_columns(
    ("time", "time", "when it was read, ISO 8601 with offset"),
    ("glucose_raw_mg_dl", "number", "as measured [mg/dL]"),
    ("glucose_mg_dl", "number", "estimate of blood glucose at that time, lag and bias removed; empty where not usable [mg/dL]"),
    ("flags", "text", "joined with `;`, empty = clean"),
))  # fmt: skip

FLAG_SPANS = Table("flags", "a row a flagged span", name_columns(
    ("start", "time", "first moment of the span"),
    ("end", "time", "first moment after it"),
    ("minutes", "number", "length [min]"),
    ("flag", "text", "which flag"),
    ("action", "text", "exclude or note"),
))  # fmt: skip

GAPS = Table("gaps", "a row a span without usable readings", name_columns(
    ("start", "time", "end of the last usable reading's interval"),
    ("end", "time", "next usable reading"),
    ("minutes", "number", "length [min]"),
    ("kind", "text", "missed_scan, signal_lost, between_wears, ended_early, flagged or unknown"),
))  # fmt: skip

DAILY = Table("daily", "a row a local day", name_columns(
    ("date", "date", "the local day"),
    ("coverage", "number", "usable minutes over the minutes of the local day, 0-1"),
    ("enough", "true_false", "coverage at least 0.7, and at least 0.5 in each six-hour block; otherwise figures are empty"),
    ("mean_mg_dl", "number", "mean of the trace [mg/dL]"),
    ("sd_mg_dl", "number", "standard deviation within the day [mg/dL]"),
    ("cv_percent", "number", "coefficient of variation [%]"),
    ("overnight_mean_mg_dl", "number", "mean of the trace in the night that ends this day [mg/dL]"),
    ("night_source", "text", "the tracker, `sleep` where it has no name, or `clock` for 00:00-06:00"),
    ("minutes_below", "number", "of the trace below the range [min]"),
    ("minutes_in_range", "number", "of the trace in the range, edges included [min]"),
    ("minutes_above", "number", "of the trace above the range [min]"),
    ("excursions", "count", "excursions that start this day"),
    ("carbs_g", "number", "logged carbohydrate [g]"),
    ("fiber_g", "number", "logged fibre [g]"),
    ("asleep_h", "number", "asleep in the night that ends this day [h]"),
    ("stress", "number", "0-10"),
    ("caffeine_mg", "number", "as noted for the day, else the sum over meals [mg]"),
    ("relaxation_min", "number", "as noted [min]"),
    ("exercise_min", "number", "logged activity, found walks left out [min]"),
    ("steps_source", "text", "who counted the day's `steps`, if anybody: `days` (days.csv), or the device of movement.csv, `movement` where it has no name"),
))  # fmt: skip

MEAL_RESPONSES = Table("meal_responses", "a row an occasion: meals within 20 min of each other", name_columns(
    ("time", "time", "the first meal's time"),
    ("time_source", "text", "written or photo"),
    ("name", "text", "names of what was eaten, joined with ` + `"),
    ("dish", "text", "the dish, if one"),
    ("carbs_g", "number", "carbohydrate [g]"),
    ("fiber_g", "number", "fibre [g]"),
    ("protein_g", "number", "protein [g]"),
    ("fat_g", "number", "fat [g]"),
    ("setting", "text", "home or out"),
    ("eaten_first", "text", "carbs, protein, fiber or mixed"),
    ("walk_after", "true_false", "a walk or light effort of 5 min or more, logged or found in movement.csv, that starts 0-45 min after; empty where nobody would know"),
    ("baseline_mg_dl", "number", "mean of the trace in the 30 min before [mg/dL]"),
    ("rise_mg_dl", "number", "highest value within two hours minus baseline [mg/dL]"),
    ("rise_low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("rise_high_mg_dl", "number", "upper end [mg/dL]"),
    ("time_to_peak_min", "number", "to the first maximum; empty if the rise is under 10 mg/dL or still climbing [min]"),
    ("iauc_2h_mg_dl_min", "number", "incremental area under the curve, two hours, FAO/ISO 26642 [mg/dL min]"),
    ("iauc_3h_mg_dl_min", "number", "the same over three hours [mg/dL min]"),
    ("net_area_3h_mg_dl_min", "number", "area over three hours, what lies below the baseline taken off [mg/dL min]"),
    ("dip_mg_dl", "number", "baseline minus the lowest value from two to three hours after; 0 if none lies below [mg/dL]"),
    ("return_min", "number", "until 15 min after the peak lie at or under baseline + 5 [min]"),
    ("coverage", "number", "of the two hours after, 0-1"),
    ("usable_2h", "true_false", "the two-hour figures may be used"),
    ("usable_3h", "true_false", "the three-hour figures may be used"),
    ("reason", "text", "why not, joined with `;`"),
    ("walk_source", "text", "who says that there was a walk: `logged` (activity.csv) or `found` (movement.csv)"),
))  # fmt: skip

EXCURSIONS = Table("excursions", "a row a time of 15 min or more at 20 mg/dL or more above the wear's median", name_columns(
    ("start", "time", "when it began"),
    ("peak_time", "time", "when it stood highest"),
    ("end", "time", "when it was over"),
    ("minutes", "number", "length [min]"),
    ("peak_mg_dl", "number", "highest value of the trace [mg/dL]"),
    ("rise_mg_dl", "number", "above the wear's median [mg/dL]"),
    ("linked_to", "text", "the first match leads, further ones follow after `;`"),
    ("linked_row", "text", "file and line of what it is linked to"),
))  # fmt: skip

ENERGY = Table("energy", "a row a feeling", name_columns(
    ("time", "time", "when it was noted"),
    ("energy", "number", "0-10"),
    ("focus", "number", "0-10"),
    ("hunger", "number", "0-10"),
    ("minutes_since_occasion", "number", "since the last occasion began [min]"),
    ("rise_mg_dl", "number", "that occasion's rise [mg/dL]"),
    ("dip_mg_dl", "number", "that occasion's dip [mg/dL]"),
    ("slope_mg_dl_min", "number", "slope of the trace over the 30 min before [mg/dL per min]"),
))  # fmt: skip

ALL_WALKS = Table("walks", "a row a walk, logged or found in movement.csv", name_columns(
    ("start", "time", "when it began"),
    ("minutes", "number", "length [min]"),
    ("steps", "number", "of a found walk, its steps"),
    ("effort", "text", "light, moderate or vigorous; of a found walk light under 100 steps a minute, else moderate, and empty where rows are longer than five minutes"),
    ("source", "text", "`logged` or `found`"),
    ("row", "text", "file and line: `activity.csv:3`, or of a found walk the first line of movement.csv that it was found in"),
))  # fmt: skip

WEAR_OUTPUTS = {t.name: t for t in (READINGS, FLAG_SPANS, GAPS, DAILY, MEAL_RESPONSES, EXCURSIONS, ENERGY, ALL_WALKS)}

ESTIMATE = "{estimate, low, high, level}"

WEAR_SUMMARY_KEYS: tuple[Key, ...] = (
    Key("contract", "count", "version of this contract"),
    Key("wear", "text", "name of the wear's folder"),
    Key("unit", "text", "always mg/dL"),
    Key("state", "text", "running or ended"),
    Key("coverage", "number", "usable minutes over the minutes from the end of warm-up to the end of the wear"),
    Key("days", "number", "from insertion to removal, or to the last reading while it runs"),
    Key("readings", "count", "rows of readings.csv"),
    Key("readings_used", "count", "of them usable"),
    Key("mean", ESTIMATE, "mean blood glucose over this wear's own span: gaps, lag and sensor counted in [mg/dL]"),
    Key("ill_days", "count", "days of illness among these, counted in"),
    Key("mean_without_ill_days", ESTIMATE, "the same mean without them; null where there is none [mg/dL]"),
    Key("sd", ESTIMATE, "standard deviation over the same span [mg/dL]"),
    Key("cv_percent", ESTIMATE, "coefficient of variation [%]"),
    Key("usual_mean", ESTIMATE, "what living like this gives: the days' own spread counted in too [mg/dL]"),
    Key("usual_mean_error_shares", "{days, hours, sensor}", "of its variance; they add to 1"),
    Key("minutes_per_day", "{below_range, in_range, above_range}", "minutes a day, each an estimate [min]"),
    Key("overnight_mean", ESTIMATE, "mean over the nights [mg/dL]"),
    Key("excursions_per_day", ESTIMATE, "excursions a day"),
    Key("excursions_per_day_without_exercise", ESTIMATE, "the same without those linked to exercise first"),
    Key("dips_per_day", ESTIMATE, "dips of 10 mg/dL or more below baseline two to three hours after eating, a day"),
    Key("lag_min", ESTIMATE, "interstitial lag [min]"),
    Key("bias_mg_dl", ESTIMATE, "mean of sensor minus blood at the wearer's own level [mg/dL]"),
    Key("log_clock_min", ESTIMATE, "how far the log's clock is ahead of the sensor's: positive = its times are later [min]"),
    Key("checks_used", "count", "blood values used"),
    Key("checks_doubted", "list of text", "of them those that agree so badly with the others that they hardly count"),
    Key("flag_minutes", "{flag: minutes}", "time under each flag [min]"),
    Key("gap_minutes", "{kind: minutes}", "time in each kind of gap [min]"),
    Key("next_file", "text", "the one missing table that would tell most, or null"),
    Key("next_file_why", "text", "why"),
    Key("withheld", "{figure: sentence}", "figures that the data cannot support, and why"),
    Key("cautions", "list of text", "the sentences that apply"),
)  # fmt: skip
