"""Which studies are finished already? What became of each, kept in one file that survives a kill."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from glucolab.errors import NothingToDo
from glucolab.reading.text import show
from glucolab.running.many.person import StudyOutcome, TableRows

KEPT = "kept.sqlite"
_TABLE = """create table if not exists kept
    (person text primary key, key text, failed text, left_out integer, rows text) without rowid"""
_COLUMNS = ("person", "key", "failed", "left_out", "rows")
_BEGINS = b"SQLite format 3\0"
"""How every database of SQLite begins: https://www.sqlite.org/fileformat2.html, section 1.3."""
_TABLES_SHOWN = 5
"""So many tables of another's database are named, to tell which it is. [tables]"""


@contextmanager
def open_kept(folder: Path) -> Iterator[Kept]:
    """What is kept in a folder of tables.

    Raises
    ------
    NothingToDo
        If the file is damaged or not ours, which leaves it as it is, or the disk is full.
    """
    path = folder / KEPT
    _want_ours(path)
    try:
        with closing(sqlite3.connect(path, isolation_level=None)) as file:
            # a study is safe once it is written, without waiting for the disk
            file.execute("pragma journal_mode = wal")
            file.execute(_TABLE)
            yield Kept(file)
            file.execute("pragma journal_mode = delete")  # one file again
    except sqlite3.Error as error:
        damaged = error.sqlite_errorcode in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
        advice = "it is damaged: remove it, and all is done anew" if damaged else "is the disk full, or read-only?"
        raise NothingToDo(f"{path}: {error}; {advice}") from None


def _want_ours(path: Path) -> None:
    """Refuse a file that is there and was not made here; it is only read."""
    if not os.path.lexists(path):
        return
    other = f"{path} is not what glucolab keeps there, and is left as it is"
    if not path.is_file():
        raise NothingToDo(f"{other}: it is no plain file; choose another --out")
    with path.open("rb") as file:
        begins = file.read(len(_BEGINS))
    if not begins:  # a run was killed between making the file and its table
        return
    if begins != _BEGINS:
        raise NothingToDo(f"{other}: it is no database, or damaged; move it away, or choose another --out")
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as database:
        try:
            tables = sorted(name for (name,) in database.execute("select name from sqlite_master where type = 'table'"))
            columns = tuple(name for _, name, *_ in database.execute("pragma table_info(kept)"))
        except sqlite3.DatabaseError as error:
            raise NothingToDo(f"{path}: {error}; it is damaged: remove it, and all is done anew") from None
    if tables and (tables != ["kept"] or columns != _COLUMNS):
        shown = ", ".join(show(name) for name in tables[:_TABLES_SHOWN])
        raise NothingToDo(f"{other}: it is a database of something else (tables: {shown}); choose another --out")


class Kept:
    """Outcomes by person."""

    def __init__(self, file: sqlite3.Connection):
        self._file = file

    def keys(self) -> dict[str, str]:
        """What each was made from, by person."""
        return dict(self._file.execute("select person, key from kept"))

    def put(self, one: StudyOutcome) -> None:
        """Keep what was made; what is unchanged is kept already."""
        if one.rows is not None:
            cells = json.dumps(one.rows, ensure_ascii=False)
            values = (one.person, one.key, one.failed, one.left_out, cells)
            self._file.execute("insert or replace into kept values (?, ?, ?, ?, ?)", values)

    def forget_others(self, people: Iterable[str]) -> None:
        """Drop whoever is not among these."""
        gone = [(person,) for person in self.keys().keys() - set(people)]
        with self._file:
            self._file.executemany("delete from kept where person = ?", gone)

    def count(self) -> tuple[int, int, int]:
        """Studies, those that failed, and those with something left out."""
        sums = "select count(*), total(failed > ''), total(left_out > 0) from kept"
        studies, failed, left_out = self._file.execute(sums).fetchone()
        return studies, int(failed), int(left_out)

    def rows(self) -> Iterator[TableRows]:
        """Of one person after the other, by name."""
        for (cells,) in self._file.execute("select rows from kept order by person"):
            yield json.loads(cells)
