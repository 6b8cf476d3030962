"""Pages written one after the other as a PDF, numbered and headed alike; reportlab writes them.

Equal pages give equal bytes: no clock is read. Both text faces are embedded; what they lack is shown by its
code, never as an empty box.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import NamedTuple

from optimiser.writing.drawing.pdf_operators import draw
from optimiser.writing.drawing.pdf_pages import FOOT, Bookmark, Pages
from optimiser.writing.drawing.print_faces import PLAIN, register_faces
from optimiser.writing.drawing.shapes import (
    SMALLEST_TEXT,
    Label,
    Line,
    Shape,
    shortened,
    text_width,
    wrapped,
)


class Frame(NamedTuple):
    """What stands on every page, and in the file's description."""

    title: str
    project: str
    reference: str
    caution: str
    subject: str = ""
    cautions: tuple[tuple[str, str], ...] = ()  # (end of a section's name, what is said there in its place)


def pdf_of(frame: Frame, parts: Sequence[Pages]) -> bytes:
    """The parts one after the other as one PDF, with heads, feet and 'page x of y'."""
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen.canvas import Canvas

    register_faces()
    buffer = io.BytesIO()
    first = parts[0]
    canvas = Canvas(
        buffer, pagesize=(first.width, first.height), invariant=1, pageCompression=1, lang="en",
        initialFontName=PLAIN, initialFontSize=9,
    )  # fmt: skip
    canvas.setTitle(frame.title)
    canvas.setSubject(frame.subject)
    canvas.setAuthor(frame.project)
    canvas.setCreator("barrier-orders")
    pages = sum(len(part.sheets) for part in parts)
    number = 0
    for part in parts:
        marks: dict[int, list[Bookmark]] = {}
        for mark in part.bookmarks:
            marks.setdefault(mark.page, []).append(mark)
        for place, (section, shapes) in enumerate(part.sheets):
            number += 1
            for mark_number, mark in enumerate(marks.get(place, ())):
                key = f"p{number}-{mark_number}"
                canvas.bookmarkPage(key)
                canvas.addOutlineEntry(mark.title, key, mark.depth, closed=mark.depth > 0)
            draw(canvas, _head_and_foot(frame, part, section, number, pages))
            draw(canvas, shapes)
            for picture in part.pictures.get(place, ()):
                canvas.drawImage(ImageReader(io.BytesIO(picture.content)), *picture[:4], mask="auto")
            canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _head_and_foot(frame: Frame, part: Pages, section: str, number: int, pages: int) -> list[Shape]:
    top = part.height - 27
    reference = shortened(
        frame.reference, part.content_width * 0.6, 9, True
    )  # with the revision: before the name
    beside = part.content_width - max(part.content_width * 0.4 - 10, text_width(reference, 9, True)) - 10
    page_words = f"page {number} of {pages}"
    room = part.content_width - text_width(page_words, 9, True) - 12
    caution = next((said for end, said in frame.cautions if section.endswith(end)), frame.caution)
    cautions = wrapped(caution, room, SMALLEST_TEXT)[:2]
    return [
        Label(part.left, top, shortened(frame.project, beside, 9), 9.0),
        Label(part.right, top, reference, 9.0, "end", True),
        Line(part.left, top - 5, part.right, top - 5, "dimension"),
        Label(part.left, top - 21, shortened(section, part.content_width, 13, True), 13.0, "start", True),
        Line(part.left, FOOT - 8, part.right, FOOT - 8, "dimension"),
        *(
            Label(part.left, FOOT - 19 - 11 * line, words, SMALLEST_TEXT)
            for line, words in enumerate(cautions)
        ),
        Label(part.right, FOOT - 19, page_words, 9.0, "end", True),
    ]
