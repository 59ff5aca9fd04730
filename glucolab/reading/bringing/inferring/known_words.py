"""Is every word of a header known here? One that is not may change what its column means: server time, METs x10."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from glucolab.reading.bringing.cells.zones import LETTERS, find_zone
from glucolab.reading.bringing.vocabulary import analytes, cautions, doubts, rows, units, words
from glucolab.reading.text import plain, plain_words

_FILLING = plain_words(
    "and, the, of, in, at, on, this, that, my, your, per, for, by, to, or, no, nr, number, o clock, local, was, went, when, man, am, um, im, der, die, das, den, dem, des, und, ein, eine, "
    "mein, meine, pro, je, uhr, de, du, la, le, les, et, mon, ma, au, el, los, las, y, por, en, mi, o, os, as, do, da, no, na, e, il, lo, gli, del, della, di, al, het, een, van, op, mijn, "
    "w, z, i, v, ve, och, ett, og, et, ja, kl, klo, h, kvelden, excel, csv, ts, dt, id, col, column, spalte, colonne, columna, date time, collected, abnahmedatum, collection, extraccion, "
    "am, pm, 100g, 100ml, mess, messung, aufzeichnung, phone, watch, wrist, band, bracelet, ring, tracker, pocket, left, right, again, handy, telefon, telephone, telefono, one, two, first, second, "
    "sampling, sampled, drawn, draw, gluc, coffee, discipline, sangre, ref, 食品名, dd, mm, yy, yyyy, jj, jjjj, aa, aaaa, hh, ss, tt, jour, mois, mmm, format, iso, 24h, 12h, 24 h, 12 h"
)
"""Words that change nothing of what a column is: articles, and, of, formats of dates."""
_ARTICLES = re.compile("^(?:ה|ال)(?=..)")
"""That Hebrew and Arabic write as one word with what follows."""
_SHORTEST_PART = 3
_SIGNS = re.compile(r"[\u3040-\u30ff\u3400-\u9fff\uac00-\ud7af\u0e00-\u0e7f]")


def find_unknown(name: str) -> tuple[str, ...]:
    """The words of a header that stand in no list here, in the form of `plain`; numbers, letters and zones apart.

    A word that is put together of two known ones, such as Startzeit, is known.
    """
    if find_zone(name) not in ("", "UTC"):
        return ()
    return tuple(part for part in plain(name).split() if not _is_known(part))


def _is_known(part: str) -> bool:
    if (
        part.isdigit()
        or _ARTICLES.sub("", part) in _known()
        or (len(part) == 1 and part.isalnum())
        or part in _known()
        or part.upper() in LETTERS
    ):
        return True
    if _SIGNS.search(part):
        return not _without_known(part)
    cuts = range(_SHORTEST_PART, len(part) - _SHORTEST_PART + 1)
    return any(part[:cut] in _known() and part[cut:].removeprefix("s") in _known() for cut in cuts)


def _without_known(part: str) -> str:
    """What is left of a word of a script without spaces when all words that are known are taken out of it."""
    for word in _known_signs():
        part = part.replace(word, "")
    return re.sub(r"[\d\W_]", "", part)


@cache
def _known() -> frozenset[str]:
    lists = (value for module in (words, cautions, doubts, rows, units, analytes) for value in vars(module).values())
    return frozenset(part for value in (*lists, _FILLING) for word in _texts(value) for part in plain(word).split())


@cache
def _known_signs() -> tuple[str, ...]:
    return tuple(sorted((word for word in _known() if _SIGNS.search(word)), key=len, reverse=True))


def _texts(value: object) -> Iterator[str]:
    """The words of a list, or of lists in a dictionary; nothing of whatever else a module holds."""
    if isinstance(value, dict):
        value = (*value, *value.values())
    for inside in value if isinstance(value, tuple | frozenset) else ():
        if isinstance(inside, str):
            yield inside
        else:
            yield from _texts(inside)
