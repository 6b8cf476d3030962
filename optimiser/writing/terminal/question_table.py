"""The questions to a survey as a table on the terminal."""

from __future__ import annotations

from pathlib import Path

from optimiser.model.question import SurveyQuestions
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.terminal.console import DECIDES, plain_table, print_list, terminal
from optimiser.writing.words import counted

MOST_ROWS = 200  # shown; all stand in survey.csv and with --json


def show_questions(survey: SurveyQuestions, folder: Path | None, files: tuple[str, ...] = ()) -> None:
    """Prints the questions on stdout by level and in walking order, with why each is asked and what to measure;
    `files` are those that were written into `folder`."""
    from rich.text import Text

    console = terminal()
    console.print(without_control_characters(survey.name or "Survey"), style="bold")
    console.print(f"{counted(len(survey.questions), 'question')} to {counted(survey.readings, 'reading')}")
    if survey.questions:
        table = plain_table("Ask and measure again")
        for heading in ("Level", "Run", "At mm", "In the survey", "Question, why, and what to measure"):
            table.add_column(heading, justify="right" if heading == "At mm" else "left")
        for question in survey.questions[:MOST_ROWS]:
            said = f"{question.says} {question.why} Measure: {question.measure}."
            cells = (question.level, question.run, str(question.at_mm), question.value, said)
            table.add_row(*(Text(without_control_characters(cell)) for cell in cells))
        console.print()
        console.print(table)
        if len(survey.questions) > MOST_ROWS:
            console.print(f"and {len(survey.questions) - MOST_ROWS:,} more, in survey.csv and with --json")
        console.print(
            "A question is no fault: the reading may be right. Whoever stands at the slab edge decides."
        )
    else:
        console.print("Nothing in this survey contradicts the rest of it. That does not make it right.")
    print_list(console, "How cells were read", survey.notes)
    console.print(
        "Limits (survey_limits) are placeholders of common practice, no source, unless the project gives its own. "
        + DECIDES
    )
    if folder is not None:
        print_list(console, "Files", [str(folder / name) for name in files])
