"""Does a table in memory become the wear that its folder would be, and does what cannot be used say what to type?"""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest

import glucolab as gl
from glucolab.reading.wear import LOGGED_AT
from tests.hand_made import SOUND_STUDY

TIMES = pd.date_range("2026-02-03 08:00", periods=576, freq="5min", tz="Europe/Lisbon")
READINGS = pd.Series(100 + 15 * np.sin(np.arange(576) / 20), TIMES)


def frame_of(name: str) -> pd.DataFrame:
    """A table of the sound study, as pandas reads its file."""
    from io import StringIO

    return pd.read_csv(StringIO(SOUND_STUDY[f"wear_periods/winter/{name}.csv"]))


def test_a_table_becomes_the_wear_that_its_folder_would_be(make_study):
    """Every file of a sound study read by pandas and handed over, against the reader of the folder."""
    folder = gl.read_study(make_study()).wears["winter"]
    tables = {name: frame_of(name) for name in ("meals", "days", "sleep", "checks", "notes")}
    wear = gl.wear_from_frame(
        frame_of("glucose"), unit="mg/dL", time_zone="Europe/Lisbon", name="winter", start="2026-02-03 08:00",
        end="2026-02-05 08:00", **tables,
    )  # fmt: skip
    assert (wear.name, wear.start, wear.end, wear.zones, wear.unit) == (
        folder.name, folder.start, folder.end, folder.zones, folder.unit
    )  # fmt: skip
    assert set(wear.tables) == set(folder.tables)
    for name, table in folder.tables.items():
        if name == "meals":  # a cell of two lines moves the lines of its file, not the rows of a frame
            continue
        pd.testing.assert_frame_equal(wear.table(name), table)
    assert wear.meals["note"].tolist()[1] == "two\nhelpings"


def test_what_comes_out_of_it_is_what_comes_out_of_the_folder(make_study):
    study = gl.read_study(make_study())
    wear = gl.wear_from_frame(
        frame_of("glucose"), unit="mg/dL", time_zone="Europe/Lisbon", start="2026-02-03 08:00", end="2026-02-05 08:00",
        sleep=frame_of("sleep"), meals=frame_of("meals"), checks=frame_of("checks"), notes=frame_of("notes"),
        days=frame_of("days"),
    )  # fmt: skip
    alone, own = gl.analyse_wear(study.wears["winter"]), gl.analyse_wear(wear)
    assert own.summary["bias_mg_dl"] == alone.summary["bias_mg_dl"]
    pd.testing.assert_frame_equal(own.tables["daily"], alone.tables["daily"])


@pytest.mark.parametrize("given", ["series", "index", "column", "text", "mmol"])
def test_the_readings_may_come_in_any_of_these_forms(given):
    table = pd.DataFrame({"time": TIMES, "bg": READINGS.to_numpy()})
    unit, zone = ("mmol/L", None) if given == "mmol" else ("mg/dL", "Europe/Lisbon" if given == "text" else None)
    forms = {
        "series": READINGS, "index": table.set_index("time"), "column": table, "mmol": READINGS / 18.0156,
        "text": table.assign(time=TIMES.tz_localize(None).astype(str)),
    }  # fmt: skip
    wear = gl.wear_from_frame(forms[given], unit=unit, time_zone=zone)
    assert wear.glucose["glucose_mg_dl"].to_numpy() == pytest.approx(READINGS.to_numpy())
    assert (pd.DatetimeIndex(wear.glucose["time"]) == TIMES).all()


def test_stages_run_on_a_series_alone():
    """A level of 100 with a wave of SD 15 / sqrt 2 about it, read without error."""
    wear = gl.wear_from_frame(READINGS, unit="mg/dL", warm_up_hours=0, end=TIMES[-1] + pd.Timedelta(minutes=5))
    clean = gl.clean_wear(wear)
    trace = gl.estimate_trace(wear, clean)
    known = trace.to_frame()["glucose_mg_dl"]
    assert clean.coverage == pytest.approx(1.0, abs=0.01)
    assert trace.sensor_mg_dl.mean() == pytest.approx(READINGS.mean(), abs=0.5)
    assert known.std() == pytest.approx(15 / np.sqrt(2), rel=0.1)
    daily = gl.measure_daily(wear, clean, trace)
    assert daily["coverage"].between(0, 1).all()
    assert gl.measure_figures(wear, clean, trace).estimates["sd"]["estimate"] == pytest.approx(10.6, rel=0.15)


def test_readings_that_are_missing_are_time_not_recorded():
    holes = READINGS.copy()
    holes.iloc[100:110] = np.nan
    assert len(gl.wear_from_frame(holes, unit="mg/dL").glucose) == 566


def test_a_column_of_times_counts_before_the_index():
    """A frame that was resampled by another clock and kept its own times."""
    table = pd.DataFrame({"time": TIMES, "glucose": READINGS.to_numpy()}, index=TIMES + pd.Timedelta(days=1))
    assert (pd.DatetimeIndex(gl.wear_from_frame(table, unit="mg/dL").glucose["time"]) == TIMES).all()


def test_a_column_may_be_called_by_a_number():
    """As pandas calls them where a file has no header."""
    table = pd.DataFrame({0: READINGS.to_numpy()}, index=TIMES)
    assert gl.wear_from_frame(table, unit="mg/dL").glucose["glucose_mg_dl"].tolist() == READINGS.tolist()


@pytest.mark.parametrize("zone", ["UTC", "Asia/Tokyo"])
def test_moments_of_any_zone_are_the_same_moment(zone):
    start, end = (
        pd.Timestamp("2026-02-03 07:30", tz="Europe/Lisbon"),
        pd.Timestamp("2026-02-05 09:00", tz="Europe/Lisbon"),
    )
    wear = gl.wear_from_frame(READINGS, unit="mg/dL", start=start.tz_convert(zone), end=end.tz_convert(zone))
    assert (wear.start, wear.end) == (start, end)


