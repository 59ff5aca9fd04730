"""Are two sensors in one file told from one sensor, and refused in words?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study
from glucolab.reading.second_sensor import find_second_sensor
from glucolab.running.cli import main
from tests.hand_made import SOUND_STUDY

START = pd.Timestamp("2026-02-03T08:00Z").as_unit("us")


def one_sensor(seed: int, step_min: float, days: float = 3.0, noise: float = 2.0, offset: float = 0.0) -> pd.Series:
    """Glucose that wanders over hours, read with white noise to whole mg/dL."""
    rng = np.random.default_rng(seed)
    minutes = np.arange(0, days * 1440, step_min)
    blood = 100 + 15 * np.sin(2 * np.pi * minutes / 333) + 10 * np.sin(2 * np.pi * minutes / 1440)
    values = np.round(blood + offset + rng.normal(0, noise, len(minutes)))
    return pd.Series(values, index=(START + pd.to_timedelta(minutes, unit="min")).as_unit("us"))


def shifted(glucose: pd.Series, minutes: float) -> pd.Series:
    return pd.Series(glucose.to_numpy(), index=glucose.index + pd.Timedelta(minutes=minutes))


@pytest.mark.parametrize("step_min", [1.0, 5.0, 15.0])
@pytest.mark.parametrize("noise", [1.0, 3.0, 6.0])
def test_one_sensor_is_one(step_min, noise):
    assert not any(find_second_sensor(one_sensor(seed, step_min, 14, noise)) for seed in range(10))


@pytest.mark.parametrize("steps", [(5.0, 5.0), (15.0, 15.0), (5.0, 15.0), (1.0, 5.0), (1.0, 15.0)])
@pytest.mark.parametrize("later", [0.0, 2.0])
@pytest.mark.parametrize("apart", [-10.0, 25.0])
def test_two_at_once_are_two_whatever_order_their_rows_are_in(steps, later, apart):
    one, other = one_sensor(1, steps[0]), shifted(one_sensor(2, steps[1], offset=apart), later)
    both = pd.concat([one, other])
    found = find_second_sensor(both)
    assert found is not None
    assert found.start <= START + pd.Timedelta(hours=16), "the first whole half day"
    assert found.end > START + pd.Timedelta(days=2, hours=14)
    again = find_second_sensor(both.iloc[np.random.default_rng(3).permutation(len(both))])
    assert again is not None
    assert (again.start, again.end) == (found.start, found.end)


@pytest.mark.parametrize(("hours", "found"), [(24, True), (1, False)])
def test_an_overlap_of_a_day_is_found_and_one_of_an_hour_is_not(hours, found):
    one, other = one_sensor(1, 5.0), shifted(one_sensor(2, 5.0, offset=15.0), 3 * 1440 - hours * 60)
    assert (find_second_sensor(pd.concat([one, other])) is not None) == found


def test_a_reading_that_stands_twice_is_one():
    one = one_sensor(1, 5.0)
    assert find_second_sensor(pd.concat([one, one])) is None
    rounded = pd.Series(np.round(one / 18.0156, 1) * 18.0156, index=one.index)
    assert find_second_sensor(pd.concat([one, rounded])) is None, "a copy that went through mmol/L"


def test_of_real_sensors_pairs_are_found_and_none_alone(open_data):
    """CGMacros (doi 10.13026/3z8q-x658): two sensors of different models, every 5 and every 15 minutes."""
    folders = sorted(open_data("two_sensors").glob("p*"))
    for folder in folders:
        worn = [pd.read_csv(path) for path in sorted(folder.glob("wear_periods/*/glucose.csv"))]
        alone = [pd.Series(one["glucose"].to_numpy(float), index=pd.to_datetime(one["time"], utc=True)) for one in worn]
        assert len(alone) == 2
        assert not any(find_second_sensor(one) for one in alone)
        assert find_second_sensor(pd.concat(alone)) is not None, folder.name


def readings(offset: int, minute: int = 0) -> str:
    rows = (
        (3 + at // 1440, at // 60 % 24, at % 60, offset + 90 + at // 15 % 7)
        for at in range(8 * 60 + minute, 56 * 60, 15)
    )
    return "".join(f"2026-02-0{day}T{hour:02d}:{left:02d},{value}\n" for day, hour, left, value in rows)


def test_a_wear_with_two_is_left_out_in_words_that_name_lines(make_study, capsys):
    text = "time,glucose\n" + readings(0) + readings(25, 5)
    study = make_study({"wear_periods/winter/glucose.csv": text})
    assert main(["check", str(study)]) == 2
    told = capsys.readouterr().err
    assert "glucose.csv holds the readings of two sensors at once, 2026-02-03T12:0" in told
    first, second = (int(word) for word in told.split("such as on lines ")[1].split(":")[0].split(" and "))
    lines = text.splitlines()
    assert abs(int(lines[first - 1].split(",")[1]) - int(lines[second - 1].split(",")[1])) > 15
    with pytest.raises(NothingToDo, match="give each sensor a wear of its own"):
        read_study(study)


def test_bring_refuses_a_second_sensor_in_the_file_and_beside_what_is_there(make_study, tmp_path, capsys):
    study = make_study()
    before = (study / "wear_periods/winter/glucose.csv").read_text("utf-8")
    file = tmp_path / "other.csv"
    for text in (readings(25, 5), readings(0, 3) + readings(25, 5)):
        file.write_text("time,glucose mg/dL\n" + text, "utf-8")
        assert main(["bring", str(file), "--into", str(study / "wear_periods" / "winter"), "--yes"]) == 2
        assert "would hold the readings of two sensors at once" in capsys.readouterr().err
    assert (study / "wear_periods/winter/glucose.csv").read_text("utf-8") == before
    assert before == SOUND_STUDY["wear_periods/winter/glucose.csv"]
