"""The service is an extra: where it is not installed, its commands say how to install it."""

from __future__ import annotations

import subprocess
import sys

import pytest

from optimiser.commands.service_entry import service_entry
from optimiser.errors.problems import CannotBeDone


def test_a_service_that_is_not_there_says_how_to_install_it() -> None:
    with pytest.raises(CannotBeDone, match=r"install `barrier-orders\[service\]`"):
        service_entry("no such entry")


@pytest.mark.slow
def test_without_the_extra_serve_says_so_in_plain_words() -> None:
    # a bare install has no web server: here its import is refused
    code = (
        "import sys; sys.modules['uvicorn'] = None; from optimiser.commands.main import main; main(['serve'])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert told.returncode == 1
    assert "barrier-orders[service]" in told.stderr
    assert "Traceback" not in told.stderr


@pytest.mark.parametrize("system", ["win32", "darwin"])
def test_the_service_says_that_it_needs_linux(system: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", system)
    with pytest.raises(CannotBeDone, match="'serve' needs Linux"):
        service_entry("serve")
