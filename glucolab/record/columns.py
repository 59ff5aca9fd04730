"""What is a column? The small types in which every table's schema is written."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name : str
        As in the header.
    kind : {"time", "date", "number", "count", "text", "choice", "true_false", "zone", "clock"}
    text : str
        What it means, one line, for the README and for the pages' help.
    required : bool
        An input table without this column cannot be used.
    choices : tuple of str
        The words allowed, for kind "choice".
    low, high : float or None
        A number outside is refused.
    """

    name: str
    kind: str
    text: str
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Table:
    """One table: its file name without ``.csv``, what a row is, and its columns.

    `covariates` says that further numeric or true/false columns are welcome and kept as covariates.
    """

    name: str
    text: str
    columns: tuple[Column, ...]
    covariates: bool = False

    @property
    def names(self) -> list[str]:
        """Names of the columns, in order."""
        return [column.name for column in self.columns]

    def __getitem__(self, name: str) -> Column:
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)


@dataclass(frozen=True)
class Key:
    """One key of a TOML file or of a JSON summary.

    `default` is what holds where it is absent; `example` is shown where there is no default.
    """

    name: str
    kind: str
    text: str
    default: object = None
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    example: object = None


def name_columns(*rows: tuple[str, str, str]) -> tuple[Column, ...]:
    """Columns from rows of name, kind and meaning."""
    return tuple(Column(name, kind, text) for name, kind, text in rows)
