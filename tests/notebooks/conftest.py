"""Before the first notebook runs, the report that some of them read is made."""

from __future__ import annotations

from tests.notebooks.renewing import make_report

_made: list[bool] = []


def pytest_runtest_setup(item) -> None:
    if not _made and item.path.suffix == ".ipynb":
        make_report()
        _made.append(True)
