"""Which tests call which functions of a folder, and how long each takes: a pytest plugin that notes it.

Functions are told by calls alone, not by lines, which costs little. What a cached builder computes is noted for the
first test that asks for it; `trying` therefore ends with the whole files of the tests that it knows.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType

import pytest


class Noting:
    """The plugin: `called` per test, as `module.py:Class.method`; `seconds` of CPU per test."""

    def __init__(self, folder: Path, into: Path) -> None:
        self.folder, self.into = str(folder.resolve()) + "/", into
        self.called: dict[str, list[str]] = {}
        self.seconds: dict[str, float] = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        codes: set[CodeType] = set()

        def note(frame: FrameType, event: str, argument: object) -> None:
            codes.add(frame.f_code)

        began = time.process_time()
        sys.settrace(note)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            self.seconds[item.nodeid] = round(time.process_time() - began, 2)
            self.called[item.nodeid] = sorted(
                {
                    f"{code.co_filename.removeprefix(self.folder)}:{code.co_qualname.split('.<locals>')[0]}"
                    for code in codes
                    if code.co_filename.startswith(self.folder)
                }
            )

    def pytest_sessionfinish(self) -> None:
        self.into.write_text(json.dumps({"called": self.called, "seconds": self.seconds}))
