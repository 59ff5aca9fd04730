"""Are the tables for questions of one's own those of every wear, in the wearer's clock and as plain numbers?"""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from glucolab.errors import NothingToDo
from glucolab.running.notebook_inputs import open_study
from tests.conftest import REPOSITORY


@pytest.fixture(scope="module")
def analysis():
    return open_study(REPOSITORY / "sample_data")


def test_wears_stand_under_each_other_with_floats_for_numbers(analysis):
    daily = analysis.to_frame("daily")
    assert daily.columns[0] == "wear"
    assert daily["wear"].unique().tolist() == [one.wear.name for one in analysis.wears]
    assert len(daily) == sum(len(one.tables["daily"]) for one in analysis.wears)
    assert daily["mean_mg_dl"].dtype == float
    assert daily["asleep_h"].dtype == float


def test_times_are_those_that_were_written_down(analysis):
    """The first rows of the wears' own files, read as text: a clock change lies within a wear of the sample."""
    sleep = analysis.to_frame("sleep")
    for one in analysis.wears:
        path = REPOSITORY / "sample_data" / "wear_periods" / one.wear.name / "sleep.csv"
        written = pd.to_datetime(pd.read_csv(path)["start"])
        assert set(sleep.loc[sleep["wear"] == one.wear.name, "start"]) == set(written)
    assert sleep["start"].dt.tz is None


def test_a_name_that_no_table_has_is_refused_with_those_there_are(analysis):
    with pytest.raises(NothingToDo, match="no wear has a table “dayly”: there are readings"):
        analysis.to_frame("dayly")


def test_whoever_is_only_described_or_sees_no_figures_is_told_why(analysis):
    study = analysis.study
    young = replace(analysis, study=replace(study, person=replace(study.person, under_18=True)))
    with pytest.raises(NothingToDo, match="cleans and describes"):
        young.to_frame("daily")
    with pytest.raises(NothingToDo, match="numbers = false"):
        replace(analysis, study=replace(study, numbers=False)).to_frame("daily")
