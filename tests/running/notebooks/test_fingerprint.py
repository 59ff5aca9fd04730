"""Does a fingerprint change with what is read, and with nothing else?"""

from __future__ import annotations

import os
from importlib.metadata import PackageNotFoundError

import pytest

from glucolab.running.notebooks import fingerprint
from glucolab.running.notebooks.fingerprint import fingerprint_study, fingerprint_wear

TABLE = "wear_periods/winter/meals.csv"


def test_where_a_study_lies_and_what_else_is_kept_in_it_does_not_count(make_study):
    one, two = make_study(name="one"), make_study({"reports/page.html": "made from it"}, name="two")
    assert fingerprint_study(one) == fingerprint_study(two)


@pytest.mark.parametrize("changes", [
    {"labs.csv": None},
    {TABLE: "time,name\n"},
    {"wear_periods/summer/wear.toml": "start = 1"},
    {"wear_periods/winter/photos/a.jpg": b"photo"},
])  # fmt: skip
def test_whatever_is_read_counts(make_study, changes):
    assert fingerprint_study(make_study(name="one")) != fingerprint_study(make_study(changes, name="two"))


def test_a_wear_counts_its_own_folder_and_the_person_alone(make_study):
    plain = fingerprint_wear(make_study(name="one"), "winter")
    other_wear = make_study({"wear_periods/summer/wear.toml": "start = 1"}, name="two")
    assert fingerprint_wear(other_wear, "winter") == plain
    assert fingerprint_wear(make_study({"study.toml": "# another goal"}, name="three"), "winter") != plain
    assert fingerprint_wear(make_study({TABLE: "time,name\n"}, name="four"), "winter") != plain


def test_a_file_under_another_name_and_a_link_that_points_elsewhere_count(make_study):
    one, two = make_study(name="one"), make_study(name="two")
    (two / "labs.csv").rename(two / "lab.csv")
    assert fingerprint_study(one) != fingerprint_study(two)
    prints = set()
    for target in ("labs.csv", "trials.csv", "nowhere"):
        (one / "link.csv").unlink(missing_ok=True)
        (one / "link.csv").symlink_to(target)
        prints.add(fingerprint_study(one))
    assert len(prints) == 3


def test_a_wear_kept_elsewhere_in_the_study_counts_though_only_a_link_leads_there(make_study):
    study = make_study({"archive/summer/glucose.csv": "time,glucose\n"})
    (study / "wear_periods" / "summer").symlink_to("../archive/summer")
    (study / "wear_periods" / "around").symlink_to("..")  # leads to itself, and ends all the same
    whole, one = fingerprint_study(study), fingerprint_wear(study, "summer")
    (study / "archive" / "summer" / "glucose.csv").write_text("time,reading\n")
    assert fingerprint_study(study) != whole
    assert fingerprint_wear(study, "summer") != one


def test_a_link_out_of_the_study_is_not_followed(make_study, tmp_path):
    study, outside = make_study(), tmp_path / "outside"
    outside.mkdir()
    (outside / "glucose.csv").write_text("time,glucose\n")
    (study / "wear_periods" / "summer").symlink_to(outside)
    before = fingerprint_study(study)
    (outside / "glucose.csv").write_text("time,reading\n")
    assert fingerprint_study(study) == before


def test_another_version_of_what_it_leans_on_counts(make_study, monkeypatch):
    study, known = make_study(), fingerprint.version
    monkeypatch.setattr(fingerprint, "_program", fingerprint._program.__wrapped__)  # not what is kept of it
    before = fingerprint_study(study)
    assert fingerprint_study(study) == before
    monkeypatch.setattr(fingerprint, "version", lambda name: "0" if name == "altair" else known(name))
    assert fingerprint_study(study) != before


def test_tables_of_many_need_nothing_that_draws_pages(make_study, monkeypatch):
    def find(name):
        if name == "altair":
            raise PackageNotFoundError(name)
        return known(name)

    study, known = make_study(), fingerprint.version
    monkeypatch.setattr(fingerprint, "_program", fingerprint._program.__wrapped__)
    whole = fingerprint_study(study)
    monkeypatch.setattr(fingerprint, "version", find)
    assert len(fingerprint_study(study)) == len(whole)


def test_a_photo_counts_by_size_and_time_of_change(make_study):
    study = make_study({"wear_periods/winter/photos/a.jpg": b"photo"})
    photo = study / "wear_periods/winter/photos/a.jpg"
    before = fingerprint_study(study)
    os.utime(photo, ns=(0, 0))
    assert fingerprint_study(study) != before


def test_what_cannot_be_read_is_not_an_error_here(make_study):
    study = make_study()
    (study / "wear_periods" / "pipe.csv").symlink_to("/dev/zero")
    (study / "loop").symlink_to("loop")
    assert len(fingerprint_study(study)) == 64
