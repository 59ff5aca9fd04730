"""What would a file bring? Its rows before and after, what it leaves open as questions, and a button that writes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import ipywidgets as w
import pandas as pd

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.inferring.ambiguities import Question, UnsettledError
from glucolab.reading.bringing.mapping.mapping_file import mapping_text
from glucolab.reading.bringing.preview import Bringing, bring_file
from glucolab.showing.markup import fill_template
from glucolab.showing.widgets import controls
from glucolab.showing.words.notebooks import bringing as words

Write = Callable[[Bringing], Bringing]


def explore_bringing(file: str | Path, wear: str | Path, write: Write, table: str = "") -> w.Widget:
    """A file on its way into a wear; nothing is written before the button is pressed.

    Parameters
    ----------
    file : str or Path
        A delimited table, a spreadsheet, or a file of an open standard that is known; "" for none yet.
    wear : str or Path
        The wear's folder, ``STUDY/wear_periods/WEAR``.
    write : callable
        Writes what it is given, and returns it as it was written.
    table : str, optional
        Which table of ours it is; else it is told from its columns.

    Returns
    -------
    ipywidgets.Widget
        In words alone where no file is named.
    """
    if not str(file):
        return controls.Sentence(text=words.NAME_FILE)
    return Desk(Path(file), Path(wear), write, table)


class Desk(controls.Explorer):
    """The widget behind :func:`explore_bringing`."""

    def __init__(self, file: Path, wear: Path, write: Write, table: str):
        self._file, self._wear, self._write, self._table = file, wear, write, table
        self._bringing: Bringing | None = None
        self.answers: dict[str, w.RadioButtons] = {}
        self.sentence, self.questions, self.shown = controls.Sentence(), w.VBox(), w.HTML()
        self.button = w.Button(button_style="primary", layout=w.Layout(width="max-content"))
        self.button.on_click(lambda _: self._press())
        self._look()
        super().__init__([self.sentence, self.questions, self.button, self.shown])

    def _look(self) -> None:
        said = {key: one.value for key, one in self.answers.items() if one.value is not None}
        self._bringing, self.shown.value = None, ""
        try:
            self._bringing = bring_file(self._file, self._wear, table=self._table or None, answers=said)
        except UnsettledError as unsettled:
            self._ask(unsettled.questions)
            self.sentence.text = words.say_open_questions(self._file.name, len(unsettled.questions))
        except (NothingToDo, OSError) as reason:
            self.sentence.text = words.say_refused(reason)
            problems = reason.problems if isinstance(reason, NothingToDo) else ()
            self.shown.value = fill_template("list.html", sentence="", rows=list(map(str, problems)))
        else:
            self.sentence.text = words.say_would_bring(self._bringing)
            self.shown.value = show_bringing(self._bringing)
        self.button.description = words.say_button(self._bringing)
        self.button.disabled = self._bringing is None or not self._bringing.changes

    def _ask(self, questions: Sequence[Question]) -> None:
        for question in questions:
            if question.key not in self.answers:
                choices = w.RadioButtons(
                    options=[(meaning, answer) for answer, meaning in question.choices], value=None,
                    description=question.key, layout=w.Layout(width="max-content"),
                )  # fmt: skip
                choices.observe(lambda _: self._look(), "value")
                self.answers[question.key] = choices
                self.questions.children += (w.HTML(controls.name(f"{question.text}.")), choices)

    def _press(self) -> None:
        bringing = self._bringing
        if bringing is None:
            return
        try:
            written = self._write(bringing)
        except (NothingToDo, OSError) as reason:
            self.sentence.text = words.say_refused(reason)
            return
        self.button.disabled = True
        self.sentence.text = words.say_written(written)
        self.shown.value = show_bringing(written)


def show_bringing(bringing: Bringing) -> str:
    """How a file was understood, its first rows before and after, and what was left out."""
    said = [f"{sentence}." for sentence in bringing.brought.said]
    html = fill_template("list.html", sentence="How it was read", rows=said) if said else ""
    if bringing.before is not None:
        html += _table("As it stands in the file, with the line", bringing.before.reset_index(names="line"))
    for one in bringing.added:
        if len(one.new):
            html += _table(f"As it would stand in {bringing.place.name(one.table)}", bringing.after(one.table))
    problems = list(map(str, bringing.problems))
    if problems:
        listed = problems[: words.MOST_LISTED]
        more = len(problems) - len(listed)
        rows = [*listed, *([f"and {more} more: the command glucolab bring lists them all"] if more else [])]
        html += fill_template("list.html", sentence="Left out, or to be known", rows=rows)
    if bringing.mapping is not None:
        text = mapping_text(bringing.mapping)
        html += fill_template("mapping.html", text=text)
    return html


def _table(sentence: str, frame: pd.DataFrame) -> str:
    rows = frame.astype(str).to_numpy().tolist()
    return fill_template("table.html", sentence=sentence, folded="", head=list(frame.columns), rows=rows)
