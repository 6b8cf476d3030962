"""Pages of drawings, words and tables, numbered and headed alike, written as a PDF.

Everything on a page is shapes (`optimiser.writing.shapes`), placed from the top down; reportlab writes them.
Equal pages give equal bytes: no clock is read. Both text faces are embedded; what they lack is shown by its
code, never as an empty box.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from typing import Any, NamedTuple

from optimiser.writing.shapes import (
    STYLES,
    Anchor,
    Disc,
    Drawing,
    Group,
    Label,
    Line,
    Modules,
    Polygon,
    Shape,
    rectangle,
    shortened,
    text_width,
    without_control_characters,
    wrapped,
)

PAPERS = {"A4": (595.28, 841.89), "LETTER": (612.0, 792.0)}
PLAIN, BOLD = "Vera", "VeraBd"

MARGIN = 36.0
HEAD = 66.0  # from the paper's top to the content
FOOT = 42.0  # from the paper's bottom to the content


def paper_size(paper: str) -> tuple[float, float]:
    """Width and height of a paper in points. Raises ValueError for a paper other than A4 and Letter."""
    try:
        return PAPERS[paper.upper()]
    except KeyError:
        raise ValueError(f"paper {paper!r} is not known: choose A4 or Letter") from None


@cache
def _register_faces() -> frozenset[int]:
    """Registers the two faces with reportlab, once, and tells which code points both can draw."""
    from reportlab import rl_config
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    rl_config.useA85 = 0  # binary streams: a fifth smaller, and much of the writing time was the encoding
    drawn: set[int] | None = None
    for name in (PLAIN, BOLD):
        face = TTFont(name, f"{name}.ttf")
        pdfmetrics.registerFont(face)
        letters = set(face.face.charToGlyph)
        drawn = letters if drawn is None else drawn & letters
    return frozenset(drawn or ())


def printable(text: str) -> str:
    """The text in letters that the print's faces can draw.

    A letter with an accent that they lack stands without it; any other shows its Unicode number, <4EAC>.
    """
    text = without_control_characters(text)
    if text.isascii():
        return text
    drawn = _register_faces()
    out = []
    for letter in text:
        if ord(letter) in drawn:
            out.append(letter)
            continue
        plain = "".join(
            part for part in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(part)
        )
        out.append(plain if plain and all(ord(part) in drawn for part in plain) else f"<{ord(letter):04X}>")
    return "".join(out)


class Column(NamedTuple):
    """A column of a table: heading, width in points, and to which side its cells are set."""

    heading: str
    width: float
    anchor: Anchor = "start"


class Bookmark(NamedTuple):
    """An entry of the PDF's outline."""

    title: str
    depth: int
    page: int


