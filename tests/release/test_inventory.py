"""The bill of materials and the notices name every package of the hashed lock, and nothing else."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from email.message import Message
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def inventory() -> ModuleType:
    """`.ci/inventory.py`; packages of other platforms are not downloaded, but say a text of ours."""
    spec = importlib.util.spec_from_file_location("inventory", ROOT / ".ci" / "inventory.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["inventory"] = module
    spec.loader.exec_module(module)
    module.downloaded = elsewhere
    return module


def elsewhere(package: Any) -> tuple[Message, dict[str, str]]:
    """A package of another platform as its wheel might say it; one without a licence."""
    metadata = Message()
    if package.name != "no-such-package":
        metadata["License-Expression"] = "BSD-3-Clause"
    return metadata, {f"{package.name}.dist-info/LICENSE": "its text"}


@pytest.fixture(scope="module")
def written(inventory: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], str]:
    bill, texts = inventory.write_inventory(tmp_path_factory.mktemp("inventory"))
    return json.loads(bill.read_text(encoding="utf-8")), texts.read_text(encoding="utf-8")


def test_every_package_of_the_lock_is_a_component_with_all_its_hashes(
    written: tuple[dict[str, Any], str],
) -> None:
    locked = re.findall(r"^([a-z0-9._-]+)==(\S+)", LOCK, re.MULTILINE | re.IGNORECASE)
    components = written[0]["components"]
    assert [(one["name"], one["version"]) for one in components] == locked
    hashes = [h["content"] for one in components for h in one["externalReferences"][0]["hashes"]]
    assert hashes == re.findall(r"--hash=sha256:(\w+)", LOCK)
    markers = [one["properties"][0]["value"] for one in components if "properties" in one]
    assert markers == [found.strip() for found in re.findall(r"^\S+==\S+ ; ([^\\\n]+)", LOCK, re.MULTILINE)]


def test_every_component_has_a_licence_and_its_text_stands_in_the_notices(
    written: tuple[dict[str, Any], str],
) -> None:
    bill, texts = written
    for one in bill["components"]:
        (licence,) = one["licenses"]
        named = licence["license"]["id"] if "license" in licence else licence["expression"]
        heading = f"{'=' * 80}\n{one['name']} {one['version']}: {named}\n{'=' * 80}\n\n--- "
        assert heading in texts
        assert len(texts.split(heading)[1].split("=" * 80)[0].strip()) > len("its text")
    assert "Apache License" in texts
    assert "GNU LESSER GENERAL PUBLIC LICENSE" in texts  # psycopg's


def test_what_needs_what_stays_within_the_bill(written: tuple[dict[str, Any], str]) -> None:
    bill, _ = written
    own = bill["metadata"]["component"]["bom-ref"]
    known = {own, *(one["bom-ref"] for one in bill["components"])}
    assert {one["ref"] for one in bill["dependencies"]} == known
    needed = {ref for one in bill["dependencies"] for ref in one["dependsOn"]}
    assert needed == known - {own}, "a package that nothing needs has no place in the lock"


def test_a_package_without_a_licence_or_without_its_text_stops_it(inventory: ModuleType) -> None:
    unknown = inventory.Locked("no-such-package", "1", "", ("0" * 64,))
    with pytest.raises(LookupError, match="no-such-package: '' is no SPDX licence"):
        inventory.facts_of(unknown)
    inventory.LICENCES["no-such-package"] = "MIT"
    before, inventory.downloaded = inventory.downloaded, lambda package: (Message(), {})
    with pytest.raises(LookupError, match="no-such-package has no text of its licence"):
        inventory.facts_of(unknown)
    inventory.downloaded = before
    del inventory.LICENCES["no-such-package"]


def test_a_line_of_the_lock_that_is_not_understood_stops_it(inventory: ModuleType) -> None:
    with pytest.raises(ValueError, match="belong to no package: another @ https"):
        inventory.read_lock(f"{LOCK}another @ https://example.com/another.whl\n")
