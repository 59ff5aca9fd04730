"""Does nothing come in silently wrong? What is asked can be answered, every row is counted, --yes guesses nothing."""

from __future__ import annotations

import io
import sys
import zipfile
from datetime import datetime, timedelta

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.any_file import read_grid
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from glucolab.reading.bringing.mapping.mapping_file import mapping_text, read_mapping
from glucolab.reading.bringing.preview import bring_file
from glucolab.running.cli import main
from tests.reading.bringing.tables import bring, guess
from tests.reading.bringing.test_exports import EXPORTS, wear_for  # noqa: F401  (a fixture)

WEAR = {"zone": "Europe/Lisbon", "unit": "mg/dL", "start": "2026-03-02", "end": "2026-03-16"}


@pytest.mark.parametrize(
    ("name", "key", "answer", "table", "row"),
    [
        ("seven_values_a_day.csv", "table", "checks", "checks", {"glucose": "97"}),
        ("starts_and_ends_alone.csv", "table", "sleep", "sleep", {"end": "2026-03-04T06:00"}),
        ("taken_by_codes.csv", "taken", "automatic_first", "glucose", {"taken": "by_hand"}),
        ("taken_by_codes.csv", "taken", "leave_out", "glucose", {"glucose": "92"}),
        ("values_of_nobody_knows.csv", "table", "glucose", "glucose", {"glucose": "92"}),
        ("zone_column_letters.csv", "zone", "+01:00", "glucose", {"time": "2026-03-03T08:00+01:00"}),
        ("zone_column_letters.csv", "zone", "local", "glucose", {"time": "2026-03-03T08:00"}),
        ("last_third_mmol.csv", "unit", "by size", "glucose", {"glucose": "92"}),
        ("per_100_alone.csv", "per", "leave_out", "meals", {"name": "rice 3"}),
        ("bread_units.csv", "exchange", "12 g", "meals", {"carbs_g": "42"}),  # 3.5 x 12 g
        ("exchanges_in_cells.csv", "exchange", "10 g", "meals", {"carbs_g": "10"}),
        ("energy_unsaid.csv", "energy", "kcal", "meals", {"energy_kcal": "900"}),
        ("cups_of_caffeine.csv", "caffeine", "leave_out", "meals", {"carbs_g": "30"}),
        ("totals_that_differ.csv", "totals", "leave_out", "meals", {"carbs_g": "33"}),
        ("seconds_unsaid.csv", "length", "s", "activity", {"minutes": "45"}),
        ("night_by_bedtime_and_length.csv", "night", "morning", "sleep", {"start": "2026-03-02T23:10"}),
        ("night_by_bedtime_and_length.csv", "night", "evening", "sleep", {"start": "2026-03-03T23:10"}),
        ("night_after_midnight.csv", "night", "evening", "sleep", {"start": "2026-03-04T00:20"}),
        ("hours_with_a_point.csv", "parts", "h:m", "sleep", {"asleep_min": "450"}),  # 7 h 30 min
        ("hours_with_a_point.csv", "parts", "h", "sleep", {"asleep_min": "438"}),  # 7.3 h
    ],
)
def test_what_is_asked_is_settled_by_its_answer(wear_for, name, key, answer, table, row):  # noqa: F811
    wear = wear_for(WEAR)
    with pytest.raises(UnsettledError) as asked:
        bring_file(EXPORTS / name, wear)
    assert key in {question.key for question in asked.value.questions}
    (added,) = bring_file(EXPORTS / name, wear, answers={key: answer}).added
    assert added.table == table
    assert added.new.iloc[0][list(row)].to_dict() == row


def test_a_file_of_two_units_is_parted_by_size_when_the_wearer_says_so(wear_for):  # noqa: F811
    (added,) = bring_file(EXPORTS / "last_third_mmol.csv", wear_for(WEAR), answers={"unit": "by size"}).added
    values = added.new["glucose"].astype(float)
    assert (len(values), values.min() > 80, values.max() < 130) == (48, True, True)


