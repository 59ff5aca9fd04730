"""What shape do the data have? The study, its wears, and the schema of every table in and out."""

from glucolab.record.columns import Column, Key, Table
from glucolab.record.inputs import (
    INPUT_TABLES,
    STUDY_FREE_KEYS,
    STUDY_KEYS,
    STUDY_TABLES,
    WEAR_KEYS,
    WEAR_TABLES,
)
from glucolab.record.outputs import (
    FLAGS,
    GAP_KINDS,
    LINKS,
    RESPONSE_REASONS,
    VERDICTS,
    WEAR_OUTPUTS,
    WEAR_SUMMARY_KEYS,
)
from glucolab.record.people_outputs import PEOPLE_OUTPUTS
from glucolab.record.study import ByName, Goal, Person, Study, WearPeriod, empty_table
from glucolab.record.study_outputs import (
    CURVES,
    OUTPUT_TABLES,
    REPORT_OUTPUTS,
    SO_FAR_OUTPUTS,
    STUDY_OUTPUTS,
    STUDY_SUMMARY_KEYS,
    empty_output,
)

__all__ = [
    "CURVES",
    "FLAGS",
    "GAP_KINDS",
    "INPUT_TABLES",
    "LINKS",
    "OUTPUT_TABLES",
    "PEOPLE_OUTPUTS",
    "REPORT_OUTPUTS",
    "RESPONSE_REASONS",
    "SO_FAR_OUTPUTS",
    "STUDY_FREE_KEYS",
    "STUDY_KEYS",
    "STUDY_OUTPUTS",
    "STUDY_SUMMARY_KEYS",
    "STUDY_TABLES",
    "VERDICTS",
    "WEAR_KEYS",
    "WEAR_OUTPUTS",
    "WEAR_SUMMARY_KEYS",
    "WEAR_TABLES",
    "ByName",
    "Column",
    "Goal",
    "Key",
    "Person",
    "Study",
    "Table",
    "WearPeriod",
    "empty_output",
    "empty_table",
]  # fmt: skip
