"""Do figures stay when a record is written otherwise? Rows shuffled, doubled, brought in parts; dishes renamed; times
in another zone, values in the other unit.

A figure holds to 1e-9. What moves, and why: flags.csv and readings.csv tell of every row, so that doubled rows are more
of them; `linked_row`, and `row` of walks.csv, name a line of the file. Local times that a clock change or a trip
repeats are told apart by the order of the rows, as the contract says: shuffled, a file must write its offsets.
"""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from glucolab.analysis import analyse_study
from glucolab.clock import format_times
from glucolab.reading.folder import read_study
from glucolab.results import StudyAnalysis
from glucolab.running.cli import main
from glucolab.units import MG_DL_PER_MMOL_L
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
    one: StudyAnalysis,
    other: StudyAnalysis,
    passed_over: tuple[str, ...] = (),
    renamed: dict[str, str] | None = None,
    *,
    of_size: bool = False,
) -> list[str]:
    """What differs between two analyses, by table and column; `of_size` by more than so much of its largest figure."""
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
                largest = max(1.0, np.max(np.abs(a[np.isfinite(a)]), initial=0.0)) if of_size else 1.0
                same = bool(((np.abs(a - b) <= FARTHEST * largest) | (np.isnan(a) & np.isnan(b))).all())
            else:
                same = a.astype(str).tolist() == b.astype(str).replace(renamed or {}).tolist()
            moved += [] if same else [f"{name}: {column}"]
    return moved


TIMES = ("time", "start", "end")