def test_codes_of_errors_are_named_with_their_lines_and_every_row_is_counted(wear_for):  # noqa: F811
    bringing = bring_file(EXPORTS / "codes_of_errors.csv", wear_for(WEAR))
    words = ("no glucose that a sensor or a meter prints", "is a code for no reading")
    named = {problem.line for problem in bringing.problems if any(said in str(problem) for said in words)}
    assert named == {7, 11, 13, 15}
    assert len(bringing.added[0].new) + len(named) == len(read_grid(EXPORTS / "codes_of_errors.csv").rows) - 1


@pytest.mark.parametrize("name", ["strips_among_sensor.csv", "totals_beside_ingredients.csv"])
def test_rows_that_are_passed_over_are_counted(wear_for, name):  # noqa: F811
    bringing = bring_file(EXPORTS / name, wear_for(WEAR))
    (passed,) = [str(problem) for problem in bringing.problems if "not brought" in str(problem)]
    count = int(passed.split(" in ")[1].split()[0])
    assert len(bringing.added[0].new) + count == len(read_grid(EXPORTS / name).rows) - 1


def test_a_skipped_hour_is_an_error_of_its_own_name(tmp_path):
    # Europe/Berlin: on 29 March 2026 clocks go from 02:00 to 03:00 (Directive 2000/84/EC, last Sunday in March)
    path = tmp_path / "meals.csv"
    path.write_text(
        "time,food,carbs (g)\n2026-03-29 02:30,toast,20\n2026-03-29 09:00,oats,40\n2026-03-30 09:00,oats,41\n"
    )
    _, rows, brought = bring(path)
    assert rows.index.tolist() == [3, 4]
    (problem,) = brought.problems
    assert (problem.line, "the spring clock change skips it" in str(problem)) == (2, True)


def test_a_mapping_of_all_that_is_new_is_kept_in_its_file(tmp_path, wear_for):  # noqa: F811
    for name in ("offset_column.csv", "per_100_with_grams.csv", "totals_beside_ingredients.csv", "stages_of_sleep.csv"):
        mapping = bring_file(EXPORTS / name, wear_for_name(wear_for, name, tmp_path)).mapping
        path = tmp_path / f"{name}.toml"
        path.write_text(mapping_text(mapping), encoding="utf-8")
        assert read_mapping(path) == mapping


def wear_for_name(make, name, tmp_path):
    """A wear of its own for each file."""
    wear = tmp_path / "study" / "wear_periods" / "wear"
    return wear if wear.exists() else make(WEAR)


def test_yes_refuses_what_is_not_certain_and_says_how_to_answer(wear_for, capsys):  # noqa: F811
    wear = wear_for(WEAR)
    assert main(["bring", str(EXPORTS / "bread_units.csv"), "--into", str(wear), "--yes"]) == 2
    told = capsys.readouterr().err
    assert "exchange=12 g" in told
    assert "answer with --say" in told
    assert not (wear / "meals.csv").exists()


def test_a_zip_bomb_is_refused(tmp_path):
    path = tmp_path / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", b"0" * 150_000_000)
    with pytest.raises(NothingToDo, match="would unpack to 150 MB"):
        read_grid(path)


def test_parquet_is_read_by_an_extra_and_refused_with_its_command_where_that_is_missing(tmp_path, monkeypatch):
    polars = pytest.importorskip("polars")
    path = tmp_path / "readings.parquet"
    times = [datetime(2026, 3, 3, 8) + timedelta(minutes=5 * i) for i in range(24)]
    frame = polars.DataFrame({"time": times, "glucose (mg/dL)": [95.0 + i for i in range(24)]})
    buffer = io.BytesIO()
    frame.with_columns(polars.col("time").dt.replace_time_zone("America/Lima")).write_parquet(buffer)
    path.write_bytes(buffer.getvalue())
    table, rows, _ = bring(path)
    assert (table, rows["time"].iloc[1], rows["glucose"].iloc[1]) == ("glucose", "2026-03-03T08:05-05:00", "96")
    monkeypatch.setitem(sys.modules, "polars", None)
    with pytest.raises(NothingToDo, match=r'pip install "glucolab\[many\]"'):
        guess(path)
