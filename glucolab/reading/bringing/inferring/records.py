"""Does one record stand in a file in several states, or one session in several rows? Then one of them counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from glucolab.reading.bringing.inferring.ambiguities import Answers, Question
from glucolab.reading.bringing.inferring.column_types import Facts
from glucolab.reading.bringing.mapping.mapping import Source
from glucolab.reading.bringing.vocabulary.remarks import names_record, orders_revisions
from glucolab.reading.text import show

_OF_RECORDS = ("meals", "activity", "sleep", "notes", "feelings", "checks")


def find_latest_states(table: str, facts: Sequence[Facts], said: list[str]) -> tuple[str, ...]:
    """The column that tells records apart and the one that orders their states; none where each stands once.

    Parameters
    ----------
    table : str
        Of ours.
    facts : sequence of Facts
        All columns of the file.
    said : list of str
        Grows by what was found.
    """
    if table not in _OF_RECORDS:
        return ()
    records = next((f for f in facts if names_record(f.bare) and len(set(f.filled)) < len(f.filled)), None)
    order = next((f for f in facts if orders_revisions(f.bare)), None)
    if records is None or order is None:
        return ()
    again = len(records.filled) - len(set(records.filled))
    by = f'by "{show(records.name)}" and "{show(order.name)}"'
    said.append(f"{again} rows are earlier states of a record, {by}: the latest counts")
    return records.name, order.name


def settle_sessions(table: str, sources: dict[str, Source], facts: Sequence[Facts], answers: Answers) -> bool:
    """True if rows of activity of one start and end are one session, as the wearer says."""
    if table != "activity":
        return False
    by_name = {f.name: f for f in facts}
    names = dict.fromkeys(name for key in ("start", "minutes") for name in sources[key].columns)
    cells = [dict(zip(by_name[name].rows, by_name[name].filled, strict=True)) for name in names]
    spans = Counter(tuple(one.get(row, "") for one in cells) for row in cells[0])
    span, count = spans.most_common(1)[0]
    if count == 1:
        return False
    text = f"{count} rows have the same start and length, such as {show(' '.join(filter(None, span)))}"
    choices = (("one", "exercises or sets of one session"), ("each", "each is a session of its own"))
    return answers.ask(Question("session", text, choices)) == "one"
