"""Do figures stay when a record is written otherwise? Rows shuffled, doubled, brought in parts; dishes renamed.

A figure holds to 1e-9. What moves, and why: flags.csv and readings.csv tell of every row, so that doubled rows are more
of them; `linked_row`, and `row` of walks.csv, name a line of the file. Local times that a clock change or a trip
repeats are told apart by the order of the rows, as the contract says: shuffled, a file must write its offsets.
"""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from glucolab.analysis import StudyAnalysis, analyse_study
from glucolab.clock import format_times
from glucolab.reading.folder import read_study
from glucolab.running.cli import main
from tests.conftest import REPOSITORY

SAMPLE = REPOSITORY / "sample_data"
LOGS = ("meals.csv", "days.csv", "feelings.csv", "checks.csv", "activity.csv", "sleep.csv", "notes.csv")
FARTHEST = 1e-9


def rewrite(root: Path, names: tuple[str, ...], change: Callable[[list[str]], list[str]]) -> Path:
    """The sample study with the rows of some tables written otherwise."""
    for path in sorted(shutil.copytree(SAMPLE, root).glob("wear_periods/*/*.csv")):
        if path.name in names:
            head, *rows = path.read_text("utf-8").splitlines()
            path.write_text("\n".join([head, *change(rows)]) + "\n", "utf-8")
    return root


def with_offsets(root: Path) -> Path:
    """The sample study whose readings say their offset."""
    shutil.copytree(SAMPLE, root)
    for wear in read_study(SAMPLE).wears:
        times = format_times(wear.glucose["time"], wear.zones)
        path = root / "wear_periods" / wear.name / "glucose.csv"
        head, *rows = path.read_text("utf-8").splitlines()
        assert head.startswith("time,")
        assert len(rows) == len(times)
        told = [f"{time},{row.split(',', 1)[1]}" for time, row in zip(times, rows, strict=True)]
        path.write_text("\n".join([head, *told]) + "\n", "utf-8")
    return root


def analyse(root: Path) -> StudyAnalysis:
    return analyse_study(read_study(root))


@pytest.fixture(scope="module")
def sample() -> StudyAnalysis:
    return analyse(SAMPLE)


def name_tables(analysis: StudyAnalysis, passed_over: tuple[str, ...]) -> Iterator[tuple[str, pd.DataFrame]]:
    for one in analysis.wears:
        yield from ((f"{one.wear.name}/{name}", table) for name, table in one.tables.items() if name not in passed_over)
    yield from analysis.tables.items()


def find_moved(
    one: StudyAnalysis, other: StudyAnalysis, passed_over: tuple[str, ...] = (), renamed: dict[str, str] | None = None
) -> list[str]:
    """What differs between two analyses, by table and column."""
    moved = []
    others = dict(name_tables(other, passed_over))
    for name, table in name_tables(one, passed_over):
        if len(table) != len(others[name]):
            moved.append(f"{name}: {len(table)} rows and {len(others[name])}")
            continue
        for column in table.columns:
            a, b = table[column], others[name][column]
            if pd.api.types.is_numeric_dtype(a) and not pd.api.types.is_bool_dtype(a):
                a, b = a.to_numpy(float, na_value=np.nan), b.to_numpy(float, na_value=np.nan)
                same = bool(((np.abs(a - b) <= FARTHEST) | (np.isnan(a) & np.isnan(b))).all())
            else:
                same = a.astype(str).tolist() == b.astype(str).replace(renamed or {}).tolist()
            moved += [] if same else [f"{name}: {column}"]
    return moved


def shuffle(rows: list[str]) -> list[str]:
    return np.random.default_rng(7).permutation(rows).tolist()


@pytest.mark.parametrize(
    "order", [shuffle, lambda rows: rows[::-1], lambda rows: rows[1000:] + rows[:1000]],
    ids=["shuffled", "newest_first", "in_two_blocks"],
)  # fmt: skip
def test_readings_in_any_order(sample, tmp_path, order):
    told = with_offsets(tmp_path / "told")
    for path in told.glob("wear_periods/*/glucose.csv"):
        head, *rows = path.read_text("utf-8").splitlines()
        path.write_text("\n".join([head, *order(rows)]) + "\n", "utf-8")
    assert find_moved(sample, analyse(told), ("readings",)) == []


