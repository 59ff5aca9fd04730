"""Is a meal's missing time taken from its photo, from what the camera wrote and from nothing else?"""

from __future__ import annotations

import io
import os
import struct
import time

import pytest
from PIL import Image

from glucolab.reading.folder import read_study
from glucolab.reading.photos import PhotoError, read_capture
from glucolab.running.cli import main
from tests.running.test_cli import hashes


def exif_by_hand(taken: str, offset: str, changed: str) -> bytes:
    """Exif laid out byte by byte after CIPA DC-008-2019 (Exif 2.32), 4.5.2 to 4.6.5, big-endian.

    The first directory holds DateTime (0x0132), when the file was changed, and the pointer (0x8769) to the Exif
    directory, which holds DateTimeOriginal (0x9003) and OffsetTimeOriginal (0x9011); all are ASCII (type 2).
    """
    first, second = (
        [(0x0132, changed)] * bool(changed),
        [(0x9003, taken)] * bool(taken) + [(0x9011, offset)] * bool(offset),
    )
    starts = 8, 8 + 2 + 12 * (len(first) + 1) + 4
    place = starts[1] + 2 + 12 * len(second) + 4
    directories, values = [], b""
    for entries in (first, second):
        packed = b""
        for tag, text in entries:
            packed += struct.pack(">HHII", tag, 2, len(text) + 1, place + len(values))
            values += text.encode() + b"\0"
        directories.append(packed)
    directories[0] += struct.pack(">HHII", 0x8769, 4, 1, starts[1])
    return (
        b"Exif\0\0MM\0*"
        + struct.pack(">I", starts[0])
        + b"".join(struct.pack(">H", len(d) // 12) + d + struct.pack(">I", 0) for d in directories)
        + values
    )


def photo(taken="2026:02:03 12:30:05", offset="", changed="", form="JPEG", size=(40, 30)) -> bytes:
    """A picture as a camera writes it."""
    out = io.BytesIO()
    Image.new("RGB", size, (180, 90, 40)).save(out, form, exif=exif_by_hand(taken, offset, changed))
    return out.getvalue()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_capture_time_with_and_without_offset(form):
    assert str(read_capture(photo(form=form))) == "2026-02-03T12:30:05"
    assert str(read_capture(photo(form=form, offset="-03:00"))) == "2026-02-03T12:30:05-03:00"


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (photo(taken="", changed="2026:02:03 12:30:05"), "has no capture time: it was edited, sent on or saved anew"),
        (photo(taken="    :  :     :  :  "), "has no capture time"),
        (photo(taken="2026:02:31 12:30:05"), "has a capture time that does not exist"),
        (photo()[:60], "is a broken photo|is no photo"),
        (b"not a photo", "is no photo that can be read here"),
        (b"\0\0\0\x18ftypheic" + b"\0" * 200, "is no photo that can be read here"),
    ],
)
def test_a_photo_that_tells_nothing_says_why(data, why):
    with pytest.raises(PhotoError, match=why):
        read_capture(data)


MEALS = "time,name,photo\n,soup,a.jpg\n,rice,b.jpg\n2026-02-03T19:00,bread,c.jpg\n,cake,../a.jpg\n,tea,d.jpg\n"


def put_photos(study, **photos: bytes) -> None:
    folder = study / "wear_periods" / "winter" / "photos"
    folder.mkdir()
    for name, data in photos.items():
        (folder / f"{name}.jpg").write_bytes(data)
        os.utime(folder / f"{name}.jpg", (0, 0))


def test_meals_take_the_time_of_their_photo_in_the_wears_zone(make_study):
    study = make_study({"wear_periods/winter/meals.csv": MEALS})
    put_photos(study, a=photo(), b=photo("2026:02:04 12:30:00", "+03:00"), d=photo(taken=""))
    record = read_study(study)
    meals = record.wears[0].meals
    assert [f"{t:%d %H:%M}" for t in meals["time"]] == [
        "03 12:30",
        "04 09:30",
        "03 19:00",
    ]  # Lisbon is at UTC in winter
    assert meals["time_source"].tolist() == ["photo", "photo", "written"]
    assert not meals["time_uncertain"].any()
    why = "has no capture time: it was edited, sent on or saved anew"
    assert [f"{p.line}: {p.text}" for p in record.problems if "photo" in p.text] == [
        '5: photo "../a.jpg" is not the name of a file in photos/: write the time; the row is left out',
        f'6: photo "d.jpg" {why}: write the time; the row is left out',
    ]
    assert "wear_periods/winter/photos/a.jpg" in record.input_hashes


