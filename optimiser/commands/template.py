"""`barrier-orders template`: an empty workbook to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def template(
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx", help="Where the workbook goes.")],
) -> None:
    """Write an empty workbook to fill in.

    It has all headings with their units, drop-downs and notes.
    """
    from optimiser.writing.office.template import write_template

    write_template(file)
    typer.echo(f"{file}: fill in the sheets, then run barrier-orders plan {file}")
