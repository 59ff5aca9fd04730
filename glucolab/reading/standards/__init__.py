"""Is it a file of an open standard? FHIR, Open mHealth, iCalendar or GPX, told by its content."""

from __future__ import annotations

from pathlib import Path

from glucolab.reading.bringing.grids.any_file import read_bytes
from glucolab.reading.bringing.grids.web_pages import looks_like_page
from glucolab.reading.bringing.inferring.ambiguities import Answers
from glucolab.reading.bringing.mapping.import_result import Brought

_LOOKED_AT = 4096


def read_standard(path: Path, answers: Answers | None = None) -> Brought | None:
    """Read a file of one of the open standards that are known here.

    Parameters
    ----------
    path : Path
    answers : Answers, optional
        What the wearer said where a calendar has two readings.

    Returns
    -------
    Brought or None
        None if the file is none of them, by its first characters: it may be a table.

    Raises
    ------
    UnsettledError
        If a calendar has two readings.
    NothingToDo
        If it is one of them and cannot be used, and why.
    """
    data = read_bytes(path)
    start = data[:_LOOKED_AT].decode("utf-8-sig", errors="replace").lstrip()
    if start.startswith(("{", "[")):
        from glucolab.reading.standards.documents import read_documents

        return read_documents(data, path.name)
    if start.upper().startswith("BEGIN:VCALENDAR"):
        from glucolab.reading.standards.calendar_events import read_calendar

        return read_calendar(data, path.name, answers or Answers())
    if start.startswith("<") and not looks_like_page(start):
        from glucolab.reading.standards.gpx import read_gpx

        return read_gpx(data, path.name)
    return None
