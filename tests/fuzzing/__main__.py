"""`python -m tests.fuzzing --minutes 10 [--only workbook] [--into FOLDER] [--seed 1]`

One reader after another, each in a process of its own, guided by the coverage of `optimiser`. Each distinct failure
(by exception and place) is kept once, as the input and the traceback, and the fuzzing goes on; a run longer than
10 s, or one that takes 500 MB more, is a failure too. Leaves with 1 when anything was found.

Needs atheris, in an environment of its own: it is no dependency of this project.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import subprocess
import sys
import time
import traceback
from pathlib import Path
from tempfile import gettempdir

from tests.fuzzing.readers import READERS

LONGEST_SECONDS = 10.0
MOST_KILOBYTES = 500 * 1024


def main() -> None:
    """Fuzz every reader, or the one that --only names."""
    options = argparse.ArgumentParser(
        prog="python -m tests.fuzzing", description=(__doc__ or "").splitlines()[2]
    )
    options.add_argument("--only", choices=sorted(READERS))
    options.add_argument("--minutes", type=float, default=10.0, help="for each reader")
    options.add_argument(
        "--into", type=Path, default=Path(gettempdir()) / "fuzzing", help="corpus, failures and counts"
    )
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--in-this-process", action="store_true", help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.in_this_process:
        fuzz(given.only, given.minutes * 60, given.into / given.only, given.seed)
        return
    found = 0
    for name in [given.only] if given.only else READERS:
        ends = time.monotonic() + given.minutes * 60
        while (left := ends - time.monotonic()) > 1:  # again after a crash of the whole process
            command = [sys.executable, "-m", "tests.fuzzing", "--only", name, "--minutes", str(left / 60)]
            command += ["--into", str(given.into), "--seed", str(given.seed), "--in-this-process"]
            (given.into / name).mkdir(parents=True, exist_ok=True)
            with (given.into / name / "log.txt").open("ab") as log:
                ended = subprocess.run(command, check=False, stdout=log, stderr=log)
            if ended.returncode:
                found += 1
                print(f"{name}: the process ended with {ended.returncode}", flush=True)
        found += len(list((given.into / name / "failures").glob("*.txt")))
        print(f"{name}: {(given.into / name / 'counts.json').read_text()}", flush=True)
    sys.exit(1 if found else 0)


def fuzz(name: str, seconds: float, folder: Path, seed: int) -> None:
    """Fuzz one reader for so many seconds, with libFuzzer's seed; never returns."""
    import atheris  # type: ignore[import-not-found, import-untyped, unused-ignore]

    with atheris.instrument_imports(include=["optimiser"]):
        import optimiser.checking
        import optimiser.cutting
        import optimiser.reading.csv_folder
        import optimiser.reading.cutting_file
        import optimiser.reading.offers
        import optimiser.reading.project_file
        import optimiser.reading.purchase_order_file
        import optimiser.reading.record_file
        import optimiser.reading.scenario_rows
        import optimiser.reading.supplier_answer
        import optimiser.replanning.refit
        import optimiser.replanning.replan
        import optimiser.writing.data.plan_json
        import optimiser.writing.office.template  # noqa: F401
    reader = READERS[name]
    corpus, failures = folder / "corpus", folder / "failures"
    for one in (corpus, failures):
        one.mkdir(parents=True, exist_ok=True)
    seeds = reader.seeds()
    for number, data in enumerate(seeds):
        (corpus / f"seed-{number}").write_bytes(data)
    executions = accepted = 0
    slowest = 0.0
    distinct: dict[str, int] = {}
    told = time.monotonic()

    def tell() -> None:
        counts = {"executions": executions, "accepted": accepted, "slowest_seconds": round(slowest, 2)}
        (folder / "counts.json").write_text(json.dumps({**counts, "failures": distinct}))

    def one_input(data: bytes) -> None:
        nonlocal executions, accepted, slowest, told
        began, memory = time.monotonic(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        failed, trace = "", ""
        try:
            accepted += reader.read(data)
        except Exception as error:
            frame = traceback.extract_tb(error.__traceback__)[-1]
            cause = error.__cause__ or error.__context__
            failed = (
                f"{type(error).__name__} {Path(frame.filename).name}:{frame.lineno} {type(cause).__name__}"
            )
            failed += f" {str(error)[:40]}" if type(error).__name__ == "NotHeld" else ""
            trace = "".join(traceback.format_exception(error))
        took = time.monotonic() - began
        more = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - memory
        if not failed and took > LONGEST_SECONDS:
            failed, trace = "hang", f"took {took:.1f} s"
        if not failed and more > MOST_KILOBYTES:
            failed, trace = "memory", f"took {more >> 10} MB more"
        executions += 1
        if took > slowest:
            slowest = took
            (folder / "slowest.input").write_bytes(data)
        if failed:
            distinct[failed] = distinct.get(failed, 0) + 1
            if distinct[failed] == 1:
                kept = failures / f"{len(distinct):03d}-{seed}"
                kept.with_suffix(".input").write_bytes(data)
                kept.with_suffix(".txt").write_text(f"{failed}\n{trace}", "utf-8", "replace")
                print(f"{name}: {failed}", flush=True)
        if time.monotonic() - told > 10:
            told = time.monotonic()
            tell()

    def changed(data: bytes, most: int, chance: int) -> bytes:
        dice = random.Random(chance)
        if (
            dice.random() < 0.4
        ):  # from a sound one again: most of a corpus is refused, and so are its children
            data = dice.choice(seeds)
        new = reader.change(data, chance, lambda part: bytes(atheris.Mutate(part, max(64, len(part) + 64))))
        return new if len(new) <= most else data

    tell()
    arguments = [
        sys.argv[0], str(corpus), f"-max_total_time={int(seconds)}", f"-max_len={reader.most_bytes}", f"-seed={seed}",
        "-timeout=120", "-rss_limit_mb=4000", "-print_final_stats=1", f"-artifact_prefix={failures}/process-",
    ]  # fmt: skip
    atheris.Setup(arguments, one_input, custom_mutator=changed)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
