"""Is only what is new added, and nothing that stands there changed?"""

from __future__ import annotations

import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.merging.merge_rows import add_rows
from glucolab.reading.folder import read_study
from glucolab.reading.wear_context import find_place


def frame(**columns: list[str]) -> pd.DataFrame:
    rows = pd.DataFrame(columns, dtype=object)
    rows.index = pd.Index(range(2, 2 + len(rows)), name="line")
    return rows


@pytest.fixture
def study(make_study):
    return make_study()


@pytest.fixture
def place(study):
    return find_place(study / "wear_periods" / "winter")


def put(place, table: str, rows: pd.DataFrame):
    """Add rows and write them; what was added."""
    added = add_rows(place, table, rows, "export.csv")
    place.path(table).write_text(added.text, encoding="utf-8")
    return added


def test_readings_that_overlap_add_only_what_is_new_in_the_order_of_time(place, study):
    rows = frame(
        time=["2026-02-03T08:00:00", "2026-02-03T08:05", "2026-02-04T23:59", "2026-02-03T07:20+00:00"],
        glucose=["91", "5.5", "102", "99"],
        unit=["mg/dL", "mmol/L", "mg/dL", "mg/dL"],
    )
    before = place.path("glucose").read_text().splitlines()
    added = put(place, "glucose", rows)
    assert (len(added.new), added.known, added.outside) == (2, 1, 1)
    after = place.path("glucose").read_text().splitlines()
    assert [line for line in after if line in before] == before
    # 5.5 mmol/L x 18.0156 mg/dL per mmol/L (glucose 180.156 g/mol)
    assert after[2] == "2026-02-03T08:05,99.0858,"
    assert "\n".join(str(problem) for problem in added.problems).startswith(
        "export.csv: 1 of 4 rows lie outside this wear, 2026-02-03 08:00 to 2026-02-05 08:00, and are not brought"
    )
    assert len(read_study(study).wears[0].tables["glucose"]) == 194
    again = put(place, "glucose", rows)
    assert not again.changes
    assert (len(again.new), again.known) == (0, 3)


def test_a_cell_that_differs_is_kept_and_named_and_an_empty_one_filled(place):
    rows = frame(
        time=["2026-02-03T12:30", "2026-02-03T12:30"], name=["Soup", "bread"], carbs_g=["33", "20"], fiber_g=["6", ""]
    )
    added = put(place, "meals", rows)
    assert (len(added.new), added.known, added.filled) == (1, 1, 1)
    assert [str(p) for p in added.problems] == [
        'export.csv line 2: carbs_g "33" is not taken: wear_periods/winter/meals.csv line 2 says "30.5", which stays'
    ]
    lines = place.path("meals").read_text().splitlines()
    assert lines[:3] == [
        "time,name,carbs_g,dish,note,fiber_g",
        "2026-02-03T12:30,soup,30.5,soup,,6",
        "2026-02-03T12:30,bread,20,,,",
    ]
    assert "two\nhelpings" in place.path("meals").read_text()


def test_equal_rows_of_a_file_are_all_kept_and_matched_one_by_one(place):
    rows = frame(time=["2026-02-03T12:30"] * 2, name=["egg"] * 2, carbs_g=["1", "1"])
    assert len(put(place, "meals", rows).new) == 2
    assert put(place, "meals", rows).known == 2


def test_days_labs_and_covariates(place, study):
    put(place, "days", frame(date=["2026-02-04", "2026-02-05"], mood=["", "3"], knee=["1", "0"]))
    lines = place.path("days").read_text().splitlines()
    assert lines == ["date,stress,ill,mood,knee", "2026-02-03,4,false,7,", "2026-02-04,6,true,5,1", "2026-02-05,,,3,0"]
    added = put(
        place,
        "labs",
        frame(
            date=["2026-01-20", "2026-01-20"], analyte=["HbA1c", "Glucose"], value=["5.1", "95"], unit=["%", "mg/dL"]
        ),
    )
    assert (study / "labs.csv") == place.path("labs")
    assert len(added.new) == 2  # the value that is there has a clock time, so it is another draw


def test_a_table_with_decimal_commas_goes_on_so_and_formulas_are_neutralised(place, study):
    place.path("meals").write_text("time;name;carbs_g\n2026-02-03T12:30;soup;30,5\n", encoding="utf-8")
    put(place, "meals", frame(time=["2026-02-03T13:00"], name=["=1+1"], carbs_g=["12.125"]))
    assert place.path("meals").read_text().splitlines()[2] == "2026-02-03T13:00;'=1+1;12,1250"
    meals = read_study(study).wears[0].tables["meals"]
    assert meals["name"].tolist() == ["soup", "=1+1"]
    assert meals["carbs_g"].tolist() == [30.5, 12.125]


def test_what_cannot_be_read_whole_is_not_rewritten(place):
    place.path("meals").write_text('time,name\n2026-02-03T12:30,"soup\n', encoding="utf-8")
    with pytest.raises(NothingToDo, match=r"meals\.csv line 2 cannot be split into its cells"):
        add_rows(place, "meals", frame(time=["2026-02-03T13:00"], name=["x"]), "export.csv")


def test_a_wear_that_does_not_say_when_it_began_takes_nothing(make_study):
    study = make_study({"wear_periods/winter/wear.toml": 'unit = "mg/dL"\n'})
    with pytest.raises(NothingToDo, match=r"wear\.toml gives no start that can be used; write it first"):
        find_place(study / "wear_periods" / "winter")
    with pytest.raises(NothingToDo, match="is not the folder of a wear"):
        find_place(study)


def test_an_hour_that_autumn_repeats_is_added_once(make_study):
    # Europe/Lisbon goes from UTC+1 to UTC+0 on 25 October 2026 at 02:00 (last Sunday in October, Directive 2000/84/EC)
    times = [f"2026-10-25T{h:02d}:{m:02d}" for h, m in ((0, 30), (1, 0), (1, 30), (1, 0), (1, 30), (2, 0))]
    toml = 'start = 2026-10-20T08:00:00\nend = 2026-10-27T08:00:00\nunit = "mg/dL"\n'
    study = make_study({"wear_periods/winter/wear.toml": toml, "wear_periods/winter/glucose.csv": "time,glucose\n"})
    place = find_place(study / "wear_periods" / "winter")
    rows = frame(time=times, glucose=[str(90 + i) for i in range(6)], unit=["mg/dL"] * 6)
    assert len(put(place, "glucose", rows).new) == 6
    assert len(put(place, "glucose", rows).new) == 0
    read = read_study(study).wears[0].tables["glucose"]["time"]
    assert read.diff().dropna().eq(pd.Timedelta(minutes=30)).all()
