"""Are the examples of RFC 5545 read as it says, workouts as activity and all else as notes?"""

from __future__ import annotations

import time

import pytest

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import Answers
from glucolab.reading.standards import read_standard

ZONE = """BEGIN:VTIMEZONE
TZID:America/New_York
BEGIN:DAYLIGHT
DTSTART:19670430T020000
RRULE:FREQ=YEARLY;BYMONTH=4;BYDAY=-1SU;UNTIL=19730429T070000Z
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
END:VTIMEZONE
"""


@pytest.fixture
def read(tmp_path):
    """A function from the lines of events to what is brought."""

    def read_events(*events: str, zone: str = ""):
        body = "".join(
            f"BEGIN:VEVENT\nUID:{i}@example.com\nDTSTAMP:19970901T130000Z\n{e}\nEND:VEVENT\n"
            for i, e in enumerate(events)
        )
        text = f"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//example//EN\n{zone}{body}END:VCALENDAR\n"
        (tmp_path / "a.ics").write_text(text.replace("\n", "\r\n"), newline="")
        return read_standard(tmp_path / "a.ics", Answers({"planned": "done"}))

    return read_events


def test_an_event_and_an_anniversary_of_section_3_6_1(read):
    # RFC 5545, section 3.6.1, first and fourth example
    brought = read(
        "DTSTART:19970903T163000Z\nDTEND:19970903T190000Z\nSUMMARY:Annual Employee Review"
        "\nCLASS:PRIVATE\nCATEGORIES:BUSINESS,HUMAN RESOURCES",
        "DTSTART;VALUE=DATE:20070628\nDTEND;VALUE=DATE:20070709\nSUMMARY:Festival International de Jazz de Montreal"
        "\nTRANSP:TRANSPARENT",
    )
    rows = brought.tables["notes"].to_dict("records")
    assert rows[0] == {
        "start": "1997-09-03T16:30:00+00:00",
        "kind": "other",
        "end": "1997-09-03T19:00:00+00:00",
        "note": "Annual Employee Review",
    }
    assert (rows[1]["start"], rows[1]["end"]) == ("2007-06-28T00:00", "2007-07-09T00:00")


@pytest.mark.parametrize(
    ("rule", "days"),
    [
        # RFC 5545, section 3.8.5.3, and its EXDATE of section 3.8.5.1
        ("RRULE:FREQ=DAILY;COUNT=10", [f"09-{d:02d}" for d in range(2, 12)]),
        (
            "RRULE:FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
            ["09-02", "09-04", "09-09", "09-11", "09-16", "09-18", "09-23", "09-25", "09-30", "10-02"],
        ),
        ("RRULE:FREQ=MONTHLY;COUNT=6;BYMONTHDAY=-3", ["09-28", "10-29", "11-28", "12-29", "01-29", "02-26"]),
        ("RRULE:FREQ=DAILY;COUNT=3\nEXDATE;TZID=America/New_York:19970903T090000", ["09-02", "09-04"]),
    ],
)
def test_workouts_that_repeat_as_section_3_8_5_lays_them_out(read, rule, days):
    brought = read(
        f"DTSTART;TZID=America/New_York:19970902T090000\nDURATION:PT45M\nSUMMARY:Morning run\\, easy\n{rule}", zone=ZONE
    )
    rows = brought.tables["activity"].to_dict("records")
    assert [row["start"][5:10] for row in rows] == days
    assert {row["minutes"] for row in rows} == {"45"}
    assert rows[0]["start"][10:] == "T09:00:00-04:00"
    assert rows[0]["kind"] == "Morning run, easy"


def test_floating_cancelled_moved_and_folded(read):
    brought = read(
        "DTSTART:20260203T180000\nDTEND:20260203T190000\nSUMMARY:Yo\n ga",
        "DTSTART:20260204T180000\nDTEND:20260204T190000\nSUMMARY:Gym\nSTATUS:CANCELLED",
        "DTSTART:20260205T180000\nSUMMARY:Run",
    )
    assert brought.tables["activity"]["start"].tolist() == ["2026-02-03T18:00:00"]
    assert [str(p) for p in brought.problems] == [
        "a.ics: entry 2: the event was cancelled",
        'a.ics: entry 3: "Run" has no length',
    ]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("BEGIN:VCALENDAR\nBEGIN:VEVENT\n", "no sound iCalendar file|calendar without events"),
        ("BEGIN:VCALENDAR\nVERSION:2.0\nEND:VCALENDAR\n", "is a calendar without events"),
    ],
)
def test_a_broken_calendar_is_one_sentence(tmp_path, text, why):
    (tmp_path / "a.ics").write_text(text)
    with pytest.raises(NothingToDo, match=why):
        read_standard(tmp_path / "a.ics")


SECONDS = ",".join(map(str, range(60)))


@pytest.mark.parametrize(
    ("rule", "why"),
    [
        ("FREQ=SECONDLY", 'it repeats "secondly", which no event of a day does'),
        ("FREQ=MINUTELY;COUNT=9", 'it repeats "minutely"'),
        ("FREQ=SECONDLY;BYMONTH=2;BYMONTHDAY=30", 'it repeats "secondly"'),
        (f"FREQ=DAILY;BYSECOND={SECONDS}", "it repeats more than 24 times within a day"),
        (f"FREQ=YEARLY;BYMINUTE={SECONDS};BYSECOND={SECONDS}", "it repeats more than 24 times within a day"),
    ],
)
def test_an_event_of_every_second_is_refused_at_once(read, rule, why):
    begun = time.monotonic()
    with pytest.raises(NothingToDo, match=why):
        read(f"DTSTART:20260203T180000\nDTEND:20260203T180001\nSUMMARY:run\nRRULE:{rule}")
    assert time.monotonic() - begun < 5


def test_what_repeats_daily_for_years_is_laid_out(read):
    brought = read("DTSTART:20260203T180000\nDURATION:PT45M\nSUMMARY:run\nRRULE:FREQ=DAILY")
    assert len(brought.tables["activity"]) == 5000
