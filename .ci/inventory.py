"""`make sbom`: what a release is made of, from the hashed lock, into `dist/`.

`barrier-orders-VERSION.cdx.json` is a bill of materials (CycloneDX 1.6, https://cyclonedx.org/docs/1.6/json/): every
package that `requirements.lock` names for any platform and Python, with its version, licence, marker, what it needs and
the SHA-256 of each file that may be installed. `NOTICES.txt` holds the licences' texts, package by package. Equal
commits and equal environments give equal files. Licences are what the packages themselves say; one that says none, or
not by its SPDX name, is named below, and a package without a licence or without a text stops the making.
"""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
import tempfile
import tomllib
import uuid
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import Message
from email.parser import BytesParser
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "requirements.lock"
# By SPDX (https://spdx.org/licenses/), read from the packages' own licence files
LICENCES = {
    "colorama": "BSD-3-Clause",
    "httpx2-jsfetch": "BSD-3-Clause",
    "jinja2": "BSD-3-Clause",
    "markdown-it-py": "MIT",
    "mdurl": "MIT",
    "ortools": "Apache-2.0",
    "protobuf": "BSD-3-Clause",
    "python-dateutil": "Apache-2.0 OR BSD-3-Clause",
    "reportlab": "BSD-3-Clause",
    "segno": "BSD-3-Clause",
    "shellingham": "ISC",
}
_ENTRY = re.compile(
    r"^([A-Za-z0-9._-]+)==([^\s;\\]+)(?: ; ([^\\\n]+?))? \\\n((?:    --hash=\S+(?: \\)?\n?)+)", re.MULTILINE
)
_TEXT = re.compile(r"(licen[sc]e|copying|notice)", re.IGNORECASE)
_SPDX = re.compile(r"[A-Za-z0-9.+-]+(?: (?:AND|OR|WITH) [A-Za-z0-9.+-]+)*")


@dataclass(frozen=True)
class Locked:
    """A package as the lock has it; `marker` says where it is installed ('' everywhere)."""

    name: str
    version: str
    marker: str
    hashes: tuple[str, ...]

    @property
    def reference(self) -> str:
        """Its package URL (https://github.com/package-url/purl-spec)."""
        return f"pkg:pypi/{self.name}@{self.version}"


@dataclass(frozen=True)
class Facts:
    """What a package says of itself; `needs` as it writes it, extras and markers included."""

    licence: str
    needs: tuple[Requirement, ...]
    texts: dict[str, str]


def main() -> int:
    """Writes both files into `dist/`."""
    folder = ROOT / "dist"
    folder.mkdir(exist_ok=True)
    for path in write_inventory(folder):
        print(f"{path.relative_to(ROOT)}  {path.stat().st_size / 1024:.0f} kB")
    return 0


def write_inventory(folder: Path) -> tuple[Path, Path]:
    """Writes the bill of materials and the notices. Raises LookupError for a package without a licence or its text."""
    locked = read_lock(LOCK.read_text(encoding="utf-8"))
    facts = {one: facts_of(one) for one in locked}
    version = _project()["version"]
    bill, texts = folder / f"barrier-orders-{version}.cdx.json", folder / "NOTICES.txt"
    bill.write_text(json.dumps(bill_of_materials(facts, version), indent=1) + "\n", encoding="utf-8")
    texts.write_text(notices(facts), encoding="utf-8", newline="\n")
    return bill, texts


def read_lock(text: str) -> list[Locked]:
    """The packages of a lock, in its order. Raises ValueError where a line of it belongs to none."""
    found = [
        Locked(name, version, marker.strip(), tuple(re.findall(r"--hash=sha256:([0-9a-f]{64})", hashes)))
        for name, version, marker, hashes in _ENTRY.findall(text)
    ]
    left = _ENTRY.sub("", text).strip()
    if left:
        raise ValueError(f"these lines of the lock belong to no package: {left[:200]}")
    return found


def facts_of(package: Locked) -> Facts:
    """What an installed package says of itself; one that is not installed here is read from its wheel."""
    try:
        installed = distribution(package.name)
    except PackageNotFoundError:
        metadata, files = downloaded(package)
    else:
        metadata = installed.metadata
        files = {
            str(file): file.read_text(encoding="utf-8")
            for file in installed.files or ()
            if _is_licence(str(file)) and file.locate().is_file()
        }
    licence = (
        LICENCES.get(package.name) or metadata.get("License-Expression") or metadata.get("License") or ""
    )
    if not _SPDX.fullmatch(licence):
        raise LookupError(
            f"{package.name}: {licence!r} is no SPDX licence; look at it, and name it in LICENCES"
        )
    texts = {name.rpartition("dist-info/")[2]: text for name, text in sorted(files.items())}
    if not texts:
        raise LookupError(f"{package.name} has no text of its licence")
    return Facts(licence, tuple(map(Requirement, metadata.get_all("Requires-Dist") or ())), texts)


