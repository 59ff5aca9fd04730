"""What do the README files of a study folder and of a report folder say? Both made from the schema."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

from glucolab.reading.new_wear import toml_value
from glucolab.record import (
    FLAGS,
    PEOPLE_OUTPUTS,
    REPORT_OUTPUTS,
    STUDY_KEYS,
    STUDY_OUTPUTS,
    STUDY_SUMMARY_KEYS,
    STUDY_TABLES,
    WEAR_KEYS,
    WEAR_OUTPUTS,
    WEAR_SUMMARY_KEYS,
    WEAR_TABLES,
    Column,
    Key,
    Table,
)

_KINDS = {
    "time": "time",
    "date": "date",
    "number": "number",
    "count": "whole number",
    "text": "text",
    "choice": "word",
    "true_false": "true or false",
    "zone": "time zone",
    "clock": "HH:MM",
}

_STUDY_INTRO = """# A study folder

This folder is a whole study of an invented person, made by `glucolab demo`, and this page explains how such a
folder is written. Start one of your own with `glucolab new STUDY WEAR`, fill it in a text editor or a spreadsheet, and
let `glucolab check STUDY` list whatever cannot be read, each with its file, line and column.

```
my_study/
  study.toml                     the person
{study_files}
  wear_periods/
    2026-02_winter_1/            a folder a wear: one sensor on the skin
      wear.toml                  the sensor, start and end, unit
{wear_files}
      photos/                    food photos, optional
```

Two sensors side by side are two wears that overlap. Nothing in this folder is ever written to by the other commands.

## The invented year

Four wears of a stage carpenter who wants an average below 95 mg/dL. Of many years that the simulator drew, this one was
chosen because it shows each of these: the goal is reached on the last wear; one habit is proven by an experiment with
random dates (a walk after porridge, in autumn); one finding of the first wears is gone once the next wear has come; and
one question is still open. Nothing was changed in its tables after they were drawn, and what is true of this life is
known. Your own year will hardly be as clear.
"""

_TABLES_INTRO = """## Tables

A table is a CSV file with a header, saved as UTF-8. The order of the columns does not matter; only those marked
*required* must be there.

- **Times** are ISO 8601: `2026-02-03T08:10`, or with seconds, or with an offset, `2026-02-03T08:10:00+01:00`. Without
  an offset they are what the wearer's clock showed. A time that the spring clock change skips is an error; one that
  autumn repeats is taken as the first, unless the order of the rows shows the second.
- **A trip** is a row of `notes.csv` of kind travel with a `time_zone`: from its start on (read on the clocks before it)
  times are read in that zone, until its end (read on the clocks of the trip) or the next such row.
- **Empty** means not recorded, never zero.
- **Numbers** have a decimal point. A decimal comma is read too, where semicolons or tabs stand between the cells, or
  where the cell is in quotation marks; `1,234` is refused, for it may mean two things.
- **Further columns** are kept. In `days.csv` every further column of numbers or of true and false is a covariate;
  a name that `daily.csv` of a report has is refused.
- **A cell that cannot be read** is reported and left empty, or the row is left out where the column is required. The
  rest is used.
"""

_REPORT_INTRO = """# A report folder

Reports land here; git ignores all but this page. `glucolab measure STUDY --out DIR` writes the tables,
`glucolab report STUDY --out DIR` the tables, the executed notebooks and the pages.

```
DIR/
  <wear>/                        every wear alone: its figures never change because another was added
    report.html                  the page, one file that opens offline
    notebook.ipynb               the executed notebook behind it
{wear_files}
    summary.json
  study/                         the whole study
    report.html
    notebook.ipynb
{study_files}
    summary.json
```

Glucose is always in mg/dL, times are ISO 8601 with the local offset, an empty cell means that the data cannot say.
Intervals are 90 %. Text that a spreadsheet would run as a formula is written with an apostrophe before it.

A run writes beside DIR and then takes its place; a killed run leaves the last report whole. Pages whose inputs
and tables are the same stay as they are (`--again` makes them anew). Pages drawn from other figures, and wears that
are gone, move to `DIR/study/older/` until made anew. Your own files in DIR stay, except those inside the folder of a
wear that changed: they move there with it. DIR may not be or hold the study, lie in its `wear_periods`, or hold other
files without a report.
"""

_PEOPLE_INTRO = """## Tables over all people

