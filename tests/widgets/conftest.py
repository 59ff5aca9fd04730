"""The sample study analysed once, and its workbook in a running JupyterLab."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from glucolab.running.notebook_inputs import open_study
from glucolab.showing.widgets.session_memory import open_sitting
from tests.conftest import REPOSITORY
from tests.widgets.lab import Lab, start_lab


@pytest.fixture(scope="session")
def sample():
    """The sample study, analysed."""
    return open_study(REPOSITORY / "sample_data")


@pytest.fixture(autouse=True)
def new_sitting():
    """Each test sits down anew."""
    open_sitting.cache_clear()


@pytest.fixture(scope="session")
def lab(tmp_path_factory) -> Iterator[Lab]:
    with start_lab(tmp_path_factory.mktemp("lab")) as running:
        yield running