def test_dates_are_the_wearers_own():
    """23:30 UTC of 3 February is half past eight on the 4th in Tokyo."""
    days = pd.DataFrame({"stress": [3.0]}, index=pd.DatetimeIndex(["2026-02-03 23:30"], tz="UTC"))
    wear = gl.wear_from_frame(READINGS.tz_convert("Asia/Tokyo"), unit="mg/dL", days=days)
    assert wear.days["date"].tolist() == [pd.Timestamp("2026-02-04")]


def test_a_setting_of_none_is_not_given():
    assert gl.wear_from_frame(READINGS, unit="mg/dL", meter=None, warm_up_hours=None).warm_up_hours == 24


def test_a_wear_alone_speaks_in_its_own_unit():
    wear = gl.wear_from_frame(READINGS / 18.0156, unit="mmol/L", warm_up_hours=0)
    assert "mmol/L" in repr(gl.analyse_wear(wear))


def test_wears_of_a_study_stand_by_time_and_have_names_of_their_own():
    first, later = (
        gl.wear_from_frame(READINGS.shift(freq=f"{days}D"), unit="mg/dL", name=name)
        for days, name in ((0, "first"), (60, "later"))
    )
    wears = gl.Study("own", gl.Person("Europe/Lisbon"), wears=[later, first]).wears
    assert wears.names == ["first", "later"]
    assert ("later" in wears, later in wears, "third" in wears) == (True, True, False)
    assert wears[1:]["later"] is later
    with pytest.raises(ValueError, match="two wears are called 'first'"):
        gl.Study("own", gl.Person("Europe/Lisbon"), wears=[first, later, first])


UNIT = {"unit": "mg/dL"}
REFUSED = [
    ("a wrong unit", READINGS / 18, UNIT, 'type unit="mmol/L"'),
    ("an unknown unit", READINGS, {"unit": "mg"}, 'type unit="mg/dL" or unit="mmol/L"'),
    ("no zone", READINGS.tz_localize(None), UNIT, 'have no time zone, .* type .*time_zone="Europe/Lisbon"'),
    ("nobody's zone", READINGS.tz_convert("UTC"), UNIT, "are in UTC, and nights are local"),
    ("a zone that is none", READINGS, UNIT | {"time_zone": "Lisbon"}, "'Lisbon' is not known: type"),
    ("no times", READINGS.reset_index(drop=True), UNIT, r"no times: .*frame.index = pd.to_datetime\(...\)"),
    ("two columns", pd.DataFrame({"a": READINGS, "b": READINGS}), UNIT, 'type frame.rename.*"a": "glucose"'),
    ("nothing", READINGS * np.nan, UNIT, "every value is missing"),
    ("no table", [100.0, 101.0], UNIT, "is a list: give a Series"),
    ("a start that is none", READINGS, UNIT | {"start": "tomorrow"}, "start 'tomorrow' is not a time: type"),
    ("a start of two readings", READINGS, UNIT | {"start": "03/02/2026 08:00"}, "is not a time: type"),
    ("an end that is a number", READINGS, UNIT | {"end": 20260205}, "end 20260205 is not a time: type"),
    ("one name for two columns", pd.DataFrame({"time": TIMES, "glucose": READINGS.to_numpy(), "b": 1.0}).rename(
        columns={"b": "glucose"}), UNIT, "glucose has more than one column called glucose"),
    ("a setting too large", READINGS, UNIT | {"warm_up_hours": 1000}, "warm_up_hours .*outside 0 to 240"),
    ("a meal below nought", READINGS, UNIT | {"meals": pd.DataFrame(
        {"time": ["2026-02-03 12:00"] * 2, "name": ["soup\nand bread", "rice"], "carbs_g": [30, -2]})},
     r"meals row 1: carbs_g .*-2"),
    ("a meal without a name", READINGS, UNIT | {"meals": pd.DataFrame({"time": ["2026-02-03 12:00"]})},
     "meals: column name is missing"),
    ("a reading below nought", READINGS.where(READINGS.index != TIMES[5], -4.0), UNIT, "glucose row 5: glucose"),
]  # fmt: skip


@pytest.mark.parametrize(("given", "how", "told"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED])
def test_what_cannot_be_used_says_what_to_type(given, how, told):
    with pytest.raises(gl.UnusableTable, match=told) as refused:
        gl.wear_from_frame(given, **how)
    assert isinstance(refused.value, ValueError)


def test_a_setting_that_is_not_known_is_a_type_error_with_the_one_that_was_meant():
    with pytest.raises(TypeError, match='no argument "warmup_hours": did you mean warm_up_hours'):
        gl.wear_from_frame(READINGS, unit="mg/dL", warmup_hours=3)


def test_what_is_doubtful_is_a_warning_and_what_is_sound_is_silent():
    with pytest.warns(UserWarning, match=r"^meals: .*check the dates"):
        gl.wear_from_frame(READINGS, unit="mg/dL", meals=pd.DataFrame({"time": ["2025-02-03 12:00"], "name": "soup"}))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        gl.wear_from_frame(READINGS, unit="mg/dL")


def test_every_table_that_is_logged_has_its_argument():
    import inspect

    from glucolab.record import WEAR_TABLES

    arguments = inspect.signature(gl.wear_from_frame).parameters
    assert set(WEAR_TABLES) <= set(arguments)
    assert set(LOGGED_AT) <= set(arguments)


def test_columns_of_a_table_are_listed_and_a_wrong_name_lists_the_tables():
    assert gl.describe_table("meals").loc["name", "required"]
    with pytest.raises(KeyError, match="there are activity"):
        gl.describe_table("meal")
