"""Does the form write what is typed, say so in one line, take it back, and refuse the rest beside its field?"""

from __future__ import annotations

import shutil
from dataclasses import replace

import pandas as pd
import pytest

from glucolab.reading.folder import read_study
from glucolab.running.entering import own_hands, undo_edit, write_edit
from glucolab.showing.widgets import explore_own_study
from tests.conftest import REPOSITORY
from tests.reading.test_photos import photo
from tests.running.test_cli import hashes

AUTUMN, SUMMER = "wear_periods/2026-10_autumn", "wear_periods/2026-06_summer"
LATE = "wear_periods/2026-11_late_autumn"
NOW = pd.Timestamp("2026-03-03T14:05", tz="UTC")


@pytest.fixture
def study(tmp_path):
    """The sample study as it was after its autumn wear."""
    copy = shutil.copytree(REPOSITORY / "sample_data", tmp_path / "study")
    shutil.rmtree(copy / LATE)
    return copy


def form_of(study, now=NOW, **hands):
    return explore_own_study(study, replace(own_hands(), **hands), lambda: now)


def fill(form, **texts):
    (panel,) = form.panel.children
    for name, text in texts.items():
        panel.fields[name].control.value = text
    return panel


def save(form, **texts):
    panel = fill(form, **texts)
    panel.save.click()
    return panel


def test_a_meal_is_added_in_one_line_and_taken_back_byte_for_byte(study):
    before = hashes(study)
    form = form_of(study)
    assert repr(form) == "study: 3 wears to write into. Nothing is written before you save."
    assert form.undo.disabled
    panel = save(form, name="lentil soup", carbs_g="45", clock="12:40")
    assert repr(form) == "Added a meal at 12:40 on 30 October: lentil soup, 45 g of carbohydrate."
    assert (study / AUTUMN / "meals.csv").read_text().endswith("\n2026-10-30T12:40:00,lentil soup,45,,,,,,,\n")
    assert [name for name, old in before.items() if hashes(study)[name] != old] == [str(study / AUTUMN / "meals.csv")]
    assert panel.fields["name"].text == panel.fields["clock"].text == ""
    save(form, name="bread", clock="13:40")
    form.undo.click()
    assert repr(form) == "Taken back: a meal at 13:40 on 30 October: bread."
    form.undo.click()
    assert hashes(study) == before
    assert form.undo.disabled


def test_each_section_says_what_changed(study):
    form = form_of(study)
    form.wear.control.value = "2026-06_summer"
    for section, typed, said in [
        ("feelings", {"energy": "6", "hunger": "3", "note": "slept badly"},
         "Added how you felt at 12:41 on 18 June: energy 6, hunger 3, “slept badly”."),
        ("checks", {"glucose": "93", "source": "venous"},
         "Added a finger-stick at 12:41 on 18 June: 93 mg/dL, from a vein."),
        ("notes", {"kind": "heat", "end": "13:10", "note": "by the lake"},
         "Added a note at 12:41 on 18 June: heat, sauna, until 13:10, “by the lake”."),
    ]:  # fmt: skip
        form.open_section(section)
        save(form, clock="12:41", **typed)
        assert repr(form) == said
    # this wear's tables are in mmol/L, the study is shown in mg/dL: 93 / 18.0156 = 5.16219
    assert (study / SUMMER / "checks.csv").read_text().endswith("\n2026-06-18T12:41:00,5.16219,venous\n")


def test_a_day_is_filled_and_own_columns_are_asked_for(study):
    path = study / AUTUMN / "days.csv"
    path.write_text(path.read_text() + "2026-10-31,,,,,,,,\n")
    toml = study / AUTUMN / "wear.toml"
    toml.write_text(toml.read_text().replace("2026-10-30T17", "2026-10-31T17"))
    form = form_of(study)
    form.open_section("days")
    panel = save(form, stress="6", late_screen_min="50")
    assert repr(form) == "Added to 31 October: stress 6, late screen 50 min."
    assert path.read_text().endswith("\n2026-10-31,6,,,,,,,50\n")
    panel.fields["day"].control.value = "2026-10-17"
    kept = path.read_text().splitlines()[3].split(",")[1]
    save(form, stress="9")
    assert repr(form) == "Nothing was written. Please look at: stress."
    assert panel.fields["stress"].fault.value == (
        f"Is &#34;{kept}&#34; already (days.csv line 4): change it there, nothing was written."
    )


