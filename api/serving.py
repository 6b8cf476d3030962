"""Starting the service and a worker: what the command line calls."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace

from api.operator_commands import in_plain_words, usable_settings
from api.settings import Settings, is_loopback

_PARENT = "BARRIER_ORDERS_PARENT"


def serve(host: str = "127.0.0.1", port: int = 8000) -> None:
    """Serves the API and the pages until SIGTERM or SIGINT, with its embedded workers.

    On a loopback address no API key is needed; on any other it is. What it writes only its user can read. Exits with 2
    when a setting is unusable, with 1 when the database is.
    """
    import uvicorn

    from api.app import create_app, get_ready
    from api.connections import ConnectionLimits, bounded_connection
    from api.draining import DrainingServer
    from api.operation.collecting import CollectingBetween, collect_seldom
    from api.operation.logs import set_up_logs

    settings = usable_settings()
    settings = replace(settings, keys_required=settings.keys_required or not is_loopback(host))
    if settings.proxies and not settings.keys_required:
        print(
            "BARRIER_ORDERS_TRUSTED_PROXIES is set, and no API key is required: whoever reaches the proxy could do"
            " everything. Set BARRIER_ORDERS_KEYS_REQUIRED=true, or leave the proxy out.",
            file=sys.stderr,
        )
        sys.exit(2)
    os.umask(0o077)
    set_up_logs(settings.log_level)
    with in_plain_words(settings):
        app = create_app(settings)
    get_ready()
    collect_seldom()
    workers = EmbeddedWorkers(settings.embedded_workers)
    workers.start()
    config = uvicorn.Config(
        CollectingBetween(app),
        host=host,
        port=port,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=settings.drain_seconds,
        h11_max_incomplete_event_size=64 * 1024,
        http=bounded_connection(ConnectionLimits.of(settings)),
        ws="none",
        proxy_headers=bool(settings.proxies),
        forwarded_allow_ips=settings.proxies,
    )
    server = DrainingServer(config, app.state.context.stopping, _greeting(settings, host, port))
    for number in (signal.SIGTERM, signal.SIGINT):  # the server raises it again once it has drained
        signal.signal(number, lambda *_: None)
    try:
        server.run()
    finally:
        workers.stop(settings.drain_seconds + 5)


def worker() -> None:
    """Plans in the background for the service until SIGTERM or SIGINT."""
    from api.operation.logs import set_up_logs
    from api.workers.process import run_worker

    settings = usable_settings()
    os.umask(0o077)
    set_up_logs(settings.log_level)
    parent = os.environ.get(_PARENT)
    with in_plain_words(settings):
        run_worker(settings, int(parent) if parent else None)


class EmbeddedWorkers:
    """Worker processes that live as long as the service; one that dies is started again."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.processes: list[subprocess.Popen[bytes]] = []
        self._stopping = threading.Event()

    def start(self) -> None:
        """Starts them, and a thread that starts again what ends."""
        self.processes = [self._started() for _ in range(self.count)]
        threading.Thread(target=self._restart_ended, name="embedded workers", daemon=True).start()

    def stop(self, seconds: float) -> None:
        """Asks them to drain, and ends those that take longer."""
        self._stopping.set()
        for process in self.processes:
            process.send_signal(signal.SIGTERM)
        deadline = time.monotonic() + seconds
        for process in self.processes:
            try:
                process.wait(max(0.1, deadline - time.monotonic()))
            except subprocess.TimeoutExpired:
                process.kill()

    def _started(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "-c", "from api.serving import worker; worker()"],
            env={**os.environ, _PARENT: str(os.getpid())},
            start_new_session=True,  # a terminal's Ctrl-C reaches the service, which then drains its workers
        )

    def _restart_ended(self) -> None:
        while not self._stopping.wait(1.0):
            for place, process in enumerate(self.processes):
                if process.poll() is not None and not self._stopping.is_set():
                    print(
                        f"an embedded worker ended ({process.returncode}); starting another", file=sys.stderr
                    )
                    self.processes[place] = self._started()


def _greeting(settings: Settings, host: str, port: int) -> str:
    keys = (
        "Every request needs an API key; python -m api.accounts add makes one."
        if settings.keys_required
        else "Only this machine can reach it, so no API key is needed."
    )
    database = settings.database_url.removeprefix("sqlite:///") if settings.embedded else "PostgreSQL"
    copying = "To copy all that it keeps, also while it runs: barrier-orders backup FILE."
    if settings.embedded:
        copying += " A copy of the database file alone lacks what was written last."
    shown = f"[{host}]" if ":" in host else host  # an IPv6 address (RFC 3986, section 3.2.2)
    return f"Barrier orders at http://{shown}:{port}/ with {database}. {keys} {copying}"
