"""Do masks become spans of time and come back the same?"""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from glucolab.cleaning.spans import empty_spans, make_spans, mask_to_spans, spans_to_mask
from tests.hand_made import START, at, make_times


def to_mask(values, step_min=5.0):
    return pd.Series(np.asarray(values, dtype=bool), index=make_times(len(values), step_min=step_min))


def test_a_run_is_one_span_that_ends_with_its_last_readings_interval():
    spans = mask_to_spans(to_mask([0, 1, 1, 0, 0, 1]), 5.0, "jump", "exclude")
    assert spans["start"].tolist() == [at("00:05"), at("00:25")]
    assert spans["end"].tolist() == [at("00:15"), at("00:30")]
    assert spans["minutes"].tolist() == [10, 5]
    assert set(spans["flag"]) == {"jump"}
    assert set(spans["action"]) == {"exclude"}


def test_it_ends_at_the_next_reading_where_that_comes_sooner():
    mask = pd.Series([True, False], index=pd.DatetimeIndex([at("00:00"), at("00:02")]).as_unit("us"))
    assert mask_to_spans(mask, 5.0, "jump", "exclude")["end"].tolist() == [at("00:02")]


def test_a_pause_within_a_run_stays_within_it():
    """Nothing trustworthy lies between two flagged neighbours."""
    mask = pd.Series(True, index=pd.DatetimeIndex([at("00:00"), at("02:00")]).as_unit("us"))
    spans = mask_to_spans(mask, 5.0, "stuck", "exclude")
    assert spans["start"].tolist() == [at("00:00")]
    assert spans["end"].tolist() == [at("02:05")]


def test_no_mark_no_span_and_the_types_stay():
    none = mask_to_spans(to_mask([0, 0]), 5.0, "jump", "exclude")
    some = mask_to_spans(to_mask([0, 1]), 5.0, "jump", "exclude")
    assert len(none) == 0
    assert list(none.columns) == list(some.columns)
    assert (none.dtypes[["start", "end"]] == some.dtypes[["start", "end"]]).all()


def test_spans_are_half_open():
    times = make_times(5)
    assert spans_to_mask(times, pd.Series([at("00:05")]), pd.Series([at("00:15")])).tolist() == [
        False,
        True,
        True,
        False,
        False,
    ]


def test_spans_that_overlap_touch_or_have_no_length():
    times = make_times(8)
    spans = make_spans(
        pd.DatetimeIndex([at("00:05"), at("00:10"), at("00:30"), at("00:20")]),
        pd.DatetimeIndex([at("00:15"), at("00:20"), at("00:30"), at("00:25")]),
        "noted", "note",
    )  # fmt: skip
    assert spans_to_mask(times, spans["start"], spans["end"]).tolist() == [
        False,
        True,
        True,
        True,
        True,
        False,
        False,
        False,
    ]


def test_no_spans_no_marks():
    assert not spans_to_mask(make_times(3), empty_spans()["start"], empty_spans()["end"]).any()


@settings(max_examples=60, deadline=None)
@given(
    marks=st.lists(st.booleans(), min_size=1, max_size=60),
    steps=st.lists(st.sampled_from([1, 5, 5, 5, 7, 600]), min_size=60, max_size=60),
    interval_min=st.sampled_from([1.0, 5.0, 15.0]),
)
def test_there_and_back(marks, steps, interval_min):
    times = pd.DatetimeIndex(START + pd.to_timedelta(np.cumsum(steps[: len(marks)]), unit="min")).as_unit("us")
    mask = pd.Series(marks, index=times)
    spans = mask_to_spans(mask, interval_min, "jump", "exclude")
    assert spans_to_mask(times, spans["start"], spans["end"]).tolist() == marks
    assert (spans["minutes"] > 0).all()
    assert (spans["start"].iloc[1:].to_numpy() >= spans["end"].iloc[:-1].to_numpy()).all()
