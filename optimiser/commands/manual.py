"""The manual: a page for the command line and one for each command, made from the same words as `--help`.

Pages are written in the macros of man(7), section 1, as `man`, groff and mandoc read them. They hold no date, so that
equal words give equal pages.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib.metadata import version
from typing import Any

import typer

NAME = "barrier-orders"


def manual_pages() -> Mapping[str, str]:
    """The pages by the names of their files: `barrier-orders.1`, then `barrier-orders-plan.1` and so on."""
    from optimiser.commands.main import app

    top = typer.main.get_command(app)
    commands: dict[str, Any] = top.commands  # type: ignore[attr-defined]
    above = typer.Context(top, info_name=NAME, **top.context_settings)
    pages = {f"{NAME}.1": _page(above, commands)}
    for name, command in commands.items():
        context = typer.Context(command, info_name=name, parent=above, **command.context_settings)
        pages[f"{NAME}-{name}.1"] = _page(context, {})
    return pages


def _page(context: typer.Context, commands: Mapping[str, Any]) -> str:
    """The page of a context's command; `commands` are what stands under it."""
    from optimiser.commands.main import EXIT_STATUS

    command, called = context.command, context.command_path
    title = called.replace(" ", "-")
    first, *further = _paragraphs(command.help or "")
    lines = [
        f'.TH "{_text(title.upper())}" 1 "" "{_text(f"{NAME} {_version()}")}" "{_text(NAME)}"',
        ".nh",  # no hyphens in words, ragged right: names of options and files stay whole
        ".ad l",
        ".SH NAME",
        f"{_text(title)} \\- {_text(_in_short(first))}",
        ".SH SYNOPSIS",
        f".B {_text(called)}",
        _line(" ".join(command.collect_usage_pieces(context))),
        ".SH DESCRIPTION",
        _line(first),
    ]
    for paragraph in further:
        lines += [".PP", _line(paragraph)]
    arguments, options = _parameters(command, context)
    for heading, rows in (("ARGUMENTS", arguments), ("OPTIONS", options)):
        lines += [f".SH {heading}"] if rows else []
        for named, says in rows:
            lines += [".TP", f".B {_text(named)}", _line(says)]
    lines += [".SH COMMANDS"] if commands else []
    for name, each in commands.items():
        lines += [".TP", f".BR {_text(f'{NAME}-{name}')} (1)", _line(_paragraphs(each.help or "")[0])]
    lines += [".SH EXIT STATUS"]
    for code, means in EXIT_STATUS.items():
        lines += [".TP", f".B {code}", _line(means)]
    if not commands:
        lines += [".SH SEE ALSO", f".BR {_text(NAME)} (1)"]
    return "\n".join(lines) + "\n"


def _parameters(command: Any, context: typer.Context) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """The arguments and the options as help shows them: how each is written, and what it says."""
    rows: tuple[list[tuple[str, str]], list[tuple[str, str]]] = ([], [])
    for parameter in command.get_params(context):
        if (shown := parameter.get_help_record(context)) is not None:
            rows[parameter.param_type_name == "option"].append((shown[0], " ".join(shown[1].split())))
    return rows


def _paragraphs(text: str) -> list[str]:
    return [" ".join(part.split()) for part in text.split("\n\n") if part.strip()]


def _in_short(paragraph: str) -> str:
    """The first sentence without its full stop."""
    return paragraph.partition(". ")[0].removesuffix(".")


def _version() -> str:
    return version(NAME)


def _line(text: str) -> str:
    """A line of text: one that begins like a request is kept from being one."""
    escaped = _text(text)
    return f"\\&{escaped}" if escaped[:1] in (".", "'") else escaped


def _text(text: str) -> str:
    """What roff takes as these very characters: a bare '-' would be printed as a hyphen, and could not be copied."""
    return "".join(_characters(text))


def _characters(text: str) -> Iterator[str]:
    for character in text:
        if character == "\\":
            yield "\\e"
        elif character in ESCAPES:
            yield ESCAPES[character]
        else:
            yield character if ord(character) < 128 else f"\\[u{ord(character):04X}]"


# groff_char(7): characters that roff would set as typographic ones
ESCAPES = {"-": "\\-", "'": "\\(aq", "`": "\\(ga", '"': "\\(dq", "^": "\\(ha", "~": "\\(ti"}
