"""What do the README's commands answer? Each run in a folder of its own, as somebody who follows the page would."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

from tests.conftest import REPOSITORY

PAGE = REPOSITORY / "README.md"
STEPS = re.compile(r"(?:<!-- shown: ([\w -]+) -->\n)?```(bash|text)\n(.*?)```", re.DOTALL)
FIRST_WEAR = "## Your first wear in ten minutes"
OURS = f"{sys.executable} -m glucolab.running.cli"


def find_commands(page: str) -> list[tuple[str, str]]:
    """Name (empty where no answer is shown) and command of every block of the first wear."""
    part = page.split(FIRST_WEAR)[1].split("\n## ")[0]
    return [(name, text) for name, kind, text in STEPS.findall(part) if kind == "bash"]


def find_answers(page: str) -> dict[str, str]:
    """What the page shows: by the name of each mark, the text that follows it."""
    names = re.findall(r"<!-- shown: ([\w -]+) -->", page)
    return {
        name: re.search(r"```text\n(.*?)```", page.split(f"<!-- shown: {name} -->")[1], re.DOTALL)[1] for name in names
    }


def answer_all(page: str, folder: Path) -> dict[str, str]:
    """Run the page's commands in a folder, one after another; what each that is shown prints to stdout."""
    (folder / "notebooks").symlink_to(REPOSITORY / "notebooks")
    found = {name: _run(command, folder) for name, command in find_commands(page)}
    found.pop("", None)
    report = _run(f".venv/bin/glucolab measure {REPOSITORY / 'sample_data'} --out sample", folder)
    return found | {"sample": "".join(line for line in report.splitlines(True) if not line.startswith("sample/"))}


def print_answers(page: str, answers: dict[str, str]) -> str:
    """The page with these answers in place of those that it shows."""
    for name, text in answers.items():
        before, after = page.split(f"<!-- shown: {name} -->")
        head, rest = after.split("```text\n", 1)
        page = f"{before}<!-- shown: {name} -->{head}```text\n{text}```{rest.split('```', 1)[1]}"
    return page


def _run(command: str, folder: Path) -> str:
    asked = command.replace(".venv/bin/glucolab", OURS)
    ended = subprocess.run(["bash", "-euo", "pipefail", "-c", asked], cwd=folder, capture_output=True, text=True)
    if ended.returncode != 0:
        raise RuntimeError(f"{command}\n{ended.stderr}")
    return ended.stdout.replace(f"{folder.resolve()}/", "")
