"""Pages of drawings, words and tables, filled from the top; `pdf_file` writes them.

Everything on a page is shapes (`optimiser.writing.drawing.shapes`), placed from the top down.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from optimiser.writing.drawing.shapes import (
    SMALLEST_TEXT,
    Anchor,
    Drawing,
    Group,
    Label,
    Line,
    Shape,
    rectangle,
    wrapped,
)

PAPERS = {"A4": (595.28, 841.89), "LETTER": (612.0, 792.0)}

LEADING = 1.25  # of tables, as a multiple of their size
MARGIN = 36.0
HEAD = 66.0  # from the paper's top to the content
MARK = 28.0  # of a page's content, where it is marked
FOOT = 42.0  # from the paper's bottom to the content


def paper_size(paper: str) -> tuple[float, float]:
    """Width and height of a paper in points. Raises ValueError for a paper other than A4 and Letter."""
    try:
        return PAPERS[paper.upper()]
    except KeyError:
        raise ValueError(f"paper {paper!r} is not known: choose A4 or Letter") from None


class Column(NamedTuple):
    """A column of a table: heading, width in points, to which side its cells are set, and whether they stand out."""

    heading: str
    width: float
    anchor: Anchor = "start"
    bold: bool = False


class Bookmark(NamedTuple):
    """An entry of the PDF's outline."""

    title: str
    depth: int
    page: int


class Picture(NamedTuple):
    """A photograph on a page: its lower left corner, its size in points, and the picture as JPEG, PNG or WebP."""

    x: float
    y: float
    width: float
    height: float
    content: bytes


class Pages:
    """Pages filled from the top. `section` stands at the head of each page until it is changed.

    Coordinates are points from the lower left corner of the paper.
    """

    def __init__(self, paper: str) -> None:
        self.width, self.height = paper_size(paper)
        self.left, self.right = MARGIN, self.width - MARGIN
        self.content_width = self.right - self.left
        self.sheets: list[tuple[str, list[Shape]]] = []
        self.bookmarks: list[Bookmark] = []
        self.pictures: dict[int, list[Picture]] = {}  # by the place of their sheet
        self.section = ""
        self.mark = ""  # what is said in white on black at the head of each page, until it is changed
        self.y = 0.0  # what is free of the current page ends here

    def new_page(self, section: str | None = None) -> None:
        """Starts a page, under a new section when one is given."""
        if section is not None:
            self.section = section
        self.sheets.append((self.section, []))
        self.y = self.height - HEAD
        if self.mark:
            self.add(
                rectangle(self.left, self.y - MARK + 6, self.content_width, MARK - 6, "alarm"),
                Label(
                    self.left + self.content_width / 2,
                    self.y - MARK + 12,
                    self.mark,
                    13.0,
                    "middle",
                    True,
                    grey=1.0,
                ),
            )
            self.y -= MARK

    @property
    def content_height(self) -> float:
        """How many points a page holds below its head."""
        return self.height - HEAD - FOOT - (MARK if self.mark else 0.0)

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

    def place_at(self, drawing: Drawing, x: float, y: float) -> None:
        """A drawing with its lower left corner at (x, y) of the current page."""
        self.add(Group(x, y, drawing.shapes))

    def picture(self, content: bytes, x: float, y: float, width: float, height: float) -> bool:
        """Puts a photograph into a box of the current page, as large as it fits; False where it cannot be read."""
        size = _size_of_picture(content)
        if size is None:
            return False
        scale = min(width / size[0], height / size[1])
        placed = Picture(x, y + height - size[1] * scale, size[0] * scale, size[1] * scale, content)
        self.pictures.setdefault(len(self.sheets) - 1, []).append(placed)
        return True

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
        size: float = SMALLEST_TEXT,
        bold_rows: Callable[[int], bool] = lambda row: False,
        head_size: float | None = None,
        leading: float = LEADING,
    ) -> None:
        """A table whose cells wrap; its heading, `head_size` points high (None: as the cells), is repeated on each
        page. `leading` is from line to line, as a multiple of the size. A bold last row, a sum, never stands on a page
        without a row that it sums."""
        head_size = head_size or size
        made = []
        for number, row in enumerate(rows):
            bold = bold_rows(number)
            cells = [
                wrapped(text, column.width - 6, size, bold or column.bold) if text else [""]
                for column, text in zip(columns, row, strict=True)
            ]
            made.append((cells, bold, max(len(cell) for cell in cells) * size * leading + 3))
        self._table_head(columns, head_size)
        for number, (cells, bold, height) in enumerate(made):
            sums = number == len(made) - 2 and made[-1][1]
            if self.room < height + (made[-1][2] if sums else 0):
                self.new_page()
                self._table_head(columns, head_size)
            self._table_row(columns, cells, size, bold, height, leading)
        self.y -= 8

    def _table_head(self, columns: Sequence[Column], size: float) -> None:
        cells = [wrapped(column.heading, column.width - 6, size, True) for column in columns]
        height = max(len(cell) for cell in cells) * size * LEADING + 4
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
        leading: float = LEADING,
    ) -> None:
        x = self.left
        for column, lines in zip(columns, cells, strict=True):
            at = {"start": x + 3, "middle": x + column.width / 2, "end": x + column.width - 3}[column.anchor]
            for place, line in enumerate(lines):
                if line:
                    baseline = self.y - 2 - (place + 1) * size * leading + size * 0.3
                    self.add(Label(at, baseline, line, size, column.anchor, bold or column.bold))
            x += column.width
        self.y -= height
        self.add(Line(self.left, self.y, x, self.y, "rule"))


def _size_of_picture(content: bytes) -> tuple[int, int] | None:
    """A photograph's width and height in pixels; None where it is none that can be read to its end."""
    from reportlab.lib.utils import ImageReader

    try:
        found = ImageReader(io.BytesIO(content))
        found.getRGBData()
        width, height = found.getSize()
    except Exception:  # whatever a stranger's file makes the library say: it is no picture
        return None
    return width, height
