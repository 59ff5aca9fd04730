"""Does the last good report survive whatever happens to the next run?"""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from glucolab.errors import NothingToDo
from glucolab.running.folder import check_out, replace_report

RUN = """
import os, signal, sys
from pathlib import Path
from glucolab.running import folder
out = Path(sys.argv[1])
def die(*_): os.kill(os.getpid(), signal.SIGKILL)
{before}
with folder.replace_report(out) as new:
    (new / "study").mkdir()
    (new / "study" / "summary.json").write_text("new")
    {during}
"""


def write_report(out: Path, text: str, **wears: dict[str, str]) -> None:
    with replace_report(out) as new:
        for wear, files in {"study": {"summary.json": text}, **wears}.items():
            (new / wear).mkdir()
            for name, content in files.items():
                (new / wear / name).write_text(content)


def write_half(out: Path) -> None:
    with replace_report(out) as new:
        (new / "half.csv").write_text("half")
        raise OSError("disk full")


def run(out: Path, before: str = "", during: str = "", **more) -> subprocess.Popen:
    code = RUN.format(before=before, during=during)
    return subprocess.Popen([sys.executable, "-c", code, str(out)], stdout=subprocess.PIPE, text=True, **more)


def beside(out: Path) -> list[str]:
    return sorted(path.name for path in out.parent.iterdir() if path != out)


def test_a_run_that_fails_leaves_the_last_report_and_nothing_else(tmp_path):
    out = tmp_path / "report"
    write_report(out, "first")
    with pytest.raises(OSError, match="disk full"):
        write_half(out)
    assert (out / "study" / "summary.json").read_text() == "first"
    assert not (out / "half.csv").exists()
    assert beside(out) == []


def test_a_run_killed_while_writing_leaves_the_last_report_whole(tmp_path):
    out = tmp_path / "report"
    write_report(out, "first")
    assert run(out, during="die()").wait(60) == -signal.SIGKILL
    assert (out / "study" / "summary.json").read_text() == "first"
    write_report(out, "third")
    assert (out / "study" / "summary.json").read_text() == "third"
    assert beside(out) == []


def test_a_run_killed_between_the_two_renames_is_mended_by_the_next(tmp_path):
    out = tmp_path / "report"
    write_report(out, "first")
    moves = "real = os.rename\ndef once(a, b):\n    real(a, b)\n    die()\nfolder.os.rename = once"
    assert run(out, before=moves).wait(60) == -signal.SIGKILL
    assert not out.exists()
    with pytest.raises(OSError, match="disk full"):
        write_half(out)
    assert (out / "study" / "summary.json").read_text() == "first"
    assert beside(out) == []


def test_a_second_run_into_the_folder_refuses_in_a_sentence(tmp_path):
    out = tmp_path / "report"
    process = run(out, during="print('here', flush=True); sys.stdin.read()", stdin=subprocess.PIPE)
    assert process.stdout.readline() == "here\n"
    try:
        with pytest.raises(NothingToDo, match=rf"process {process.pid}\) is writing into"), replace_report(out):
            pass
    finally:
        process.communicate("")
    assert process.returncode == 0
    assert (out / "study" / "summary.json").read_text() == "new"


def test_the_lock_of_a_dead_run_is_taken_over(tmp_path):
    out = tmp_path / "report"
    (tmp_path / ".report.lock").write_text("1\n")  # process 1 is alive, and is not writing there
    write_report(out, "first")
    assert (out / "study" / "summary.json").read_text() == "first"


def test_others_may_read_the_report_as_far_as_the_usual_mode_says(tmp_path):
    out = tmp_path / "report"
    plain = tmp_path / "plain"
    plain.mkdir()
    write_report(out, "first")
    assert stat.S_IMODE(out.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


def test_a_page_stays_beside_tables_that_came_out_the_same(tmp_path):
    out = tmp_path / "report"
    write_report(out, "s", winter={"daily.csv": "a", "report.html": "page"})
    write_report(out, "s", winter={"daily.csv": "a"})
    assert (out / "winter" / "report.html").read_text() == "page"
    assert not (out / "study" / "older").exists()


def test_a_page_of_other_figures_is_set_apart_and_comes_back_no_more_once_remade(tmp_path):
    out = tmp_path / "report"
    write_report(out, "s", winter={"daily.csv": "a", "report.html": "page"})
    write_report(out, "s", winter={"daily.csv": "b"})
    assert not (out / "winter" / "report.html").exists()
    assert (out / "study" / "older" / "winter" / "report.html").read_text() == "page"
    write_report(out, "s", winter={"daily.csv": "b", "report.html": "page of b"})
    assert (out / "winter" / "report.html").read_text() == "page of b"
    assert not (out / "study" / "older").exists()


def test_a_wear_that_is_gone_is_kept_apart(tmp_path):
    out = tmp_path / "report"
    write_report(out, "s", winter={"daily.csv": "a"}, summer={"daily.csv": "b"})
    write_report(out, "t", summer={"daily.csv": "b"})
    assert not (out / "winter").exists()
    assert (out / "study" / "older" / "winter" / "daily.csv").read_text() == "a"


def test_what_the_owner_put_into_the_report_is_not_lost(tmp_path):
    out = tmp_path / "report"
    write_report(out, "s", winter={"daily.csv": "a"})
    (out / "my_thoughts.txt").write_text("mine")
    write_report(out, "t", winter={"daily.csv": "b"})
    assert (out / "my_thoughts.txt").read_text() == "mine"


@pytest.mark.parametrize("below", [".", "..", "wear_periods", "wear_periods/winter", "wear_periods/new"])
def test_a_report_among_the_inputs_is_refused(make_study, below):
    study = make_study()
    with pytest.raises(NothingToDo, match="--out"):
        check_out(study / below, study)


def test_a_link_to_the_study_does_not_hide_it(make_study, tmp_path):
    study = make_study()
    os.symlink(study / "wear_periods", tmp_path / "link")
    with pytest.raises(NothingToDo, match="among the study's wears"):
        check_out(tmp_path / "link" / "report", study)


def test_a_folder_of_its_own_in_the_study_is_fine(make_study):
    study = make_study()
    check_out(study / "reports", study)


def test_a_folder_that_holds_its_readme_alone_is_fine_and_keeps_it(make_study, tmp_path):
    out = tmp_path / "reports"
    out.mkdir()
    (out / "README.md").write_text("what lands here")
    check_out(out, make_study())
    write_report(out, "first")
    assert (out / "README.md").read_text() == "what lands here"


def test_a_folder_with_other_files_is_not_buried(make_study, tmp_path):
    other = tmp_path / "documents"
    other.mkdir()
    (other / "letter.txt").write_text("dear")
    with pytest.raises(NothingToDo, match="holds other files"):
        check_out(other, make_study())
    with pytest.raises(NothingToDo, match="is a file"):
        check_out(other / "letter.txt", make_study())
