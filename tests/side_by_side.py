"""All tests, in several pytest processes side by side: `python -m tests.side_by_side [pytest's options]`.

The tests of the service wait more than they compute, so they run beside those that compute; each running service
exists once. What a process prints is shown when it ends, its last words every minute. A process that takes too
long is made to show where each of its threads is, and ends; the whole then fails.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SERVICE, PAGES = "tests/service", "tests/pages"
PARTS = {
    "the service on PostgreSQL": (SERVICE, "-k", "postgresql"),
    "the service on SQLite": (SERVICE, "-k", "not postgresql"),
    "the pages": (PAGES,),
    "commands, kernels and papers": ("tests/commands", "tests/kernels", "tests/writing", "tests/reading"),
    "all else": (
        "tests",
        *(
            f"--ignore={folder}"
            for folder in (
                SERVICE,
                PAGES,
                "tests/commands",
                "tests/kernels",
                "tests/writing",
                "tests/reading",
            )
        ),
    ),
}
MOST_SECONDS = 70 * 60
TOLD_EVERY_SECONDS = 60


class Part:
    """A pytest process, what it prints, and when it ended."""

    def __init__(self, name: str, chosen: tuple[str, ...], options: list[str], folder: Path) -> None:
        self.name, self.file = name, folder / f"{name}.txt"
        self.started, self.ended = time.monotonic(), False
        with self.file.open("wb") as file:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *chosen, *options],
                stdout=file,
                stderr=subprocess.STDOUT,
                stdin=subprocess.DEVNULL,
            )

    def show_if_ended(self) -> bool:
        """Shows all that it printed, once, and whether it has ended."""
        if not self.ended and self.process.poll() is not None:
            self.ended = True
            seconds = time.monotonic() - self.started
            print(f"\n== {self.name}: exit code {self.process.returncode} after {seconds:.0f} s", flush=True)
            print(self.file.read_text(errors="replace"), flush=True)
        return self.ended

    def end(self) -> None:
        """Has it say where it is (pytest's fault handler answers to SIGABRT), and ends it."""
        self.process.send_signal(signal.SIGABRT)
        try:
            self.process.wait(30)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def last_words(self) -> str:
        """The end of what it has printed so far."""
        lines = self.file.read_text(errors="replace").splitlines() or [""]
        return f"{self.name}: {len(lines)} lines, {lines[-1][-80:]}"


def main(options: list[str]) -> int:
    """0 when every part passed, else 1."""
    with tempfile.TemporaryDirectory(prefix="tests-side-by-side-") as folder:
        parts = [Part(name, chosen, options, Path(folder)) for name, chosen in PARTS.items()]
        began = told = time.monotonic()
        while running := [part for part in parts if not part.show_if_ended()]:
            time.sleep(0.2)
            now = time.monotonic()
            if now - told > TOLD_EVERY_SECONDS:
                told = now
                print(f"after {now - began:.0f} s:", flush=True)
                for part in running:
                    print(f"  {part.last_words()}", flush=True)
            if now - began > MOST_SECONDS:
                for part in running:
                    part.end()
    failed = [part.name for part in parts if part.process.returncode != 0]
    seconds = time.monotonic() - began
    print(f"{'FAILED: ' + '; '.join(failed) if failed else 'all tests passed'}, in {seconds:.0f} s")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
