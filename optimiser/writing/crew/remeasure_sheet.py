"""`re-measure.pdf`: the questions to a survey, to print and take to the slab edge, by level and in walking order.

Each question has its place from the run's start, what stands in the survey, why it is asked, what to measure, and
room to write the new reading. Printed in black on A4 or Letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

from optimiser.model.question import Question, SurveyQuestions
from optimiser.writing.drawing.pdf_file import Frame, pdf_of
from optimiser.writing.drawing.pdf_pages import Pages
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import Label, Line, rectangle, wrapped
from optimiser.writing.words import counted

DECIDES = (
    "A question is no fault: the reading may be right. Whoever stands at the slab edge decides; the tested detail,"
    " local code and a licensed practitioner decide what may be built."
)
_CAUTION = "Edge: fall protection, exclusion zone below. Measure square to the slab edge, to the millimetre."
_SIZE = 9.0
_LEADING = _SIZE * 1.25
_LEAST_HEIGHT = 46.0  # points: room to write by hand
_PLACE_HEIGHT = 34.0  # points: a position and the box below it
_A_LINE = 8  # boxes side by side
_MOST_PLACES = 80  # of one question that have a box


class _Part(NamedTuple):
    """A column of the sheet: its heading and its share of the width."""

    heading: str
    share: float


_PARTS = (
    _Part("run", 0.1),
    _Part("mm from start", 0.085),
    _Part("in the survey", 0.105),
    _Part("question, and why", 0.34),
    _Part("measure again", 0.15),
    _Part("new reading, mm", 0.15),
    _Part("who, when", 0.07),
)


def remeasure_pdf(survey: SurveyQuestions, paper: str = "A4") -> bytes:
    """The sheet as a PDF; equal questions give equal bytes. Raises ValueError for a paper other than A4 and Letter."""
    pages = Pages(paper)
    name = printable(survey.name) or "Project without a name"
    pages.new_page("Measure again")
    pages.words(
        f"{counted(len(survey.questions), 'question')} to {counted(survey.readings, 'reading')}. All lengths are in"
        " millimetres, positions from the run's start.",
        10,
        bold=True,
    )
    pages.words(DECIDES, 9.5)
    pages.words(
        "Write what is there now, also where it is as before; copy it into the survey and plan again. The limits from"
        " which is asked are placeholders (common practice, no source) unless the project gives its own"
        " (survey_limits).",
        9.5,
        after=6,
    )
    if not survey.questions:
        pages.words("No question: nothing in this survey contradicts the rest of it.", 10)
    for level, asked in groupby(survey.questions, key=lambda question: question.level):
        _level(pages, printable(level), list(asked))
    if survey.notes:
        pages.heading("How cells of the survey were read")
        for note in survey.notes:
            pages.words(f"•  {printable(note)}", 9.5, after=1.5)
    frame = Frame(
        title=f"Measure again: {name}",
        project=name,
        reference="Re-measure sheet",
        caution=_CAUTION,
        subject=DECIDES,
    )
    return pdf_of(frame, [pages])


def _level(pages: Pages, level: str, asked: Sequence[Question]) -> None:
    pages.heading(f"Level {level}: {counted(len(asked), 'question')}", 12, keep_with=110)
    pages.bookmark(f"Level {level}")
    _head(pages)
    for question in asked:
        cells = _cells(pages, question)
        height = max(_LEAST_HEIGHT, max(len(cell) for cell in cells) * _LEADING + 6)
        if pages.room < height:
            pages.new_page(f"Measure again: level {level}")
            _head(pages)
        several = len(question.measure_at_mm) > 1
        _row(pages, cells, height, not several)
        if several:
            _places(pages, question.measure_at_mm[:_MOST_PLACES], f"Measure again: level {level}")
        pages.add(Line(pages.left, pages.y, pages.right, pages.y, "rule"))
    pages.section = "Measure again"
    pages.y -= 6


def _cells(pages: Pages, question: Question) -> list[list[str]]:
    texts = (
        question.run,
        str(question.at_mm),
        question.value,
        f"{question.says} {question.why}",
        question.measure,
        "",
        "",
    )
    return [
        wrapped(printable(text), part.share * pages.content_width - 6, _SIZE) if text else []
        for part, text in zip(_PARTS, texts, strict=True)
    ]


def _head(pages: Pages) -> None:
    cells = [wrapped(part.heading, part.share * pages.content_width - 6, _SIZE, True) for part in _PARTS]
    height = max(len(cell) for cell in cells) * _LEADING + 4
    pages.need(height + _LEAST_HEIGHT)
    pages.add(rectangle(pages.left, pages.y - height, pages.content_width, height, "band"))
    _words(pages, cells, True)
    pages.y -= height
    pages.add(Line(pages.left, pages.y, pages.right, pages.y, "facade"))


def _words(pages: Pages, cells: Sequence[Sequence[str]], bold: bool) -> None:
    x = pages.left
    for part, lines in zip(_PARTS, cells, strict=True):
        for place, line in enumerate(lines):
            baseline = pages.y - 2 - (place + 1) * _LEADING + _SIZE * 0.3
            pages.add(Label(x + 3, baseline, line, _SIZE, "start", bold or part.heading == "mm from start"))
        x += part.share * pages.content_width


def _row(pages: Pages, cells: Sequence[Sequence[str]], height: float, one_reading: bool) -> None:
    """A question's words, a box for who and when and, where one reading is asked for, one for it."""
    _words(pages, cells, False)
    x = pages.left
    for part in _PARTS:
        wide = part.share * pages.content_width
        if part.heading == "who, when" or (part.heading == "new reading, mm" and one_reading):
            pages.add(rectangle(x + 2, pages.y - height + 3, wide - 4, height - 6, "box"))
        x += wide
    pages.y -= height


def _places(pages: Pages, places: Sequence[int], section: str) -> None:
    """A box for each of several new readings, under its position from the run's start."""
    wide = pages.content_width / _A_LINE
    for first in range(0, len(places), _A_LINE):
        if pages.room < _PLACE_HEIGHT:
            pages.new_page(section)
        for column, at_mm in enumerate(places[first : first + _A_LINE]):
            x = pages.left + column * wide
            pages.add(Label(x + 4, pages.y - _LEADING + 1, f"at {at_mm}", _SIZE, "start", True))
            pages.add(
                rectangle(x + 2, pages.y - _PLACE_HEIGHT + 3, wide - 4, _PLACE_HEIGHT - _LEADING - 4, "box")
            )
        pages.y -= _PLACE_HEIGHT
