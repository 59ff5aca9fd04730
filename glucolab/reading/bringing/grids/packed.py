"""Which table is in a packed file? The only one of a zip or a gzip; bombs and packs of many tables are refused."""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from glucolab.errors import NothingToDo
from glucolab.reading.bringing.grids.grid import MOST_TABLE_BYTES
from glucolab.reading.text import show

_TABLES = (".csv", ".tsv", ".tab", ".txt", ".json", ".jsonl", ".ndjson", ".xlsx", ".ods", ".parquet", ".html", ".htm")
_MOST_NAMED = 5
_GZIP = b"\x1f\x8b"


def is_gzip(data: bytes) -> bool:
    """True for a file that gzip packed."""
    return data.startswith(_GZIP)


def unpack_gzip(data: bytes, file: str) -> bytes:
    """The bytes in a file that gzip packed.

    Raises
    ------
    NothingToDo
        If it is broken, or unpacks to more than a person's log can have.
    """
    try:
        with gzip.open(io.BytesIO(data)) as packed:
            found = packed.read(MOST_TABLE_BYTES + 1)
    except (OSError, EOFError, zlib.error):
        raise NothingToDo(f"{file} is a broken or cut-off packed file") from None
    return _want_small(found, file)


def unpack_zip(path: Path) -> tuple[str, bytes]:
    """Name and bytes of the only table in a zip.

    Raises
    ------
    NothingToDo
        If it is broken or locked, holds no table or more than one, or unpacks to more than a person's log can have.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            part = _choose(archive, path.name)
            with archive.open(part) as packed:
                data = packed.read(MOST_TABLE_BYTES + 1)
    except (zipfile.BadZipFile, OSError, ValueError, EOFError, zlib.error, NotImplementedError):
        raise NothingToDo(f"{path.name} is a broken or cut-off packed file") from None
    except RuntimeError:
        raise NothingToDo(f"{path.name} is locked with a password: unpack it first") from None
    return f"{path.name}: {show(part.filename)}", _want_small(data, path.name)


def _choose(archive: zipfile.ZipFile, file: str) -> zipfile.ZipInfo:
    parts = [part for part in archive.infolist() if not part.is_dir() and not _is_aside(part.filename)]
    tables = [part for part in parts if part.filename.lower().endswith(_TABLES)]
    if not tables:
        raise NothingToDo(f"{file} is a packed file without a table: unpack it, and bring what is in it")
    if len(sure := [part for part in tables if not part.filename.lower().endswith(".txt")]) == 1:
        tables = sure  # a text beside a table is a note that explains it
    if len(tables) > 1:
        names = ", ".join(f'"{show(part.filename)}"' for part in tables[:_MOST_NAMED])
        more = f" and {len(tables) - _MOST_NAMED} more" if len(tables) > _MOST_NAMED else ""
        raise NothingToDo(f"{file} holds {len(tables)} tables ({names}{more}): unpack it, and bring each on its own")
    if tables[0].file_size > MOST_TABLE_BYTES:
        raise NothingToDo(f"{file} would unpack to {tables[0].file_size / 1e6:,.0f} MB: that is no person's log")
    return tables[0]


def _is_aside(name: str) -> bool:
    parts = PurePosixPath(name).parts
    return "__MACOSX" in parts or any(part.startswith(".") for part in parts)


def _want_small(data: bytes, file: str) -> bytes:
    if len(data) > MOST_TABLE_BYTES:
        raise NothingToDo(f"{file} would unpack to more than {MOST_TABLE_BYTES / 1e6:,.0f} MB: that is no person's log")
    if not data.strip():
        raise NothingToDo(f"{file} holds an empty file")
    return data