def test_what_is_refused_is_said_beside_its_field_and_nothing_is_written(study):
    before = hashes(study)
    form = form_of(study)
    panel = save(form, carbs_g="4<b>5", protein_g="-1")
    assert repr(form) == "Nothing was written. Please look at: what it was, carbohydrate, time and protein."
    faults = {name: field.fault.value for name, field in panel.fields.items() if field.fault.value}
    assert faults == {
        "name": "This is needed.",
        "carbs_g": "&#34;4&lt;b&gt;5&#34; is not a number.",
        "clock": "Write when it was, such as 12:40.",
        "protein_g": "&#34;-1&#34; is outside 0 to 350.",
    }
    assert form.keyboard.going[0] == "name"
    assert panel.besides.layout.display == "flex", "a field that is refused is in sight"
    assert hashes(study) == before
    save(form, name="soup", carbs_g="45", protein_g="", clock="12:40")
    assert not any(field.fault.value for field in panel.fields.values())


def test_a_dish_is_logged_again_by_one_click(study):
    form = form_of(study)
    (panel,) = form.panel.children
    usual = read_study(study).wears[-1].meals.query("name == 'lentil soup'")["carbs_g"].iloc[-1]
    fill(form, name="lent", clock="12:40")
    row = panel.again.children[1]
    assert [button.description for button in row.children] == [f"lentil soup, {usual:g} g"]
    row.children[0].click()
    assert repr(form).startswith(f"Added a meal at 12:40 on 30 October: lentil soup, {usual:g} g of carbohydrate, ")
    soups = read_study(study).wears[-1].meals.query("name == 'lentil soup'").drop(columns=["time", "note"])
    earlier, last = soups.iloc[-2], soups.iloc[-1]
    assert last.dropna().to_dict() == earlier.dropna().to_dict()
    assert panel.fields["name"].text == ""


def test_a_file_changed_meanwhile_is_left_as_it_is(study):
    path = study / AUTUMN / "meals.csv"

    def late(edit):
        path.write_text(path.read_text() + "2026-10-30T11:00:00,by another hand,,,,,,,,\n")
        write_edit(edit)

    form = form_of(study, write=late)
    save(form, name="soup", clock="12:40")
    assert repr(form) == (
        f"Nothing was written: {AUTUMN}/meals.csv was changed by another program meanwhile, and is left as it is."
    )
    assert path.read_text().endswith("by another hand,,,,,,,,\n")
    assert form.undo.disabled


def test_undo_leaves_what_was_changed_since(study):
    path = study / AUTUMN / "meals.csv"
    form = form_of(study)
    save(form, name="soup", clock="12:40")
    path.write_text(path.read_text().replace("soup", "broth"))
    changed = path.read_text()
    form.undo.click()
    assert repr(form).startswith("Not taken back: ")
    assert path.read_text() == changed
    assert not form.undo.disabled


def test_a_full_disk_is_said(study):
    def write(edit):
        raise OSError(28, "No space left on device")

    form = form_of(study, write=write)
    panel = save(form, name="soup", clock="12:40")
    assert "No space left on device" in repr(form)
    assert panel.fields["name"].text == "soup", "what was typed is still there"


