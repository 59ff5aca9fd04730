"""Print what the commands of the README answer into it, after a change that is meant: python -m tests.readme."""

import tempfile
from pathlib import Path

from tests.readme.running import PAGE, answer_all, print_answers

if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        page = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(print_answers(page, answer_all(page, Path(folder))), encoding="utf-8")
