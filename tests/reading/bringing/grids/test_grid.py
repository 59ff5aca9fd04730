"""Is every usual file opened, and every hostile one refused in a sentence?"""

from __future__ import annotations

import codecs
import datetime as dt
import resource
import time
import zipfile

import openpyxl
import pytest
from openpyxl.styles import Font

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.any_file import read_grid

ROWS = [["Datum", "Uhrzeit", "Wert"], ["03.02.2026", "08:10", "5,4"], ["03.02.2026", "08:15", "5,6"]]


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"], ids=["utf-8", "with mark", "utf-16", "cp1252"]
)
def test_delimiters_and_alphabets(tmp_path, delimiter, encoding):
    rows = [*ROWS, ["Größe für Übung", "", "mäßig"]]
    text = "\r\n".join(delimiter.join(row) for row in rows)
    (tmp_path / "a.txt").write_bytes(text.encode(encoding))
    assert read_grid(tmp_path / "a.txt").rows == rows


def test_quoted_cells_as_rfc_4180_writes_them(tmp_path):
    # RFC 4180, section 2, rules 5 to 7
    (tmp_path / "a.csv").write_text('aaa,"b\r\nbb",ccc\r\nzzz,"b""bb",xxx\r\n', newline="")
    grid = read_grid(tmp_path / "a.csv")
    assert [[" ".join(cell.split()) for cell in row] for row in grid.rows] == [
        ["aaa", "b bb", "ccc"],
        ["zzz", 'b"bb', "xxx"],
    ]
    assert grid.lines == [1, 3]


def test_a_sheet_gives_dates_as_iso_and_the_fullest_is_read(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "about"
    book.active["A1"] = "made on paper"
    sheet = book.create_sheet("log")
    for row in (
        ["when", "day", "clock", "value"],
        [dt.datetime(2026, 2, 3, 8, 10), dt.date(2026, 2, 3), dt.time(8, 10), 5.4],
    ):
        sheet.append(row)
    book.save(tmp_path / "a.xlsx")
    grid = read_grid(tmp_path / "a.xlsx")
    assert grid.rows[1] == ["2026-02-03T08:10:00", "2026-02-03", "08:10:00", "5.4"]
    assert 'sheet "log" of 2 is read, and not "about"' in grid.said
    assert read_grid(tmp_path / "a.xlsx", "about").rows == [["made on paper"]]
    with pytest.raises(NothingToDo, match='has no sheet "x"; it has about, log'):
        read_grid(tmp_path / "a.xlsx", "x")


def test_a_row_that_is_struck_through_and_a_hidden_sheet_are_not_read(tmp_path):
    book = openpyxl.Workbook()
    sheet, hidden = book.active, book.create_sheet("last year")
    rows = [["time", "food"], ["2026-02-03T08:10", "oats"], ["2026-02-03T10:00", "cake"], ["2026-02-03T12:30", "soup"]]
    for row in rows:
        sheet.append(row)
    for cell in sheet[3]:
        cell.font = Font(strike=True)
    sheet["B4"].font = Font(strike=True)  # a cell alone says nothing of its row
    for row in rows * 3:
        hidden.append(row)
    hidden.sheet_state = "hidden"
    book.save(tmp_path / "a.xlsx")
    grid = read_grid(tmp_path / "a.xlsx")
    assert (grid.rows, grid.lines) == ([rows[0], rows[1], rows[3]], [1, 2, 4])
    assert grid.faults == ((3, "is struck through; the row is left out"),)
    assert len(read_grid(tmp_path / "a.xlsx", "last year").rows) == 12


def test_a_formula_without_its_result_is_told_with_its_row(tmp_path):
    book = openpyxl.Workbook()
    for row in (["time", "glucose"], ["2026-02-03T08:10", "=90+5"]):
        book.active.append(row)
    book.save(tmp_path / "a.xlsx")
    with pytest.raises(NothingToDo, match="row 2 holds a formula whose result is not in the file"):
        read_grid(tmp_path / "a.xlsx")


def _bomb(path, name: str, content: bytes) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr(name, content)


LAUGHS = b"""<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "aaaaaaaaaaaaaaaaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">
<!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;">
<!ENTITY e "&d;&d;&d;&d;&d;&d;&d;&d;&d;&d;">
<!ENTITY f "&e;&e;&e;&e;&e;&e;&e;&e;&e;&e;">]>
<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">
<sheetData><row r="1"><c r="A1" t="inlineStr">
<is><t>&f;</t></is></c></row></sheetData></worksheet>"""


def make_zip_bomb(path):
    _bomb(path, "xl/worksheets/sheet1.xml", b"0" * 200_000_000)


def make_xml_bomb(path):
    """A sound workbook, its sheet exchanged for one that names entities in entities."""
    book = openpyxl.Workbook()
    book.active["A1"] = "x"
    book.save(path)
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, LAUGHS if name == "xl/worksheets/sheet1.xml" else content)


