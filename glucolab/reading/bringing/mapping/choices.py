"""What does a foreign word stand for? Choices, truths and texts of cells as the contract writes them."""

from __future__ import annotations

from collections.abc import Sequence

from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.matching import find_truth, find_word
from glucolab.reading.bringing.vocabulary.words import CHOICES, TRUTH
from glucolab.reading.cells import Faults, Texts
from glucolab.reading.text import show
from glucolab.record import Column


def read_text(cells: Sequence[str], source: Source) -> tuple[Texts, Faults]:
    """Texts, those that the mapping translates translated, on one line each."""
    return [" ".join(source.words.get(cell, cell).split()) for cell in cells], {}


def read_choice(cells: Sequence[str], source: Source, column: Column) -> tuple[Texts, Faults]:
    """The words of a choice, by the mapping first, then by what the words of many languages mean."""
    choices = {choice: (choice, *CHOICES.get(column.name, {}).get(choice, ())) for choice in column.choices}
    meant = {cell: source.words.get(cell) or find_word(cell, choices) or "" for cell in set(cells) if cell}
    unknown = {cell for cell, word in meant.items() if word not in column.choices}
    faults = {
        i: f'{column.name} "{show(cell)}" is none of {", ".join(column.choices)}'
        for i, cell in enumerate(cells)
        if cell in unknown
    }
    return ["" if cell in unknown else meant.get(cell, "") for cell in cells], faults


def read_truth(cells: Sequence[str], source: Source, column: Column) -> tuple[Texts, Faults]:
    """true and false, by the mapping first, then by the words of many languages."""
    meant = {cell: source.words.get(cell) or find_truth(cell, TRUTH) or "" for cell in set(cells) if cell}
    faults = {
        i: f'{column.name} "{show(cell)}" is not true or false'
        for i, cell in enumerate(cells)
        if cell and meant[cell] not in ("true", "false")
    }
    return [meant.get(cell, "") if i not in faults else "" for i, cell in enumerate(cells)], faults
