"""Does the form work by keyboard alone in a real JupyterLab, from an empty folder to a page?"""

from __future__ import annotations

import re
import shutil

import pytest
from axe_playwright_python.sync_playwright import Axe

from glucolab.reading.folder import read_study
from tests.conftest import REPOSITORY
from tests.reading.test_photos import photo
from tests.widgets.lab import Lab, Sheet, open_notebook

ANSWERS_WITHIN_MS = 15_000
REPORTED_WITHIN_MS = 180_000
AUTUMN = "wear_periods/2026-10_autumn"


def open_form(browser, lab: Lab, name: str, study: str, width: int = 1280):
    """The notebook over a study of its own, as a file beside it."""
    notebook = lab.folder / "notebooks" / "write_down.ipynb"
    notebook.with_name(f"{name}.ipynb").write_text(
        notebook.read_text("utf-8").replace("../sample_data", study), "utf-8"
    )
    return open_notebook(browser, lab, name, width)


def run(sheet: Sheet):
    sheet.run_all()
    form = sheet.page.locator(".gl-form")
    form.get_by_role("status").wait_for(timeout=ANSWERS_WITHIN_MS)
    return form


def says(form, pattern: str, within_ms: int = ANSWERS_WITHIN_MS) -> str:
    said = form.get_by_role("status").filter(has_text=re.compile(pattern)).first
    said.wait_for(timeout=within_ms)
    return said.inner_text()


def shown(sheet: Sheet, form, label: str):
    """A field once it is there, and has the focus."""
    field = form.get_by_label(label, exact=True)
    field.wait_for(timeout=ANSWERS_WITHIN_MS)
    sheet.page.wait_for_function("field => field === document.activeElement", arg=field.element_handle())
    return field


def test_a_meal_is_written_repeated_refused_and_taken_back_by_keyboard(browser, lab):
    study = shutil.copytree(lab.folder / "sample_data", lab.folder / "typed")
    shutil.rmtree(study / "wear_periods/2026-11_late_autumn")
    porridge = read_study(study).wears[-1].meals.query("name == 'buckwheat porridge'")["carbs_g"].iloc[-1]
    (study / AUTUMN / "photos").mkdir()
    (study / AUTUMN / "photos/plate.jpg").write_bytes(photo("2026:10:20 12:30:05"))
    meals = study / AUTUMN / "meals.csv"
    before = meals.read_bytes()
    with open_form(browser, lab, "typing", "../typed") as sheet:
        form, keys = run(sheet), sheet.page.keyboard
        form.get_by_label("what it was").focus()
        keys.type("lentil soup")
        for text in ("4x5", "", "12:40"):  # carbohydrate, day, time
            keys.press("Tab")
            keys.type(text)
        keys.press("Enter")
        says(form, "Nothing was written. Please look at: carbohydrate.")
        carbs = shown(sheet, form, "carbohydrate [g]")
        fault = form.locator(f"id={carbs.get_attribute('aria-describedby')}")
        assert fault.inner_text() == '"4x5" is not a number.'
        assert carbs.evaluate("field => getComputedStyle(field).borderTopWidth") == "2px"
        assert meals.read_bytes() == before
        keys.press("Control+a")
        keys.type("45")
        keys.press("Enter")
        says(form, "Added a meal at 12:40 on 30 October: lentil soup, 45 g of carbohydrate.")
        assert meals.read_bytes() == before + b"2026-10-30T12:40:00,lentil soup,45,,,,,,,\n"
        shown(sheet, form, "what it was")
        assert carbs.get_attribute("aria-invalid") is None
        form.get_by_label("photo", exact=True).select_option("plate.jpg")
        form.get_by_text("Taken at 12:30 on 20 October 2026").wait_for(timeout=ANSWERS_WITHIN_MS)
        form.get_by_role("button", name=f"buckwheat porridge, {porridge:g} g").press("Enter")
        says(form, f"Added a meal at 12:30 on 20 October: buckwheat porridge, {porridge:g} g")
        undo = form.get_by_role("button", name="Undo")
        for _ in range(2):
            undo.press("Enter")
        says(form, "Taken back: a meal at 12:40 on 30 October: lentil soup")
        assert meals.read_bytes() == before
        assert undo.is_disabled()
        found = Axe().run(sheet.page, context={"include": [[".jp-OutputArea-output"]]}).response
        assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []
        assert sheet.outside == []
        assert sheet.messages == []


