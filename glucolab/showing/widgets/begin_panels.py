"""How does a study begin, and a wear? Their fields, whose text becomes a settings file when saved."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zoneinfo import available_timezones

import ipywidgets as w
from markupsafe import escape

from glucolab.errors import NothingToDo
from glucolab.reading.entering.begun import TRUTHS, make_study, make_wear
from glucolab.reading.entering.entry import RefusedError
from glucolab.reading.entering.hands import Hands
from glucolab.reading.new_wear import find_machine_zone
from glucolab.showing.widgets.form_fields import (
    Field,
    FormKeys,
    choose_date,
    choose_from,
    in_fields,
    in_row,
    press,
    refuse,
    texts_of,
    tick,
    type_into,
)
from glucolab.showing.words.notebooks import entered as words
from glucolab.units import GLUCOSE_UNITS


def _choose_unit(value: str, label: str) -> Field:
    return choose_from("unit", [(unit, unit) for unit in GLUCOSE_UNITS], value, label)


class StudyPanel(w.VBox):
    """A study that is not there yet; `begun` is called with its folder."""

    def __init__(self, parent: Path, name: str, hands: Hands, keyboard: FormKeys, say: Callable[[str], None],
                 begun: Callable[[Path], None]):  # fmt: skip
        self.parent, self.hands, self.keyboard, self.say, self.begun = parent, hands, keyboard, say, begun
        zone = find_machine_zone() or ""
        fields = [
            type_into("name", words.NAME_OF_STUDY, "my_study", value=name),
            type_into("time_zone", options=sorted(available_timezones()), value=zone),
            _choose_unit("mg/dL", words.SHOWN_IN),
            type_into("goal", words.say_field("goal", "mg/dL")),
        ]
        self.fields = {field.name: field for field in fields}
        self.fields["unit"].control.observe(lambda _: self._rename(), "value")
        self.truths = {name: tick(name, words.TRUTH_WORDS[name]) for name in TRUTHS}
        keyboard.fields |= self.truths
        about = w.HTML(str(escape(words.ABOUT_YOU)))
        about.add_class("gl-told")
        keyboard.fields |= self.fields
        self.save = press(words.BEGIN_STUDY, self.press_save, "gl-save")
        super().__init__([in_fields(fields), about, in_row(*self.truths.values()), in_row(self.save)])
        self.add_class("gl-panel")

    def _rename(self) -> None:
        self.fields["goal"].control.description = words.say_field("goal", self.fields["unit"].text)

    def press_save(self) -> None:
        """Begin the study, or say beside its fields why not."""
        try:
            truths = {name: field.control.value for name, field in self.truths.items()}
            folder, text = make_study(self.parent, texts_of(self.fields), truths)
            self.hands.begin_study(folder, text)
        except RefusedError as refused:
            refuse(self.fields, refused.faults, self.keyboard)
            self.say(words.say_faults(refused.faults, list(self.fields)))
        except (NothingToDo, OSError) as reason:
            self.say(words.say_unwritten(reason))
        else:
            self.begun(folder)


class WearPanel(w.VBox):
    """A wear that is not there yet; `begun` is called with its name."""

    def __init__(self, study: Path, unit: str, hands: Hands, keyboard: FormKeys, say: Callable[[str], None],
                 begun: Callable[[str], None]):  # fmt: skip
        self.study, self.hands, self.keyboard, self.say, self.begun = study, hands, keyboard, say, begun
        fields = [
            choose_date("day"),
            type_into("clock", words.WENT_ON, "08:10"),
            _choose_unit(unit, words.UNIT_OF_FILES),
            type_into("name", words.NAME_OF_WEAR, words.EMPTY_FIRST_DAY),
            type_into("sensor_model"),
            type_into("meter"),
            type_into("site"),
            choose_date("end_day"),
            type_into("end_clock"),
        ]
        fields[0].control.description = words.DAY_ON
        self.fields = {field.name: field for field in fields}
        keyboard.fields |= self.fields
        self.save = press(words.BEGIN_WEAR, self.press_save, "gl-save")
        super().__init__([in_fields(fields), in_row(self.save)])
        self.add_class("gl-panel")

    def press_save(self) -> None:
        """Begin the wear, or say beside its fields why not."""
        try:
            name, text = make_wear(self.study, texts_of(self.fields))
            self.hands.begin_wear(self.study, name, text)
        except RefusedError as refused:
            refuse(self.fields, refused.faults, self.keyboard)
            self.say(words.say_faults(refused.faults, list(self.fields)))
        except (NothingToDo, OSError) as reason:
            self.say(words.say_unwritten(reason))
        else:
            self.begun(name)
