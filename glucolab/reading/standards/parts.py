"""What stands where in a JSON record? Values by their path, numbers as their digits were written."""

from __future__ import annotations

from typing import Any


class NumberText(str):
    """A number of a JSON file as its digits stand there, so that nothing is rounded on the way."""


def dig(record: Any, *path: str | int) -> Any:
    """What stands at a path of keys and places; None where there is nothing."""
    for key in path:
        if isinstance(key, int):
            record = record[key] if isinstance(record, list) and key < len(record) else None
        else:
            record = record.get(key) if isinstance(record, dict) else None
    return record
