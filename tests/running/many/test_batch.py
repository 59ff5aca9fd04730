"""Are many studies run to the same end in one process, in two, on a cluster, and after a kill?"""

from __future__ import annotations

import contextlib
import csv
import hashlib
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import polars as pl
import pytest
from distributed import LocalCluster

from glucolab.analysis import analyse_study
from glucolab.reading.folder import read_study
from glucolab.record import PEOPLE_OUTPUTS
from glucolab.running.cli import main

PEOPLE = 20
FAILING = ("group_1/p07", "group_0/p12")
GLUCOLAB = str(Path(sys.executable).with_name("glucolab"))


def readings(level: int) -> str:
    """Four days, a reading a quarter of an hour."""
    minutes = range(0, 4 * 1440, 15)
    rows = (f"2026-02-0{3 + m // 1440}T{m // 60 % 24:02d}:{m % 60:02d},{level + m // 15 % 5}" for m in minutes)
    return "time,glucose\n" + "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def many_studies(tmp_path_factory) -> Path:
    """Twenty studies in two groups, two of which cannot be used, one with a bad row, and a folder that holds none."""
    folder = tmp_path_factory.mktemp("many") / "people"
    wear = 'start = 2026-02-03T00:00:00\nend = 2026-02-07T00:00:00\nunit = "mg/dL"\n'
    for i in range(PEOPLE):
        study = folder / f"group_{i % 2}" / f"p{i:02d}"
        winter = study / "wear_periods" / "winter"
        winter.mkdir(parents=True)
        (study / "study.toml").write_text('[person]\ntime_zone = "Europe/Lisbon"\n[goal]\nmean_mg_dl = 95\n')
        (winter / "wear.toml").write_text(wear)
        (winter / "glucose.csv").write_text(readings(85 + i) if i != 7 else "time,glucose\n")
        (winter / "meals.csv").write_text("time,name\n2026-02-03T12:30,=1+1\n" + ("soon,soup\n" if i == 4 else ""))
    (folder / FAILING[1] / "study.toml").write_bytes(b"\xff\xfe not toml")
    (folder / "empty" / "inside").mkdir(parents=True)
    return folder


def hashes(folder: Path) -> dict[str, str]:
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.rglob("*"))
        if p.is_file()
    }  # fmt: skip


def tables(folder: Path) -> dict[str, str]:
    return {name: text for name, text in hashes(folder).items() if name.endswith((".csv", ".parquet"))}


