"""What a limited process may still do after it has shut itself in: compute, and write into a folder of its own.

It has no network, sees no files but those that programs are made of, starts no program and traces no process. Linux
offers that without root: Landlock (since 5.13) for files, seccomp (since 3.5) for system calls, both kept by all that
it forks. Where the kernel lacks one of them the process runs on without it, and `available` says so; there is no user
of its own, for which root would be needed. In a container both must be allowed, as Docker and Podman do by default.

Sources: landlock(7), seccomp(2), linux/landlock.h, linux/filter.h, linux/audit.h; numbers of system calls from the
kernel's tables for x86_64 and arm64.
"""

from __future__ import annotations

import ctypes
import errno
import mimetypes
import os
import platform
import struct
import sys
import sysconfig
from collections.abc import Iterable
from functools import cache
from pathlib import Path

_NO_NEW_PRIVILEGES, _SET_SECCOMP, _FILTER = 38, 22, 2  # of prctl(2)
_CREATE_RULESET, _ADD_RULE, _RESTRICT_SELF = 444, 445, 446  # the same on every architecture
_VERSION, _BENEATH = 1, 1

_EXECUTE, _WRITE_FILE, _READ_FILE, _READ_DIR, _TRUNCATE, _REFER = 1, 2, 4, 8, 1 << 14, 1 << 13
_FIRST_RIGHTS = (1 << 13) - 1  # of Landlock's first version; 2 adds REFER, 3 TRUNCATE, 5 IOCTL_DEV

# Audit's name of an architecture, and there the numbers of what is refused: sockets, programs, tracing, namespaces,
# mounts, kernel modules, keys, BPF, io_uring, signals to others.
_REFUSED: dict[str, tuple[int, dict[str, int]]] = {
    "x86_64": (
        0xC000003E,
        {
            "socket": 41,
            "connect": 42,
            "accept": 43,
            "sendto": 44,
            "bind": 49,
            "listen": 50,
            "execve": 59,
            "kill": 62,
            "ptrace": 101,
            "mount": 165,
            "init_module": 175,
            "tkill": 200,
            "add_key": 248,
            "request_key": 249,
            "keyctl": 250,
            "unshare": 272,
            "perf_event_open": 298,
            "setns": 308,
            "process_vm_readv": 310,
            "process_vm_writev": 311,
            "bpf": 321,
            "execveat": 322,
            "io_uring_setup": 425,
        },
    ),
    "aarch64": (
        0xC00000B7,
        {
            "mount": 40,
            "unshare": 97,
            "init_module": 105,
            "ptrace": 117,
            "kill": 129,
            "tkill": 130,
            "socket": 198,
            "bind": 200,
            "listen": 201,
            "accept": 202,
            "connect": 203,
            "sendto": 206,
            "add_key": 217,
            "request_key": 218,
            "keyctl": 219,
            "execve": 221,
            "perf_event_open": 241,
            "setns": 268,
            "process_vm_readv": 270,
            "process_vm_writev": 271,
            "bpf": 280,
            "execveat": 281,
            "io_uring_setup": 425,
        },
    ),
}
_X32 = 0x40000000  # numbers from here on are those of x86_64's second set


def available() -> tuple[str, ...]:
    """Which of 'files' (Landlock) and 'calls' (seccomp) this machine can shut in."""
    files = ("files",) if _landlock_version() > 0 else ()
    calls = ("calls",) if platform.machine() in _REFUSED and Path("/proc/sys/kernel/seccomp").exists() else ()
    return (*files, *calls)


def shut_in(folder: str) -> None:
    """Shuts this process in for good: it reads what programs are made of, and reads and writes in `folder`."""
    found = available()
    libc = ctypes.CDLL(None, use_errno=True)
    if not found or libc.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0) != 0:
        return
    if "files" in found:
        _keep_to_files(libc, folder)
    if "calls" in found:
        _refuse_calls(libc)


@cache
def _landlock_version() -> int:
    version: int = ctypes.CDLL(None).syscall(_CREATE_RULESET, None, ctypes.c_size_t(0), _VERSION)
    return version


