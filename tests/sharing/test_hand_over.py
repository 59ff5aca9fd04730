"""Does the page for a professional fit two sides, hold no name and no hidden figure, and read well?"""

from __future__ import annotations

import dataclasses
import re
import shutil

import pandas as pd
import pytest
from axe_playwright_python.sync_playwright import Axe

from glucolab.analysis import analyse_study
from glucolab.reading.folder import read_study
from glucolab.running.cli import main
from glucolab.showing.hand_over_page import write_hand_over
from tests.conftest import REPOSITORY

SECRET = "Zebrafinch"


@pytest.fixture(scope="module")
def analysis():
    return analyse_study(read_study(REPOSITORY / "sample_data"))


@pytest.fixture(scope="module")
def page(analysis) -> str:
    return write_hand_over(analysis)


@pytest.fixture(scope="module")
def fullest(analysis) -> str:
    """As much as there can be: twelve wears, every pair a claim, many experiments, a bad record."""
    periods, effects, trials = (analysis.tables[name] for name in ("periods", "effects", "trial_results"))
    many = pd.concat([periods[periods["level"] == "wear"]] * 4, ignore_index=True)
    many["start"] += pd.to_timedelta(many.index.to_numpy() * 30, unit="D")
    many["end"] += pd.to_timedelta(many.index.to_numpy() * 30, unit="D")
    many["name"] = [f"w{i}" for i in many.index[:-3]] + many["name"].tolist()[-3:]  # these are compared
    claims = effects[effects["low"].notna()].assign(verdict="higher")
    claims.iloc[::3, claims.columns.get_loc("verdict")] = "cannot_tell_yet"
    claims.iloc[1::4, claims.columns.get_loc("verdict")] = "too_small_to_matter"
    results = pd.concat([trials.assign(trial=f"t{i}") for i in range(6)], ignore_index=True)
    tables = {**analysis.tables, "periods": many, "effects": claims, "trial_results": results}
    return write_hand_over(dataclasses.replace(analysis, tables=tables))


@pytest.fixture
def opened(browser, tmp_path):
    """A function that opens a page and gives it with the requests it made beyond itself."""

    def open_page(html: str, width: int = 1280):
        file = tmp_path / "page.html"
        file.write_text(html, encoding="utf-8")
        shown = browser.new_context(viewport={"width": width, "height": 900}).new_page()
        asked: list[str] = []
        shown.on("request", lambda request: asked.append(request.url))
        shown.on("console", lambda message: asked.append(message.text))
        shown.goto(file.as_uri())
        return shown, [one for one in asked if one != file.as_uri()]

    return open_page


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("which", ["page", "fullest"])
@pytest.mark.parametrize("font", ["", "DejaVu Sans", "Liberation Sans"])
def test_it_fits_two_printed_sides(request, opened, paper, which, font):
    html = request.getfixturevalue(which)
    if font:
        html = html.replace("system-ui,", f'"{font}",')
    shown, _ = opened(html)
    pdf = shown.pdf(format=paper, prefer_css_page_size=False)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2


@pytest.mark.parametrize("width", [1280, 390])
def test_it_can_be_read_by_everyone_and_asks_for_nothing(opened, fullest, width):
    shown, asked = opened(fullest, width)
    assert asked == []
    found = Axe().run(shown).response
    assert len(found["passes"]) > 10
    assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []
    assert shown.evaluate("document.documentElement.scrollWidth") <= width


def test_what_is_left_out_is_counted(fullest):
    assert re.search(r"\d+ earlier not shown", fullest)
    assert re.search(r"and \d+ more, weaker", fullest)
    assert "and 8 results more" in fullest


def test_it_says_how_sure_and_carries_the_cautions(page, analysis):
    effects = analysis.tables["effects"]
    walks = effects[effects["factor"].eq("walk_after") & effects["outcome"].eq("rise_mg_dl")].iloc[0]
    text = re.sub(r"<[^>]+>", " ", page)
    for words in (
        "After meals with a walk, glucose rose",
        f"{walks['n_with']:.0f} meals with, {walks['n_without']:.0f} without",
        "not a diagnosis",
        "Never use these figures to dose a medicine",
        "symptoms that sugar relieves, see a clinician",
        "An association is no cause",
        "Experiment 1",
    ):
        assert words in text
    assert page.count("<li>", page.index("<h2>Methods"), page.index("<h2>Cautions")) == 5


