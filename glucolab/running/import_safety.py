"""What may one of our processes import? Installed modules, never a file that lies where it is started."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

_SAFE_PATH = "PYTHONSAFEPATH"
"""Python then does not look for modules in the folder it is started in, which may be one of data (Python 3.11)."""


@contextmanager
def without_local_modules() -> Iterator[None]:
    """While it lasts, Python processes that are started take no module from the folder they are started in."""
    before = os.environ.get(_SAFE_PATH)
    os.environ[_SAFE_PATH] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[_SAFE_PATH]
        else:
            os.environ[_SAFE_PATH] = before