def downloaded(package: Locked) -> tuple[Message, dict[str, str]]:
    """The metadata and the licences in a package's wheel, which is downloaded and compared with the lock's hashes."""
    with tempfile.TemporaryDirectory() as scratch:
        wanted = Path(scratch) / "wanted.txt"
        hashes = " ".join(f"--hash=sha256:{one}" for one in package.hashes)
        wanted.write_text(f"{package.name}=={package.version} {hashes}\n")
        command = [
            sys.executable,
            "-m",
            "pip",
            "download",
            "--quiet",
            "--disable-pip-version-check",
            "--no-deps",
            "--ignore-requires-python",  # it is read, not installed
        ]
        options = [
            "--ignore-requires-python",
            "--only-binary=:all:",
            "--require-hashes",
            "-r",
            str(wanted),
            "-d",
            scratch,
        ]
        subprocess.run([*command, *options], check=True)
        with zipfile.ZipFile(next(Path(scratch).glob("*.whl"))) as wheel:
            name = next(one for one in wheel.namelist() if one.endswith(".dist-info/METADATA"))
            metadata = BytesParser().parsebytes(wheel.read(name))
            files = {one: wheel.read(one).decode() for one in wheel.namelist() if _is_licence(one)}
    return metadata, files


def bill_of_materials(facts: dict[Locked, Facts], version: str) -> dict[str, Any]:
    """The bill as CycloneDX has it; its serial number follows from what it names."""
    root = f"pkg:pypi/barrier-orders@{version}"
    components = [_component(package, said) for package, said in facts.items()]
    needs = _needs(facts)
    named = hashlib.sha256(json.dumps([version, components], sort_keys=True).encode()).hexdigest()
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, named)}",
        "version": 1,
        "metadata": {
            "timestamp": _last_commit(),
            "component": {
                "type": "application",
                "bom-ref": root,
                "name": "barrier-orders",
                "version": version,
                "licenses": [{"license": {"id": "MIT"}}],
                "purl": root,
            },
        },
        "components": components,
        "dependencies": [
            {"ref": root, "dependsOn": needs[""]},
            *({"ref": package.reference, "dependsOn": needs[package.reference]} for package in facts),
        ],
    }


def notices(facts: dict[Locked, Facts]) -> str:
    """The licences' texts, package by package."""
    parts = [
        "barrier-orders is used with these packages. Each stands under its own licence, whose text follows.\n"
    ]
    for package, said in facts.items():
        parts.append(f"{'=' * 80}\n{package.name} {package.version}: {said.licence}\n{'=' * 80}\n")
        parts += [f"--- {name}\n{text.strip()}\n" for name, text in said.texts.items()]
    return "\n".join(line.rstrip() for line in "\n".join(parts).splitlines()) + "\n"


def _component(package: Locked, said: Facts) -> dict[str, Any]:
    one = " " not in said.licence
    component: dict[str, Any] = {
        "type": "library",
        "bom-ref": package.reference,
        "name": package.name,
        "version": package.version,
        "licenses": [{"license": {"id": said.licence}}] if one else [{"expression": said.licence}],
        "purl": package.reference,
        "externalReferences": [
            {
                "type": "distribution",
                "url": f"https://pypi.org/project/{package.name}/{package.version}/",
                "comment": "the SHA-256 of each file that may be installed",
                "hashes": [{"alg": "SHA-256", "content": digest} for digest in package.hashes],
            }
        ],
    }
    if package.marker:
        component["properties"] = [{"name": "python:marker", "value": package.marker}]
    return component


def _is_licence(name: str) -> bool:
    folder, _, file = name.rpartition("/")
    if ".dist-info" not in folder or file.endswith((".py", ".pyc")):
        return False
    return "licenses" in folder or _TEXT.search(file) is not None


def _needs(facts: dict[Locked, Facts]) -> dict[str, list[str]]:
    """By a package's reference those of what it needs, with the extras that anybody asks it for; ours under ''."""
    project = _project()
    extras = project["optional-dependencies"]
    ours = tuple(map(Requirement, [*project["dependencies"], *extras["service"], *extras["build"]]))
    asked: dict[str, set[str]] = {}
    for requirement in (*ours, *(one for said in facts.values() for one in said.needs)):
        asked.setdefault(canonicalize_name(requirement.name), set()).update(requirement.extras)

    def references(wanted: Iterable[Requirement], extras: set[str]) -> list[str]:
        names = {
            canonicalize_name(one.name)
            for one in wanted
            if not (found := re.findall(r"extra == .(\w+).", str(one.marker or ""))) or extras & {*found}
        }
        return sorted(package.reference for package in facts if package.name in names)

    found = {
        package.reference: references(said.needs, asked.get(package.name, set()))
        for package, said in facts.items()
    }
    return {"": references(ours, set()), **found}


def _project() -> dict[str, Any]:
    found: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return found


def _last_commit() -> str:
    told = subprocess.run(
        ["git", "log", "-1", "--format=%ct"], cwd=ROOT, check=True, capture_output=True, text=True
    )
    return datetime.fromtimestamp(int(told.stdout), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


if __name__ == "__main__":
    sys.exit(main())
