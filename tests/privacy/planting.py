"""Where can a wearer write freely? The sample study with a script in every such place."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

from glucolab.record import STUDY_TABLES, WEAR_TABLES
from tests.conftest import REPOSITORY

PLANTED = '<script>window.ran=1</script><img src=x onerror="window.ran=1">{{7*7}}\'"><svg onload=window.ran=1>'
"""Text that would run if anything took it for markup: it sets a mark in the window."""
IN_A_NAME = "<img src=x onerror=window.ran=1>"
"""The same, as a folder may be called."""
READ_AS_WORDS = ("analyte", "unit", "photo")
"""Texts that are looked up: planted in a row of their own, so that the others still mean something."""


def plant(study: Path) -> Path:
    """Copy the sample study, with planted text in every free text, in the name of a column and of a wear."""
    shutil.copytree(REPOSITORY / "sample_data", study)
    for path in sorted(study.rglob("*.csv")):
        table = (WEAR_TABLES | STUDY_TABLES)[path.stem]
        with path.open(encoding="utf-8", newline="") as file:
            header, *rows = csv.reader(file)
        texts = [c.name for c in table.columns if c.kind == "text" and c.name not in READ_AS_WORDS]
        for name in texts:
            if name not in header:
                header.append(name)
                rows = [[*row, ""] for row in rows]
            at = header.index(name)
            for i, row in enumerate(rows):
                row[at] += PLANTED if name != "kind" or i % 2 else ""
        if path.stem == "labs":
            rows.append([*rows[0][:1], PLANTED, "1", PLANTED, *rows[0][4:]])
        if path.stem == "days":
            header.append(f"mood{IN_A_NAME}")
            rows = [[*row, str(i % 7)] for i, row in enumerate(rows)]
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header, *rows])
    for path in study.rglob("wear.toml"):
        lines = [
            line
            for line in path.read_text("utf-8").splitlines()
            if line.split(" ")[0] not in ("sensor", "site", "meter")
        ]
        quoted = PLANTED.replace('"', '\\"')
        path.write_text(
            "\n".join([*lines, *(f'{key} = "{quoted}"' for key in ("sensor", "site", "meter"))]) + "\n", "utf-8"
        )
    first = sorted((study / "wear_periods").iterdir())[0]
    first.rename(first.with_name(f"{first.name} {IN_A_NAME}"))
    return study
