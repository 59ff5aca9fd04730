"""What cannot be told from a file alone? Questions with their readings, and the answers that the wearer gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.vocabulary.words import SCALED
from glucolab.reading.text import did_you_mean, show
from glucolab.record import INPUT_TABLES

_NUMBERS = tuple(
    column.name
    for name in ("days", "feelings", "movement")
    for column in INPUT_TABLES[name].columns
    if column.kind == "number"
)
KEYS = (
    "table", "order", "unit", "decimal", "night", "parts", "kind", "time", "glucose", "taken", "zone", "length",
    "exchange", "per", "energy", "caffeine", "alcohol", "totals", "scale", "clock", "control", "running", "series",
    "carbs", "words", "planned", "whose", "bed", "clock_off", "session", "halves", "late", "legend",
    *_NUMBERS, *(f"high_{name}" for name in SCALED),
)  # fmt: skip


@dataclass(frozen=True)
class Question:
    """One thing with several readings.

    Attributes
    ----------
    key : str
        Under which it is answered.
    text : str
        What is open, in a sentence.
    choices : tuple of (str, str)
        Each answer, and what it would mean.
    """

    key: str
    text: str
    choices: tuple[tuple[str, str], ...]

    def __str__(self) -> str:
        ways = "; ".join(f"{self.key}={answer} ({meaning})" for answer, meaning in self.choices)
        return f"{self.text}. Say which: {ways}"


class UnsettledError(Exception):
    """A file that has several readings, none of which is taken in silence.

    Attributes
    ----------
    questions : tuple of Question
    """

    def __init__(self, questions: Sequence[Question]):
        super().__init__("; ".join(map(str, questions)))
        self.questions = tuple(questions)


class Answers:
    """What the wearer said, and what is still to be asked."""

    def __init__(self, said: dict[str, str] | None = None):
        self.said = dict(said or {})
        self.open: list[Question] = []

    def ask(self, question: Question) -> str:
        """The answer to a question; the first choice, for going on, where it is still open.

        Raises
        ------
        NothingToDo
            If the answer is none of the choices.
        """
        answers = [answer for answer, _ in question.choices]
        said = self.said.get(question.key)
        if said is None:
            self.open.append(question)
            return answers[0]
        if said not in answers:
            raise NothingToDo(f'{question.key} cannot be "{show(said)}" here: it is one of {", ".join(answers)}')
        return said

    def want_none_open(self) -> None:
        """Raise what is open."""
        if self.open:
            raise UnsettledError(self.open)


def read_answers(texts: Sequence[str]) -> dict[str, str]:
    """Answers written as ``key=value``.

    Raises
    ------
    NothingToDo
        If one is not written so, or its key is none that is asked.
    """
    answers = {}
    for text in texts:
        key, equals, value = text.partition("=")
        if not equals or key not in KEYS:
            raise NothingToDo(f'"{show(text)}" is no answer such as unit=mmol/L{did_you_mean(key, KEYS)}')
        answers[key] = value
    return answers
