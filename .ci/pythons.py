"""`make pythons`: for each Python here, 3.11 and newer, the locked packages in an environment of its own, the tests
that `make check` runs, and the sample tower planned; all plans must be equal.

Takes some minutes a Python; what it makes is left nowhere. `python .ci/pythons.py 3.13` tries that one alone. Beside
the commands on the path, the interpreters that pyenv keeps are found: its stand-ins there run only where chosen.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
VERSIONS = ("3.11", "3.12", "3.13", "3.14")
TESTS = ("-m", "not slow", "-q", "-p", "no:cacheprovider")
TOWER = "sample_orders/tower/tower.xlsx"


def main(versions: Sequence[str] = ()) -> int:
    """0 when every Python passes and all plan alike, else 1; `versions` are those to try, all when there is none."""
    plans: dict[str, dict[str, Any]] = {}
    failed = []
    for wanted in versions or VERSIONS:
        python = usable(f"python{wanted}")
        if python is None:
            print(f"{wanted}: not on this machine", flush=True)
            continue
        began = time.monotonic()
        with tempfile.TemporaryDirectory() as scratch:
            sources = copied(Path(scratch) / "sources")
            try:
                plans[wanted] = tried(python, sources)
            except subprocess.CalledProcessError as error:
                failed.append(wanted)
                print(f"{wanted}: {' '.join(error.cmd[:4])} ... failed\n{error.stdout}", flush=True)
                continue
        print(f"{wanted}: tests passed, tower planned, {time.monotonic() - began:.0f} s", flush=True)
    unequal = [wanted for wanted, plan in plans.items() if plan != next(iter(plans.values()))]
    if unequal:
        print(f"another plan of the tower: {', '.join(unequal)}", flush=True)
    return 1 if failed or unequal or not plans else 0


def usable(name: str) -> str | None:
    """The first interpreter of that name that runs at all, on the path or among those that pyenv keeps."""
    kept = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv") / "versions"
    folders = [*os.get_exec_path(), *sorted(map(str, kept.glob("*/bin")))]
    for path in filter(None, (shutil.which(name, path=folder) for folder in folders)):
        asked = subprocess.run(
            [path, "-c", "import sys; print(sys.executable)"], capture_output=True, text=True
        )
        if asked.returncode == 0:
            return asked.stdout.strip()
    return None


def copied(into: Path) -> Path:
    """What git knows of, in a folder of its own."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, check=True, capture_output=True)
    for name in filter(None, listed.stdout.decode().split("\0")):
        if (ROOT / name).is_file():
            (into / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, into / name)
    return into


def tried(python: str, sources: Path) -> dict[str, Any]:
    """The tower's plan, without what its clocks say, after the set-up and the tests. Raises CalledProcessError."""
    run(["make", "-s", f"PYTHON={python}", ".venv/.test-ready"], sources)
    own = str(sources / ".venv" / "bin" / "python")
    run([own, "-m", "pytest", *TESTS], sources)
    run([str(sources / ".venv" / "bin" / "barrier-orders"), "plan", TOWER, "--out", "out"], sources)
    return without_clocks(json.loads((sources / "out" / "plan.json").read_text()))


def run(command: list[str], folder: Path) -> None:
    """Runs a command, its words kept in case it fails. Raises CalledProcessError."""
    subprocess.run(
        command, cwd=folder, check=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )


def without_clocks(value: Any) -> Any:
    """A document without what took how many seconds."""
    if isinstance(value, dict):
        return {key: without_clocks(item) for key, item in value.items() if not key.endswith("seconds")}
    return [without_clocks(item) for item in value] if isinstance(value, list) else value


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
