"""What was eaten, felt, measured, noted? The fields of one table, and the buttons that save and take back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from zoneinfo import available_timezones

import ipywidgets as w
import pandas as pd
from markupsafe import escape

from glucolab.errors import NothingToDo
from glucolab.reading.entering.entry import CLOCK_FIELD, DAY_FIELD, Entry, RefusedError, list_days, make_entry
from glucolab.reading.entering.hands import Hands
from glucolab.reading.entering.logged import (
    LoggedDish,
    find_capture,
    find_logged_dishes,
    list_own_columns,
    list_photos,
)
from glucolab.reading.text import plain
from glucolab.reading.wear_context import Place, find_place
from glucolab.record import INPUT_TABLES
from glucolab.showing.widgets.form_fields import (
    Field,
    FormKeys,
    choose_from,
    in_fields,
    in_row,
    press,
    refuse,
    texts_of,
    type_into,
)
from glucolab.showing.words.common import cut_text
from glucolab.showing.words.notebooks import entered as words

FIRST = {
    "meals": ("name", "carbs_g", DAY_FIELD, CLOCK_FIELD, "photo"),
    "feelings": ("energy", "focus", "hunger", "stress", DAY_FIELD, CLOCK_FIELD, "note"),
    "checks": ("glucose", DAY_FIELD, CLOCK_FIELD),
    "days": (DAY_FIELD, "stress", "caffeine_mg", "relaxation_min"),
    "notes": ("kind", DAY_FIELD, CLOCK_FIELD, "end", "note"),
}
"""Fields that are always there, in the order in which Tab reaches them."""
BESIDES = {
    "meals": ("protein_g", "fat_g", "fiber_g", "energy_kcal", "alcohol_g", "caffeine_mg", "eaten_first", "setting",
              "dish", "note"),
    "feelings": (),
    "checks": ("source", "note"),
    "days": ("ill", "steps", "resting_hr_bpm", "hrv_ms"),
    "notes": ("time_zone",),
}  # fmt: skip
"""Fields that a button opens."""
MOST_AGAIN = 6


class EntryPanel(w.VBox):
    """The fields of one table of one wear.

    Parameters
    ----------
    place : Place
        The wear.
    others : sequence of Place
        All wears, whose dishes are offered.
    table : str
    unit : {"mg/dL", "mmol/L"}
        In which glucose is typed.
    hands : Hands
    keyboard : FormKeys
    now : callable
        The moment. [UTC]
    said : callable
        Takes what came of it: a sentence, and the entry if one was saved.
    """

    def __init__(
        self, place: Place, others: Sequence[Place], table: str, unit: str, hands: Hands, keyboard: FormKeys,
        now: Callable[[], pd.Timestamp], said: Callable[[str, Entry | None], None], undo: w.Button,
    ):  # fmt: skip
        self.place, self.others, self.table, self.unit = place, others, table, unit
        self.hands, self.keyboard, self.now, self.said = hands, keyboard, now, said
        self.dishes: list[LoggedDish] = []
        self.again, self.told = w.VBox(), w.HTML()
        self.told.add_class("gl-told")
        first = [*FIRST[table], *(list_own_columns(place) if table == "days" else [])]
        self.fields = {name: self._field(name) for name in [*first, *BESIDES[table]]}
        keyboard.fields |= self.fields
        self.besides = in_fields([self.fields[name] for name in BESIDES[table]])
        self.besides.layout.display = "none"
        self.more = press(words.MORE, self._open)
        self.save = press("Save", self.press_save, "gl-save")
        buttons = [self.save, undo, *([self.more] if BESIDES[table] else [])]
        shown = [self.fields[name] for name in first]
        super().__init__([in_fields(shown), self.told, self.besides, in_row(*buttons)])
        self.add_class("gl-panel")
        if table == "meals":
            self.fields["photo"].control.observe(lambda _: self._look_at_photo(), "value")
            self.fields["name"].control.observe(lambda _: self._offer(), "value")
            self._look_again()

    def _field(self, name: str) -> Field:
        if name == DAY_FIELD:
            today = self.place.local(self.now()).normalize()
            days = [(words.say_listed_day(day, today), f"{day:%Y-%m-%d}") for day in list_days(self.place, self.now())]
            return choose_from(DAY_FIELD, days, days[0][1])
        if name == CLOCK_FIELD:
            running = self.place.end is None
            return type_into(CLOCK_FIELD, hint=words.HINTS[CLOCK_FIELD] if running else "12:40")
        if name == "photo":
            return choose_from("photo", [("none", "")], "")
        if name == "time_zone":
            return type_into(name, options=sorted(available_timezones()))
        if name == "glucose":
            return type_into(name, words.say_field(name, self.unit), "95" if self.unit == "mg/dL" else "5.3")
        column = next((one for one in INPUT_TABLES[self.table].columns if one.name == name), None)
        choices = ("true", "false") if column and column.kind == "true_false" else column.choices if column else ()
        if choices:
            options = [(words.ANSWERS[one], one) for one in choices]
            blank = [] if name == "kind" else [("not noted", "")]
            return choose_from(name, [*blank, *options], "other" if name == "kind" else "")
        return type_into(name)

    def _open(self) -> None:
        closed = self.besides.layout.display == "none"
        self.besides.layout.display = "flex" if closed else "none"
        self.more.description = words.FEWER if closed else words.MORE

    def press_save(self) -> None:
        """Save what stands in the fields."""
        if self._save(texts_of(self.fields)):
            for name, field in self.fields.items():
                if name != DAY_FIELD:
                    field.clear()
            self.keyboard.focus(next(name for name in self.fields if name != DAY_FIELD))
            self._look_again()

    def log_again(self, dish: LoggedDish) -> None:
        """Save a dish as it was logged last, at the day and time of the fields."""
        when = {name: self.fields[name].text for name in (DAY_FIELD, CLOCK_FIELD, "photo")}
        if self._save({**dish.cells, **when}):
            for name in (CLOCK_FIELD, "photo", "name"):
                self.fields[name].clear()
            self._look_again()

    def _save(self, typed: Mapping[str, str]) -> bool:
        """True if it was written."""
        try:
            place = find_place(self.place.path("meals").parent)  # its notes or wear.toml may be others by now
            entry = make_entry(place, self.table, typed, self.unit, self.now())
            self.hands.write(entry.edit)
        except RefusedError as refused:
            if any(name in refused.faults for name in BESIDES[self.table]) and self.besides.layout.display == "none":
                self._open()
            refuse(self.fields, refused.faults, self.keyboard)
            self.said(words.say_faults(refused.faults, list(self.fields)), None)
            return False
        except (NothingToDo, OSError) as reason:
            self.said(words.say_unwritten(reason), None)
            return False
        refuse(self.fields, {}, self.keyboard)
        self.said("", entry)
        return True

    def _look_again(self) -> None:
        """What there is to choose from, once more."""
        if self.table != "meals":
            return
        self.dishes = find_logged_dishes(list(self.others))
        photos = list_photos(self.place)
        field = self.fields["photo"]
        field.control.options = [("none", ""), *((cut_text(name, 40), name) for name in photos)]
        field.layout.display = None if photos else "none"
        self._offer()

    def _look_at_photo(self) -> None:
        photo = self.fields["photo"].text
        self.told.value = str(escape(words.say_photo(*find_capture(self.place, photo)))) if photo else ""

    def _offer(self) -> None:
        """Dishes to log again: those that hold what is typed as a name."""
        typed = plain(self.fields["name"].text)
        found = [dish for dish in self.dishes if typed in plain(dish.name)][:MOST_AGAIN]
        buttons = [press(words.say_dish(dish.cells), partial(self.log_again, dish)) for dish in found]
        heading = w.HTML(str(escape(words.AGAIN)))
        heading.add_class("gl-told")
        self.again.children = (heading, in_row(*buttons)) if buttons else ()