def test_logs_in_any_order(sample, tmp_path):
    root = rewrite(tmp_path / "study", LOGS, shuffle)
    moved = find_moved(sample, analyse(root))
    assert {one.split(": ")[1] for one in moved} <= {"linked_row", "row"}, "they name lines"


@pytest.mark.parametrize(
    "double", [lambda rows: [row for row in rows for _ in range(2)], lambda rows: rows * 2], ids=["beside", "below"]
)
def test_readings_that_stand_twice(sample, tmp_path, double):
    if double(["a", "b"]) == ["a", "b"] * 2:
        told = with_offsets(tmp_path / "study")
        for path in told.glob("wear_periods/*/glucose.csv"):
            head, *rows = path.read_text("utf-8").splitlines()
            path.write_text("\n".join([head, *double(rows)]) + "\n", "utf-8")
    else:
        told = rewrite(tmp_path / "study", ("glucose.csv",), double)
    twice = analyse(told)
    assert find_moved(sample, twice, ("readings", "flags")) == []
    for one, other in zip(sample.wears, twice.wears, strict=True):
        spans, again = (each.tables["flags"] for each in (one, other))
        columns = ["start", "end", "minutes", "flag", "action"]
        kept = again[again["flag"] != "duplicate"].reset_index(drop=True)
        pd.testing.assert_frame_equal(spans.loc[spans["flag"] != "duplicate", columns].reset_index(drop=True), kept)


def test_dishes_called_otherwise(sample, tmp_path):
    """Names whose order turns: what a dish is called moves no figure, and no row of a table."""
    names = sorted({dish for wear in read_study(SAMPLE).wears for dish in wear.table("meals")["dish"].dropna()})
    called = {name: f"dish {len(names) - i:03d}" for i, name in enumerate(names)}
    root = shutil.copytree(SAMPLE, tmp_path / "study")
    for path in [*root.glob("wear_periods/*/meals.csv"), root / "trials.csv"]:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        text = io.StringIO()
        writer = csv.DictWriter(text, rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(row | {"dish": called.get(row["dish"], row["dish"])} for row in rows)
        path.write_text(text.getvalue(), "utf-8")
    other = analyse(root)
    assert len(set(other.tables["dishes"]["dish"]) & set(called.values())) > 5
    assert find_moved(sample, other, renamed={new: old for old, new in called.items()}) == []


@pytest.mark.parametrize("first", ["early", "late", "every_second"])
def test_a_file_brought_in_two_parts_is_the_file(tmp_path, first):
    """Whichever part comes first, the tables are the same, byte for byte."""
    rows = [f"2026-02-{3 + at // 96:02d}T{at // 4 % 24:02d}:{at % 4 * 15:02d},{90 + at % 9}" for at in range(40, 400)]
    parts = {
        "early": (rows[:200], rows[200:]), "late": (rows[200:], rows[:200]), "every_second": (rows[::2], rows[1::2])
    }[first]  # fmt: skip
    texts = []
    for name, files in (("whole", (rows,)), ("parts", parts)):
        wear = tmp_path / name / "wear_periods" / "w"
        wear.mkdir(parents=True)
        (tmp_path / name / "study.toml").write_text('[person]\ntime_zone = "Europe/Lisbon"\n')
        (wear / "wear.toml").write_text('start = 2026-02-03T08:00:00\nend = 2026-02-09T08:00:00\nunit = "mg/dL"\n')
        for i, part in enumerate(files):
            file = tmp_path / f"{name}{i}.csv"
            file.write_text("time,glucose mg/dL\n" + "\n".join(part) + "\n")
            assert main(["bring", str(file), "--into", str(wear), "--yes"]) == 0
        texts.append((wear / "glucose.csv").read_text("utf-8"))
    assert texts[0] == texts[1]
    assert len(texts[0].splitlines()) == 1 + len(rows)
