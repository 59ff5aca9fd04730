"""One invented wear analysed once, for words and charts to be tried on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from glucolab.analysis import analyse_wear
from glucolab.reading.folder import read_study
from glucolab.record import Study
from glucolab.results import WearAnalysis
from tests.conftest import REPOSITORY


@pytest.fixture(scope="session")
def sample() -> Study:
    """The sample study."""
    return read_study(REPOSITORY / "sample_data")


@pytest.fixture(scope="session")
def result(sample) -> WearAnalysis:
    """Its autumn wear, in which most went wrong, analysed."""
    return analyse_wear(sample.wears[2], sample)


@pytest.fixture(scope="session")
def running(sample) -> WearAnalysis:
    """The same wear as if it had not ended."""
    wear = replace(sample.wears[2], end=None, ended=None)
    return analyse_wear(wear, sample)
