"""Who may write here now? One process at a time, by a lock that the system frees when its process ends."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from glucolab.errors import NothingToDo

_LOOKS_EVERY_S = 0.05
"""How often a lock that is held is asked for; assumed. Longer only waits longer, shorter only works more. [s]"""
_LOCKED_BYTE = 1 << 30
"""Windows locks bytes and lets nobody read them: this one lies far behind the number of the process. [bytes]"""


@contextmanager
def lock(path: Path, out: Path, *, patience_s: float = 0.0) -> Iterator[None]:
    """Hold the lock file of what is being written; the system frees it when its process ends, however it ends.

    What a killed process leaves is a file that nobody holds, and the next one takes it.

    Parameters
    ----------
    path : Path
        The lock file, removed at the end.
    out : Path
        What is written, for the message.
    patience_s : float, optional
        How long another process may go on holding it. [s]

    Raises
    ------
    NothingToDo
        If another process holds it still.
    OSError
        If the lock file cannot be made.

    Limits of validity: only programs that ask for the lock keep to it, an editor does not; on folders of a network
    it holds as far as the file system passes locks on.
    """
    file = _wait_for(path, time.monotonic() + patience_s)
    if file is None:
        holder = path.read_text(encoding="utf-8", errors="replace").strip() or "unknown"
        raise NothingToDo(f"another run (process {holder}) is writing into {out}: wait until it has ended")
    try:
        file.truncate(0)
        file.write(f"{os.getpid()}\n")
        file.flush()
        yield
    finally:
        with suppress(PermissionError):  # Windows does not remove an open file
            path.unlink(missing_ok=True)
        file.close()


def _wait_for(path: Path, until: float) -> IO[str] | None:
    while (file := _open_locked(path)) is None and time.monotonic() < until:
        time.sleep(_LOOKS_EVERY_S)
    return file


def _open_locked(path: Path) -> IO[str] | None:
    """The lock file, open and ours; None where another process holds it."""
    while True:
        file = path.open("a+", encoding="utf-8")
        if not _try_lock(file):
            file.close()
            return None
        # the run before may have removed the file between opening and locking: then ours is not the one others see
        try:
            if os.path.samestat(os.fstat(file.fileno()), os.stat(path)):
                return file
        except FileNotFoundError:
            pass
        file.close()


def _try_lock(file: IO[str]) -> bool:
    try:
        import fcntl
    except ImportError:  # Windows
        import msvcrt

        os.lseek(file.fileno(), _LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError:
            return False
        finally:
            os.lseek(file.fileno(), 0, os.SEEK_SET)
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True
