"""Does what is typed come into its table in the table's own form, every other byte as it was, and only if sound?"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from glucolab.errors import NothingToDo
from glucolab.reading.entering.entry import CLOCK_FIELD, RefusedError, list_days, make_entry, read_clock
from glucolab.reading.entering.logged import find_capture, find_logged_dishes, find_places, list_photos
from glucolab.reading.folder import read_study
from glucolab.reading.wear_context import find_place
from tests.reading.test_photos import photo
from tests.running.test_cli import hashes

NOW = pd.Timestamp("2026-03-03T14:05", tz="UTC")
STUDY = '[person]\ntime_zone = "Europe/Lisbon"\n'
WEAR = 'start = 2026-03-01T08:00:00\nunit = "{unit}"\n'
FOLDER = "wear_periods/spring"


@pytest.fixture
def make_place(tmp_path):
    """A wear in Lisbon that runs since 1 March 2026, with the tables that are given."""

    def make(unit="mg/dL", wear="", **tables: str | bytes):
        folder = tmp_path / "study" / FOLDER
        (folder / "photos").mkdir(parents=True, exist_ok=True)
        (tmp_path / "study/study.toml").write_text(STUDY)
        (folder / "wear.toml").write_text(WEAR.format(unit=unit) + wear)
        tables = {"glucose": "time,glucose\n2026-03-01T09:00,{}\n".format("90" if unit == "mg/dL" else "5.0")} | tables
        for name, text in tables.items():
            (folder / f"{name}.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
        return find_place(folder)

    return make


def enter(place, table, day="2026-03-03", clock="12:40", unit="mg/dL", **typed):
    return make_entry(place, table, {"day": day, "clock": clock, **typed}, unit, NOW)


def refused(place, table, **typed) -> dict[str, str]:
    with pytest.raises(RefusedError) as why:
        enter(place, table, **typed)
    return why.value.faults


def added(entry) -> str:
    """What stands in the new file beyond the old one, which it begins with."""
    assert entry.edit.after.startswith(entry.edit.before)
    return entry.edit.after[len(entry.edit.before) :].decode()


# each table is as a person or a spreadsheet may keep it; the row is what that same hand would have written next
@pytest.mark.parametrize(
    ("table", "row"),
    [
        ("time,name,carbs_g\n2026-03-02T08:00,bread,30\n", "2026-03-03T12:40,lentil soup,45.5\n"),
        ("time,name,carbs_g\r\n2026-03-02 08:00:00,bread,30\r\n", "2026-03-03 12:40:00,lentil soup,45.5\r\n"),
        ("time;name;carbs_g\n2026-03-02T08:00;bread;30,5\n", "2026-03-03T12:40;lentil soup;45,5\n"),
        ("Name,Carbs g,Time\nbread,30,2026-03-02T08:00+00:00", "\nlentil soup,45.5,2026-03-03T12:40+00:00\n"),
        ("time\tname\tmine\tcarbs_g\n2026-03-02T08:00\tbread\tx\t30\n", "2026-03-03T12:40\tlentil soup\t\t45.5\n"),
        ("\ufefftime,name,carbs_g\n", "2026-03-03T12:40,lentil soup,45.5\n"),
        # neither sorted nor tidy: the last row is the earliest, one is blank, one has a cell too few
        (
            'time,name,carbs_g\n2026-03-03T23:00,"b, c",1\n\n2026-03-01T09:00,a\n',
            "2026-03-03T12:40,lentil soup,45.5\n",
        ),
    ],
)
@pytest.mark.parametrize("typed", ["45.5", "45,5"])
def test_a_meal_is_added_in_the_tables_own_form(make_place, table, row, typed):
    assert added(enter(make_place(meals=table), "meals", name="lentil soup", carbs_g=typed)) == row


def test_a_column_that_is_not_there_yet_comes_into_the_header_and_no_other_line_changes(make_place):
    before = "time,name\n2026-03-02T08:00, bread \n2026-03-02T12:00,'=x\n"
    after = enter(make_place(meals=before), "meals", name="soup", carbs_g="45").edit.after.decode()
    assert after == "time,name,carbs_g\n" + before.split("\n", 1)[1] + "2026-03-03T12:40,soup,45\n"


def test_a_table_that_is_not_there_is_made(make_place):
    edit = enter(make_place(), "feelings", energy="6").edit
    assert edit.before is None
    assert edit.after.decode() == "time,energy,focus,hunger,stress,note\n2026-03-03T12:40,6,,,,\n"
    assert edit.line == 2


def test_a_line_that_cannot_be_split_stays_as_it_is(make_place):
    broken = b"time,name\n2026-03-02T08:00,a,b,c\n2026-03-02T09:00,caf\xe9\n"
    assert added(enter(make_place(meals=broken), "meals", name="soup")) == "2026-03-03T12:40,soup\n"


def test_a_file_that_would_swallow_the_row_is_refused(make_place):
    with pytest.raises(NothingToDo, match="cannot be added"):
        enter(make_place(meals='time,name\n2026-03-02T08:00,"bread\n'), "meals", name=", soup")


def test_no_clock_is_now_and_only_today(make_place):
    place = make_place()
    assert enter(place, "meals", clock="", name="soup").cells["time"] == "2026-03-03T14:05"
    assert refused(place, "meals", day="2026-03-02", clock="", name="soup")[CLOCK_FIELD].startswith("write when")


@pytest.mark.parametrize(
    ("typed", "read"),
    [("9:05", "09:05"), ("09.05", "09:05"), ("905", "09:05"), ("24:00", None), ("noon", None), ("12", None)],
)
def test_clocks_as_they_are_typed(typed, read):
    assert read_clock(typed) == read


@pytest.mark.parametrize(
    ("table", "typed", "field", "why"),
    [
        ("meals", {"carbs_g": "45"}, "name", "name is empty"),
        ("meals", {"name": "soup", "carbs_g": "4o"}, "carbs_g", 'carbs_g "4o" is not a number'),
        ("meals", {"name": "soup", "carbs_g": "4500"}, "carbs_g", "is outside 0 to 600"),
        ("meals", {"name": "soup", "carbs_g": "1,250"}, "carbs_g", "may mean 1.250 or 1250"),
        ("meals", {"name": "soup", "carbs_g": "200", "energy_kcal": "90"}, "carbs_g", "alone has 800 kcal"),
        ("meals", {"name": "soup", "clock": "25:00"}, "clock", "is not a time of day"),
        ("meals", {"name": "soup", "clock": "23:00"}, "clock", "is still to come"),
        ("meals", {"name": "soup", "day": "2026-01-01"}, "clock", "lies outside this wear"),
        ("meals", {"name": "soup", "day": "2026-03-29", "clock": "01:30"}, "clock", "spring clock change skips it"),
        ("feelings", {"energy": "11"}, "energy", "is outside 0 to 10"),
        ("feelings", {}, "energy", "write at least one"),
        ("checks", {"glucose": "5.2"}, "glucose", "plainly is not in mg/dL: is it in mmol/L?"),
        ("checks", {"glucose": ""}, "glucose", "glucose is empty"),
        ("checks", {"glucose": "95", "day": "2026-03-01", "clock": "07:59"}, "clock", "lies outside this wear"),
        ("days", {"stress": "many"}, "stress", "is not a number"),
        ("days", {}, "stress", "write at least one"),
        ("notes", {"kind": "travel"}, "time_zone", "write the zone"),
        ("notes", {"kind": "heat", "end": "late"}, "end", "is not a time of day"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_its_field(make_place, table, typed, field, why):
    faults = refused(make_place(), table, **typed)
    assert why in faults[field]


def test_all_faults_are_told_at_once(make_place):
    assert set(refused(make_place(), "meals", clock="25:00", carbs_g="4x5")) == {CLOCK_FIELD, "carbs_g", "name"}


def test_the_same_entry_twice_is_refused_and_another_dish_at_that_time_is_not(make_place):
    place = make_place(meals="time,name,carbs_g\n2026-03-03T12:40:00,Lentil soup,45\n")
    assert "on line 2" in refused(place, "meals", name="lentil  soup", carbs_g="45")[CLOCK_FIELD]
    assert added(enter(place, "meals", name="bread")) == "2026-03-03T12:40:00,bread,\n"


@pytest.mark.parametrize(
    ("table_unit", "shown", "typed", "written"),
    [
        ("mg/dL", "mg/dL", "95", "95"),
        ("mmol/L", "mmol/L", "5,20", "5.20"),
        # glucose is 180.156 g/mol: 5.2 mmol/L are 5.2 * 18.0156 = 93.6811 mg/dL, and 95 mg/dL are 5.27321 mmol/L
        ("mg/dL", "mmol/L", "5.2", "93.6811"),
        ("mmol/L", "mg/dL", "95", "5.27321"),
    ],
)
def test_a_finger_stick_comes_in_the_unit_of_the_table(make_place, table_unit, shown, typed, written):
    place = make_place(table_unit, checks="time,glucose\n")
    entry = enter(place, "checks", unit=shown, glucose=typed)
    assert added(entry) == f"2026-03-03T12:40,{written}\n"
    assert entry.cells["glucose"] == typed.replace(",", ".")


def test_a_day_fills_its_own_row_and_never_writes_over_what_stands(make_place):
    days = 'date,note,stress,late_screen_min\n2026-03-02," a ""b"", c",,\n2026-03-03, x ,4,\n'
    place = make_place(days=days)
    entry = enter(place, "days", day="2026-03-02", stress="6", late_screen_min="30")
    assert entry.edit.after.decode() == days.replace(",,\n", ",6,30\n")
    assert 'is "4" already' in refused(place, "days", stress="5")["stress"]
    assert "line 3" in refused(place, "days", stress="4")["stress"]
    other = enter(place, "days", stress="4", late_screen_min="30")
    assert other.edit.after.decode() == days.replace("x ,4,\n", "x ,4,30\n")
    assert enter(place, "days", day="2026-03-01", ill="true").edit.after.decode() == (
        days.replace("late_screen_min\n", "late_screen_min,ill\n") + "2026-03-01,,,,true\n"
    )
    assert "is not a number" in refused(place, "days", day="2026-03-02", late_screen_min="much")["late_screen_min"]


def test_a_note_that_ends_after_midnight_ends_on_the_next_day(make_place):
    place = make_place(notes="start,kind,end,note\n")
    entry = enter(place, "notes", day="2026-03-02", clock="23:40", end="0:20", kind="pressure")
    assert added(entry) == "2026-03-02T23:40,pressure,2026-03-03T00:20,\n"


def test_a_photo_tells_the_time_where_none_is_typed_and_is_left_alone(make_place, tmp_path):
    place = make_place(meals="time,name,photo\n")
    photos = tmp_path / "study" / FOLDER / "photos"
    (photos / "a.jpg").write_bytes(photo("2026:03:02 12:30:05"))
    (photos / "b.jpg").write_bytes(photo(""))
    (photos / "c.jpg").write_bytes(photo("2025:12:24 18:00:00"))
    before = hashes(photos)
    assert list_photos(place) == ["a.jpg", "b.jpg", "c.jpg"]
    assert find_capture(place, "a.jpg") == (pd.Timestamp("2026-03-02T12:30:05"), "")
    entry = enter(place, "meals", clock="", name="soup", photo="a.jpg")
    assert added(entry) == ",soup,a.jpg\n"
    assert entry.local == pd.Timestamp("2026-03-02T12:30:05")
    assert "has no capture time" in refused(place, "meals", clock="", name="soup", photo="b.jpg")[CLOCK_FIELD]
    assert "outside this wear" in refused(place, "meals", clock="", name="soup", photo="c.jpg")[CLOCK_FIELD]
    assert added(enter(place, "meals", name="soup", photo="b.jpg")) == "2026-03-03T12:40,soup,b.jpg\n"
    place.path("meals").write_bytes(entry.edit.after)
    assert list_photos(place) == ["b.jpg", "c.jpg"]
    assert "already" in refused(place, "meals", clock="", name="soup", photo="a.jpg")[CLOCK_FIELD]
    assert hashes(photos) == before


def test_a_camera_on_another_clock_is_told_on_the_wearers(make_place, tmp_path):
    place = make_place()
    (tmp_path / "study" / FOLDER / "photos/a.jpg").write_bytes(photo("2026:03:02 12:30:05", offset="+01:00"))
    assert find_capture(place, "a.jpg")[0] == pd.Timestamp("2026-03-02T11:30:05")


def test_a_repeat_takes_over_the_last_nutrients_and_never_a_meal_of_the_day(make_place):
    meals = (
        "time;name;carbs_g;note;dish;photo\n2026-03-01T08:00;soup;30,5;hot;;a.jpg\n2026-03-01T12:00;lunch;9;;;\n"
        "2026-03-02T08:00;Soup;;;;\n2026-03-02T12:00;rice;60;;rice with peas;\n"
    )
    found = find_logged_dishes([make_place(meals=meals)])
    assert [(dish.name, dish.count) for dish in found] == [("soup", 2), ("rice", 1)]
    assert found[0].cells == {"name": "soup", "carbs_g": "30.5"}
    assert found[1].cells == {"name": "rice", "carbs_g": "60", "dish": "rice with peas"}


def test_days_to_choose_from_run_to_today_or_to_the_end(make_place):
    assert [f"{day:%d}" for day in list_days(make_place(), NOW)] == ["03", "02", "01"]
    assert [f"{day:%d}" for day in list_days(make_place(wear="end = 2026-03-02T09:00:00\n"), NOW)] == ["02", "01"]


def test_wears_that_cannot_be_written_into_are_named(make_place, tmp_path):
    make_place()
    (tmp_path / "study/wear_periods/later").mkdir()
    places, reasons = find_places(tmp_path / "study")
    assert [place.wear for place in places] == ["spring"]
    assert "later" in reasons[0]


TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), min_size=1, max_size=30).filter(str.strip)


@given(name=TEXT, note=TEXT, delimiter=st.sampled_from(",;\t"), end=st.sampled_from(["\n", "\r\n"]))
def test_any_text_is_read_back_as_it_was_typed(tmp_path_factory, name, note, delimiter, end):
    folder = tmp_path_factory.mktemp("any") / "study" / FOLDER
    folder.mkdir(parents=True)
    (folder.parents[1] / "study.toml").write_text(STUDY)
    (folder / "wear.toml").write_text(WEAR.format(unit="mg/dL"))
    (folder / "glucose.csv").write_text("time,glucose\n2026-03-01T09:00,90\n")
    header = delimiter.join(["time", "name", "carbs_g", "note"]) + end
    (folder / "meals.csv").write_bytes(header.encode())
    entry = make_entry(
        find_place(folder), "meals", {"day": "2026-03-03", "clock": "12:40", "name": name, "note": note}, "mg/dL", NOW
    )
    Path(folder / "meals.csv").write_bytes(entry.edit.after)
    meals = read_study(folder.parents[1]).wears[0].meals
    assert meals["name"].tolist() == [name.strip()]
    assert meals["note"].tolist() == [note.strip()]
    cells = list(csv.reader(io.StringIO(entry.edit.after.decode()), delimiter=delimiter))[1]
    assert not any(cell.startswith(("=", "+", "@")) for cell in cells), "a spreadsheet would run it"
