"""What came out of a foreign file? Rows of contract tables as cells of text, and what was said and left on the way."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from glucolab.errors import Problem


@dataclass(frozen=True)
class Brought:
    """Rows on their way into a study: every reader of a foreign file gives them, and adding takes them.

    Attributes
    ----------
    file : str
        Name of the file, for messages.
    tables : dict of str to pandas.DataFrame
        By contract table (``glucose``, ``sleep``, …): columns named as in the contract, every cell a str as the
        contract writes it, "" where nothing was recorded. A further column ``unit`` of glucose and checks says in
        which unit (mg/dL or mmol/L) each value stands; adding converts to the wear's. A further column ``moment`` of
        labs says when with an offset; adding turns it into the wearer's date and clock time. The index is the
        line, row or entry of the file that a row came from.
    said : tuple of str
        How the file was understood, in plain sentences, for the wearer to agree to.
    problems : tuple of Problem
        What was left out, and why, each with its line or entry.
    """

    file: str
    tables: dict[str, pd.DataFrame]
    said: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = field(default=())
