"""Which moment stands in a sentence? The one date of it, with the clock time that follows."""

from __future__ import annotations

import re

from glucolab.reading.bringing.cells.moments import NUMBERED_DATE, named_dates, tidy_moment


def find_moment_in(text: str) -> str:
    """The date, with its clock time where one follows, that stands in a sentence; "" where there is not just one."""
    dates = [found for form in (*named_dates(), NUMBERED_DATE) for found in form.finditer(tidy_moment(text))]
    spans = {found.span() for found in dates}
    if len(spans) != 1:
        return ""
    first, last = spans.pop()
    tidy = tidy_moment(text)
    clock = re.search(r"\d{1,2}[:.h]\d\d\b", tidy[last:])
    return f"{tidy[first:last].strip(' ,')} {clock[0] if clock else ''}".strip()
