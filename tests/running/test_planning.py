"""Does `glucolab plan` give dates that can be followed, and leave everything else as it was?"""

from __future__ import annotations

import json

import pandas as pd
import pytest

from glucolab.running.cli import main
from tests.conftest import REPOSITORY
from tests.running.test_cli import hashes

SAMPLE = REPOSITORY / "sample_data"
START = ["--start", "2026-12-01", "--seed", "5"]
ASKED = ["--arms", "protein first,carbs first", "--dish", "buckwheat porridge"]


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """The folder of one plan of the sample study, with a trip avoided."""
    out = tmp_path_factory.mktemp("plan") / "next"
    assert main(["plan", str(SAMPLE), *START, *ASKED, "--avoid", "2026-12-06/2026-12-07", "--out", str(out)]) == 0
    return out


def test_dates_keep_clear_of_the_trip_and_lie_within_the_wear(planned):
    dates = pd.to_datetime(pd.read_csv(planned / "next_trial.csv")["date"])
    assert dates.between("2026-12-03", "2026-12-14").all()
    assert not dates.between("2026-12-06", "2026-12-07").any()
    assert pd.read_csv(planned / "next_trial.csv")["arm"].value_counts().to_list() == [5, 5]
    assert dates.is_unique


def test_rows_of_the_trial_fit_trials_csv_of_a_study(planned, tmp_path, capsys):
    study = tmp_path / "study"
    assert main(["demo", str(study)]) == 0
    header = (study / "trials.csv").read_text().splitlines()[0].split(",")
    rows = pd.read_csv(planned / "next_trial.csv", dtype=str)
    pd.concat([pd.read_csv(study / "trials.csv", dtype=str), rows[header]]).to_csv(study / "trials.csv", index=False)
    capsys.readouterr()
    assert main(["check", str(study)]) == 0
    assert "no problems found" in capsys.readouterr().out


def test_calendar_follows_rfc_5545(planned):
    """Sections 3.1 (CRLF, 75 octets), 3.6.1 (UID, DTSTAMP; DTEND is the day after), 3.7 (VERSION, PRODID)."""
    raw = (planned / "next_wear.ics").read_bytes()
    assert raw.endswith(b"END:VCALENDAR\r\n")
    lines = raw.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert not any(b"\n" in line for line in lines)
    unfolded = raw.replace(b"\r\n ", b"").decode()
    assert unfolded.startswith("BEGIN:VCALENDAR\r\n")
    assert "\r\nVERSION:2.0\r\n" in unfolded
    assert "\r\nPRODID:" in unfolded
    events = unfolded.split("BEGIN:VEVENT")[1:]
    trial, times = (pd.read_csv(planned / f"{name}.csv") for name in ("next_trial", "next_check_times"))
    assert len(events) == len(trial) + len(times)
    assert all(event.count("\r\nUID:") == event.count("\r\nDTSTAMP:") == 1 for event in events)
    assert len({event.split("\r\nUID:")[1].split("\r\n")[0] for event in events}) == len(events)
    first = trial["date"].iloc[0].replace("-", "")
    assert f"DTSTART;VALUE=DATE:{first}\r\n" in unfolded
    assert f"DTEND;VALUE=DATE:{int(first) + 1}\r\n" in unfolded
    moment = times["time"].iloc[0][:16].replace("-", "").replace(":", "")
    assert f"DTSTART:{moment}00\r\n" in unfolded  # floating: what the clock shows there


def test_no_glucose_figure_is_in_the_calendar(planned):
    assert "mg/dL" not in (planned / "next_wear.ics").read_text()


def test_the_same_seed_draws_the_same_lot_and_another_another(planned, tmp_path):
    again, other = tmp_path / "again", tmp_path / "other"
    avoid = ["--avoid", "2026-12-06/2026-12-07"]
    assert main(["plan", str(SAMPLE), *START, *ASKED, *avoid, "--out", str(again)]) == 0
    assert main(["plan", str(SAMPLE), *START[:2], *ASKED, "--seed", "6", *avoid, "--out", str(other)]) == 0
    assert (again / "next_trial.csv").read_bytes() == (planned / "next_trial.csv").read_bytes()
    assert (other / "next_trial.csv").read_bytes() != (planned / "next_trial.csv").read_bytes()
    assert json.loads((again / "next_wear.json").read_text())["seed"] == 5


def test_a_lot_that_was_drawn_is_not_drawn_over_it(planned, capsys):
    before = hashes(planned)
    assert main(["plan", str(SAMPLE), *START, "--out", str(planned)]) == 2
    assert "is not empty" in capsys.readouterr().err
    assert hashes(planned) == before


def test_a_plan_inside_the_study_is_refused_and_no_input_changes(capsys):
    before = hashes(SAMPLE)
    assert main(["plan", str(SAMPLE), *START, "--out", str(SAMPLE / "wear_periods" / "plan")]) == 2
    assert main(["plan", str(SAMPLE), *START]) == 0
    assert hashes(SAMPLE) == before


def test_an_experiment_that_would_probably_tell_nothing_is_not_drawn_up(capsys):
    """The sample's dishes differ so much from day to day that one wear finds what was seen one time in five."""
    assert main(["plan", str(SAMPLE), *START]) == 0
    shown = capsys.readouterr().out
    assert "No experiment is drawn up: even the likeliest, “protein first or carbs first with" in shown
    assert '--arms "protein first,carbs first" --dish "' in shown
    assert "drawn by lot" not in shown


def test_what_is_printed_says_how_many_when_and_carries_the_cautions(capsys):
    assert main(["plan", str(SAMPLE), *START, *ASKED]) == 0
    shown = capsys.readouterr().out
    assert "The next wear: 1 – 15 December 2026, 14 days" in shown
    assert "finger-sticks in the next wear" in shown
    assert "drawn by lot" in shown
    assert "Never use these figures to dose a medicine." in shown


def test_without_numbers_no_figure_of_glucose_is_printed(tmp_path, capsys):
    study = tmp_path / "study"
    assert main(["demo", str(study)]) == 0
    path = study / "study.toml"
    assert "numbers = true" in path.read_text()
    path.write_text(path.read_text().replace("numbers = true", "numbers = false"))
    capsys.readouterr()
    assert main(["plan", str(study), *START]) == 0
    shown = capsys.readouterr().out
    assert "mg/dL" not in shown
    assert "finger-stick" in shown


def test_whoever_is_only_described_gets_no_plan(tmp_path, capsys):
    study = tmp_path / "study"
    assert main(["demo", str(study)]) == 0
    path = study / "study.toml"
    path.write_text(path.read_text().replace("[person]", "[person]\npregnant = true"))
    capsys.readouterr()
    assert main(["plan", str(study), *START]) == 2
    assert "no plan" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--start", "soon"], "is not a date"),
        (["--avoid", "2026-12-07/2026-12-01"], "ends before it begins"),
        (["--days", "-3"], "not a number above 0"),
        (["--arms", "walk"], "names no two arms"),
    ],
)
def test_a_wish_that_cannot_be_read_says_so(arguments, words, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["plan", str(SAMPLE), *arguments])
    assert ended.value.code == 2
    assert words in capsys.readouterr().err


def test_a_wear_too_short_for_a_plan_says_so(capsys):
    assert main(["plan", str(SAMPLE), *START, "--days", "2"]) == 2
    assert "no whole day" in capsys.readouterr().err
