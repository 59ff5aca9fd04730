"""Does a lock keep others out while its process lives, and not a moment longer?"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from glucolab.errors import NothingToDo
from glucolab.running.locking import lock

ONLY_LOCK = """
import sys, time
from pathlib import Path
from glucolab.running.locking import lock
with lock(Path(sys.argv[1]), Path("there")):
    print("held", flush=True)
    time.sleep(float(sys.argv[2]))
"""

AS_ON_WINDOWS = """
# Windows locks bytes from the position of the file on, and lets nobody else read them (msvcrt.locking in Python's
# documentation): the same by POSIX record locks, which bind processes alike
import fcntl, os, sys, types
record_lock, LOCK = fcntl.lockf, fcntl.LOCK_EX | fcntl.LOCK_NB
places = []
def locking(handle, mode, count):
    places.append(os.lseek(handle, 0, os.SEEK_CUR))
    record_lock(handle, LOCK, count, places[-1], os.SEEK_SET)
sys.modules["msvcrt"] = types.SimpleNamespace(LK_NBLCK=2, locking=locking)
sys.modules["fcntl"] = None
"""


def hold(path: Path, seconds: float, before: str = "") -> subprocess.Popen:
    """A process that holds the lock, once it does."""
    process = subprocess.Popen(
        [sys.executable, "-c", before + ONLY_LOCK, str(path), str(seconds)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout.readline() == "held\n"
    return process


def test_another_is_refused_and_told_who_holds_it(tmp_path):
    holder = hold(tmp_path / ".lock", 60)
    told = rf"another run \(process {holder.pid}\) is writing into there"
    with pytest.raises(NothingToDo, match=told), lock(tmp_path / ".lock", Path("there")):
        pass
    holder.kill()
    holder.communicate()


def test_patience_waits_for_the_other_to_end(tmp_path):
    holder = hold(tmp_path / ".lock", 0.6)
    with lock(tmp_path / ".lock", Path("there"), patience_s=30):
        assert (tmp_path / ".lock").read_text() == f"{os.getpid()}\n"
    assert holder.wait() == 0
    assert not (tmp_path / ".lock").exists()


def test_patience_ends(tmp_path):
    holder = hold(tmp_path / ".lock", 60)
    begun = time.monotonic()
    with pytest.raises(NothingToDo), lock(tmp_path / ".lock", Path("there"), patience_s=0.3):
        pass
    assert 0.3 <= time.monotonic() - begun < 10
    holder.kill()
    holder.communicate()


@pytest.mark.parametrize("before", ["", AS_ON_WINDOWS], ids=["posix", "windows"])
def test_a_killed_process_holds_nothing(tmp_path, before):
    if before and sys.platform == "win32":
        pytest.skip("there it is what the other one tests")
    holder = hold(tmp_path / ".lock", 60, before)
    holder.kill()
    holder.communicate()
    assert (tmp_path / ".lock").read_text() == f"{holder.pid}\n", "what it left"
    after = hold(tmp_path / ".lock", 0, before)
    assert after.wait() == 0


@pytest.mark.skipif(sys.platform == "win32", reason="there it is what the others test")
def test_windows_locks_one_byte_whatever_the_file_holds(tmp_path):
    """A file with the number of a dead process in it is as long as that: the byte must be the same for all."""
    (tmp_path / ".lock").write_text("12345\n")
    holder = hold(tmp_path / ".lock", 60, AS_ON_WINDOWS)
    refused = subprocess.run(
        [sys.executable, "-c", AS_ON_WINDOWS + ONLY_LOCK, str(tmp_path / ".lock"), "0"], capture_output=True, text=True
    )
    assert f"another run (process {holder.pid}) is writing into there" in refused.stderr
    holder.kill()
    holder.communicate()