def test_tab_goes_through_the_fields_in_the_order_in_which_they_are_read(browser, lab):
    with open_form(browser, lab, "tabbing", "../sample_data") as sheet:
        form = run(sheet)
        form.get_by_label("study", exact=True).focus()
        names = []
        for _ in range(16):
            names.append(
                sheet.page.evaluate(
                    "() => document.activeElement.labels?.[0]?.textContent || document.activeElement.textContent"
                )
            )
            sheet.page.keyboard.press("Tab")
        assert names == [
            "study", "wear", "Meal", "Feeling", "Finger-stick", "Day", "Note", "Sensor’s file", "New wear", "Report",
            "what it was", "carbohydrate [g]", "day", "time", "Save", "More fields",
        ]  # fmt: skip
        pressed = form.locator("button[aria-pressed=true]")
        assert pressed.all_inner_texts() == ["Meal"]


@pytest.mark.parametrize("width", [1280, 390])
def test_nothing_is_cut_off(browser, lab, width):
    """On a desk and on a telephone: no section is wider than what it stands in."""
    with open_form(browser, lab, f"wide_{width}", "../sample_data") as sheet:
        form = run(sheet)
        if width < 1000:
            sheet.page.keyboard.press("Control+b")
            sheet.page.set_viewport_size({"width": width, "height": 900})
        for section in ("Meal", "Feeling", "Finger-stick", "Day", "Note", "Sensor’s file", "New wear", "Report"):
            form.get_by_role("button", name=section, exact=True).click()
            sheet.page.wait_for_timeout(300)
            wide = form.evaluate(
                "form => [...form.querySelectorAll('input, select, button, .widget-label')]"
                ".filter(one => one.offsetWidth && one.getBoundingClientRect().right > "
                "form.getBoundingClientRect().right + 1).map(one => one.outerHTML.slice(0, 120))"
            )
            assert wide == [], section


def test_from_an_empty_folder_to_a_page_by_keyboard(browser, lab):
    (lab.folder / "mine").mkdir()
    readings = (REPOSITORY / "sample_data" / AUTUMN / "glucose.csv").read_text("utf-8").splitlines()
    columns = readings[0].split(",")
    assert columns[:2] == ["time", "glucose"]
    rows = [line.split(",")[:2] for line in readings[1:]]
    export = [f"{time[8:10]}.{time[5:7]}.{time[:4]} {time[11:16]};{value}" for time, value in rows]
    (lab.folder / "export.csv").write_text("\n".join(["Zeit;Gewebezucker (mg/dL)", *export]) + "\n", "utf-8")
    study = lab.folder / "mine" / "my_study"
    with open_form(browser, lab, "beginning", "../mine/my_study") as sheet:
        form, keys = run(sheet), sheet.page.keyboard
        form.get_by_label("name of the study").focus()
        keys.press("Tab")
        keys.press("Control+a")
        keys.type("Europe/Warsaw")
        keys.press("Tab")
        keys.press("Tab")
        keys.type("95")
        keys.press("Enter")
        says(form, "The study my_study was begun")
        shown(sheet, form, "went on, day")
        keys.type("10152026")
        form.get_by_label("went on, time").focus()
        keys.type("18:25")
        form.get_by_label("came off, day").focus()
        keys.type("10302026")
        form.get_by_label("came off, time").focus()
        keys.type("17:25")
        keys.press("Enter")
        says(form, "The wear 2026-10-15 was begun")
        shown(sheet, form, "path of the file")
        keys.type("../export.csv")
        keys.press("Enter")
        says(form, "export.csv would bring")
        form.get_by_role("button", name=re.compile(r"^write \d+ new rows")).press("Enter")
        says(form, "Written into wear_periods/2026-10-15/glucose.csv")
        form.get_by_role("button", name="Meal", exact=True).press("Enter")
        form.get_by_label("what it was").focus()
        keys.type("lentil soup")
        keys.press("Tab")
        keys.type("45")
        form.get_by_label("day", exact=True).select_option(label="Tue 20 Oct")
        form.get_by_label("time", exact=True).focus()
        keys.type("12:40")
        keys.press("Enter")
        says(form, "Added a meal at 12:40 on 20 October: lentil soup, 45 g of carbohydrate.")
        form.get_by_role("button", name="Finger-stick", exact=True).press("Enter")
        form.get_by_label("glucose [mg/dL]").focus()
        keys.type("96")
        form.get_by_label("time", exact=True).focus()
        keys.type("7:05")
        keys.press("Enter")
        says(form, "Added a finger-stick at 07:05 on 30 October: 96 mg/dL.")
        form.get_by_role("button", name="Report", exact=True).press("Enter")
        form.get_by_role("button", name="Make the pages").press("Enter")
        assert "2 pages made" in says(form, "pages made", REPORTED_WITHIN_MS)
        assert sheet.outside == []
        assert sheet.messages == []
    record = read_study(study)
    assert record.problems == ()
    assert record.goal.mean_mg_dl == 95
    assert record.wears[0].meals["name"].tolist() == ["lentil soup"]
    assert record.wears[0].checks["glucose_mg_dl"].tolist() == [96.0]
    page = (lab.folder / "mine/reports/my_study/2026-10-15/report.html").read_text("utf-8")
    assert "lentil soup" in page
