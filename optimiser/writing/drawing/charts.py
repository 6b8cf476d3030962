"""Charts as SVG for print and page: axes with round numbers, lines, bars and labels, in greys only.

Coordinates are points (1/72 inch) from the upper left corner, as in SVG. Every mark carries its name as its class;
the attributes alone make it readable, and title and description tell it to those who cannot see it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, floor, log10
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

from optimiser.writing.drawing.shapes import SMALLEST_TEXT, without_control_characters

FONTS = "DejaVu Sans, Verdana, Arial, sans-serif"
Anchor = Literal["start", "middle", "end"]
# What tells lines apart without colour: grey, dashes and width.
LINE_STYLES = (
    ("#000000", "", 1.4),
    ("#000000", "6 3", 1.2),
    ("#777777", "", 1.6),
    ("#000000", "1.5 2", 1.4),
    ("#777777", "8 3 2 3", 1.4),
)


@dataclass
class Chart:
    """An SVG document in the making."""

    width: float
    height: float
    title: str
    description: str
    marks: list[str] = field(default_factory=list)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 8.0,
        anchor: Anchor = "start",
        bold: bool = False,
        turned: bool = False,
        halo: bool = False,
    ) -> None:
        """One line of text with its baseline at y; `turned` reads upwards; `halo` keeps lines behind it off it."""
        attributes = (
            f'x="{_n(x)}" y="{_n(y)}" font-size="{_n(max(size, SMALLEST_TEXT))}" text-anchor="{anchor}"'
        )
        attributes += ' font-weight="bold"' if bold else ""
        attributes += f' transform="rotate(-90 {_n(x)} {_n(y)})"' if turned else ""
        attributes += ' stroke="#ffffff" stroke-width="2.5" paint-order="stroke"' if halo else ""
        self.marks.append(
            f'<text {attributes} fill="#000000">{escape(without_control_characters(words))}</text>'
        )

    def line(
        self, points: Sequence[tuple[float, float]], grey: str = "#000000", dash: str = "", width: float = 0.6,
        name: str = "line",
    ) -> None:  # fmt: skip
        """A line through points."""
        path = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.marks.append(
            f'<polyline class="{name}" points="{path}" fill="none" stroke="{grey}" stroke-width="{_n(width)}"'
            f'{dashes} stroke-linejoin="round"/>'
        )

    def bar(
        self, x: float, y: float, width: float, height: float, grey: str = "#bbbbbb", name: str = "bar"
    ) -> None:
        """A filled box with a black edge; (x, y) is its upper left corner."""
        self.marks.append(
            f'<rect class="{name}" x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"'
            f' fill="{grey}" stroke="#000000" stroke-width="0.5"/>'
        )

    def disc(self, x: float, y: float, radius: float = 2.2, name: str = "mark", hollow: bool = False) -> None:
        """A black dot, or a ring."""
        look = 'fill="#ffffff" stroke="#000000" stroke-width="1"' if hollow else 'fill="#000000"'
        self.marks.append(f'<circle class="{name}" cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" {look}/>')

    def svg(self, name: str) -> str:
        """The document; `name` keeps its ids apart from others on the same page."""
        marks = "\n".join(self.marks)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(self.width)} {_n(self.height)}"'
            f' width="{_n(self.width)}" height="{_n(self.height)}" role="img"'
            f' aria-labelledby="{name}-title {name}-desc" font-family={quoteattr(FONTS)}>\n'
            f'<title id="{name}-title">{escape(without_control_characters(self.title))}</title>\n'
            f'<desc id="{name}-desc">{escape(without_control_characters(self.description))}</desc>\n'
            f'<rect width="{_n(self.width)}" height="{_n(self.height)}" fill="#ffffff"/>\n{marks}\n</svg>\n'
        )


@dataclass(frozen=True)
class Scale:
    """Values from `low` to `high` on paper from `start` to `end`."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value lies."""
        if self.high == self.low:
            return (self.start + self.end) / 2
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def round_ticks(low: float, high: float, most: int = 8, whole: bool = False) -> list[float]:
    """At most about `most` round numbers (1, 2 or 5 times a power of ten apart) that cover [low, high]."""
    span = high - low
    if span <= 0:
        return [low]
    step = 10.0 ** floor(log10(span / most))
    step *= next((factor for factor in (1, 2, 5, 10) if span / (step * factor) <= most), 10)
    if whole:
        step = max(1.0, step)
    first = floor(low / step + 1e-9)
    return [round(step * k, 10) for k in range(first, ceil(high / step - 1e-9) + 1)]


def shown_number(value: float) -> str:
    """A tick's number without needless decimals, thousands apart."""
    return f"{value:,.0f}" if value == round(value) else f"{value:,.10g}"


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
