"""`barrier-orders survey`: what to ask of a survey before anybody believes it, and a sheet to measure again with."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from optimiser.commands.options import Marked, ProjectFile, read_or_mark


def survey(
    project: ProjectFile,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where the files go; 'out' when not given.")
    ] = None,
    paper: Annotated[
        Literal["A4", "Letter"],
        typer.Option(case_sensitive=False, help="The paper of the sheet to measure again with."),
    ] = "A4",
    marked: Marked = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print the questions as JSON; write files only with --out.")
    ] = False,
) -> None:
    """Question a survey: which readings to take again, and why.

    Readings too far apart or that their neighbours contradict, digits swapped, mullions missing, lengths that do not
    agree, steps between runs, readings too old. Writes survey.csv and re-measure.pdf.
    """
    from contextlib import nullcontext

    from optimiser.survey.questions import survey as questioning
    from optimiser.writing.all_files import survey_files
    from optimiser.writing.data.plan_json import rows_on_lines
    from optimiser.writing.file_names import SURVEY_FILES
    from optimiser.writing.whole_folder import all_or_nothing

    asked = questioning(read_or_mark(project, marked))
    folder = out or (None if json else Path("out"))
    with all_or_nothing(folder) if folder else nullcontext() as unfinished:
        if unfinished is not None:
            for name, content in survey_files(asked, paper).items():
                (unfinished / name).write_bytes(content)
    if json:
        typer.echo((rows_on_lines(asked.as_json()) + "\n").encode(), nl=False)
    else:
        from optimiser.writing.terminal.question_table import show_questions

        show_questions(asked, folder, SURVEY_FILES)