def plant(study) -> None:
    """The secret in every field that takes free text, in names of columns, files and folders."""
    for path in [*study.rglob("*.csv")]:
        lines = path.read_text(encoding="utf-8").splitlines()
        header = lines[0].split(",")
        free = {"name", "note", "dish", "photo", "kind", "source", "method", "laboratory", "trial", "arm"}
        free -= {"kind"} if path.stem == "notes" else {"source"} if path.stem == "checks" else set()
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        for column in free & set(header):
            table[column] = [f"{cell} {SECRET}" if cell or column == "note" else "" for cell in table[column]]
        if path.stem == "days":
            readings = pd.read_csv(path.with_name("glucose.csv"))
            means = pd.to_numeric(readings["glucose"], errors="coerce").groupby(readings["time"].str[:10]).mean()
            table[f"{SECRET} mood"] = table["date"].map(means).round(1)  # clearly linked, and so shown
        table[f"{SECRET} column"] = SECRET
        table.to_csv(path, index=False)
    for wear in list((study / "wear_periods").iterdir()):
        toml = (wear / "wear.toml").read_text(encoding="utf-8")
        for key in ("sensor", "sensor_model", "meter", "site"):
            toml = re.sub(rf"^#? ?{key} = .*$", f'{key} = "{SECRET} {wear.name[-3:]}"', toml, flags=re.MULTILINE)
        (wear / "wear.toml").write_text(toml, encoding="utf-8")
        day = toml.partition("start = ")[2][:10]
        steps = "".join(f"{day}T{h:02d}:{m:02d},9,{SECRET}\n" for h in range(24) for m in range(60))
        (wear / "movement.csv").write_text(f"time,steps,source\n{steps}", encoding="utf-8")
        wear.rename(wear.with_name(f"{wear.name} {SECRET}"))
    with open(study / "labs.csv", "a", encoding="utf-8") as labs:
        width = len((study / "labs.csv").read_text().splitlines()[0].split(","))
        labs.write(",".join(["2026-01-05", SECRET, "3", SECRET, *[""] * (width - 4)]) + "\n")


def test_no_word_of_the_person_comes_out(tmp_path):
    study = tmp_path / f"{SECRET} study"
    shutil.copytree(REPOSITORY / "sample_data", study)
    plant(study)
    assert main(["share", str(study), "--out", str(tmp_path / "page.html")]) in (0, 1)
    written = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "Wear 3" in written  # the study was read, its secrets with it
    assert any(SECRET.lower() in name for name in read_study(study).wears[0].days.columns)
    assert SECRET.lower() not in written.lower()
    assert "own note" in written


def test_without_numbers_no_glucose_figure_is_in_the_file(analysis):
    study = dataclasses.replace(analysis.study, numbers=False)
    written = write_hand_over(dataclasses.replace(analysis, study=study))
    body = written[written.index("<body>") :]
    body = body[: body.index("<h2>Cautions")]  # the cautions name published limits, not this person's figures
    text = re.sub(r"<[^>]+>", " ", body)
    assert "mg/dL" not in text.replace("sensors on one body differ", "")
    text = re.sub(r"\d+ %|\(\d+ meals with, \d+ without\)|\(\d+ days\)|in 100", "", text)
    for value in analysis.tables["periods"][["mean_mg_dl", "mean_low_mg_dl", "usual_low_mg_dl"]].to_numpy().ravel():
        assert not re.search(
            rf"(?<![\d.]){value:.0f}(?![\d.%])", re.sub(r"90 %|\(\d+ meals with, \d+ without\)|\(\d+ days\)", "", text)
        ), value
    assert "Figures of glucose are hidden at the wearer" in text
    assert "glucose rose less than after similar meals without" in text


def test_whom_the_tool_only_describes_gets_no_goal_effect_or_ranking(analysis):
    person = dataclasses.replace(analysis.study.person, pregnant=True)
    study = dataclasses.replace(analysis.study, person=person)
    written = write_hand_over(dataclasses.replace(analysis, study=study))
    assert "nothing is compared, ranked or advised" in written
    for words in ("goal", "goes with a", "Experiment", "against"):
        assert words not in written[: written.index("<h2>Methods")]


