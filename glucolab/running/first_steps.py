"""How far has a folder of one's own come, and what is the next step? For the first notebook."""

from __future__ import annotations

from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.reading.folder import read_study, start_wear
from glucolab.showing.markup import Part, fill_template
from glucolab.showing.words.notebooks import first_steps as words

FIRST_WEAR = "first_wear"


def show_own_folder(folder: str) -> Part:
    """Make a study folder that is not there, or say what one holds, what is wrong with it and where to go on.

    Parameters
    ----------
    folder : str
        Path; empty for none yet.

    Returns
    -------
    Part
        Problems of files are listed in it, not raised: finding them is what it is for.
    """
    if not folder:
        return _list(words.NAME_ONE)
    try:
        if not Path(folder).exists():
            made = start_wear(Path(folder), FIRST_WEAR)
            return _list(*words.say_made(folder, len(made)))
        return _read(folder)
    except NothingToDo as reason:
        return _list(f"Nothing could be worked out yet: {reason}", *words.say_problems(reason.problems), words.BRING)


def show_folder_problems(folder: str) -> Part:
    """Everything in a study's files that cannot be read or is doubtful, each with file and line.

    Parameters
    ----------
    folder : str
        The study folder.

    Returns
    -------
    Part
    """
    try:
        problems = read_study(Path(folder)).problems
    except NothingToDo as reason:
        return _list(str(reason), *map(str, reason.problems))
    return _list(*map(str, problems)) if problems else _list(words.NO_PROBLEM)


def _read(folder: str) -> Part:
    """What a folder that is there says."""
    from glucolab.analysis import analyse_study
    from glucolab.showing.display import display_of
    from glucolab.showing.words.pages.wear import say_headline
    from glucolab.so_far import find_averages

    study = read_study(Path(folder))
    analysis = analyse_study(study)
    found = tuple(dict.fromkeys([*study.problems, *analysis.left_out]))
    if not analysis.wears:
        raise NothingToDo("no wear could be analysed", found)
    lines = [
        f"{one.wear.name}: {say_headline(own, one.summary, study.goal, study.person, display_of(study))}"
        for one, own in zip(analysis.wears, find_averages(analysis), strict=True)
    ]
    return _list(*lines, *words.say_problems(found), words.say_go_on(folder))


def _list(*lines: str) -> Part:
    return Part(fill_template("list.html", sentence="", rows=lines), "\n".join(lines))