def test_a_photo_shows_when_it_was_taken_and_stays_where_it_is(study):
    folder = study / AUTUMN / "photos"
    folder.mkdir()
    (folder / "plate.jpg").write_bytes(photo("2026:10:20 12:30:05"))
    before = hashes(folder)
    form = form_of(study)
    panel = fill(form, name="soup", photo="plate.jpg")
    assert panel.told.value == ("Taken at 12:30 on 20 October 2026. With the time left empty, that is the meal’s.")
    panel.save.click()
    assert repr(form) == "Added a meal at 12:30 on 20 October: soup."
    assert [value for _, value in panel.fields["photo"].control.options] == [""]
    assert hashes(folder) == before
    meal = read_study(study).wears[-1].meals.query("name == 'soup'").iloc[0]
    assert meal["time_source"] == "photo"
    assert meal["time"] == pd.Timestamp("2026-10-20T12:30:05", tz="Europe/Warsaw")


@pytest.mark.parametrize(("typed", "cautioned"), [("199", False), ("200", True)])
def test_a_high_finger_stick_carries_its_caution(study, typed, cautioned):
    """The contract's limit, section 5: any of 200 mg/dL or more is taken to a clinician."""
    form = form_of(study)
    form.open_section("checks")
    save(form, glucose=typed, clock="12:40")
    assert repr(form).startswith(f"Added a finger-stick at 12:40 on 30 October: {typed} mg/dL.")
    assert repr(form).endswith("take this to a clinician.") == cautioned


def test_hidden_numbers_are_not_repeated(study):
    toml = study / "study.toml"
    toml.write_text(toml.read_text().replace("numbers = true", "numbers = false"))
    form = form_of(study)
    form.open_section("checks")
    save(form, glucose="95", clock="12:40")
    assert repr(form) == "Added a finger-stick at 12:40 on 30 October."


def test_a_table_that_cannot_be_read_is_said_where_it_would_be_written(study):
    (study / AUTUMN / "checks.csv").write_bytes("time,glucose\n".encode("utf-16"))
    form = form_of(study)
    form.open_section("checks")
    save(form, glucose="95", clock="12:40")
    assert repr(form).startswith("Nothing was written: ")
    assert "UTF-16" in repr(form)


def test_a_study_begins_in_an_empty_folder_and_ends_in_a_page(tmp_path):
    export = tmp_path / "export.csv"
    export.write_text((REPOSITORY / "sample_data" / AUTUMN / "glucose.csv").read_text())
    form = form_of(tmp_path / "all" / "mine", reported := pd.Timestamp("2026-10-30T18:00", tz="UTC"))
    assert form.sections["meals"].layout.display == "none"
    save(form, name="mine", time_zone="Warsaw", goal="95")
    assert "time zone" in repr(form)
    assert not (tmp_path / "all").exists()
    save(form, time_zone="Europe/Warsaw")
    assert repr(form) == "The study mine was begun. Now its first wear: when did the sensor go on?"
    day = pd.Timestamp("2026-10-15").date()
    save(form, day=day, clock="18:25")
    assert repr(form).startswith("The wear 2026-10-15 was begun.")
    form.file.control.value = str(tmp_path / "none.csv")
    form.read.click()
    assert "is no file that is there" in form.file.fault.value
    form.file.control.value = str(export)
    form.read.click()
    (desk,) = form.below.children
    desk.button.click()
    assert repr(desk).startswith("Written into wear_periods/2026-10-15/glucose.csv")
    form.open_section("meals")
    save(form, name="lentil soup", carbs_g="45")
    assert repr(form) == "Added a meal at 19:00 on 30 October: lentil soup, 45 g of carbohydrate."
    assert reported.tz_convert("Europe/Warsaw").hour == 19
    form.open_section("checks")
    save(form, glucose="95", clock="9:30")
    form.open_section("report")
    form.make.click()
    assert repr(form).startswith("2 pages made. Open this one in a browser: ")
    assert (tmp_path / "all/reports/mine/study/report.html").is_file()
    assert (tmp_path / "all/reports/mine/2026-10-15/report.html").is_file()


def test_writing_and_undoing_leave_no_other_file(study):
    before = set(study.rglob("*"))
    edits = []
    form = form_of(study, write=lambda edit: (edits.append(edit), write_edit(edit)))
    save(form, name="soup", clock="12:40")
    undo_edit(edits[0])
    assert set(study.rglob("*")) == before