def rows(out: Path, name: str) -> list[dict[str, str]]:
    with (out / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def run(folder: Path, out: Path, *options: str) -> int:
    return main(["many", str(folder), "--out", str(out), *options])


@pytest.fixture(scope="module")
def in_one(many_studies, tmp_path_factory) -> Path:
    """What one process makes of them."""
    out = tmp_path_factory.mktemp("one") / "out"
    before = hashes(many_studies)
    assert run(many_studies, out, "--workers", "1") == 1
    assert hashes(many_studies) == before
    return out


def test_every_study_has_a_row_and_a_failed_one_its_reason(in_one):
    people = rows(in_one, "people")
    assert [one["person"] for one in people] == sorted(f"group_{i % 2}/p{i:02d}" for i in range(PEOPLE))
    failed = {one["person"]: one["reason"] for one in people if one["state"] == "failed"}
    assert set(failed) == set(FAILING)
    assert "winter: glucose.csv" in failed[FAILING[0]]
    assert "study.toml" in failed[FAILING[1]]
    left_out = {(one["person"], one["file"], one["text"]) for one in rows(in_one, "left_out")}
    assert ("empty", "", "holds no study") in left_out
    assert any(person == "group_0/p04" and file.endswith("meals.csv") for person, file, _ in left_out)
    assert all("not a diagnosis" in one["cautions"] for one in people if one["state"] == "done")


def test_the_figures_are_those_of_each_study_alone(in_one, many_studies):
    alone = analyse_study(read_study(many_studies / "group_1" / "p03"))
    (mine,) = [
        one for one in rows(in_one, "people_periods") if one["person"] == "group_1/p03" if one["level"] == "wear"
    ]
    assert float(mine["mean_mg_dl"]) == pytest.approx(alone.wears[0].summary["mean"]["estimate"], abs=0.006)
    (person,) = [one for one in rows(in_one, "people") if one["person"] == "group_1/p03"]
    assert (person["last_wear"], person["mean_mg_dl"], person["goal_mg_dl"]) == ("winter", mine["mean_mg_dl"], "95")


def test_parquet_holds_the_same_with_types(in_one):
    for name, table in PEOPLE_OUTPUTS.items():
        frame = pl.read_parquet(in_one / f"{name}.parquet")
        assert frame.columns == table.names
        assert frame.height == len(rows(in_one, name))
    people = pl.read_parquet(in_one / "people.parquet")
    assert people["mean_mg_dl"].to_list() == [
        float(one["mean_mg_dl"]) if one["mean_mg_dl"] else None for one in rows(in_one, "people")
    ]
    assert people["end"].dtype == pl.Date


def test_two_processes_make_the_same_bytes(in_one, many_studies, tmp_path):
    assert run(many_studies, tmp_path / "out", "--workers", "2") == 1
    assert tables(tmp_path / "out") == tables(in_one)


def test_a_dask_cluster_makes_the_same_bytes(in_one, many_studies, tmp_path):
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        assert run(many_studies, tmp_path / "out", "--scheduler", cluster.scheduler_address) == 1
    assert tables(tmp_path / "out") == tables(in_one)


def test_what_is_finished_outlives_a_kill_and_is_not_redone(in_one, many_studies, tmp_path):
    out = tmp_path / "out"
    running = subprocess.Popen([GLUCOLAB, "many", str(many_studies), "--out", str(out), "--workers", "1"],
                               stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL)  # fmt: skip
    while kept_by(out) < 5 and running.poll() is None:
        time.sleep(0.01)
    os.kill(running.pid, signal.SIGKILL)
    running.wait()
    kept = kept_by(out)
    assert 5 <= kept < PEOPLE
    assert not tables(out)
    done = subprocess.run([GLUCOLAB, "many", str(many_studies), "--out", str(out)],
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.returncode == 1
    assert f"{PEOPLE} of {PEOPLE} studies, {kept} unchanged" in done.stderr
    assert tables(out) == tables(in_one)


def kept_by(out: Path) -> int:
    if not (out / "kept.sqlite").is_file():
        return 0
    try:
        return sqlite3.connect(f"file:{out / 'kept.sqlite'}?mode=ro", uri=True).execute(
            "select count(*) from kept"
        ).fetchone()[0]  # fmt: skip
    except sqlite3.OperationalError:  # between making the file and its table
        return 0


def test_only_what_changed_is_done_again(make_study, tmp_path, capsys):
    for name in ("anna", "ben"):
        make_study(name=f"people/{name}")
    people, out = tmp_path / "people", tmp_path / "out"
    assert run(people, out, "--workers", "1") == 0
    (people / "ben" / "study.toml").write_text('[person]\ntime_zone = "Europe/Lisbon"\n[goal]\nmean_mg_dl = 90\n')
    capsys.readouterr()
    assert run(people, out, "--workers", "1") == 0
    assert "2 of 2 studies, 1 unchanged" in capsys.readouterr().err
    assert [one["goal_mg_dl"] for one in rows(out, "people")] == ["95", "90"]
    assert run(people, out, "--workers", "1", "--again") == 0
    assert "2 of 2 studies, 0 unchanged" in capsys.readouterr().err


def test_whoever_is_gone_leaves_the_tables(make_study, tmp_path):
    for name in ("anna", "ben"):
        make_study(name=f"people/{name}")
    assert run(tmp_path / "people", tmp_path / "out") == 0
    (tmp_path / "people" / "ben").rename(tmp_path / "ben")
    assert run(tmp_path / "people", tmp_path / "out") == 0
    assert [one["person"] for one in rows(tmp_path / "out", "people")] == ["anna"]


def test_where_the_tool_only_describes_no_goal_is_judged(make_study, tmp_path):
    make_study({"study.toml": '[person]\ntime_zone = "Europe/Lisbon"\npregnant = true\n[goal]\nmean_mg_dl = 95\n'},
               name="people/anna")  # fmt: skip
    run(tmp_path / "people", tmp_path / "out")
    (anna,) = rows(tmp_path / "out", "people")
    assert (anna["goal_mg_dl"], anna["probability_goal_met"], anna["verdict"]) == ("", "", "")


@pytest.mark.parametrize(("folder", "out", "says"), [
    ("nowhere", "out", "is not a folder"),
    ("people", "people", "is, or holds, the folder of the studies"),
    ("people", ".", "is, or holds, the folder of the studies"),
    ("people", "people/anna/out", "lies in a study"),
    ("people", "full", "holds other files"),
    ("people", "full/file.txt", "is a file"),
    ("full", "out", "holds no study"),
])  # fmt: skip
def test_what_cannot_be_done_is_one_sentence(make_study, tmp_path, capsys, folder, out, says):
    make_study(name="people/anna")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "file.txt").write_text("mine")
    before = hashes(tmp_path)
    assert run(tmp_path / folder, tmp_path / out) == 2
    assert says in capsys.readouterr().err.splitlines()[-1]
    assert hashes(tmp_path) == before


def test_a_cluster_that_does_not_answer_is_one_sentence(make_study, tmp_path, capsys, monkeypatch):
    make_study(name="people/anna")
    monkeypatch.setattr("glucolab.running.many.batch._ANSWERS_WITHIN_S", 1)
    assert run(tmp_path / "people", tmp_path / "out", "--scheduler", "tcp://127.0.0.1:9") == 2
    assert "no Dask scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err.splitlines()[-1]


def test_a_damaged_file_of_what_is_finished_is_one_sentence(make_study, tmp_path, capsys):
    make_study(name="people/anna")
    out = tmp_path / "out"
    assert run(tmp_path / "people", out) == 0
    whole = (out / "kept.sqlite").read_bytes()
    (out / "kept.sqlite").write_bytes(whole[:100] + b"no pages at all" * 999)
    assert run(tmp_path / "people", out) == 2
    assert "it is damaged: remove it" in capsys.readouterr().err.splitlines()[-1]


def write_database(path: Path) -> None:
    with contextlib.closing(sqlite3.connect(path)) as database:
        database.execute("create table songs (title text, seconds integer)")
        database.execute("insert into songs values ('one', 60)")
        database.commit()


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (write_database, "a database of something else (tables: songs); choose another --out"),
        (lambda path: path.write_text("kept for later"), "it is no database, or damaged; move it away"),
        (Path.mkdir, "it is no plain file; choose another --out"),
    ],
    ids=["database", "text", "folder"],
)
def test_anothers_kept_sqlite_is_named_and_left_as_it_is(make_study, tmp_path, capsys, make, told):
    make_study(name="people/anna")
    out = tmp_path / "out"
    out.mkdir()
    make(out / "kept.sqlite")
    before = hashes(out)
    assert run(tmp_path / "people", out) == 2
    assert told in capsys.readouterr().err.splitlines()[-1]
    assert hashes(out) == before
    assert [path.name for path in out.iterdir()] == ["kept.sqlite"]


