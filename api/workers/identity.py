"""A worker's name says where its process is, so that a neighbour sees at once when it is gone."""

from __future__ import annotations

import os
import socket
import uuid
from pathlib import Path


def own_name() -> str:
    """This process's name: machine, boot and process namespace, process id, and when the process started."""
    return f"{_place()}/{os.getpid()}/{_started(os.getpid())}"


def is_surely_dead(name: str) -> bool:
    """Whether a worker ran here and its process is gone. Of workers elsewhere only their heartbeat tells."""
    place, _, rest = name.partition("/")
    if place != _place():
        return False
    process_id, _, started = rest.partition("/")
    return _started(int(process_id)) != started


def _place() -> str:
    """What two processes that see each other's ids have in common."""
    try:
        boot = Path("/proc/sys/kernel/random/boot_id").read_text().strip()[:8]
        namespace = os.readlink("/proc/self/ns/pid").strip("pid:[]")
    except OSError:
        boot, namespace = uuid.uuid4().hex[:8], "unknown"
    return f"{socket.gethostname()[:40]}-{boot}-{namespace}".replace("/", "_")


def _started(process_id: int) -> str:
    """When a process started, in clock ticks since boot (proc(5), field 22 of stat); '' when it is gone."""
    try:
        statistics = Path(f"/proc/{process_id}/stat").read_text()
    except OSError:
        return ""
    fields = statistics.rpartition(")")[2].split()
    return "" if fields[0] in ("Z", "X") else fields[19]
