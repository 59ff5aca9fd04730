"""What was on the plate? Small pictures of a wear's meal photos beside their names and times, for a notebook."""

from __future__ import annotations

import base64
import io
import warnings
from pathlib import Path

from glucolab.clock import to_local
from glucolab.errors import NothingToDo, is_own_fault
from glucolab.reading.files import StudyFiles
from glucolab.reading.folder import WEARS
from glucolab.reading.photos import FORMATS, MOST_PHOTO_BYTES
from glucolab.record import Study
from glucolab.showing.markup import Part, fill_template

SIDE_PX = 160
_MOST_SHOWN = 60
MOST_PIXELS = 150_000_000
"""A phone's camera has up to 108 million; a picture with more is not unpacked."""


def show_photos(folder: str | Path, study: Study, wear: str) -> Part:
    """Thumbnails of the meals of a wear that name a photo, in the order of time.

    Parameters
    ----------
    folder : str or Path
        The study folder, in which the photos lie.
    study : Study
        As it was read.
    wear : str
        Name of the wear.

    Returns
    -------
    Part
        Pictures are small copies without any of what a camera writes into them, such as the place.

    Raises
    ------
    NothingToDo
        If the study has no such wear.
    """
    named = {one.name: one for one in study.wears}
    if wear not in named:
        raise NothingToDo(f'the study has no wear "{wear}" that can be used; it has {", ".join(named)}')
    meals = named[wear].meals
    meals = meals[meals["photo"].notna()].sort_values("time")
    shown = meals.head(_MOST_SHOWN)
    files = StudyFiles(Path(folder))
    rows = [
        {
            "picture": _thumbnail(files, f"{WEARS}/{wear}/photos/{photo}"),
            "name": name,
            "time": f"{local:%a %-d %b, %H:%M}",
            "source": "by the photo" if source == "photo" else "as written",
        }
        for photo, name, source, local in zip(
            shown["photo"],
            shown["name"],
            shown["time_source"],
            to_local(shown["time"], named[wear].zones),
            strict=True,
        )
    ]
    more = len(meals) - len(shown)
    text = "\n".join(f"{row['time']}: {row['name']}" for row in rows) or "no meal of this wear names a photo"
    return Part(fill_template("photos.html", rows=rows, more=more), text)


def _thumbnail(files: StudyFiles, path: str) -> str:
    """A small picture as the text of a data address; "" where there is none that can be shown."""
    from PIL import Image, ImageOps

    data = files.read(path) if 0 < files.size(path) <= MOST_PHOTO_BYTES else None
    if data is None:
        return ""
    out = io.BytesIO()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the limit of pixels is our own, below
            with Image.open(io.BytesIO(data), formats=FORMATS) as image:
                if image.width * image.height > MOST_PIXELS:
                    return ""
                image.draft("RGB", (2 * SIDE_PX, 2 * SIDE_PX))
                upright = ImageOps.exif_transpose(image).convert("RGB")
        upright.thumbnail((SIDE_PX, SIDE_PX))
        Image.frombytes("RGB", upright.size, upright.tobytes()).save(out, "JPEG", quality=80)
    except Exception as fault:  # a broken photo fails anywhere in the library, with any error: its meal has none
        if is_own_fault(fault):
            raise
        return ""
    return base64.b64encode(out.getvalue()).decode()
