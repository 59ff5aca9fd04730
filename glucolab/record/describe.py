"""Which columns does a table have? For whoever builds one in memory, or reads one back."""

from __future__ import annotations

import pandas as pd

from glucolab.record.inputs import INPUT_TABLES
from glucolab.record.people_outputs import PEOPLE_OUTPUTS
from glucolab.record.plan_outputs import PLAN_OUTPUTS
from glucolab.record.study_outputs import OUTPUT_TABLES


def describe_table(name: str) -> pd.DataFrame:
    """The columns of a table that goes in or comes out, with what each means.

    Parameters
    ----------
    name : str
        As its file is called, without ``.csv``: ``"meals"``, ``"daily"``, ``"effects"``.

    Returns
    -------
    DataFrame, a row a column of the table
        Indexed by `column`: ``kind`` (time, date, number, count, text, choice, true_false, …), ``required`` (of a table
        that goes in), ``text`` with the unit in brackets.

    Raises
    ------
    KeyError
        If there is no such table; the message lists those there are.

    Examples
    --------
    >>> import glucolab as gl
    >>> gl.describe_table("sleep").query("required").index.tolist()
    ['start', 'end']
    """
    tables = {**OUTPUT_TABLES, **PLAN_OUTPUTS, **PEOPLE_OUTPUTS, **INPUT_TABLES}
    if name not in tables:
        raise KeyError(f"no table is called {name!r}; there are {', '.join(sorted(tables))}")
    rows = [(c.name, c.kind, c.required, c.text) for c in tables[name].columns]
    return pd.DataFrame(rows, columns=["column", "kind", "required", "text"]).set_index("column")
