"""Processes of the service forked from one that has imported it: a start without two seconds of imports.

`Forking` runs the one that is forked from; `Forked` has of subprocess.Popen what the tests use. What starts so is
the service's own program from there on; tests/service/test_serving.py starts it afresh, as an operator does.

The process that a worker forks its limited ones from is forked likewise, for it would import the optimiser and plan
once, two seconds more. tests/service/test_limited_process.py has it started afresh.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from functools import cache
from multiprocessing import forkserver, util
from pathlib import Path
from typing import Any, NoReturn

_MAIN = "from tests.service.forking import main; main()"


class Forked:
    """A process that was forked for a program; its exit code as subprocess gives it."""

    def __init__(self, forking: Forking, program: str, log: Path, env: dict[str, str]) -> None:
        self.pid: int = forking.told({"program": program, "log": str(log), "env": env})
        self.returncode: int | None = None
        self._forking, self._handle = forking, os.pidfd_open(self.pid)

    def poll(self) -> int | None:
        """The exit code, None while it runs."""
        if self.returncode is None:
            self.returncode = self._forking.told({"ended": self.pid})
            if self.returncode is not None:
                os.close(self._handle)
        return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        """The exit code once it has ended. Raises subprocess.TimeoutExpired."""
        deadline = None if timeout is None else time.monotonic() + timeout
        while (code := self.poll()) is None:
            if deadline is not None and time.monotonic() > deadline:
                raise subprocess.TimeoutExpired(str(self.pid), timeout or 0)
            time.sleep(0.02)
        return code

    def send_signal(self, number: int) -> None:
        """Sends a signal, where it has not ended."""
        if self.poll() is None:
            signal.pidfd_send_signal(self._handle, number)

    def terminate(self) -> None:
        """SIGTERM."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """kill -9."""
        self.send_signal(signal.SIGKILL)


class Forking:
    """The process that others are forked from: it lives as long as the tests do."""

    def __init__(self) -> None:
        ours, theirs = socket.socketpair()
        self._asking = threading.Lock()
        self.process = subprocess.Popen(
            [sys.executable, "-c", _MAIN, str(theirs.fileno())],
            pass_fds=[theirs.fileno()],
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )
        theirs.close()
        self._stream = ours.makefile("rw", encoding="utf-8")

    def told(self, asked: dict[str, Any]) -> Any:
        """Its answer to one question."""
        with self._asking:
            self._stream.write(json.dumps(asked) + "\n")
            self._stream.flush()
            return json.loads(self._stream.readline())


@cache
def forking() -> Forking:
    """The one of this run, started when the first process is asked for."""
    return Forking()


def main() -> None:
    """Imports the service, then forks a process for every program that it is told; ends with whoever tells it."""
    import api.app
    import api.forking_server
    import api.serving
    import api.workers.process  # noqa: F401 (imported for those that are forked)

    assert threading.active_count() == 1, "a forked process has one thread only"
    gc.freeze()
    telling = socket.socket(fileno=int(sys.argv[1]))
    ended: dict[int, int] = {}
    lines = telling.makefile("r", encoding="utf-8")
    for line in lines:
        asked = json.loads(line)
        if "ended" in asked:
            answer = _exit_code(asked["ended"], ended)
        elif (answer := os.fork()) == 0:
            break
        telling.sendall(json.dumps(answer).encode() + b"\n")
    else:
        return
    lines.close()
    telling.close()
    _run(asked)


def _exit_code(pid: int, ended: dict[int, int]) -> int | None:
    if pid not in ended:
        found, status = os.waitpid(pid, os.WNOHANG)
        if found:
            ended[pid] = os.waitstatus_to_exitcode(status)
    return ended.get(pid)


def _run(asked: dict[str, Any]) -> None:
    """The forked process becomes one that runs the program: its environment, its log, its exit code."""
    os.environ.clear()
    os.environ.update(asked["env"])
    sys.argv[1:] = []
    log = os.open(asked["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
    for stream in (1, 2):
        os.dup2(log, stream)
    os.close(log)
    _fork_the_forking_server()
    exec(asked["program"], {"__name__": "__main__"})


def _fork_the_forking_server() -> None:
    """Has multiprocessing start its forking server now, while there is one thread, and by a fork of this process."""
    started_afresh = util.spawnv_passfds

    def started(path: bytes, arguments: list[str], handed: list[int]) -> int:
        program = arguments[-1]
        if "forkserver" not in program:
            return started_afresh(path, arguments, handed)
        return os.fork() or _become(program, handed)

    util.spawnv_passfds = started
    try:
        forkserver.ensure_running()
    finally:
        util.spawnv_passfds = started_afresh


def _become(program: str, handed: list[int]) -> NoReturn:
    """The program instead of what this process was, with the standard streams and what it is handed open, as after a
    start afresh: an end of a pipe that it kept would keep it from ending with its worker."""
    kept = sorted({0, 1, 2, *handed})
    for low, high in zip(kept, [*kept[1:], os.sysconf("SC_OPEN_MAX")], strict=True):
        os.closerange(low + 1, high)
    try:
        exec(program, {"__name__": "__main__"})
    finally:
        os._exit(1)
