"""How does a chart stand on a page? As pictures in the text, drawn once for a desk and once for a phone."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from markupsafe import Markup

from glucolab.showing import theme
from glucolab.showing.markup import Part, fill_template, without_control

if TYPE_CHECKING:
    import altair as alt

SVG = "http://www.w3.org/2000/svg"
_FOR_SCREEN_READERS = re.compile(r' (?:aria-[a-z]+|role|class)="[^"]*"')
_LONG_DECIMALS = re.compile(r"(\d\.\d\d)\d+")


def show_chart(chart: Callable[..., alt.TopLevelMixin], *tables: object, caption: str = "") -> Part:
    """Draw a chart at both widths and wrap it with its description.

    Parameters
    ----------
    chart : callable
        A `chart_*` function; it is called with `tables` and `width`.
    caption : str
        Words under the picture.

    Returns
    -------
    Part
    """
    wide, narrow = (chart(*tables, width=width) for width in (theme.WIDE_PX, theme.NARROW_PX))
    description = str(wide.description)
    html = fill_template(
        "figure.html",
        description=description,
        wide=Markup(draw_svg(wide)),
        narrow=Markup(draw_svg(narrow)),
        caption=caption,
    )
    return Part(html, description)


def draw_in_notebook() -> None:
    """Let every Altair chart of a notebook be shown as a picture with its `description`: nothing is fetched for it."""
    import altair as alt

    def as_picture(spec: dict[str, Any], **_: object) -> dict[str, str]:
        import vl_convert

        picture, said = vl_convert.vegalite_to_svg(_drawable(spec)), str(spec.get("description", "a chart"))
        drawn = _FOR_SCREEN_READERS.sub("", picture)
        return {"text/html": fill_template("picture.html", description=said, picture=Markup(drawn)), "text/plain": said}

    alt.renderers.register("picture", as_picture)
    alt.renderers.enable("picture")


def draw_svg(chart: alt.TopLevelMixin) -> str:
    """An Altair chart as one SVG element, its texts escaped, without its per-mark descriptions.

    A figure's own label is what a screen reader should read; the ones of single marks would read out
    every reading, and would tell figures where a study wants none.
    """
    import vl_convert

    svg = vl_convert.vegalite_to_svg(_drawable(chart.to_dict(validate=False)))
    svg = _LONG_DECIMALS.sub(r"\1", _FOR_SCREEN_READERS.sub("", svg))
    return svg.replace("<svg ", '<svg aria-hidden="true" focusable="false" ', 1)


def cut_rows(chart: alt.TopLevelMixin) -> list[str]:
    """The cells of a chart faceted by row, each an SVG element of its own, from top to bottom.

    Raises
    ------
    ValueError
        If the drawing holds no facet cells.
    """
    import vl_convert

    ElementTree.register_namespace("", SVG)
    spec = _drawable(chart.to_dict(validate=False))
    spec["datasets"] = {name: [_without_nothing(row) for row in rows] for name, rows in spec["datasets"].items()}
    root = ElementTree.fromstring(vl_convert.vegalite_to_svg(spec))
    frame = root.find(f"{{{SVG}}}g")
    cells = next((g for g in root.iter(f"{{{SVG}}}g") if "cell" in g.get("class", "").split()), None)
    if frame is None or cells is None:
        raise ValueError("the chart has no rows to cut")
    left, height = spec["padding"]["left"], spec["spec"]["height"]
    width = left + spec["spec"]["width"] + spec["padding"]["right"]
    return [_as_picture(cell, left, width, height) for cell in cells]


def _drawable(spec: Any) -> Any:
    """A chart's specification without the characters that no XML may hold, and at which drawing ends its process."""
    if isinstance(spec, str):
        return without_control(spec)
    if isinstance(spec, dict):
        return {_drawable(name): _drawable(value) for name, value in spec.items()}
    return [_drawable(value) for value in spec] if isinstance(spec, list) else spec


def _without_nothing(row: dict[str, object]) -> dict[str, object]:
    """A row without its empty cells: a long table of many kinds is mostly these, and they take a third of the time."""
    return {name: value for name, value in row.items() if value is not None}


def _as_picture(cell: ElementTree.Element, left: float, width: float, height: float) -> str:
    cell.set("transform", f"translate({left},0)")
    body = ElementTree.tostring(cell, encoding="unicode").replace(f' xmlns="{SVG}"', "")
    body = _LONG_DECIMALS.sub(r"\1", _FOR_SCREEN_READERS.sub("", body))
    size = f'width="{width}" height="{height}" viewBox="0 0 {width} {height}" fill="none" stroke-miterlimit="10"'
    return f'<svg xmlns="{SVG}" aria-hidden="true" focusable="false" {size}>{body}</svg>'