def test_no_table_says_where_the_studies_lie(many_studies, tmp_path, monkeypatch):
    """Reasons and problems name files below the folder of all; also those of the system, and of faults of ours."""
    monkeypatch.setattr("glucolab.running.many.person.fingerprint_study", fail_of)
    studies = shutil.copytree(many_studies, tmp_path / "people")
    assert run(studies, tmp_path / "out", "--workers", "1") in (1, 2)
    texts = [path.read_bytes() for path in (tmp_path / "out").iterdir()]
    assert not [text for text in texts if str(tmp_path).encode() in text]
    reasons = {row["person"]: row["reason"] for row in rows(tmp_path / "out", "people")}
    assert reasons["group_0/p00"] == "it is p00 group_0/p00/study.toml"
    assert "ValueError: group_0/p02" in reasons["group_0/p02"]
    assert "group_0/p12: study.toml" in reasons["group_0/p12"]


def fail_of(study: Path) -> str:
    """A disk that fails for one study, and a fault of ours in another."""
    if study.name == "p00":
        raise OSError(5, "it is p00", str(study / "study.toml"))
    if study.name == "p02":
        raise ValueError(f"{study}")
    return "never made from this"


def test_links_are_named_and_not_followed(make_study, tmp_path, capsys):
    make_study(name="people/anna")
    (tmp_path / "people" / "twin").symlink_to(tmp_path / "people" / "anna")
    assert run(tmp_path / "people", tmp_path / "out") == 1
    assert "left out: twin: is a link, which is not followed" in capsys.readouterr().err
    assert len(rows(tmp_path / "out", "people")) == 1
