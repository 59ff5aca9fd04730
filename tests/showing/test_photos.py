"""Are meals' photos shown small, named, and without what a camera writes into them?"""

from __future__ import annotations

import base64
import io
import re

from PIL import Image

from glucolab.reading.folder import read_study
from glucolab.showing.photos import show_photos
from tests.reading.test_photos import photo, put_photos

MEALS = "time,name,photo\n,<script>alert(1)</script>,a.jpg\n2026-02-03T19:00,bread,b.jpg\n2026-02-03T20:00,tea,\n"


def test_thumbnails_are_small_escaped_and_bare(make_study):
    study = make_study({"wear_periods/winter/meals.csv": MEALS})
    put_photos(study, a=photo(size=(3000, 2000)), b=b"broken")
    shown = show_photos(study, read_study(study), "winter")
    assert "<script>" not in shown.html
    assert "&lt;script&gt;" in shown.html
    assert "no picture that can be shown" in shown.html
    assert "Tue 3 Feb, 12:30, by the photo" in shown.html
    (data,) = re.findall(r"base64,([^\"]+)", shown.html)
    with Image.open(io.BytesIO(base64.b64decode(data))) as image:
        assert max(image.size) == 160
        assert not image.getexif()
    assert len(shown.html) < 20_000
