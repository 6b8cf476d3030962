"""A PostgreSQL standby that has every commit before its client hears of it, and takes the primary's place."""

from __future__ import annotations

import shutil
import signal
import subprocess
import time
from pathlib import Path

import psycopg

from tests.service.postgresql import PostgreSQL, free_port


class Standby:
    """A synchronous standby of a primary, until it takes over."""

    def __init__(self, primary: PostgreSQL) -> None:
        self._primary, self._data = primary, primary.folder / "standby"
        self._port = free_port()
        address = ("-h", "127.0.0.1", "-p", str(primary.port), "-U", "postgres")
        self._run("pg_basebackup", *address, "-D", str(self._data), "-R", "-X", "stream", "-c", "fast")
        self._process = subprocess.Popen(
            [
                str(primary.binaries / "postgres"),
                *("-D", str(self._data), "-p", str(self._port), "-h", "127.0.0.1"),
                *("-c", "fsync=off", "-c", "max_connections=200"),
                *("-c", f"unix_socket_directories={primary.folder}"),
            ],
            user=primary.user,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=primary.folder,
        )
        with self._connected() as connection:
            connection.execute("ALTER SYSTEM SET synchronous_standby_names = '*'")
            connection.execute("SELECT pg_reload_conf()")
            deadline = time.monotonic() + 60
            while not connection.execute(
                "SELECT 1 FROM pg_stat_replication WHERE state = 'streaming' AND sync_state <> 'async'"
            ).fetchone():
                if time.monotonic() > deadline:
                    raise AssertionError("the standby does not follow")
                time.sleep(0.05)

    def take_over(self) -> None:
        """The primary is killed, the standby promoted, and reached under the primary's address."""
        self._primary.kill()
        self._run("pg_ctl", "promote", "-w", "-D", str(self._data))
        self._process.send_signal(signal.SIGINT)
        self._process.wait(30)
        shutil.rmtree(self._primary.data)
        self._data.rename(self._primary.data)
        Path(self._primary.data / "postgresql.auto.conf").write_text("")
        self._primary.start()

    def _connected(self) -> psycopg.Connection:
        return psycopg.connect(
            f"postgresql://postgres@127.0.0.1:{self._primary.port}/postgres", autocommit=True
        )

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [str(self._primary.binaries / program), *arguments],
            user=self._primary.user,
            check=True,
            stdout=subprocess.DEVNULL,
            cwd=self._primary.folder,
        )
