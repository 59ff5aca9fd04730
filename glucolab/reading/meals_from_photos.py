"""What was eaten, by its photos? The first meals.csv of a wear, a row a photo, by when they were taken."""

from __future__ import annotations

import csv
import io
import shutil
from dataclasses import dataclass
from pathlib import Path

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.photos import MOST_PHOTO_BYTES, SUFFIXES, PhotoError, read_capture
from glucolab.reading.text import neutralize, show
from glucolab.record import INPUT_TABLES


@dataclass(frozen=True)
class PhotoRows:
    """A folder of photos as rows of meals.csv.

    Attributes
    ----------
    photos : tuple of Path
        In the order of the rows.
    text : str
        The whole of meals.csv.
    problems : tuple of Problem
        Photos that tell no capture time.
    """

    photos: tuple[Path, ...]
    text: str
    problems: tuple[Problem, ...]


def rows_of_photos(folder: Path) -> PhotoRows:
    """A row for each photo of a folder: those that tell when they were taken by that time, the others after them.

    The row's `time` stays empty, so that reading takes the photo's own; `note` shows it, to the eye. The name is the
    photo's until the wearer writes what it was: no two are then taken for one dish.

    Raises
    ------
    NothingToDo
        If it is no folder, or holds no photo.
    """
    try:
        found = [path for path in sorted(folder.iterdir()) if path.suffix.lower() in SUFFIXES and path.is_file()]
    except OSError as fault:
        raise NothingToDo(f"{folder} cannot be listed: {(fault.strerror or 'it went wrong').lower()}") from None
    if not found:
        raise NothingToDo(f"{folder} holds no photo ({', '.join(SUFFIXES)})")
    taken, problems = {}, []
    for path in found:
        try:
            taken[path] = read_capture(_read(path))
        except PhotoError as why:
            problems.append(Problem(f"photos/{show(path.name)}", f"{why}: write the time of its row in meals.csv"))
    ordered = sorted(found, key=lambda path: (path not in taken, taken[path].local if path in taken else ""))
    out = io.StringIO()
    writer = csv.DictWriter(out, INPUT_TABLES["meals"].names, lineterminator="\n")
    writer.writeheader()
    for path in ordered:
        note = f"taken {str(taken[path])[:16].replace('T', ' ')}" if path in taken else ""
        writer.writerow({"name": neutralize(path.stem), "photo": neutralize(path.name), "note": note})
    return PhotoRows(tuple(ordered), out.getvalue(), tuple(problems))


def _read(path: Path) -> bytes:
    try:
        if path.stat().st_size > MOST_PHOTO_BYTES:
            raise PhotoError(f"has more than {MOST_PHOTO_BYTES // 1_000_000} MB")
        return path.read_bytes()
    except OSError as fault:
        raise PhotoError(f"cannot be read ({(fault.strerror or 'it went wrong').lower()})") from None


def copy_photos(rows: PhotoRows, wear: Path) -> Path:
    """Copy the photos into the wear's folder, byte for byte; they stay where they were, too.

    Returns
    -------
    Path
        The folder.
    """
    target = wear / "photos"
    target.mkdir()
    for path in rows.photos:
        shutil.copyfile(path, target / path.name)
    return target
