"""Work in a process of its own, limited in memory and time, that can be ended at any moment.

A hostile file or an endless search takes down its own process and nothing else: it is shut in, too, with a folder of
its own that is removed when it has ended (`api.sandbox`). Processes are forked from a server that has the optimiser
imported already, so one costs some ten milliseconds to start.
"""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import resource
import shutil
import signal
import tempfile
import time
import traceback
from collections.abc import Callable
from multiprocessing import forkserver
from multiprocessing.connection import Connection
from typing import Any

from api.sandbox import shut_in

_POLL_SECONDS = 0.05
_LARGEST_FILE_MEGABYTES, _MOST_OPEN_FILES = 512, 256
_PATIENCE = 5
_PRELOADED = ["api.forking_server"]
_DIE_WITH_PARENT = 1  # PR_SET_PDEATHSIG of prctl(2)

Progress = Callable[[dict[str, Any]], None]


class LimitReached(Exception):  # noqa: N818 (a limit that is reached is no fault of the program)
    """The work needed more than its limit. `limit` is 'memory' or 'time'."""

    def __init__(self, limit: str) -> None:
        super().__init__(f"the {limit} limit was reached")
        self.limit = limit


class Stopped(Exception):  # noqa: N818
    """The work was ended because it was no longer wanted."""


def start_forking() -> None:
    """Starts the process that later ones are forked from, so that the first one does not wait for imports."""
    run_limited(_nothing, seconds=60, megabytes=512)


def run_limited(
    work: Callable[..., Any],
    *arguments: Any,
    seconds: float,
    megabytes: int,
    on_progress: Progress | None = None,
    unwanted: Callable[[], bool] | None = None,
    confined: bool = True,
    patient: bool = False,
) -> Any:
    """What `work(*arguments)` returns, made in a process of its own.

    `work` is a module's function; with `on_progress`, it is given a further argument `progress`, to which it
    reports dictionaries. `unwanted` is asked every 50 ms whether to stop. `megabytes` limits what is allocated
    beyond the imports. It is `confined`: no network, no files but a folder of its own, where temporary files go. One
    that is `patient` leaves the processors to whoever else wants them (nice(2)).

    Raises LimitReached, Stopped, and whatever `work` raises.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(_PRELOADED)
    ours, theirs = context.Pipe()
    folder = tempfile.mkdtemp(prefix="barrier-orders-")
    process = context.Process(
        target=_child,
        args=(theirs, work, arguments, on_progress is not None, megabytes, folder, confined, patient),
        daemon=True,
    )
    try:
        process.start()
    except BaseException:
        os.rmdir(folder)
        raise
    theirs.close()
    deadline = time.monotonic() + seconds
    try:
        while True:
            if ours.poll(_POLL_SECONDS):
                try:
                    kind, value = ours.recv()
                except (EOFError, ConnectionError):
                    process.join(5)
                    raise LimitReached("time" if process.exitcode == -signal.SIGXCPU else "memory") from None
                if kind == "progress" and on_progress is not None:
                    on_progress(value)
                elif kind == "done":
                    return value
                elif kind == "raised":
                    raise value
            if unwanted is not None and unwanted():
                raise Stopped
            if time.monotonic() > deadline:
                raise LimitReached("time")
    finally:
        ours.close()
        if process.is_alive():
            process.kill()
        process.join()
        process.close()
        shutil.rmtree(folder, ignore_errors=True)


def _nothing() -> None:
    return None


def _child(
    pipe: Connection,
    work: Callable[..., Any],
    arguments: tuple[Any, ...],
    reports: bool,
    megabytes: int,
    folder: str,
    confined: bool,
    patient: bool,
) -> None:
    _end_with_parent()
    if patient:
        os.nice(_PATIENCE)
    tempfile.tempdir = folder
    os.environ["TMPDIR"] = folder
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    limit = _address_space() + megabytes * 2**20
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if confined:
        resource.setrlimit(resource.RLIMIT_FSIZE, (_LARGEST_FILE_MEGABYTES * 2**20,) * 2)
        resource.setrlimit(resource.RLIMIT_NOFILE, (_MOST_OPEN_FILES, _MOST_OPEN_FILES))
        shut_in(folder)
    try:
        more = {"progress": lambda event: pipe.send(("progress", event))} if reports else {}
        answer = ("done", work(*arguments, **more))
    except MemoryError:
        answer = ("raised", LimitReached("memory"))
    except Exception as error:
        error.add_note("".join(traceback.format_exception(error)))  # its traceback would not cross
        answer = ("raised", error)
    try:
        pipe.send(answer)
    except MemoryError:
        pipe.send(("raised", LimitReached("memory")))
    pipe.close()
    os._exit(0)


def _end_with_parent() -> None:
    """The forking server ends when nobody holds the far end of its pipe any more. A forked process is handed that
    end too (multiprocessing would let it fork in turn), so it lets go, and has itself killed with the server."""
    os.close(forkserver._forkserver._forkserver_alive_fd)  # type: ignore[attr-defined]
    ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL)


def _address_space() -> int:
    with open("/proc/self/statm") as statistics:
        return int(statistics.read().split()[0]) * resource.getpagesize()
