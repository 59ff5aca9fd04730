"""What do the scripts of the library's page print? Each run in a process of its own, beside the sample study."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

from tests.conftest import REPOSITORY

PAGE = REPOSITORY / "reports" / "library.md"
SCRIPT = re.compile(
    r"<!-- script: (?P<name>\w+) -->\n```python\n(?P<code>.*?)```\n\n```text\n(?P<answer>.*?)```", re.DOTALL
)


def find_scripts(page: str) -> dict[str, tuple[str, str]]:
    """Code and printed answer by name."""
    return {found["name"]: (found["code"], found["answer"]) for found in SCRIPT.finditer(page)}


def run_script(code: str, folder: Path) -> str:
    """What it prints in a folder that holds the sample study; a warning is an error."""
    (folder / "sample_data").symlink_to(REPOSITORY / "sample_data")
    ended = subprocess.run(
        [sys.executable, "-W", "error::UserWarning", "-c", code], cwd=folder, capture_output=True, text=True,
        check=False, env=os.environ | {"PYTHONPATH": str(REPOSITORY)},
    )  # fmt: skip
    if ended.returncode:
        raise RuntimeError(ended.stderr)
    return ended.stdout


def print_answer(page: str, name: str, answer: str) -> str:
    """The page with this answer in place of the one that it shows."""
    found = next(one for one in SCRIPT.finditer(page) if one["name"] == name)
    return page[: found.start("answer")] + answer + page[found.end("answer") :]
