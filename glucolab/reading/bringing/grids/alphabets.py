"""Which text encoding is a file in, where it is not UTF-8? The code page whose words make most sense.

General detectors were tried first: on tables of a few short words they took Polish, Turkish and German letters for
those of other pages. What is known here of such tables, their usual words, tells better.
"""

from __future__ import annotations

import re

from glucolab.reading.bringing.vocabulary.words import CLOCK, COLUMNS, DATE, KINDS_OF_ROW, MOMENT, UNIT, VALUE
from glucolab.reading.text import plain

_LETTERS = {
    "cp1252": "äöüßéèêëàâçñãõáíóúôîïûùåøæœìòÄÖÜÉÈÀÇÑÅØÁÍÓÚÊ",
    "cp1250": "áéíóúýěščřžůďťňąęśćżźłńőűäöüôČŠŘŽŚŻŁŹĆĄĘÁÉÍÚÝ",
    "cp1254": "çğıöşüâÇĞİÖŞÜ",
}
"""Letters of the languages that are written in a page, the first page before the others where they tell nothing."""
_SCRIPTS = {
    "cp932": r"[\u3040-\u30ff\u4e00-\u9fff]",
    "gb18030": r"[\u4e00-\u9fff]",
    "cp1251": r"[а-яёА-ЯЁіїєІЇЄ]",
    "cp1253": r"[α-ωά-ώΑ-Ω]",
}
_KNOWN = frozenset(
    word
    for words in (
        DATE,
        CLOCK,
        MOMENT,
        UNIT,
        VALUE,
        *KINDS_OF_ROW.values(),
        *(w for c in COLUMNS.values() for w in c.values()),
    )
    for word in words
)
_LOOKED_AT = 20_000


def guess_alphabet(data: bytes) -> str | None:
    """The code page of bytes that are not UTF-8, as Python names it; None if no page fits.

    Parameters
    ----------
    data : bytes
        Of a text file.
    """
    sample = data[:_LOOKED_AT].rsplit(b"\n", 1)[0]
    scores = {}
    for page in (*_LETTERS, *_SCRIPTS):
        try:
            scores[page] = _score(sample.decode(page), page)
        except UnicodeDecodeError:
            continue
    return max(scores, key=lambda page: scores[page]) if scores else None


def _score(text: str, page: str) -> tuple[int, int]:
    """How many words are known that another page would spoil, and how many letters are such as the page is used for."""
    words = re.findall(r"[^\W\d_]+", text)
    known = sum(1 for word in words if not word.isascii() and plain(word) in _KNOWN)
    if page in _LETTERS:
        odd = sum(1 for c in text if not c.isascii() and not c.isalpha() and c not in "°µ·–—’“”€\u00a0")
        return known, sum(text.count(letter) for letter in _LETTERS[page]) - odd
    own = re.compile(_SCRIPTS[page])
    return known, sum(len(own.findall(word)) for word in words if not re.search(r"[a-zA-Z]", word))
