"""Finds Chromium for the browser tests; on Debian as root it installs what is missing, and says so."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
WHAT_TO_DO = (
    "The browser tests need Chromium, and none was found on the PATH.\n"
    "Install it (on Debian or Ubuntu: sudo apt-get install chromium), then run make test again."
)


def browser() -> str | None:
    """Where Chromium is, or None. CHROMIUM in the environment names another one."""
    named = os.environ.get("CHROMIUM")
    if named:
        return shutil.which(named)
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def main() -> int:
    """0 when there is a browser, else 1 with what to do on stderr."""
    if browser():
        return 0
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        print(WHAT_TO_DO, file=sys.stderr)
        return 1
    print("Chromium is missing: installing Debian's chromium with apt-get for the browser tests.", flush=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (
        ["apt-get", "update", "-qq"],
        ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium"],
    ):
        done = subprocess.run(command, env=environment, capture_output=True, text=True)
        if done.returncode:
            print(f"{' '.join(command)} failed:\n{done.stderr.strip()}\n{WHAT_TO_DO}", file=sys.stderr)
            return 1
    if browser() is None:
        print(WHAT_TO_DO, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
