"""Is a GPX 1.1 track read as start, minutes and kind, and nothing of its places kept?"""

from __future__ import annotations

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.standards import read_standard

# the sample of the article "GPS Exchange Format" of Wikipedia (CC BY-SA), its three points
SAMPLE = """<?xml version="1.0" encoding="UTF-8" standalone="no" ?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="example">
  <metadata><time>2009-10-17T22:58:43Z</time></metadata>
  <trk><name>Example GPX Document</name>{kind}<trkseg>
    <trkpt lat="47.644548" lon="-122.326897"><ele>4.46</ele><time>2009-10-17T18:37:26Z</time></trkpt>
    <trkpt lat="47.644548" lon="-122.326897"><ele>4.94</ele><time>2009-10-17T18:37:31Z</time></trkpt>
    <trkpt lat="47.644548" lon="-122.326897"><ele>6.87</ele><time>2009-10-17T18:37:34Z</time></trkpt>
  </trkseg></trk>
</gpx>"""


def read(tmp_path, text: str):
    (tmp_path / "a.gpx").write_text(text)
    return read_standard(tmp_path / "a.gpx")


def track(km_h: float, minutes: int = 30) -> str:
    """A way to the north: a degree of latitude is 60 nautical miles of 1.852 km (its definition)."""
    step = km_h / 60 / (60 * 1.852)
    points = "".join(
        f'<trkpt lat="{45 + i * step:.7f}" lon="7"><time>2026-02-03T17:{i:02d}:00Z</time></trkpt>'
        for i in range(minutes + 1)
    )
    return f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>'


def test_a_published_sample(tmp_path):
    brought = read(tmp_path, SAMPLE.format(kind="<type>hiking</type>"))
    (row,) = brought.tables["activity"].to_dict("records")
    assert row == {"start": "2009-10-17T18:37:26Z", "minutes": "0.1333", "kind": "hiking"}
    assert "47.6" not in str(brought)
    assert "Example GPX Document" not in str(brought)


@pytest.mark.parametrize(("km_h", "kind"), [(4.9, "walk"), (11, "movement")])
def test_a_track_without_a_kind_is_told_by_its_speed_and_said(tmp_path, km_h, kind):
    brought = read(tmp_path, track(km_h))
    (row,) = brought.tables["activity"].to_dict("records")
    assert (row["minutes"], row["kind"]) == ("30", kind)
    assert any(f"by its {km_h:.1f} km/h it is a {kind}" in sentence for sentence in brought.said)


BOMB = """<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>
<gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><name>&b;</name></trk></gpx>"""
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "file:///etc/passwd"><gpx xmlns="http://www.topografix.com/GPX/1/1"/>'
)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (BOMB, "defines entities, as hostile XML does"),
        (OUTSIDE, "defines entities, as hostile XML does"),
        (SAMPLE.format(kind="")[:500], "is broken or cut-off XML"),
        ("<?xml version='1.0'?><body>hello</body>", "is XML, but not GPX"),
        (SAMPLE.format(kind="").replace("GPX/1/1", "GPX/1/0"), "is GPX, but not of version 1.1"),
        (
            '<gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg><trkpt lat="1" lon="1"/></trkseg></trk></gpx>',
            "has no times",
        ),
        (track(5).replace("T17:30", "T17:99"), 'time "2026-02-03T17:99:00Z" is not a time'),
    ],
)
def test_broken_and_hostile_files_are_one_sentence(tmp_path, text, why):
    with pytest.raises(NothingToDo, match=why) as refused:
        read(tmp_path, text)
    assert "\n" not in str(refused.value)
