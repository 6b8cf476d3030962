"""The command `barrier-orders`: finds its commands, turns every failure into plain words and an exit code.

Exit codes: 0 done; 1 a rule is broken or the job cannot be done; 2 unusable input or wrong options; 130
stopped with Ctrl-C, 143 by a signal to end (SIGTERM). Errors go to stderr, all of them at once, never a traceback.
"""

from __future__ import annotations

import errno
import importlib
import os
import signal
import sys
import threading
from collections.abc import Sequence

import typer

from optimiser.commands.options import each_level_with_its_option

# The modules of `optimiser/commands` that hold a command, in the order in which help shows them.
COMMANDS = (
    "plan",
    "cut",
    "check",
    "gaps",
    "allowance",
    "stagings",
    "scenarios",
    "precut",
    "refit",
    "replan",
    "answer",
    "prices",
    "suppliers",
    "survey",
    "template",
    "serve",
    "worker",
    "verify",
    "backup",
    "restore",
    "export",
    "erase",
    "retention",
    "help",
)

EXIT_STATUS = {
    0: "done",
    1: "a rule is broken or the job cannot be done",
    2: "unusable input or wrong options",
    130: "stopped with Ctrl-C",
    143: "stopped by a signal to end (SIGTERM)",
}
EXIT_CODES = f"Exit codes: {'; '.join(f'{code} {means}' for code, means in EXIT_STATUS.items())}."

app = typer.Typer(
    name="barrier-orders",
    help="Plans, cuts and orders the material of perimeter cavity barriers, level by level."
    " The tested detail, local code and a licensed practitioner decide.",
    epilog=EXIT_CODES,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _show_version(wanted: bool) -> None:
    if wanted:
        from optimiser.commands.inside import what_is_inside

        typer.echo("\n".join(what_is_inside()))
        raise typer.Exit


@app.callback()
def _options(
    version: bool = typer.Option(
        False,
        "--version",
        callback=_show_version,
        is_eager=True,
        help="Show the version, what is inside, and leave.",
    ),
) -> None:
    pass


def _register() -> None:
    for name in COMMANDS:
        module = importlib.import_module(f"optimiser.commands.{name}")
        app.command(name, epilog=EXIT_CODES)(getattr(module, name))


_register()


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs the command line and leaves with its exit code."""
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Runs the command line with `arguments` (the process's own when None) and returns the exit code."""
    for stream in (sys.stdout, sys.stderr):  # a letter that the terminal lacks is no reason to fail
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    _end_tidily_when_told()
    try:
        try:
            words = sys.argv[1:] if arguments is None else arguments
            app(args=each_level_with_its_option(words), prog_name="barrier-orders")
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else int(bool(left.code))
        else:
            code = 0
        sys.stdout.flush()  # a full disk or a closed pipe shows here, not when the interpreter shuts down
    except BrokenPipeError:
        _silence(sys.stdout)
        return 1
    except KeyboardInterrupt:
        code = 130
    except Exception as failure:
        lines, code = _in_plain_words(failure)
        _complain(lines)
        if isinstance(failure, OSError):
            _silence(sys.stdout)
        return code
    if code in (130, 143):
        _complain(["stopped; nothing was written"])
    return code


def _end_tidily_when_told() -> None:
    """SIGTERM unwinds like Ctrl-C, so that nothing half-written is left; the service sets its own handlers."""

    def leave(number: int, frame: object) -> None:
        raise SystemExit(128 + number)

    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, leave)


def _in_plain_words(failure: Exception) -> tuple[Sequence[str], int]:
    """What to print for a failure, and the exit code."""
    from optimiser.errors.problems import CannotBeDone, UnusableInput

    if isinstance(failure, UnusableInput):
        return (failure.heading, *failure.lines(), *getattr(failure, "__notes__", ())), 2
    if isinstance(failure, CannotBeDone):
        return failure.reasons, 1
    if isinstance(failure, OSError):
        where = f"{failure.filename}: " if failure.filename else "the output: "
        mend = {
            errno.ENOSPC: "free some space, or choose another folder with --out",
            errno.ENOENT: "choose a folder that there is, or can be made, with --out",
            errno.EACCES: "choose a folder that you may write to with --out",
            errno.EROFS: "choose a folder that you may write to with --out",
            errno.ENOTDIR: "choose a folder, not a file, with --out",
            errno.EEXIST: "choose a folder, not a file, with --out",
        }.get(failure.errno or 0, "")
        words = failure.strerror or str(failure) or type(failure).__name__
        return [f"{where}{words}" + (f"; {mend}" if mend and failure.filename else "")], 1
    if isinstance(failure, MemoryError):
        return ["the job needs more memory than there is; plan fewer levels at once"], 1
    if os.environ.get("BARRIER_ORDERS_TRACEBACK"):
        import traceback

        traceback.print_exception(failure)
    return [
        f"a fault of this program, not of your input: {type(failure).__name__}: {failure}".rstrip(": "),
        "nothing was written; run again with BARRIER_ORDERS_TRACEBACK=1 and report what it shows",
    ], 1


def _complain(lines: Sequence[str]) -> None:
    try:
        for line in lines:
            print(line, file=sys.stderr)
        sys.stderr.flush()
    except OSError:
        _silence(sys.stderr)


def _silence(stream: object) -> None:
    """Sends what is still buffered nowhere, so that the interpreter's own flush at exit cannot fail."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())  # type: ignore[attr-defined]
    except (OSError, ValueError, AttributeError):
        pass
