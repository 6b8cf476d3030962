"""The mark on a drawing that rests on nominal gaps: it is there to be ordered, not to be cut."""

from __future__ import annotations

from optimiser.writing.drawing.shapes import SMALLEST_TEXT, Drawing, Label, rectangle, shortened

NOT_READY = "NOMINAL GAP: DO NOT CUT"
BAND = 13.0  # points of height


def add_not_ready(drawing: Drawing, left: float, above: float, width: float) -> None:
    """A black band `width` points wide, `BAND` high, over what is drawn up to `above`."""
    size = SMALLEST_TEXT
    drawing.add(rectangle(left, above + 1, width, BAND - 2, "alarm"))
    words = shortened(NOT_READY, width - 8, size, True)
    drawing.add(Label(left + width / 2, above + 3.5, words, size, "middle", True, grey=1.0))
