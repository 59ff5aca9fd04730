"""How are many studies run? Each in a process of its own, here or on a cluster, what is finished kept."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass
from pathlib import Path

from glucolab.clock import ZoneSpans
from glucolab.errors import NothingToDo, Problem
from glucolab.extras import want_extra
from glucolab.reading.folder import WEARS
from glucolab.record import PEOPLE_OUTPUTS
from glucolab.running.folder import WELCOME
from glucolab.running.import_safety import without_local_modules
from glucolab.running.locking import lock
from glucolab.running.many.finished import KEPT, Kept, open_kept
from glucolab.running.many.people import write_people
from glucolab.running.many.person import StudyOutcome, TableRows, analyse_person, name_person, problem_rows
from glucolab.running.tables import format_rows

_LOCK = ".lock"
_SAY_EVERY_S = 2.0
_ANSWERS_WITHIN_S = 10


@dataclass(frozen=True)
class Many:
    """What became of many studies.

    Attributes
    ----------
    studies, failed : int
        Found, and not analysed.
    left_out : int
        Studies of which something was not used.
    passed_over : sequence of Problem
        Folders that hold no study.
    paths : sequence of Path
        The tables.
    """

    studies: int
    failed: int
    left_out: int
    passed_over: Sequence[Problem]
    paths: Sequence[Path]


@dataclass(frozen=True)
class How:
    """Where the work is done.

    Attributes
    ----------
    workers : int
        Processes on this computer.
    scheduler : str or None
        Address of a Dask cluster instead, whose workers have glucolab and see the studies under the same path.
    again : bool
        Do finished studies anew, though nothing has changed.
    debug : bool
        Tell the traceback of every fault, beside its one line.
    """

    workers: int = 1
    scheduler: str | None = None
    again: bool = False
    debug: bool = False


def many_into(folder: Path, out: Path, progress: Callable[[str], None], how: How) -> Many:
    """Analyse every study below a folder and write tables over all people.

    What is finished is kept in `out`: a run that was stopped goes on where it was, and a study is done anew only when
    its files or glucolab have changed.

    Parameters
    ----------
    folder : Path
        Holds studies, at any depth.
    out : Path
        Folder for the tables.
    progress : callable
        Called with a line of text now and then.
    how : How

    Returns
    -------
    Many

    Raises
    ------
    NothingToDo
        If there is no study, `out` may not be written to, another run writes there, or the cluster does not answer.
    OSError
        If a file cannot be written.
    """
    want_extra("many", "many writes Parquet, for which polars is needed")
    folder, out = folder.resolve(), out.resolve()
    _check_places(folder, out)
    people, passed_over = find_studies(folder, out)
    if not people:
        raise NothingToDo(f"{folder} holds no study: no folder in it has a study.toml", tuple(passed_over))
    out.mkdir(parents=True, exist_ok=True)
    with lock(out / _LOCK, out), open_kept(out) as kept:
        kept.forget_others(name_person(person) for person in people)
        _run_all(folder, people, kept, progress, how)
        progress("writing the tables")
        paths = write_people(out, _all_rows(kept, passed_over))
        return Many(*kept.count(), passed_over, paths)


def _check_places(folder: Path, out: Path) -> None:
    if not folder.is_dir():
        raise NothingToDo(f"{folder} is not a folder: name the folder that holds the studies")
    if out == folder or out in folder.parents:
        raise NothingToDo(f"--out {out} is, or holds, the folder of the studies: choose a folder of its own")
    if any(_is_study(parent) for parent in out.parents):
        raise NothingToDo(f"--out {out} lies in a study: choose a folder outside it")
    if out.exists() and not out.is_dir():
        raise NothingToDo(f"--out {out} is a file: choose a folder")
    others = [path.name for path in out.iterdir() if path.name not in (*WELCOME, _LOCK)] if out.is_dir() else []
    if others and KEPT not in others:
        raise NothingToDo(f"--out {out} holds other files: choose an empty or a new folder")


def _is_study(folder: Path) -> bool:
    return (folder / "study.toml").exists() or (folder / WEARS).is_dir()


def find_studies(folder: Path, out: Path) -> tuple[list[str], list[Problem]]:
    """Every study below a folder, and what lies beside them and holds none.

    Parameters
    ----------
    folder : Path
    out : Path
        Not looked into.

    Returns
    -------
    people : list of str
        Paths below `folder`, in order. Links are not followed, and within a study none is looked for.
    passed_over : list of Problem
        Links, folders that cannot be opened, and folders below which there is no study.
    """
    people: list[str] = []
    passed_over: list[Problem] = []

    def look(here: Path) -> None:
        before, below = len(people), here.relative_to(folder).as_posix()
        if _is_study(here):
            people.append(below)
            return
        try:
            inner = sorted(path for path in here.iterdir() if path.is_dir() and path != out)
        except OSError as error:
            passed_over.append(Problem(name_person(below), f"cannot be opened: {error.strerror}"))
            return
        for path in inner:
            if path.is_symlink():
                name = name_person(path.relative_to(folder).as_posix())
                passed_over.append(Problem(name, "is a link, which is not followed"))
            elif not path.name.startswith("."):
                look(path)
        if len(people) == before and here != folder:
            passed_over[:] = [p for p in passed_over if not p.file.startswith(f"{name_person(below)}/")]
            passed_over.append(Problem(name_person(below), "holds no study"))

    look(folder)
    return people, passed_over


def _all_rows(kept: Kept, passed_over: Sequence[Problem]) -> Iterator[TableRows]:
    yield from kept.rows()
    for problem in passed_over:
        frame = problem_rows([Problem("", problem.text)], problem.file)
        yield {"left_out": list(format_rows(frame, PEOPLE_OUTPUTS["left_out"], ZoneSpans(("UTC",))))}


def _run_all(folder: Path, people: Sequence[str], kept: Kept, progress: Callable[[str], None], how: How) -> None:
    from joblib import Parallel, delayed
    from joblib.externals.loky.process_executor import TerminatedWorkerError

    known: Mapping[str, str] = {} if how.again else kept.keys()
    jobs = (delayed(analyse_person)(str(folder), person, known.get(name_person(person), "")) for person in people)
    said = _Progress(len(people), progress, how.debug)
    with ExitStack() as stack:
        stack.enter_context(without_local_modules())
        stack.enter_context(_backend(how))
        # one at a time: every result is kept as soon as it is there, and memory does not grow
        outcomes = Parallel(return_as="generator_unordered", batch_size=1)(jobs)
        try:
            for one in outcomes:
                kept.put(one)
                said.count(one)
        except TerminatedWorkerError:
            text = "a worker process was ended from outside, most often for want of memory"
            raise NothingToDo(f"{text}: run again with fewer --workers; what is finished is kept") from None


def _backend(how: How) -> AbstractContextManager[object]:
    """Where joblib sends its work; what was opened for it is closed at the end."""
    from joblib import parallel_config

    stack = ExitStack()
    if how.scheduler is None:
        stack.enter_context(parallel_config(n_jobs=how.workers))
        return stack
    want_extra("cluster", "a cluster needs Dask")
    from distributed import Client

    try:
        stack.enter_context(Client(how.scheduler, timeout=_ANSWERS_WITHIN_S))
    except (OSError, ValueError) as error:
        raise NothingToDo(f"no Dask scheduler answers at {how.scheduler}: {error}") from None
    stack.enter_context(parallel_config(backend="dask"))
    return stack


class _Progress:
    """How many are done, and how long the rest will take at the pace so far."""

    def __init__(self, studies: int, say: Callable[[str], None], debug: bool):
        self._studies, self._say, self._debug, self._begun = studies, say, debug, time.monotonic()
        self._done, self._anew, self._said = 0, 0, self._begun

    def count(self, one: StudyOutcome) -> None:
        self._done += 1
        self._anew += one.rows is not None
        if one.failed:
            self._say(f"failed: {one.person}: {one.failed}")
        for trace in one.traces if self._debug else ():
            self._say(f"{one.person}: {trace.rstrip()}")
        now = time.monotonic()
        if now - self._said < _SAY_EVERY_S and self._done < self._studies:
            return
        self._said = now
        left = (now - self._begun) / self._done * (self._studies - self._done)
        self._say(
            f"{self._done} of {self._studies} studies, {self._done - self._anew} unchanged"
            + (f"; about {_say_time(left)} left" if left else "")
        )


def _say_time(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def most_workers() -> int:
    """Processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
