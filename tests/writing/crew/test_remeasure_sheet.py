"""The sheet to measure again with: every question by level and in walking order, with its place and room to write."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from optimiser.survey.questions import survey
from optimiser.writing.all_files import survey_files
from optimiser.writing.crew.remeasure_sheet import remeasure_pdf
from tests.builders.surveys import NOMINAL, quiet_survey, with_gap, with_gaps


def text_of(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


def test_the_questions_stand_by_level_in_walking_order_with_their_places() -> None:
    project = quiet_survey(4)
    for run, at_mm in (("L03-W", 3000), ("L01-S", 9000), ("L03-N", 4500)):
        project = with_gap(project, run, at_mm, gap_mm=NOMINAL[run[-1]] + 37)
    text = text_of(remeasure_pdf(survey(project)))
    places = [text.index(word) for word in ("Level L01: 1 question", "9000", "Level L03: 2 questions")]
    assert places == sorted(places)
    assert text.index("L03-N") < text.index("L03-W")
    assert "new reading" in text
    assert "A question is no fault" in text
    assert "fall protection" in text


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_several_readings_have_a_box_each_on_as_many_pages_as_it_takes(paper: str) -> None:
    project = quiet_survey(9)
    for level in range(1, 10):
        for side in "NESW":
            project = with_gaps(
                project, f"L{level:02d}-{side}", lambda gap: gap if gap.at_mm <= 3000 else None
            )
    asked = survey(project)
    content = remeasure_pdf(asked, paper)
    pages = PdfReader(io.BytesIO(content)).pages
    assert len(pages) > 3
    text = text_of(content)
    boxes = sum(len(question.measure_at_mm) for question in asked.questions)
    assert len(re.findall(r"\bat \d", text)) >= boxes
    assert remeasure_pdf(asked, paper) == content
    width = float(pages[0].mediabox.width)
    assert width == pytest.approx(595.28 if paper == "A4" else 612.0)


def test_a_survey_without_questions_has_a_sheet_that_says_so() -> None:
    assert "No question" in text_of(remeasure_pdf(survey(quiet_survey(1))))


def test_notes_of_the_reading_stand_on_it() -> None:
    project = quiet_survey(1).model_copy(
        update={"reading_notes": ("gaps, gap_mm: rounded up (row 2 150.5).",)}
    )
    assert "rounded up" in text_of(remeasure_pdf(survey(project)))


def test_the_csv_has_a_row_a_question() -> None:
    project = with_gap(quiet_survey(3), "L02-N", 9000, gap_mm=193)
    files = survey_files(survey(project))
    assert set(files) == {"survey.csv", "re-measure.pdf"}
    head, row = files["survey.csv"].decode().strip().split("\r\n")
    assert head.startswith("level,run,at_mm,value,rule,says")
    assert row.startswith("L02,L02-N,9000,193 mm,outlier,")
