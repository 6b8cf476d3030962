"""A PostgreSQL of our own: a cluster in a temporary folder, on loopback, gone when it is closed.

Debian's server is used; where it is missing it is installed with apt-get, and where that cannot be done the
tests fail and say so: they are never skipped.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg


class PostgreSQL:
    """A running server. `url(name)` makes an empty database."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="barrier-orders-postgresql-"))
        self.binaries = _binaries()
        self.user = "postgres" if os.geteuid() == 0 else pwd.getpwuid(os.geteuid()).pw_name
        self.port = free_port()
        if os.geteuid() == 0:
            shutil.chown(self.folder, self.user)
        self._run("initdb", "--no-sync", "-A", "trust", "-U", "postgres", "-E", "UTF8", "-D", str(self.data))
        self.start()

    @property
    def data(self) -> Path:
        return self.folder / "data"

    def start(self) -> None:
        """Starts the server and waits until it answers."""
        (self.data / "postmaster.pid").unlink(missing_ok=True)
        options = ("fsync=off", "max_connections=200", f"unix_socket_directories={self.folder}")
        self.process = subprocess.Popen(
            [
                str(self.binaries / "postgres"),
                *("-D", str(self.data), "-p", str(self.port), "-h", "127.0.0.1"),
                *(part for option in options for part in ("-c", option)),
            ],
            user=self.user if os.geteuid() == 0 else None,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=self.folder,
        )
        deadline = time.monotonic() + 30
        while True:
            try:
                psycopg.connect(self._address("postgres"), connect_timeout=2).close()
                return
            except psycopg.OperationalError:
                if time.monotonic() > deadline or self.process.poll() is not None:
                    raise
                time.sleep(0.05)

    def kill(self) -> None:
        """Kills the server and every process of it at once, as a power cut would."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        self.process.kill()
        for child in children:
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(child), signal.SIGKILL)
        self.process.wait()

    def url(self, name: str) -> str:
        """An empty database's URL."""
        with psycopg.connect(self._address("postgres"), autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{name}"')
        return self._address(name)

    def close(self) -> None:
        """Stops the server and removes its folder."""
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _address(self, name: str) -> str:
        return f"postgresql://postgres@127.0.0.1:{self.port}/{name}"

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [str(self.binaries / program), *arguments],
            user=self.user if os.geteuid() == 0 else None,
            check=True,
            stdout=subprocess.DEVNULL,
            cwd=self.folder,
        )


def free_port() -> int:
    """A port of loopback that nothing listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _binaries() -> Path:
    if not _installed():
        if os.geteuid() != 0:
            raise RuntimeError("PostgreSQL's server is not installed: sudo apt-get install postgresql")
        # Debian's package would otherwise make and start a cluster of its own.
        settings = Path("/etc/postgresql-common/createcluster.conf")
        if not settings.exists():
            settings.parent.mkdir(exist_ok=True)
            settings.write_text("create_main_cluster = false\n")
        print("installing PostgreSQL with apt-get for the service's tests")
        environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        if subprocess.run(["apt-get", "install", "-y", "-q", "postgresql"], env=environment).returncode != 0:
            subprocess.run(["apt-get", "update", "-q"], check=True)
            subprocess.run(["apt-get", "install", "-y", "-q", "postgresql"], check=True, env=environment)
    return _installed()[-1]


def _installed() -> list[Path]:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda path: path.parts)
    on_path = shutil.which("postgres")
    if not found and on_path and shutil.which("initdb"):
        found = [Path(on_path)]
    return [path.resolve().parent for path in found]