def test_only_its_own_page_is_replaced_and_the_study_left_alone(make_study, tmp_path, capsys):
    study = make_study()
    assert main(["share", str(study), "--out", str(study / "page.html")]) == 2
    (tmp_path / "mine.html").write_text("mine")
    assert main(["share", str(study), "--out", str(tmp_path / "mine.html")]) == 2
    assert "is no page made by glucolab share" in capsys.readouterr().err
    assert main(["share", str(study), "--out", str(tmp_path / "page.html")]) == 0
    assert main(["share", str(study), "--out", str(tmp_path / "page.html")]) == 0


def test_a_wear_of_one_reading_is_refused_in_words(make_study, tmp_path, capsys):
    study = make_study({"wear_periods/winter/glucose.csv": "time,glucose\n2026-02-03T09:00,90\n"})
    assert main(["share", str(study), "--out", str(tmp_path / "page.html")]) == 2
    assert "No wear has readings enough for a mean." in capsys.readouterr().err
    assert not (tmp_path / "page.html").exists()


def cells_of(page: str, label: str) -> list[list[str]]:
    """The body of a table of the page."""
    table = page[page.index(f'aria-label="{label}"') :]
    rows = table[table.index("<tbody>") : table.index("</tbody>")].split("<tr>")[1:]
    return [re.findall(r"<td>([^<]*)</td>", row) for row in rows]


def test_figures_are_those_of_the_summaries_with_their_intervals(page, analysis):
    rows = cells_of(page, "Figures of the wears")
    assert len(rows) == len(analysis.wears)
    for row, one in zip(rows, analysis.wears, strict=True):
        sd, minutes = one.summary["sd"], one.summary["minutes_per_day"]
        assert row[3] == f"{sd['estimate']:.0f} ({sd['low']:.0f} to {sd['high']:.0f})"
        for cell, side in ((row[5], "below_range"), (row[6], "above_range")):
            assert cell == "{estimate:.0f} ({low:.0f} to {high:.0f})".format(**minutes[side])


def test_a_figure_that_is_withheld_says_why_once(analysis):
    why = "Minutes in and out of the range need two blood values."
    wears = [
        dataclasses.replace(one, summary=one.summary | {"minutes_per_day": None, "withheld": {"minutes_per_day": why}})
        for one in analysis.wears
    ]
    written = write_hand_over(dataclasses.replace(analysis, wears=tuple(wears)))
    assert written.count(why) == 1
    assert all(row[5:] == ["withheld", "withheld"] for row in cells_of(written, "Figures of the wears"))


def test_blood_tests_stand_with_their_dates(page, analysis):
    rows = cells_of(page, "Laboratory values")
    values = analysis.tables["lab_values"]
    assert len(rows) == values["analyte"].nunique()
    first = values[values["analyte"] == "hba1c"].sort_values("date")
    (hba1c,) = (row for row in rows if row[0] == "HbA1c")
    assert [cell.split(" ")[0] for cell in hba1c[1:-2]] == [f"{value:.4g}" for value in first["value"]]
    for date in values["date"].unique():
        assert f"<th>{date.day} {date:%b %Y}</th>" in page


def test_hours_of_the_day_are_drawn_with_their_quarters(page, analysis):
    last = max(analysis.wears, key=lambda one: one.wear.start)
    label = re.search(r'aria-label="(Mean glucose of each hour[^"]*)"', page)[1]
    for row in last.blocks.itertuples():
        assert f"{row.mean_mg_dl:.0f} mg/dL ({row.low_mg_dl:.0f} to {row.high_mg_dl:.0f})" in label


def test_an_own_column_is_named_as_the_wearer_describes_it(analysis):
    effects = analysis.tables["effects"]
    mine = effects["factor"].eq("covariate:late_screen_min") & effects["outcome"].eq("mean_mg_dl")
    assert mine.any()
    verdict = pd.Series("cannot_tell_yet", index=effects.index).mask(mine, "higher")
    tables = dict(analysis.tables) | {"effects": effects.assign(verdict=verdict)}
    for described, said in (({}, "own note 1"), ({"late_screen_min": "screen use at night"}, "screen use at night")):
        study = dataclasses.replace(analysis.study, described=described)
        written = write_hand_over(dataclasses.replace(analysis, study=study, tables=tables))
        assert f"“{said}”" in written
        assert "late screen" not in written.replace("_", " ")
