"""Runs one command and writes its wall seconds and peak of memory: `python launcher.py REPORT.json COMMAND ...`.

A process of its own, and a small one, because Linux counts the memory of whoever starts a command as the command's
own peak. Only the standard library is imported.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
from time import perf_counter


def main(report: str, command: list[str]) -> int:
    """Writes {"seconds", "megabytes"} to `report` and returns the command's exit code."""
    started = perf_counter()
    code = subprocess.call(command)
    seconds = perf_counter() - started
    megabytes = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1000
    with open(report, "w", encoding="utf-8") as file:
        json.dump({"seconds": seconds, "megabytes": megabytes}, file)
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2:]))