def test_on_a_trip_a_camera_without_offset_is_in_doubt(make_study, tmp_path):
    notes = "start,kind,time_zone\n2026-02-03T15:00,travel,America/Recife\n"
    study = make_study({"wear_periods/winter/meals.csv": MEALS, "wear_periods/winter/notes.csv": notes})
    put_photos(study, a=photo("2026:02:04 02:30:00"), b=photo("2026:02:04 12:30:00", "-03:00"))
    meals = read_study(study).wears[0].meals
    assert meals["time_uncertain"].tolist() == [True, False, False]
    assert main(["measure", str(study), "--out", str(tmp_path / "out")]) == 1
    rows = (tmp_path / "out" / "winter" / "meal_responses.csv").read_text().splitlines()
    assert [("time_uncertain" in row, ",photo," in row) for row in rows[1:]] == [
        (False, False),
        (True, True),
        (False, True),
    ]


def test_a_link_out_of_the_study_is_not_followed(make_study, tmp_path):
    study = make_study({"wear_periods/winter/meals.csv": "time,name,photo\n,soup,a.jpg\n2026-02-03T19:00,bread,\n"})
    put_photos(study)
    (tmp_path / "secret.jpg").write_bytes(photo())
    (study / "wear_periods/winter/photos/a.jpg").symlink_to(tmp_path / "secret.jpg")
    record = read_study(study)
    assert record.wears[0].meals["name"].tolist() == ["bread"]
    assert any("is a link that leads out of the study" in problem.text for problem in record.problems)


def test_new_begins_meals_with_a_row_a_photo(tmp_path, capsys):
    folder = tmp_path / "camera"
    folder.mkdir()
    (folder / "x2.jpg").write_bytes(photo("2026:02:03 19:00:00"))
    (folder / "x1.jpg").write_bytes(photo("2026:02:03 08:00:00", "+01:00"))
    (folder / "edited.png").write_bytes(photo(taken="", form="PNG"))
    (folder / "film.mov").write_bytes(b"x")
    before = hashes(folder)
    assert main(["new", str(tmp_path / "study"), "w", "--photos", str(folder)]) == 1
    shown = capsys.readouterr()
    assert "left out: photos/edited.png: has no capture time" in shown.err
    wear = tmp_path / "study" / "wear_periods" / "w"
    assert str(wear / "photos") in shown.out
    lines = (wear / "meals.csv").read_text().splitlines()
    assert [line.strip(",").split(",")[0] for line in lines[1:]] == ["x1", "x2", "edited"]
    assert lines[1].endswith("x1.jpg,taken 2026-02-03 08:00")
    assert sorted(p.name for p in (wear / "photos").iterdir()) == ["edited.png", "x1.jpg", "x2.jpg"]
    assert hashes(folder) == before
    assert main(["new", str(tmp_path / "study"), "v", "--photos", str(tmp_path / "study")]) == 2
    assert "holds no photo" in capsys.readouterr().err
    assert not (tmp_path / "study" / "wear_periods" / "v").exists()


def test_a_hundred_large_photos_cost_little(make_study):
    rows = "".join(f",meal {i},p{i}.jpg\n" for i in range(100))
    study = make_study({"wear_periods/winter/meals.csv": "time,name,photo\n" + rows})
    put_photos(study, **{f"p{i}": photo(f"2026:02:03 12:{i % 60:02d}:00") + os.urandom(1_000_000) for i in range(100)})
    began = time.process_time()
    assert len(read_study(study).wears[0].meals) == 100
    assert time.process_time() - began < 20  # a hang, not a speed: the benchmarks measure that
