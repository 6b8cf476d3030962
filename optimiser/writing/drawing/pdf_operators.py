"""Shapes as plain PDF operators (ISO 32000-1, clauses 8.5 and 9.4) on a reportlab canvas."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from optimiser.writing.drawing.print_faces import BOLD, PLAIN
from optimiser.writing.drawing.shapes import STYLES, Disc, Group, Label, Line, Modules, Polygon, Shape


def draw(canvas: Any, shapes: Iterable[Shape]) -> None:
    """Draws shapes on a reportlab canvas.

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
    words = f"BT {place} {' '.join(parts)} ET"
    return f"q {label.grey:g} g {words} Q" if label.grey else words