@cache
def _parts_of_programs() -> tuple[str, ...]:
    """The interpreter, its libraries, this software, the system's libraries, time zones and fonts."""
    named = {
        *sysconfig.get_paths().values(),
        sys.prefix,
        sys.base_prefix,
        *(path for path in sys.path if path),
        "/usr/lib",
        "/usr/lib64",
        "/usr/share",
        "/usr/local/lib",
        "/lib",
        "/lib64",
        "/etc/ld.so.cache",
        "/etc/localtime",
        *(str(path) for path in mimetypes.knownfiles),  # openpyxl reads them when it is imported
        "/dev/urandom",
        "/dev/null",
        "/sys/devices/system/cpu",
    }
    return tuple(sorted(path for path in named if os.path.exists(path) and os.path.realpath(path) != "/"))


def _keep_to_files(libc: ctypes.CDLL, folder: str) -> None:
    version = _landlock_version()
    rights = _FIRST_RIGHTS | (_REFER if version >= 2 else 0) | (_TRUNCATE if version >= 3 else 0)
    handled = ctypes.create_string_buffer(struct.pack("=Q", rights))
    ruleset: int = libc.syscall(_CREATE_RULESET, handled, ctypes.c_size_t(8), 0)
    if ruleset < 0:
        return
    try:
        _allow(libc, ruleset, _parts_of_programs(), _READ_FILE | _READ_DIR)
        _allow(libc, ruleset, (f"/proc/{os.getpid()}",), _READ_FILE | _READ_DIR)
        _allow(libc, ruleset, (folder,), rights & ~_EXECUTE)
        libc.syscall(_RESTRICT_SELF, ruleset, 0)
    finally:
        os.close(ruleset)


def _allow(libc: ctypes.CDLL, ruleset: int, paths: Iterable[str], rights: int) -> None:
    for path in paths:
        try:
            opened = os.open(path, os.O_PATH | os.O_CLOEXEC)
        except OSError:
            continue
        try:
            of_this = rights if os.path.isdir(path) else rights & (_READ_FILE | _WRITE_FILE | _TRUNCATE)
            rule = ctypes.create_string_buffer(struct.pack("=Qi", of_this, opened))
            libc.syscall(_ADD_RULE, ruleset, _BENEATH, rule, 0)
        finally:
            os.close(opened)


class _Program(ctypes.Structure):
    """struct sock_fprog of linux/filter.h."""

    _fields_ = (("length", ctypes.c_ushort), ("filter", ctypes.c_void_p))


def _refuse_calls(libc: ctypes.CDLL) -> None:
    architecture, refused = _REFUSED[platform.machine()]
    code = ctypes.create_string_buffer(_filter(architecture, tuple(refused.values())))
    program = _Program(len(code.raw[:-1]) // 8, ctypes.addressof(code))
    libc.prctl(_SET_SECCOMP, _FILTER, ctypes.byref(program), 0, 0)


def _filter(architecture: int, refused: tuple[int, ...]) -> bytes:
    """A program of the kernel's packet filter: what is refused fails as not permitted, everything else is allowed."""
    load, equal, at_least, give = 0x20, 0x15, 0x35, 0x06
    number_at, architecture_at = 0, 4
    allow, refuse, kill = 0x7FFF0000, 0x00050000 | errno.EPERM, 0x80000000

    def step(code: int, if_true: int, if_false: int, value: int) -> bytes:
        return struct.pack("=HBBI", code, if_true, if_false, value)

    steps = [
        step(load, 0, 0, architecture_at),
        step(equal, 1, 0, architecture),
        step(give, 0, 0, kill),
        step(load, 0, 0, number_at),
        step(at_least, len(refused) + 1, 0, _X32),
    ]
    steps += [step(equal, len(refused) - place, 0, number) for place, number in enumerate(refused)]
    steps += [step(give, 0, 0, allow), step(give, 0, 0, refuse)]
    return b"".join(steps)
