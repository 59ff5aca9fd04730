"""What goes with what, and what would a habit do? The schema of the tables on habits."""

from __future__ import annotations

from glucolab.record.columns import Table, name_columns

EFFECTS = Table("effects", "a row a factor and an outcome, estimated within wears", name_columns(
    ("factor", "text", "what was looked at"),
    ("outcome", "text", "what it goes with"),
    ("contrast", "text", "the comparison in words"),
    ("estimate", "number", "with minus without, or per the stated unit"),
    ("low", "number", "lower end of its 90 % interval"),
    ("high", "number", "upper end"),
    ("unit", "text", "of the estimate"),
    ("share", "number", "of what meals without it do: -0.3 is a third less; only for what scales a response [1]"),
    ("share_low", "number", "lower end of its 90 % interval [1]"),
    ("share_high", "number", "upper end [1]"),
    ("n_with", "count", "occasions or days with it; all of them for a measured factor"),
    ("n_without", "count", "without it"),
    ("n_alone", "count", "of the occasions, those with no other food or exercise within two hours; empty for days"),
    ("n_days", "count", "days they lie on"),
    ("p_value", "number", "permuting whole days within a wear"),
    ("q_value", "number", "over the file, a factor one test of glucose (weighted Benjamini-Hochberg), times 3.25 for looks"),
    ("verdict", "text", "lower, higher, too_small_to_matter, cannot_tell_yet or not_enough_data; over the own range"),
    ("needed", "count", "more days or occasions until it could tell; empty if it can or none would do"),
    ("range_from", "number", "lower end of the own range: the wearer's 10th percentile; 0 of a yes or no"),
    ("range_to", "number", "upper end: the 90th percentile; 1 of a yes or no"),
    ("range_estimate", "number", "the effect of going from one end to the other, in the outcome's unit"),
    ("range_low", "number", "lower end of its 90 % interval"),
    ("range_high", "number", "upper end"),
    ("stood", "count", "for how many wears running it has been claimed, at most 3 counted; empty where it is not"),
))  # fmt: skip

LEVERS = Table("levers", "a row a habit that could be changed, and what it would do to the day's average", name_columns(
    ("factor", "text", "the habit, as in effects.csv"),
    ("now", "number", "share of larger meals with it, or its mean a day in the factor's unit"),
    ("change", "text", "what would be changed, in words"),
    ("on_mean_mg_dl", "number", "change of the day's average, if the habit is the reason [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("source", "text", "effects: from what was lived"),
    ("verdict", "text", "lower, higher, too_small_to_matter, cannot_tell_yet or not_enough_data"),
))  # fmt: skip

AVERAGE_PARTS = Table("average_parts", "what the average of the last wear is made of; the rows add up", name_columns(
    ("part", "text", "level (as at night), food, movement, rhythm (being up), rest (hours without readings)"),
    ("mg_dl", "number", "what it adds to the average, as the study estimates that [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("wear", "text", "whose average it is"),
))  # fmt: skip

ENERGY_EFFECTS = Table("energy_effects", "a row a feeling and what glucose did after the meal before it", name_columns(
    ("feeling", "text", "energy or focus"),
    ("factor", "text", "rise_mg_dl or dip_mg_dl, of the last occasion"),
    ("contrast", "text", "the comparison in words"),
    ("estimate", "number", "points of the feeling per 10 mg/dL"),
    ("low", "number", "lower end of its 90 % interval"),
    ("high", "number", "upper end"),
    ("unit", "text", "of the estimate"),
    ("n", "count", "notes that could be used"),
    ("n_days", "count", "days they lie on"),
    ("p_value", "number", "permuting whole days within a wear"),
    ("q_value", "number", "adjusted over this file (Benjamini-Hochberg), times 3.25 for many looks"),
    ("verdict", "text", "lower, higher, too_small_to_matter, cannot_tell_yet or not_enough_data"),
    ("needed", "count", "more notes until it could tell; empty if it can or none under 200 would do"),
    ("range_from", "number", "10th percentile of the wearer's own rises or dips [mg/dL]"),
    ("range_to", "number", "90th percentile [mg/dL]"),
    ("range_estimate", "number", "points of the feeling from one end to the other"),
    ("range_low", "number", "lower end of its 90 % interval"),
    ("range_high", "number", "upper end"),
))  # fmt: skip