def rewrite_cells(path: Path, change: Callable[[str, str, pd.Timestamp | None], str], moments: dict) -> None:
    """Each cell of a table written otherwise, by its column; of times the moment is told too."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for column in set(rows[0]) & set(moments):
        assert len(rows) == len(moments[column])
    text = io.StringIO()
    writer = csv.DictWriter(text, rows[0].keys(), lineterminator="\n")
    writer.writeheader()
    for i, row in enumerate(rows):
        told = {column: moments[column].iloc[i] for column in row if column in moments}
        writer.writerow({column: change(column, cell, told.get(column)) for column, cell in row.items()})
    path.write_text(text.getvalue(), "utf-8")


def rewrite_study(root: Path, change: Callable[[str, str, str, pd.Timestamp | None], str]) -> Path:
    """The sample study with the cells of all tables of its wears written otherwise, by table and column."""
    shutil.copytree(SAMPLE, root)
    for wear in read_study(SAMPLE).wears:
        for path in sorted((root / "wear_periods" / wear.name).glob("*.csv")):
            table = wear.glucose if path.stem == "glucose" else wear.table(path.stem)
            moments = {name: table[name] for name in TIMES if name in table}
            rewrite_cells(path, partial(change, wear.name), moments)
    return root


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
    assert {one.split(": ")[1] for one in moved} <= {"linked_row", "row", "check_line"}, "they name lines"


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


@pytest.mark.parametrize("zone", ["UTC", "Asia/Kolkata", "America/St_Johns"])
def test_the_same_moments_written_in_another_zone(sample, tmp_path, zone):
    def change(_wear: str, _column: str, cell: str, moment: pd.Timestamp | None) -> str:
        return cell if moment is None or pd.isna(moment) else moment.tz_convert(zone).isoformat()

    assert find_moved(sample, analyse(rewrite_study(tmp_path / "study", change))) == []


def test_glucose_in_the_other_unit(sample, tmp_path):
    """At full precision: rounded to a decimal of mmol/L a reading moves by up to 0.9 mg/dL.

    Turned there and back a value moves in its last bit, 1e-14 mg/dL. Weights of outliers are found by steps that end at
    a bound, which lets that grow to 1e-9 mg/dL, and areas of thousands of mg/dL min to 1e-8: 1e-9 of their size.
    """
    units = {wear.name: wear.unit for wear in read_study(SAMPLE).wears}

    def change(wear: str, column: str, cell: str, _moment: pd.Timestamp | None) -> str:
        if column != "glucose" or not cell[:1].isdigit():
            return cell
        mg_dl = float(cell) * (1 if units[wear] == "mg/dL" else MG_DL_PER_MMOL_L)
        return repr(mg_dl / MG_DL_PER_MMOL_L if units[wear] == "mg/dL" else mg_dl)

    root = rewrite_study(tmp_path / "study", change)
    for name, unit in units.items():
        path = root / "wear_periods" / name / "wear.toml"
        other = "mmol/L" if unit == "mg/dL" else "mg/dL"
        text = path.read_text("utf-8")
        assert f'unit = "{unit}"' in text
        path.write_text(text.replace(f'unit = "{unit}"', f'unit = "{other}"'), "utf-8")
    assert find_moved(sample, analyse(root), of_size=True) == []


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


def write_in(moments: pd.DatetimeIndex, how: str) -> tuple[str, list[str]]:
    """Header and times of a table, the same moments in different words."""
    if how == "local":
        return "time", [f"{m:%Y-%m-%d %H:%M}" for m in moments.tz_convert("Europe/Lisbon")]
    if how == "offset":
        return "time", [m.isoformat() for m in moments.tz_convert("Europe/Lisbon")]
    if how == "Z":
        return "time", [f"{m:%Y-%m-%dT%H:%M:%SZ}" for m in moments.tz_convert("UTC")]
    if how == "epoch":
        return "time", [str(m.value // 10**9) for m in moments]
    return f"time ({how})", [f"{m:%Y-%m-%d %H:%M}" for m in moments.tz_convert(how)]


@pytest.mark.parametrize("how", ["offset", "Z", "epoch", "UTC", "Asia/Kolkata", "Europe/Lisbon"])
def test_a_file_brings_the_same_moments_in_whatever_zone_it_writes_them(tmp_path, how):
    """Over the night in which clocks in Lisbon go back (Directive 2000/84/EC: 25 October 2026, 01:00 UTC)."""
    moments = pd.date_range("2026-10-24T08:00", periods=200, freq="15min", tz="UTC")
    read = []
    for name in ("local", how):
        wear = tmp_path / name.replace("/", "_") / "wear_periods" / "w"
        wear.mkdir(parents=True)
        (wear.parent.parent / "study.toml").write_text('[person]\ntime_zone = "Europe/Lisbon"\n')
        (wear / "wear.toml").write_text('start = 2026-10-24T08:00:00\nend = 2026-10-30T08:00:00\nunit = "mg/dL"\n')
        header, times = write_in(moments, name)
        file = tmp_path / "file.csv"
        rows = [f"{time},{90 + i % 9}" for i, time in enumerate(times)]
        file.write_text("\n".join([f"{header},glucose mg/dL", *rows]) + "\n")
        assert main(["bring", str(file), "--into", str(wear), "--yes"]) == 0
        (one,) = read_study(wear.parent.parent).wears
        read.append(one.glucose[["time", "glucose_mg_dl"]])
    pd.testing.assert_frame_equal(*read)
    assert read[0]["time"].tolist() == moments.tolist()


@pytest.mark.parametrize(("own", "wear_in", "apart"), [("mmol/L", "mmol/L", 1e-7), ("mmol/L", "mg/dL", 5e-4)])
def test_a_file_brings_the_same_values_in_either_unit(tmp_path, own, wear_in, apart):
    """What is written has ten digits in the file's own unit, and six where it is turned: 0.0005 mg/dL, no sensor's."""
    values = 70 + 60 * np.random.default_rng(7).random(300)
    times = pd.date_range("2026-02-03", periods=300, freq="15min")
    found = []
    for unit, into in (("mg/dL", "mg/dL"), (own, wear_in)):
        wear = tmp_path / str(len(found)) / "wear_periods" / "w"
        wear.mkdir(parents=True)
        (wear.parent.parent / "study.toml").write_text('[person]\ntime_zone = "UTC"\n')
        (wear / "wear.toml").write_text(f'start = 2026-02-03T00:00:00\nend = 2026-02-09T00:00:00\nunit = "{into}"\n')
        factor = 1.0 if unit == "mg/dL" else 1 / MG_DL_PER_MMOL_L
        rows = [f"{time:%Y-%m-%d %H:%M},{float(value * factor)!r}" for time, value in zip(times, values, strict=True)]
        file = tmp_path / "file.csv"
        file.write_text(f"time,glucose {unit}\n" + "\n".join(rows) + "\n")
        assert main(["bring", str(file), "--into", str(wear), "--yes"]) == 0
        (one,) = read_study(wear.parent.parent).wears
        found.append(one.glucose["glucose_mg_dl"].to_numpy(float))
    np.testing.assert_allclose(found[0], found[1], rtol=0, atol=apart)