class Pages:
    """Pages filled from the top. `section` stands at the head of each page until it is changed.

    Coordinates are points from the lower left corner of the paper.
    """

    def __init__(self, paper: str) -> None:
        self.width, self.height = paper_size(paper)
        self.left, self.right = MARGIN, self.width - MARGIN
        self.content_width = self.right - self.left
        self.content_height = self.height - HEAD - FOOT
        self.sheets: list[tuple[str, list[Shape]]] = []
        self.bookmarks: list[Bookmark] = []
        self.section = ""
        self.y = 0.0  # what is free of the current page ends here

    def new_page(self, section: str | None = None) -> None:
        """Starts a page, under a new section when one is given."""
        if section is not None:
            self.section = section
        self.sheets.append((self.section, []))
        self.y = self.height - HEAD

    def bookmark(self, title: str, depth: int = 0) -> None:
        """Marks the current page in the outline."""
        self.bookmarks.append(Bookmark(title, depth, len(self.sheets) - 1))

    @property
    def room(self) -> float:
        """How many points are free on the current page."""
        return self.y - FOOT if self.sheets else 0.0

    def need(self, height: float) -> None:
        """Starts a page unless `height` points are free."""
        if self.room < height:
            self.new_page()

    def add(self, *shapes: Shape) -> None:
        """Puts shapes on the current page where their own coordinates say."""
        self.sheets[-1][1].extend(shapes)

    def place(self, drawing: Drawing, after: float = 8.0) -> None:
        """A drawing at the left of what is free, whole; a page is started when it does not fit."""
        self.need(min(drawing.height, self.content_height))
        self.y -= drawing.height
        self.add(Group(self.left, self.y, drawing.shapes))
        self.y -= after

    def words(
        self, text: str, size: float = 9.0, bold: bool = False, indent: float = 0.0, after: float = 3.0
    ) -> None:
        """A paragraph over the whole width, broken over pages where it must be."""
        for line in wrapped(text, self.content_width - indent, size, bold):
            self.need(size * 1.3)
            self.y -= size * 1.3
            self.add(Label(self.left + indent, self.y + size * 0.25, line, size, "start", bold))
        self.y -= after

    def heading(self, text: str, size: float = 11.0, keep_with: float = 40.0) -> None:
        """A heading that is never left alone at a page's foot."""
        self.need(size * 1.5 + keep_with)
        self.y -= 6
        self.words(text, size, bold=True)

    def table(
        self,
        columns: Sequence[Column],
        rows: Iterable[Sequence[str]],
        size: float = 8.0,
        bold_rows: Callable[[int], bool] = lambda row: False,
    ) -> None:
        """A table whose cells wrap; its heading is repeated on each page."""
        self._table_head(columns, size)
        for number, row in enumerate(rows):
            bold = bold_rows(number)
            cells = [
                wrapped(text, column.width - 6, size, bold) if text else [""]
                for column, text in zip(columns, row, strict=True)
            ]
            height = max(len(cell) for cell in cells) * size * 1.25 + 3
            if self.room < height:
                self.new_page()
                self._table_head(columns, size)
            self._table_row(columns, cells, size, bold, height)
        self.y -= 8

    def _table_head(self, columns: Sequence[Column], size: float) -> None:
        cells = [wrapped(column.heading, column.width - 6, size, True) for column in columns]
        height = max(len(cell) for cell in cells) * size * 1.25 + 4
        if self.room < height + size * 2:
            self.new_page()
        total = sum(column.width for column in columns)
        self.add(rectangle(self.left, self.y - height, total, height, "band"))
        self._table_row(columns, cells, size, True, height)
        self.add(Line(self.left, self.y, self.left + total, self.y, "facade"))

    def _table_row(
        self,
        columns: Sequence[Column],
        cells: Sequence[Sequence[str]],
        size: float,
        bold: bool,
        height: float,
    ) -> None:
        x = self.left
        for column, lines in zip(columns, cells, strict=True):
            at = {"start": x + 3, "middle": x + column.width / 2, "end": x + column.width - 3}[column.anchor]
            for place, line in enumerate(lines):
                if line:
                    baseline = self.y - 2 - (place + 1) * size * 1.25 + size * 0.3
                    self.add(Label(at, baseline, line, size, column.anchor, bold))
            x += column.width
        self.y -= height
        self.add(Line(self.left, self.y, x, self.y, "rule"))


class Frame(NamedTuple):
    """What stands on every page, and in the file's description."""

    title: str
    project: str
    reference: str
    caution: str
    subject: str = ""


def pdf_of(frame: Frame, parts: Sequence[Pages]) -> bytes:
    """The parts one after the other as one PDF, with heads, feet and 'page x of y'."""
    from reportlab.pdfgen.canvas import Canvas

    _register_faces()
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
            canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _head_and_foot(frame: Frame, part: Pages, section: str, number: int, pages: int) -> list[Shape]:
    top, half = part.height - 27, part.content_width * 0.6
    page_words = f"page {number} of {pages}"
    room = part.content_width - text_width(page_words, 8, True) - 12
    return [
        Label(part.left, top, shortened(frame.project, half, 9), 9.0),
        Label(
            part.right,
            top,
            shortened(frame.reference, part.content_width - half - 10, 9, True),
            9.0,
            "end",
            True,
        ),
        Line(part.left, top - 5, part.right, top - 5, "dimension"),
        Label(part.left, top - 21, shortened(section, part.content_width, 13, True), 13.0, "start", True),
        Line(part.left, FOOT - 8, part.right, FOOT - 8, "dimension"),
        Label(part.left, FOOT - 19, shortened(frame.caution, room, 7.5), 7.5),
        Label(part.right, FOOT - 19, page_words, 8.0, "end", True),
    ]


def draw(canvas: Any, shapes: Iterable[Shape]) -> None:
    """Draws shapes on a reportlab canvas as plain PDF operators (ISO 32000-1, clauses 8.5 and 9.4).

    A plan has a hundred thousand of them, and the canvas's own methods take several times as long; a style is
    set only where it changes.
    """
    code: list[str] = []
    _operators(canvas, shapes, code)
    if code:
        canvas.addLiteral("\n".join(code))


