"""What every drawing is held against."""

from __future__ import annotations

from optimiser.writing.drawing.shapes import (
    SMALLEST_TEXT,
    Drawing,
    label_box,
    labels_of,
    overlapping_labels,
)


def doubled_area(corners: tuple[tuple[int, int], ...]) -> int:
    """Twice an outline's area by the surveyor's formula, in mm2."""
    return abs(
        sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(corners, corners[1:] + corners[:1], strict=True))
    )


def legible(drawing: Drawing) -> None:
    """No words cover others, none leave the picture, none are too small to read."""
    assert overlapping_labels(drawing.shapes) == []
    for label in labels_of(drawing.shapes):
        assert label.size >= SMALLEST_TEXT, label
        left, bottom, right, top = label_box(label)
        assert left >= -1, label
        assert bottom >= -1, label
        assert right <= drawing.width + 1, label
        assert top <= drawing.height + 1, label
