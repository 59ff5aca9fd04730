"""Print what the scripts of the library's page answer into it, after a change that is meant: python -m tests.face."""

import tempfile
from pathlib import Path

from tests.face.page import PAGE, find_scripts, print_answer, run_script

if __name__ == "__main__":
    page = PAGE.read_text(encoding="utf-8")
    for name, (code, _) in find_scripts(page).items():
        with tempfile.TemporaryDirectory() as folder:
            page = print_answer(page, name, run_script(code, Path(folder)))
    PAGE.write_text(page, encoding="utf-8")
