"""What comes out of many studies? The schema of the tables over all people."""

from __future__ import annotations

from glucolab.record.columns import Column, Table, name_columns
from glucolab.record.habit_outputs import EFFECTS
from glucolab.record.study_outputs import COMPARISONS, PERIODS

PEOPLE = Table("people", "a row a study", name_columns(
    ("person", "text", "path of the study below the folder of all"),
    ("state", "text", "done or failed"),
    ("reason", "text", "why it failed"),
    ("wears", "count", "that could be analysed"),
    ("left_out", "count", "rows, files or wears that were not used: left_out.csv names them"),
    ("last_wear", "text", "the latest wear, and all figures to its right are of it"),
    ("end", "date", "its last local day"),
    ("coverage", "number", "0-1"),
    ("mean_mg_dl", "number", "of blood over its own span [mg/dL]"),
    ("mean_low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("mean_high_mg_dl", "number", "upper end [mg/dL]"),
    ("usual_low_mg_dl", "number", "what living like this gives: lower end, days counted in [mg/dL]"),
    ("usual_high_mg_dl", "number", "upper end [mg/dL]"),
    ("checks_used", "count", "blood values used"),
    ("goal_mg_dl", "number", "this person's own goal; empty where the tool only describes [mg/dL]"),
    ("probability_goal_met", "number", "that the true mean lay below the goal, 0-1"),
    ("compared_with", "text", "the wear before it"),
    ("difference_mg_dl", "number", "of the usual means: negative = lower than the wear before [mg/dL]"),
    ("low_mg_dl", "number", "lower end of its 90 % interval [mg/dL]"),
    ("high_mg_dl", "number", "upper end [mg/dL]"),
    ("verdict", "text", "lower, higher, too_small_to_matter, cannot_tell_yet or not_enough_data"),
    ("cautions", "text", "that go with the figures, a line each"),
))  # fmt: skip

LEFT_OUT = Table("left_out", "a row a thing that was not used", name_columns(
    ("person", "text", "path of the study below the folder of all"),
    ("file", "text", "below that study; empty if it is the study or the folder itself"),
    ("line", "count", "of the file, as a text editor counts"),
    ("text", "text", "what was found"),
))  # fmt: skip


def _of_all(table: Table) -> Table:
    """A study's table with a column that says whose row it is."""
    return Table(f"people_{table.name}", table.text, (Column("person", "text", PEOPLE["person"].text), *table.columns))


PEOPLE_OUTPUTS = {t.name: t for t in (PEOPLE, _of_all(PERIODS), _of_all(COMPARISONS), _of_all(EFFECTS), LEFT_OUT)}
