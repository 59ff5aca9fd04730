"""What are widgets made of? Controls with names, a sentence that is read out when it changes, a picture."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import altair as alt
import anywidget
import ipywidgets as w
import traitlets
from markupsafe import Markup

from glucolab.showing.markup import fill_template
from glucolab.showing.pictures import draw_svg
from glucolab.showing.widgets.session_memory import Sitting

NAME_PX, CONTROL_PX = 110, 400
_STYLE = {"description_width": f"{NAME_PX}px"}
_LAYOUT = {"width": f"{CONTROL_PX}px"}


def choose_one(name: str, options: Sequence[Any], value: object = None) -> w.Dropdown:
    """One of several: a list that opens; `options` are values, or (label, value)."""
    return w.Dropdown(description=name, options=options, value=value, style=_STYLE, layout=w.Layout(**_LAYOUT))


def choose_some(name: str, options: Sequence[Any], value: Iterable[object] = (), rows: int = 4) -> w.SelectMultiple:
    """Any of several: a list in which shift and control choose more."""
    return w.SelectMultiple(
        description=name, options=options, value=tuple(value), rows=rows, style=_STYLE, layout=w.Layout(**_LAYOUT)
    )


def choose_list(name: str, rows: int) -> w.SelectMultiple:
    """Any of many, their name above them: to stand beside a picture; filled later."""
    style = {"description_width": "initial"}
    return w.SelectMultiple(description=name, rows=rows, style=style, layout=w.Layout(width="220px"))


def choose_size(name: str, low: float, high: float, step: float, value: float, form: str = ".2f") -> w.FloatSlider:
    """A number on a line, taken over when it is let go."""
    return w.FloatSlider(
        description=name, min=low, max=high, step=step, value=value, readout_format=form, continuous_update=False,
        style=_STYLE, layout=w.Layout(**_LAYOUT),
    )  # fmt: skip


class Sentence(anywidget.AnyWidget):
    """A sentence that a screen reader reads out when it changes; it also mends the controls around it.

    A `HTML` widget would replace the very element that is to be listened to, and then nothing is read. A notebook
    takes the arrow keys for its cells, even from a list that has the focus, unless it is told not to. And sliders come
    without a name for those who do not see it beside them.
    """

    _esm = """
    function render({ model, el }) {
      const said = document.createElement("p");
      said.setAttribute("role", "status");
      el.classList.add("gl");
      const write = () => { said.textContent = model.get("text"); };
      write();
      model.on("change:text", write);
      el.append(said);
      const keep_keys = (event) => event.target.setAttribute("data-lm-suppress-shortcuts", "true");
      const name_handles = (box) => box.querySelectorAll(".noUi-handle").forEach((handle) => {
        const label = handle.closest(".widget-inline-hbox")?.querySelector(".widget-label");
        handle.setAttribute("aria-label", label?.textContent ?? "");
      });
      const placed = new ResizeObserver(() => {
        let box = el.closest(".widget-vbox");
        while (box?.parentElement.closest(".widget-vbox")) box = box.parentElement.closest(".widget-vbox");
        box?.addEventListener("focusin", keep_keys);
        if (box) name_handles(box);
      });
      placed.observe(el);
      return () => placed.disconnect();
    }
    export default { render };
    """
    text = traitlets.Unicode().tag(sync=True)

    def __repr__(self) -> str:
        return self.text


class Explorer(w.VBox):
    """Controls, what they say and what they show; where no widget is drawn, what it says stands for it."""

    sentence: Sentence

    def __repr__(self) -> str:
        return self.sentence.text


def name(text: str) -> str:
    """What stands over a picture, escaped; empty for no text."""
    return fill_template("sentence.html", text=text) if text else ""


def draw(chart: alt.TopLevelMixin) -> str:
    """A chart for a `HTML` widget, as SVG with its text alternative."""
    return fill_template("picture.html", description=str(chart.description), picture=Markup(draw_svg(chart)))


def set_out(*children: w.Widget) -> w.HBox:
    """Side by side where there is room, else one under the other."""
    return w.HBox(children, layout=w.Layout(flex_flow="row wrap", align_items="flex-start"))


def fold(name: str, content: w.Widget) -> w.VBox:
    """Content behind a button that shows it and folds it away again."""
    button = w.ToggleButton(description=name, value=False, icon="sliders", layout=w.Layout(width="auto"))

    def turn(change: dict[str, Any]) -> None:
        content.layout.display = None if change["new"] else "none"

    content.layout.display = "none"
    button.observe(turn, "value")
    return w.VBox([button, content])


def live_chart(chart: alt.TopLevelMixin) -> alt.JupyterChart:
    """A chart whose selections the kernel hears of; nothing is fetched from anywhere."""
    alt.JupyterChart.enable_offline()
    return alt.JupyterChart(chart, embed_options={"actions": False})


def remember(sitting: Sitting, widget: str, controls: dict[str, w.Widget], changed: Callable[[], None]) -> None:
    """Set controls to what was chosen last where that is still possible, and call `changed` at every change."""
    kept = sitting.settings.setdefault(widget, {})
    for name, control in controls.items():
        if name in kept and _allows(control, kept[name]):
            control.value = kept[name]

        def note(change: dict[str, Any], name: str = name) -> None:
            kept[name] = change["new"]
            changed()

        control.observe(note, "value")


def _allows(control: w.Widget, value: object) -> bool:
    """True if a control may still take a value: the study may hold other wears or columns by now."""
    if not hasattr(control, "options"):
        return True
    possible = {one[1] if isinstance(one, tuple) else one for one in control.options}
    return set(value) <= possible if isinstance(value, tuple) else value in possible
