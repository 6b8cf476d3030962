"""Starting and stopping the service as its operator does."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.settings import Settings, UnusableSetting, is_loopback, settings_from
from tests.service.postgresql import free_port
from tests.service.running import Running, Server, environment, wait_for, wait_for_plan


def test_serve_alone_plans_with_its_embedded_worker_and_says_where_and_for_whom(
    small_project: dict[str, Any], tmp_path: Path
) -> None:
    server = Server(f"sqlite:///{tmp_path}/orders.sqlite", tmp_path / "log", afresh=True)
    said = server.log.read_text()
    assert f"http://127.0.0.1:{server.port}/" in said
    assert "no API key is needed" in said
    assert (
        "barrier-orders backup FILE. A copy of the database file alone lacks what was written last." in said
    )
    location = server.client.post("/order-schedules", json=small_project, headers={"Prefer": "respond-async"})
    assert wait_for_plan(server.client, location.headers["Location"])["status"] == "done"
    assert 'barrier_orders_jobs{kind="plan",status="done"} 1.0' in server.client.get("/metrics").text
    assert server.client.get("/readyz").json() == {"status": "ready", "database": "sqlite", "workers": 1}
    (worker,) = _children(server.process.pid, "worker()")
    os.kill(worker, signal.SIGKILL)
    wait_for(
        lambda: [w for w in _children(server.process.pid, "worker()") if w != worker] or None, 120, "another"
    )
    location = server.client.post("/order-schedules", json=small_project, headers={"Prefer": "respond-async"})
    assert wait_for_plan(server.client, location.headers["Location"])["status"] == "done"
    workers = _children(server.process.pid, "worker()")
    assert server.stop() == 0
    assert not any(Path(f"/proc/{process}").exists() for process in workers)


def test_the_embedded_workers_end_with_a_service_that_is_killed(tmp_path: Path) -> None:
    server = Server(f"sqlite:///{tmp_path}/orders.sqlite", tmp_path / "log")
    workers = wait_for(lambda: _children(server.process.pid, "worker()") or None, 120, "the worker")
    server.kill()
    wait_for(lambda: not any(_alive(process) for process in workers) or None, 120, "the worker's end")


def test_any_address_but_loopback_asks_for_keys_that_a_command_makes(
    small_project: dict[str, Any], tmp_path: Path
) -> None:
    env = environment(f"sqlite:///{tmp_path}/orders.sqlite", embedded_workers=0)
    add = [sys.executable, "-m", "api.accounts", "add", "Invented Co", "the office", "--role"]
    made = subprocess.run([*add, "issue"], env=env, capture_output=True, text=True, check=True)
    port = free_port()
    server = Running(
        f"from api.serving import serve; serve('0.0.0.0', {port})", tmp_path / "log", env, afresh=True
    )
    server.started("needs an API key")
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=30) as client:
        wait_for(lambda: _answers(client), 120, "the server")
        assert client.get("/projects").status_code == 401
        client.headers["Authorization"] = f"Bearer {made.stdout.strip()}"
        assert client.post("/order-schedules", json=small_project).status_code == 200
        assert client.get("/projects").json()["items"][0]["created_by"].startswith("the office")
    assert server.stop() == 0


def test_a_key_with_an_unknown_role_is_refused(tmp_path: Path) -> None:
    env = environment(f"sqlite:///{tmp_path}/orders.sqlite")
    add = [sys.executable, "-m", "api.accounts", "add", "Invented Co", "the office", "--role"]
    made = subprocess.run([*add, "owner"], env=env, capture_output=True, text=True)
    assert (made.returncode, made.stdout) == (2, "")
    assert all(role in made.stderr for role in ("read", "plan", "issue"))


@pytest.mark.parametrize(
    ("variables", "words"),
    [
        ({"DATABASE_URL": "mysql://x"}, "sqlite:///FILE"),
        ({"DATABASE_URL": "sqlite://"}, "sqlite:///FILE"),
        ({"BARRIER_ORDERS_JOB_SECONDS": "long"}, "give a number"),
        ({"BARRIER_ORDERS_JOB_SECONDS": "-1"}, "not negative"),
        ({"BARRIER_ORDERS_KEYS_REQUIRED": "maybe"}, "true or false"),
        ({"BARRIER_ORDERS_POLL_SECONDS": "nan"}, "not negative"),
        ({"BARRIER_ORDERS_POLL_SECONDS": "inf"}, "not negative"),
        ({"BARRIER_ORDERS_BASE_ADDRESS": "orders.example"}, "https://orders.example"),
        ({"BARRIER_ORDERS_BASE_ADDRESS": "https://[orders.example"}, "https://orders.example"),
        (
            {"BARRIER_ORDERS_LOG_LEVEL": "loud"},
            "LOG_LEVEL is 'loud': give one of debug, info, warning, error",
        ),
    ],
)
def test_an_unusable_setting_is_named_with_its_mend(variables: dict[str, str], words: str) -> None:
    with pytest.raises(UnusableSetting, match=words):
        settings_from({"HOME": "/nowhere", **variables})


def test_settings_come_from_the_environment(tmp_path: Path) -> None:
    found = settings_from({"XDG_STATE_HOME": str(tmp_path), "BARRIER_ORDERS_POLL_SECONDS": "0.5"})
    assert found.database_url == f"sqlite:///{tmp_path}/barrier-orders/barrier-orders.sqlite"
    assert found.poll_seconds == 0.5
    assert found.job_seconds == Settings().job_seconds
    found = settings_from({"DATABASE_URL": "postgres://me@db/orders", "BARRIER_ORDERS_KEYS_REQUIRED": "yes"})
    assert found.database_url == "postgresql+psycopg://me@db/orders"
    assert found.keys_required
    assert not found.embedded
    assert [is_loopback(host) for host in ("127.0.0.1", "localhost", "::1", "0.0.0.0", "10.0.0.1", "db")] == [
        *[True] * 3,
        *[False] * 3,
    ]


def _answers(client: httpx.Client) -> bool | None:
    try:
        return client.get("/healthz").status_code == 200 or None
    except httpx.TransportError:
        return None


def _children(process: int, words: str) -> list[int]:
    """A process's children whose command line has these words."""
    return [
        int(child)
        for task in Path(f"/proc/{process}/task").iterdir()
        for child in (task / "children").read_text().split()
        if words in Path(f"/proc/{child}/cmdline").read_text()
    ]


def _alive(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False