`glucolab many FOLDER --out DIR` writes these, each as CSV and as Parquet with types, and keeps in `kept.sqlite` what is
finished. `people_periods`, `people_comparisons` and `people_effects` hold the rows of every study's periods.csv,
comparisons.csv and effects.csv after a first column `person`.
"""
_PEOPLE_TABLES = (PEOPLE_OUTPUTS["people"], PEOPLE_OUTPUTS["left_out"])


def study_folder_text() -> str:
    """Markdown that teaches the study folder: its tree, every key, every table and column."""
    tree = _STUDY_INTRO.format(
        study_files=_tree(STUDY_TABLES.values(), "  ", ": optional"),
        wear_files=_tree(WEAR_TABLES.values(), "      ", ": optional", needed=("glucose",)),
    )
    parts = [
        tree,
        "## study.toml\n\nOne person. Every key is optional but `time_zone`.\n\n" + _toml_block(STUDY_KEYS),
        "## wear.toml\n\nOne sensor on the skin. Every key is optional but `start` and `unit`.\n\n"
        + _toml_block({"": WEAR_KEYS}),
        _TABLES_INTRO,
    ]
    parts += [
        _table_text(table, _input_cells, ("column", "", "holds")) for table in (WEAR_TABLES | STUDY_TABLES).values()
    ]
    return "\n".join(parts)


def report_folder_text() -> str:
    """Markdown that teaches the report folder: its tree, every table and column, every key of the summaries."""
    of_study = [*STUDY_OUTPUTS.values(), *REPORT_OUTPUTS.values()]
    tree = _REPORT_INTRO.format(
        wear_files=_tree(WEAR_OUTPUTS.values(), "    ", ""), study_files=_tree(of_study, "    ", "")
    )
    parts = [tree, "## Tables of a wear\n"]
    parts += [_table_text(table, _output_cells, ("column", "kind", "holds")) for table in WEAR_OUTPUTS.values()]
    parts += [_flags_text(), "## Tables of the study\n"]
    parts += [_table_text(table, _output_cells, ("column", "kind", "holds")) for table in of_study]
    parts += [
        "## summary.json of a wear\n\nAn estimate is `{estimate, low, high, level}`; `null` where the data cannot"
        " support it, with a sentence under `withheld`.\n\n" + _key_rows(WEAR_SUMMARY_KEYS),
        "## summary.json of the study\n\n" + _key_rows(STUDY_SUMMARY_KEYS),
        _PEOPLE_INTRO,
        *(_table_text(table, _output_cells, ("column", "kind", "holds")) for table in _PEOPLE_TABLES),
    ]
    return "\n".join(parts)


def _tree(tables: Iterable[Table], indent: str, optional: str, needed: Sequence[str] = ()) -> str:
    width = 33
    lines = []
    for table in tables:
        name = f"{indent}{table.name}.csv"
        lines.append(f"{name:<{width}}{table.text}{'' if table.name in needed else optional}")
    return "\n".join(lines)


def _toml_block(sections: Mapping[str, Sequence[Key]]) -> str:
    lines = ["```toml"]
    for section, keys in sections.items():
        lines += [f"[{section}]"] if section else []
        for key in keys:
            words = [key.text]
            if key.choices:
                words.append(" or ".join(f'"{choice}"' for choice in key.choices))
            if key.required:
                words.append("required")
            elif key.default is None:
                words.append("an example, no default")
            lines.append(f"{f'{key.name} = {toml_value(key)}':<36} # {'; '.join(words)}")
    return "\n".join([*lines, "```", ""])


def _table_text(table: Table, cells: Callable[[Column], Sequence[str]], titles: tuple[str, str, str]) -> str:
    more = " Any further column of numbers or of true and false is a covariate." if table.covariates else ""
    head = f"### {table.name}.csv\n\n{table.text[0].upper()}{table.text[1:]}.{more}\n"
    rows = [
        f"| {' | '.join(titles)} |",
        "|---|---|---|",
        *(f"| {' | '.join(cells(column))} |" for column in table.columns),
    ]
    return "\n".join([head, *rows, ""])


def _input_cells(column: Column) -> tuple[str, str, str]:
    words = [column.text]
    if column.choices:
        words.append(", ".join(column.choices))
    kind = _KINDS[column.kind] + (", *required*" if column.required else "")
    return f"`{column.name}`", kind, ": ".join(words)


def _output_cells(column: Column) -> tuple[str, str, str]:
    return f"`{column.name}`", _KINDS[column.kind], column.text


def _flags_text() -> str:
    rows = [f"| `{name}` | {text} |" for name, text in FLAGS.items()]
    return "\n".join(["### Flags\n", "| flag | means |", "|---|---|", *rows, ""])


def _key_rows(keys: Iterable[Key]) -> str:
    rows = [f"| `{key.name}` | {key.kind} | {key.text} |" for key in keys]
    return "\n".join(["| key | kind | holds |", "|---|---|---|", *rows, ""])


if __name__ == "__main__":  # python -m glucolab.reading.schema_text, in the repository
    Path("sample_data/README.md").write_text(study_folder_text(), encoding="utf-8")
    Path("reports/README.md").write_text(report_folder_text(), encoding="utf-8")
