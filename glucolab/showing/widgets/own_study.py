"""How does one keep a study of one's own? A form: begun, written into, its sensor's file brought, its pages made."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ipywidgets as w
import pandas as pd

from glucolab.errors import NothingToDo, Problem
from glucolab.reading.entering.entry import ENTERED, Entry
from glucolab.reading.entering.hands import Hands
from glucolab.reading.entering.logged import find_places
from glucolab.reading.folder import read_shown
from glucolab.reading.wear_context import Place
from glucolab.showing.markup import fill_template
from glucolab.showing.widgets import controls
from glucolab.showing.widgets.begin_panels import StudyPanel, WearPanel
from glucolab.showing.widgets.bring import Desk
from glucolab.showing.widgets.entry_panel import EntryPanel
from glucolab.showing.widgets.form_fields import FormKeys, choose_from, in_fields, in_row, press, refuse, type_into
from glucolab.showing.words.common import say_title
from glucolab.showing.words.notebooks import entered as words


def _now() -> pd.Timestamp:
    return pd.Timestamp.now(tz="UTC")


def explore_own_study(study: str | Path, hands: Hands, now: Callable[[], pd.Timestamp] = _now) -> w.Widget:
    """A form over the studies of one folder; every file is written by the functions that it is given.

    Parameters
    ----------
    study : str or Path
        The study folder; one that is not there yet is begun in the form. Others beside it can be chosen too.
    hands : Hands
        What writes.
    now : callable, optional
        The moment. [UTC]

    Returns
    -------
    OwnStudy
    """
    return OwnStudy(Path(study), hands, now)


class OwnStudy(controls.Explorer):
    """The widget behind :func:`explore_own_study`."""

    def __init__(self, study: Path, hands: Hands, now: Callable[[], pd.Timestamp]):
        self.parent, self.hands, self.now = study.parent, hands, now
        self.entries: list[Entry] = []
        self.keyboard, self.sentence = FormKeys(), controls.Sentence()
        self.study = choose_from("study", [(words.NEW_STUDY, "")], "", words.STUDY)
        self.wear = choose_from("wear", [], None, words.WEAR)
        self.sections = {name: press(words.SECTIONS[name], self._opener(name)) for name in words.SECTIONS}
        for button in self.sections.values():
            button.add_class("gl-section")
        self.bar, self.panel, self.below = in_row(*self.sections.values()), w.VBox(), w.VBox()
        self.undo = press(words.UNDO, self.press_undo)
        self.undo.disabled = True
        self.places: list[Place] = []
        self.unit, self.numbers = "mg/dL", True
        self._name, self._listing = study.name, False
        super().__init__(
            [self.keyboard, in_fields([self.study, self.wear]), self.bar, self.panel, self.sentence, self.below]
        )
        self.add_class("gl-form")
        self.keyboard.fields |= {"study": self.study, "wear": self.wear}
        self.list_studies(study.name if (study / "study.toml").is_file() else "")
        self.study.control.observe(lambda _: self.open_study(), "value")
        self.wear.control.observe(lambda _: self._turn_wear(), "value")
        self.open_study()

    @property
    def folder(self) -> Path:
        """The study that is open."""
        return self.parent / self.study.text

    @property
    def place(self) -> Place:
        """The wear that is written into."""
        return next(place for place in self.places if place.wear == self.wear.text)

    def list_studies(self, chosen: str) -> None:
        """The studies beside each other, and one that is not there yet."""
        names = sorted(path.parent.name for path in self.parent.glob("*/study.toml"))
        self.study.control.options = [*((name, name) for name in names), (words.NEW_STUDY, "")]
        self.study.control.value = chosen

    def open_study(self) -> None:
        """Show the study that was chosen: its latest wear, and what can be written."""
        self.entries.clear()
        self.undo.disabled = True
        if not self.study.text:
            self._begin_study()
            return
        try:
            self.unit, self.numbers = read_shown(self.folder)
        except NothingToDo as reason:
            self._show(w.VBox(), str(reason))
            return
        reasons = self._list_wears()
        if not self.places:
            self.open_section("wear")
            self.sentence.text = words.say_no_wear(reasons)
            return
        self.open_section("meals")
        self.sentence.text = words.say_study_here(self.study.text, len(self.places))

    def _list_wears(self, chosen: str = "") -> list[str]:
        self.places, reasons = find_places(self.folder)
        names = [place.wear for place in self.places]
        self._listing = True
        self.wear.control.options = [(say_title(name), name) for name in names]
        self.wear.control.value = (chosen or names[-1]) if names else None
        self._listing = False
        self.wear.layout.display = None if names else "none"
        for name, button in self.sections.items():
            button.layout.display = None if names or name == "wear" else "none"
        return reasons

    def _begin_study(self) -> None:
        self.wear.layout.display = "none"
        for button in self.sections.values():
            button.layout.display = "none"
        free = self._name if not (self.parent / self._name).exists() else ""
        self._show(
            StudyPanel(self.parent, free, self.hands, self.keyboard, self._say, self._study_begun), words.NOTHING_YET
        )

    def _study_begun(self, folder: Path) -> None:
        self.list_studies(folder.name)
        self.sentence.text = words.say_begun_study(folder)
        self.keyboard.focus("day")

    def _wear_begun(self, name: str) -> None:
        self._list_wears(name)
        self.open_section("file")
        self.sentence.text = words.say_begun_wear(name)
        self.keyboard.focus("file")

    def _turn_wear(self) -> None:
        if not self._listing:
            self.open_section("meals")

    def _opener(self, name: str) -> Callable[[], None]:
        return lambda: self.open_section(name)

    def open_section(self, name: str) -> None:
        """Show what one of the buttons stands for."""
        for one, button in self.sections.items():
            (button.add_class if one == name else button.remove_class)("gl-chosen")
        if name in ENTERED:
            self._show_entry(name)
        elif name == "wear":
            panel = WearPanel(self.folder, self.unit, self.hands, self.keyboard, self._say, self._wear_begun)
            self._show(panel, words.NOTHING_YET)
        elif name == "file":
            self._show(self._file_panel(), words.NOTHING_YET)
        else:
            self._show(self._report_panel(), words.say_out(self.out))

    def _show_entry(self, table: str) -> None:
        try:
            panel = EntryPanel(
                self.place, self.places, table, self.unit, self.hands, self.keyboard, self.now, self._saved, self.undo
            )
        except NothingToDo as reason:  # the table that it would be written into cannot be read
            self._show(w.VBox(), words.say_unwritten(reason))
        else:
            self._show(panel, words.NOTHING_YET, panel.again)

    def _show(self, panel: w.Widget, sentence: str, below: w.Widget | None = None) -> None:
        self.panel.children = (panel,)
        self.below.children = () if below is None else (below,)
        self.sentence.text = sentence

    def _say(self, text: str) -> None:
        self.sentence.text = text

    def _saved(self, refused: str, entry: Entry | None) -> None:
        if entry is None:
            self.sentence.text = refused
            return
        self.entries.append(entry)
        self.undo.disabled = False
        self.sentence.text = words.say_added(entry, self.numbers)

    def press_undo(self) -> None:
        """Take the last entry back."""
        entry = self.entries[-1]
        try:
            self.hands.undo(entry.edit)
        except (NothingToDo, OSError) as reason:
            self.sentence.text = words.say_not_undone(entry, reason, self.numbers)
            return
        self.entries.pop()
        self.undo.disabled = not self.entries
        self.sentence.text = words.say_undone(entry, self.numbers)

    def _file_panel(self) -> w.Widget:
        self.file = type_into("file")
        self.keyboard.fields["file"] = self.file
        self.read = press(words.READ_FILE, self.read_file, "gl-save")
        panel = w.VBox([in_fields([self.file]), in_row(self.read)])
        panel.add_class("gl-panel")
        return panel

    def read_file(self) -> None:
        """Show what a file would bring into the wear."""
        path = Path(self.file.text.strip()).expanduser()
        faults = {} if self.file.text.strip() else {"file": words.NO_FILE}
        faults |= {} if faults or path.is_file() else {"file": words.no_such_file(path)}
        refuse({"file": self.file}, faults, self.keyboard)
        if faults:
            self.below.children = ()
            self.sentence.text = words.say_faults(faults, ["file"])
            return
        self.sentence.text = ""
        self.below.children = (Desk(path, self.folder / "wear_periods" / self.wear.text, self.hands.bring, ""),)

    @property
    def out(self) -> Path:
        """Where the pages of the study go: beside it."""
        return self.parent / "reports" / self.study.text

    def _report_panel(self) -> w.Widget:
        self.make = press(words.MAKE_PAGES, self.make_report, "gl-save")
        panel = w.VBox([in_row(self.make)])
        panel.add_class("gl-panel")
        return panel

    def make_report(self) -> None:
        """Make the pages, saying each step."""
        self.make.disabled = True
        self.below.children = ()
        problems: tuple[Problem, ...] = ()
        try:
            self.out.parent.mkdir(exist_ok=True)
            pages, left_out = self.hands.report(self.folder, self.out, lambda step: self._say(words.say_making(step)))
            problems = tuple(left_out)
            self.sentence.text = words.say_made_pages(pages, problems)
        except (NothingToDo, OSError) as reason:
            problems = reason.problems if isinstance(reason, NothingToDo) else ()
            self.sentence.text = words.say_no_report(reason)
        finally:
            self.make.disabled = False
        if problems:
            rows = list(map(str, problems))
            self.below.children = (w.HTML(fill_template("list.html", sentence="", rows=rows)),)
