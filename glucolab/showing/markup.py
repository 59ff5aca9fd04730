"""How does it become HTML? Templates that escape every text, and pieces of a page that a notebook can show."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from glucolab.showing.colours import PAGE_COLOURS
from glucolab.showing.words.glossary import TERMS, explain

TEMPLATES = Path(__file__).parent / "templates"
_EXPLAINED = re.compile('<abbr title="(?P<meaning>[^"]*)">(?P<word>[^<]*)</abbr>')
_NOT_OF_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""All but the characters of XML 1.0, https://www.w3.org/TR/xml/#charsets."""


@dataclass(frozen=True)
class Part:
    """A piece of a page.

    Attributes
    ----------
    html : str
        Safe markup.
    text : str
        The same in words, for where HTML is not shown.
    """

    html: str
    text: str

    def _repr_html_(self) -> str:
        return self.html

    def __repr__(self) -> str:
        return self.text


def without_control(text: str) -> str:
    """A text without the characters that no XML may hold."""
    return text if text.isprintable() else _NOT_OF_XML.sub("", text)


@cache
def environment() -> Environment:
    """Templates of this folder, escaping always, undefined names an error."""
    loader = FileSystemLoader(TEMPLATES)
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    made.filters["explained"] = explain
    return made


def fill_template(name: str, **values: object) -> Markup:
    """A template of this folder with values filled in, every text escaped."""
    return Markup(environment().get_template(name).render(**values))


def write_style() -> str:
    """The style sheet of pages, in the theme's colours."""
    colours = "".join(f"--gl-{name}:{colour};" for name, colour in PAGE_COLOURS.items())
    sheets = [(TEMPLATES / name).read_text(encoding="utf-8") for name in ("page.css", "study.css")]
    return f":root{{{colours}}}\n" + "\n".join(sheets)


def show_style() -> Part:
    """The style of a page, for a notebook to show once at its top: on the notebook's own ground."""
    return Part(f"<style>{write_style()}.gl {{ background: none; }}</style>", "")


def explain_once(html: str) -> str:
    """A whole page with each term's meaning where the term comes first, and not again."""
    seen: set[str] = set()

    def keep_first(found: re.Match[str]) -> str:
        known = found["meaning"] in seen
        seen.add(found["meaning"])
        return found["word"] if known else found[0]

    return _EXPLAINED.sub(keep_first, html)


def show_terms() -> Part:
    """Every term with its meaning, folded."""
    terms = [(word, meaning) for word, (_, meaning) in TERMS.items()]
    return Part(fill_template("terms.html", terms=terms), "")