def make_cut_off(path):
    book = openpyxl.Workbook()
    for i in range(200):
        book.active.append([i, "x"])
    book.save(path)
    path.write_bytes(path.read_bytes()[:-300])


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (make_zip_bomb, "would unpack to 200 MB"),
        (make_xml_bomb, "cannot be read as a spreadsheet"),
        (make_cut_off, "NUL|neither a text table nor a spreadsheet|broken or cut-off"),
        (lambda path: _bomb(path, "readme", b"x"), "cannot be read as a spreadsheet"),
        (lambda path: path.write_bytes(b"a" * 5_000_000), "line 1 has 5,000,000 characters"),
        (lambda path: path.write_bytes(b"time,glucose\n2026-02-03T08:10,\0\n"), "line 2 holds NUL characters"),
        (lambda path: path.write_bytes(b"  \n"), "is empty"),
        (
            lambda path: path.write_bytes(codecs.BOM_UTF16_LE + b"\x00\xd8\x41"),
            "begins as UTF-16 text and does not go on so",
        ),
        (lambda path: path.write_bytes(bytes(range(256)) * 50), "neither a text table nor a spreadsheet"),
        (lambda path: path.mkdir(), "is not a file"),
        (lambda path: None, "cannot be read: no such file"),
    ],
)
def test_a_hostile_file_is_refused_in_a_sentence_with_bounded_memory_and_time(tmp_path, make, why):
    path = tmp_path / "a.xlsx"
    make(path)
    before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.monotonic()
    with pytest.raises(NothingToDo, match=why) as refused:
        read_grid(path)
    assert "\n" not in str(refused.value)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 400_000  # [KiB]
    assert time.monotonic() - began < 20


def make_far_corner(path):
    book = openpyxl.Workbook()
    book.active.append(["time", "glucose"])
    book.active.cell(1_048_576, 16_384, 5)
    book.save(path)


def make_wide(path):
    names = ",".join(f"c{i}" for i in range(99_999))
    path.write_text(f"time,{names}\n" + f"2026-02-03T08:10,{','.join('5' * 99_999)}\n" * 3)


@pytest.mark.parametrize(("make", "columns"), [(make_far_corner, "16,384"), (make_wide, "100,000")])
def test_more_columns_than_a_log_has_are_refused_at_once(tmp_path, make, columns):
    make(tmp_path / "a.xlsx")
    began = time.monotonic()
    with pytest.raises(NothingToDo, match=f"has {columns} columns: no person's log has more than 2,000"):
        read_grid(tmp_path / "a.xlsx")
    assert time.monotonic() - began < 5


def test_a_file_of_a_gigabyte_is_not_even_opened(tmp_path):
    with open(tmp_path / "a.csv", "wb") as file:
        file.truncate(1_000_000_000)
    with pytest.raises(NothingToDo, match="has 1,000 MB"):
        read_grid(tmp_path / "a.csv")
