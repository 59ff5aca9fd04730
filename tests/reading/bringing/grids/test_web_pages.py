"""Is the table of a web page read as a table, and is a page of two, or of none, refused? Invented pages."""

from __future__ import annotations

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.any_file import read_grid
from glucolab.reading.standards import read_standard
from tests.reading.bringing.tables import bring

ROWS = "".join(
    f"<tr><td>2026-02-03 {8 + i // 4:02d}:{15 * (i % 4):02d}</td><td>{90 + i % 5}</td></tr>" for i in range(30)
)
TABLE = f"<table><tr><th>Time<th>Glucose<br>(mg/dL)</tr>{ROWS}</table>"


@pytest.mark.parametrize(
    "page",
    [
        f"<!DOCTYPE html><html><style>td {{ color: red }}</style><body><p>My readings</p>{TABLE}</body></html>",
        f"\n<HTML><BODY>{TABLE.upper()}</BODY></HTML>",
        TABLE,
    ],
    ids=["page", "capitals", "table_alone"],
)
def test_the_table_of_a_page_is_brought(tmp_path, page):
    path = tmp_path / "page.html"
    path.write_text(page, encoding="utf-8")
    assert read_standard(path) is None
    table, rows, _ = bring(path)
    assert (table, len(rows), rows["glucose"].iloc[1]) == ("glucose", 30, "91")


def test_text_above_a_table_stands_in_lines_of_its_own_and_no_script_does(tmp_path):
    path = tmp_path / "page.html"
    path.write_text("<html><script>var x = 1;</script><h1>A &amp; B</h1><table><tr><td>1<td>2</table> below</html>")
    assert read_grid(path).rows == [["A & B", ""], ["1", "2"]]


def test_a_cell_over_two_rows_stands_in_both_and_one_over_two_columns_in_the_first(tmp_path):
    path = tmp_path / "page.html"
    table = "<tr><td rowspan=2>day</td><td colspan=2>wide</td></tr><tr><td>a</td><td>b</td></tr><tr><td>c</td></tr>"
    path.write_text(f"<html><table>{table}</table></html>")
    assert read_grid(path).rows == [["day", "wide", ""], ["day", "a", "b"], ["c", "", ""]]


@pytest.mark.parametrize(
    ("page", "why"),
    [
        (f"<html>{TABLE}{TABLE}</html>", "2 tables"),
        ("<html><p>nothing here</p></html>", "no table"),
        ("<html><table><tr><td><table></table></td></tr></table></html>", "within a table"),
    ],
)
def test_other_pages_are_refused(tmp_path, page, why):
    path = tmp_path / "page.html"
    path.write_text(page)
    with pytest.raises(NothingToDo, match=why):
        read_grid(path)


def test_a_caption_stands_above_and_cells_before_the_first_row_are_a_row(tmp_path):
    """HTML lets a page leave out its first <tr>; browsers draw a row then."""
    page = tmp_path / "page.html"
    page.write_text(
        "<html><body><table><caption>Finger-sticks in mg/dL</caption><td>time</td><td>glucose</td>"
        "<tr><td>2026-02-03 08:00</td><td>91</td></tr></table><p>end</p></body></html>"
    )
    assert read_grid(page).rows == [["Finger-sticks in mg/dL", ""], ["time", "glucose"], ["2026-02-03 08:00", "91"]]
