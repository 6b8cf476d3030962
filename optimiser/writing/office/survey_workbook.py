"""A survey as the workbook that it can be read from again: the empty workbook with its cells filled in."""

from __future__ import annotations

from optimiser.model.project import Project
from optimiser.writing.office.survey_sheets import survey_sheets
from optimiser.writing.office.template import survey_book


def survey_workbook(project: Project) -> bytes:
    """A project as an .xlsx with headings, notes and drop-downs: reading it gives the project again.

    Equal projects give equal bytes. Not kept are `name`s of stock, which only a plan of a job's rest has.
    """
    return survey_book(survey_sheets(project))
