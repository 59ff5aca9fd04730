"""Why can a surviving fault not matter? One line a fault in reasons.txt: file, what is replaced by what, the reason."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.mutation.operators import Fault


@dataclass(frozen=True)
class Reasons:
    """Reasons by file and by the text before and after."""

    by_place: dict[tuple[str, str, str], str]

    def find(self, fault: Fault) -> str:
        """The reason, empty where none is given."""
        return self.by_place.get((fault.file, _flat(fault.before), _flat(fault.after)), "")


def _flat(text: str) -> str:
    return " ".join(text.split())


def read_reasons(root: Path) -> Reasons:
    """Those of `tests/mutation/reasons.txt`; lines that begin with # are left out."""
    found = {}
    lines = (root / "tests" / "mutation" / "reasons.txt").read_text(encoding="utf-8").splitlines()
    for line in filter(None, lines):
        if not line.startswith("#"):
            file, before, after, reason = (part.strip() for part in line.split(" ¦ "))
            found[file, before, after] = reason
    return Reasons(found)