def _operators(canvas: Any, shapes: Iterable[Shape], code: list[str]) -> None:
    style = ""
    for shape in shapes:
        if isinstance(shape, Label):
            if style != "text":
                code.append("0 g")
                style = "text"
            code.append(_text(canvas, shape))
        elif isinstance(shape, Modules):
            code += _modules(shape)
        elif isinstance(shape, Group):
            code.append(f"q 1 0 0 1 {shape.x:.2f} {shape.y:.2f} cm")
            _operators(canvas, shape.shapes, code)
            code.append("Q")
        else:
            if shape.style != style:
                style = shape.style
                code.append(_state(style))
            look = STYLES[style]
            if isinstance(shape, Line):
                code.append(f"{shape.x1:.2f} {shape.y1:.2f} m {shape.x2:.2f} {shape.y2:.2f} l S")
            elif isinstance(shape, Polygon):
                path = " l ".join(f"{x:.2f} {y:.2f}" for x, y in shape.points)
                code.append(f"{path.replace(' l ', ' m ', 1)} l h {_paint(look.fill, look.stroke)}")
            else:
                code.append(f"{_circle(shape)} h {_paint(look.fill, look.stroke)}")


@cache
def _state(style: str) -> str:
    look = STYLES[style]
    dash = " ".join(f"{part:g}" for part in look.dash)
    fill = f"{look.fill:g} g " if look.fill is not None else ""
    stroke = f"{look.stroke:g} G " if look.stroke is not None else ""
    return f"{fill}{stroke}{look.width:g} w [{dash}] 0 d"


def _paint(fill: float | None, stroke: float | None) -> str:
    if fill is None:
        return "S"
    return "f" if stroke is None else "B"


def _circle(disc: Disc) -> str:
    """A circle as four Bezier curves; 0.5523 is the usual handle, 4/3 (sqrt 2 - 1)."""
    x, y, r = disc.x, disc.y, disc.radius
    k = 0.5523 * r
    return (
        f"{x + r:.2f} {y:.2f} m"
        f" {x + r:.2f} {y + k:.2f} {x + k:.2f} {y + r:.2f} {x:.2f} {y + r:.2f} c"
        f" {x - k:.2f} {y + r:.2f} {x - r:.2f} {y + k:.2f} {x - r:.2f} {y:.2f} c"
        f" {x - r:.2f} {y - k:.2f} {x - k:.2f} {y - r:.2f} {x:.2f} {y - r:.2f} c"
        f" {x + k:.2f} {y - r:.2f} {x + r:.2f} {y - k:.2f} {x + r:.2f} {y:.2f} c"
    )


def _modules(code: Modules) -> list[str]:
    """A QR code as one filled path, dark modules of a row joined to bars so that no seam shows."""
    side = code.side / len(code.rows)
    bars = []
    for row, bits in enumerate(code.rows):
        y = len(code.rows) - 1 - row
        column = bits.find(1)
        while column >= 0:
            end = bits.find(0, column)
            end = len(bits) if end < 0 else end
            bars.append(f"{column} {y} {end - column} 1 re")
            column = bits.find(1, end)
    return [f"q 0 g {side:.4f} 0 0 {side:.4f} {code.x:.2f} {code.y:.2f} cm", *bars, "f Q"]


def _text(canvas: Any, label: Label) -> str:
    """A line of text: the face's letters are numbered in parts of 256, so a line may need several."""
    from reportlab.pdfbase.pdfmetrics import getFont, stringWidth

    name = BOLD if label.bold else PLAIN
    shift = 0.0
    if label.anchor != "start":
        shift = stringWidth(label.text, name, label.size) * (0.5 if label.anchor == "middle" else 1.0)
    face, document = getFont(name), canvas._doc
    if label.turned:
        place = f"0 1 -1 0 {label.x:.2f} {label.y - shift:.2f} Tm"
    else:
        place = f"1 0 0 1 {label.x - shift:.2f} {label.y:.2f} Tm"
    parts = [
        f"{face.getSubsetInternalName(part, document)} {label.size:g} Tf <{letters.hex()}> Tj"
        for part, letters in face.splitString(label.text, document)
    ]
    return f"BT {place} {' '.join(parts)} ET"
