"""Do a diary's notes come in as notes, with every word kept, and nothing else that has a text in it?

Small invented tables, as people keep them; the words are everyday ones, from memory.
"""

from __future__ import annotations

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import UnsettledError
from tests.reading.bringing.tables import bring, guess
from tests.reading.bringing.test_one_wearer import write


@pytest.mark.parametrize(
    ("header", "tags"),
    [
        ("time,tag,note", ("sauna", "fever", "tablet")),
        ("Zeit,Kategorie,Notiz", ("Sauna", "Fieber", "Tablette")),
        ("fecha hora,tipo,nota", ("sauna", "fiebre", "pastilla")),
        ("data i godzina,rodzaj,uwagi", ("sauna", "gorączka", "tabletka")),
    ],
)
def test_tags_are_kinds_in_several_languages(tmp_path, header, tags):
    rows = [f"2026-02-0{i + 3} 18:00,{tag},text {i}" for i, tag in enumerate(tags)]
    table, brought, _ = bring(write(tmp_path / "export.csv", header, rows))
    assert table == "notes"
    assert brought["kind"].tolist() == ["heat", "illness", "medicine"]
    assert brought["note"].tolist() == [f"text {i}" for i in range(len(tags))]
    assert brought["start"].tolist()[0].startswith("2026-02-03T18:00")


def test_a_tag_that_is_no_kind_is_kept_in_the_text(tmp_path):
    rows = ["2026-02-03 18:00,illness,sore throat", "2026-02-04 18:00,wedding,late", "2026-02-05 18:00,sick,"]
    path = write(tmp_path / "export.csv", "time,category,note", rows)
    _, brought, _ = bring(path)
    assert brought["kind"].tolist() == ["illness", "other", "illness"]
    assert brought["note"].tolist() == ["illness: sore throat", "wedding: late", "sick"]
    assert any("“wedding”: no kind of note here" in text for text in guess(path).said)


def test_time_and_note_alone_are_notes_of_another_kind_unless_one_is_said(tmp_path):
    path = write(tmp_path / "a.csv", "time,note", ["2026-02-03 18:00,at a fair", "2026-02-05 07:30,slept badly"])
    table, brought, _ = bring(path)
    assert (table, brought["kind"].tolist()) == ("notes", ["other", "other"])
    assert brought["note"].tolist() == ["at a fair", "slept badly"]
    assert set(bring(path, kind="travel")[1]["kind"]) == {"travel"}
    with pytest.raises(NothingToDo, match='kind cannot be "party" here: it is one of pressure, heat'):
        bring(path, kind="party")


@pytest.mark.parametrize(
    ("header", "cells"), [("start,end", "2026-02-03 18:00,2026-02-03 19:30"), ("start,minutes", "2026-02-03 18:00,90")]
)
def test_where_it_is_written_when_a_note_ends_it_does(tmp_path, header, cells):
    rows = [f"{cells},illness,shivers", f"{cells.replace('-03', '-06')},heat,hot bath"]
    table, brought, _ = bring(write(tmp_path / "notes.csv", f"{header},kind,note", rows))
    assert table == "notes"
    assert [end[:16] for end in brought["end"]] == ["2026-02-03T19:30", "2026-02-06T19:30"]


@pytest.mark.parametrize(
    ("name", "header", "row", "table"),
    [
        ("diary.csv", "time,meal,carbs (g),note", "18:00,soup,30,with bread", "meals"),
        ("notes.csv", "start,minutes,activity,note", "18:00,40,walk,windy", "activity"),
        ("notes.csv", "time,energy 0-10,note", "18:00,7,fine", "feelings"),
        ("notes.csv", "time,finger-stick (mg/dL),note", "18:00,93,tired", "checks"),
    ],
)
def test_what_holds_more_than_notes_is_no_table_of_notes(tmp_path, name, header, row, table):
    path = write(tmp_path / name, header, [f"2026-02-0{day} {row}" for day in range(3, 9)])
    assert bring(path)[0] == table


@pytest.mark.parametrize(
    ("name", "header", "row"),
    [
        ("food diary.csv", "time,what,note", "18:00,soup and bread,nice"),  # meals, and no word for them
        ("export.csv", "time,weight (kg),note", "18:00,71.5,after a run"),  # the weight would be lost
    ],
)
def test_a_table_that_may_be_something_else_is_never_notes_unasked(tmp_path, name, header, row):
    path = write(tmp_path / name, header, [f"2026-02-0{day} {row}" for day in range(3, 9)])
    try:
        taken = guess(path).mapping.table
    except (UnsettledError, NothingToDo):
        return
    assert taken != "notes"
