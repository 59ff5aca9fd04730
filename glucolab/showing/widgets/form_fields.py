"""What is a form made of? Named fields with their fault beside them, saved by Enter and read out when refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

import anywidget
import ipywidgets as w
import traitlets
from markupsafe import escape

from glucolab.showing.colours import OCHRE_TEXT
from glucolab.showing.markup import TEMPLATES
from glucolab.showing.words.notebooks import entered as words


class FormKeys(anywidget.AnyWidget):
    """The keyboard of a form, and how it looks.

    Enter in a field presses the button that saves, and the notebook's own keys rest meanwhile. A press waits until what
    was typed has reached the kernel: each field is sent on its own, and later where the kernel is busy, while a press
    would overtake it. A field is tied to its fault for those who hear it, and the focus goes where it is asked to go.

    Attributes
    ----------
    fields : dict of str to Field
        Those that are shown, by name.
    """

    _esm = TEMPLATES / "form.js"
    _css = f":root{{--gl-refused:{OCHRE_TEXT};}}\n" + (TEMPLATES / "form.css").read_text(encoding="utf-8")
    going = traitlets.List(["", 0]).tag(sync=True)
    asked = 0

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, Field] = {}
        self.on_msg(lambda _, message, buffers: self._answer(message))

    def _answer(self, message: Mapping[str, Any]) -> None:
        """Tell whether the fields hold what the browser shows in them by now."""
        texts = message["texts"]
        same = all(self.fields[name].shown == text for name, text in texts.items() if name in self.fields)
        self.send({"same": same})

    def focus(self, name: str) -> None:
        """Put the focus into a field of the form."""
        self.asked += 1
        self.going = [name, self.asked]


class Field(w.VBox):
    """One field with its name above it and, where it is refused, the reason below."""

    def __init__(self, name: str, control: w.Widget, wide: bool = False):
        self.name, self.control = name, control
        self.first = control.value
        self.fault = w.HTML()
        self.fault.add_class("gl-fault")
        super().__init__([control, self.fault])
        for one in ("gl-field", f"gl-of-{name}", *(["gl-wide"] if wide else [])):
            self.add_class(one)

    @property
    def text(self) -> str:
        """What stands in it; a day as ISO 8601."""
        value = self.control.value
        return value.isoformat() if isinstance(value, date) else str(value or "")

    @property
    def shown(self) -> str:
        """What a browser has in it: of a list the place that is chosen."""
        if isinstance(self.control, w.Dropdown):
            return str(-1 if self.control.index is None else self.control.index)
        return str(self.control.value).lower() if isinstance(self.control, w.Checkbox) else self.text

    def clear(self) -> None:
        """Back to what it began with."""
        self.control.value = self.first
        self.fault.value = ""


def type_into(name: str, label: str = "", hint: str = "", options: Sequence[str] = (), value: str = "") -> Field:
    """A field for text; with `options`, one that offers them while it is typed."""
    label, hint = label or words.say_field(name), hint or words.HINTS.get(name, "")
    made = {"description": label, "placeholder": hint, "value": value, "style": {"description_width": "initial"}}
    control = w.Combobox(options=tuple(options), ensure_option=False, **made) if options else w.Text(**made)
    return Field(name, control, wide=name in ("name", "note", "file"))


def choose_from(name: str, options: Sequence[Any], value: object = None, label: str = "") -> Field:
    """A field that is one of several; `options` are (label, value)."""
    style = {"description_width": "initial"}
    control = w.Dropdown(description=label or words.say_field(name), options=options, value=value, style=style)
    return Field(name, control)


def tick(name: str, label: str) -> Field:
    """A field for yes or no."""
    field = Field(name, w.Checkbox(description=label, indent=False, value=False))
    field.add_class("gl-tick")
    return field


def choose_date(name: str) -> Field:
    """A field for any day."""
    return Field(name, w.DatePicker(description=words.say_field(name), style={"description_width": "initial"}))


def press(text: str, pressed: Callable[[], None], kind: str = "gl-quiet") -> w.Button:
    """A button; `gl-save` is the one that Enter presses."""
    button = w.Button(description=text)
    button.add_class(kind)
    button.on_click(lambda _: pressed())
    return button


def in_row(*children: w.Widget) -> w.Box:
    """Side by side, wrapped where there is no room."""
    row = w.Box(children)
    row.add_class("gl-row")
    return row


def in_fields(fields: Sequence[w.Widget]) -> w.Box:
    """Fields in rows as wide as there is room."""
    box = w.Box(fields)
    box.add_class("gl-fields")
    return box


def texts_of(fields: Mapping[str, Field]) -> dict[str, str]:
    """What stands in the fields, by name."""
    return {name: field.text for name, field in fields.items()}


def refuse(fields: Mapping[str, Field], faults: Mapping[str, str], keys: FormKeys) -> None:
    """Say beside each field why it is refused, and go to the first."""
    for name, field in fields.items():
        field.fault.value = str(escape(words.say_beside(name, faults[name]))) if name in faults else ""
    first = next((name for name in fields if name in faults), "")
    if first:
        keys.focus(first)
