"""When was a photo taken? The capture time that the camera wrote into it, never the date of the file."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from glucolab.errors import is_own_fault
from glucolab.reading.cells import WrittenTimes, parse_times
from glucolab.reading.files import StudyFiles
from glucolab.reading.tables import Fault, ParsedTable
from glucolab.reading.text import show

FORMATS = ("JPEG", "PNG", "WEBP", "TIFF")
SUFFIXES = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".avif")
MOST_PHOTO_BYTES = 60_000_000
_EXIF_PART, _TAKEN, _OFFSET = 0x8769, 0x9003, 0x9011
"""Exif IFD pointer, DateTimeOriginal and OffsetTimeOriginal: CIPA DC-008-2019 (Exif 2.32), 4.6.3 and 4.6.5."""
_TAKEN_FORM = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)")
_OFFSET_FORM = re.compile(r"[+-]\d\d:\d\d")


class PhotoError(Exception):
    """A photo that tells no capture time, and why."""


@dataclass(frozen=True)
class Capture:
    """When a photo was taken: local time as ISO 8601, and the offset of the camera's clock, "" if it wrote none."""

    local: str
    offset: str

    def __str__(self) -> str:
        return self.local + self.offset


def read_capture(data: bytes) -> Capture:
    """The capture time in the bytes of a photo; its pixels are not looked at.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    Capture

    Raises
    ------
    PhotoError
        If it is no photo that can be read, or no camera wrote a capture time into it.
    """
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # large photos are welcome: no pixel is unpacked
            with Image.open(io.BytesIO(data), formats=FORMATS) as image:
                part = image.getexif().get_ifd(_EXIF_PART)
        taken, offset = (str(part.get(tag, "")).strip("\0 ") for tag in (_TAKEN, _OFFSET))
    except UnidentifiedImageError:
        raise PhotoError("is no photo that can be read here (JPEG, PNG, WebP and TIFF are)") from None
    except Exception as fault:  # a broken photo fails anywhere in the library that reads it, with any error
        if is_own_fault(fault):
            raise
        raise PhotoError("is a broken photo") from None
    match = _TAKEN_FORM.fullmatch(taken)
    if match is None:
        raise PhotoError("has no capture time: it was edited, sent on or saved anew")
    capture = Capture(f"{match[1]}-{match[2]}-{match[3]}T{match[4]}", offset if _OFFSET_FORM.fullmatch(offset) else "")
    if parse_times([capture.local], "time")[1]:
        raise PhotoError(f'has a capture time that does not exist, "{show(taken)}"')
    return capture


def fill_times(meals: ParsedTable, files: StudyFiles, folder: str) -> ParsedTable:
    """Meals with the capture time of their photo where they have no time of their own.

    Parameters
    ----------
    meals : ParsedTable
    files : StudyFiles
    folder : str
        The wear's folder, below the study.

    Returns
    -------
    ParsedTable
        Times still as written; a photo that tells none is a fault of its row. Its `photo_times` says of each row
        whether its time is a photo's, and whether with the camera's offset.
    """
    count = len(meals.lines)
    cells = list(meals.cells.get("time", [""] * count))
    photos = meals.cells.get("photo", [""] * count)
    sources, faults = [""] * count, list(meals.faults)
    found = {}
    for i in [i for i in range(count) if not cells[i] and photos[i]]:
        try:
            if photos[i] not in found:
                found[photos[i]] = read_photo_time(files, folder, photos[i])
            cells[i] = str(found[photos[i]])
            sources[i] = "offset" if found[photos[i]].offset else "local"
        except PhotoError as why:
            faults.append(Fault(i, "time", f'photo "{show(photos[i])}" {why}: write the time'))
    if not any(sources):
        return replace(meals, faults=tuple(faults))
    mine = np.array([bool(source) for source in sources])
    taken, _ = parse_times([cell if own else "" for cell, own in zip(cells, mine, strict=True)], "time")
    nothing = np.full(count, np.datetime64("NaT", "us"))
    old = meals.times.get("time", WrittenTimes(nothing, nothing))
    times = WrittenTimes(np.where(mine, taken.local, old.local), np.where(mine, taken.utc, old.utc))
    return replace(
        meals,
        faults=tuple(faults),
        cells={**meals.cells, "time": cells},
        times={**meals.times, "time": times},
        photo_times=tuple(sources),
    )


def read_photo_time(files: StudyFiles, folder: str, photo: str) -> Capture:
    """When a photo in the `photos/` of a wear's folder was taken.

    Raises
    ------
    PhotoError
        If that cannot be told, and why.
    """
    if photo != photo.replace("\\", "/").rsplit("/", 1)[-1] or photo in (".", ".."):
        raise PhotoError("is not the name of a file in photos/")
    path, known = f"{folder}/photos/{photo}", len(files.problems)
    if files.size(path) > MOST_PHOTO_BYTES:
        raise PhotoError(f"has more than {MOST_PHOTO_BYTES // 1_000_000} MB")
    data = files.read(path)
    if data is None:
        why = files.problems.pop().text if len(files.problems) > known else "is not in photos/"
        raise PhotoError(why)
    return read_capture(data)


def doubt_zones(sources: Sequence[str], has_trips: bool) -> list[bool]:
    """True for a photo whose camera wrote no offset, in a wear with trips: its clock may not have travelled along."""
    return [has_trips and source == "local" for source in sources]
