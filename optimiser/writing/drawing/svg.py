"""Drawings as SVG for web pages: to scale, readable in grey and by screen readers, without scripts or styles.

Every shape carries its trade name as its class, so that a page's own style sheet may dress it; the attributes
alone make it readable.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from optimiser.model.plan import Plan
from optimiser.tables.text import counted
from optimiser.writing.drawing.board_cuts import board_cuts
from optimiser.writing.drawing.boards import board_drawing
from optimiser.writing.drawing.charts import FONTS
from optimiser.writing.drawing.elevation import elevation_drawing
from optimiser.writing.drawing.placed_board import BoardCuts
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import RunView, run_view
from optimiser.writing.drawing.shapes import (
    STYLES,
    Disc,
    Drawing,
    Group,
    Label,
    Line,
    Modules,
    Polygon,
    Shape,
)


def layout_svg(plan: Plan, index: int) -> str:
    """The layout `plan.layouts[index]` (counted from 0) as an SVG document.

    Raises IndexError when the plan has no such layout.
    """
    if not 0 <= index < len(plan.layouts):
        raise IndexError(f"the plan has {len(plan.layouts)} layouts, counted from 0: there is no {index}")
    lookup = PlanIndex(plan)
    layout = plan.layouts[index]
    cuts = board_cuts(lookup, layout)
    drawing = board_drawing(cuts, 720, 620)
    times = f", {layout.repeat} times" if layout.repeat > 1 else ""
    drawing.title = (
        f"Cutting pattern {plan.numbered_layouts[index][0]}: {cuts.stock} for level {cuts.level}{times}"
    )
    drawing.description = layout_in_words(cuts)
    return svg_of(drawing, f"layout-{index}")


def run_elevation_svg(plan: Plan, run: str) -> str:
    """A run seen from above, to scale, as an SVG document. Raises KeyError when the project has no such run."""
    lookup = PlanIndex(plan)
    view = run_view(lookup, run)
    drawing = elevation_drawing(lookup, view, 960)
    drawing.title = f"Run {lookup.text(run)} on level {lookup.text(view.run.level)}"
    drawing.description = run_in_words(lookup, view)
    place = list(lookup.runs).index(run)
    return svg_of(drawing, f"run-{place}")


def layout_in_words(cuts: BoardCuts) -> str:
    """What a layout's drawing shows, for those who cannot see it."""
    strips = "; ".join(
        f"strip {strip.letter}, {strip.top_mm - strip.bottom_mm} mm wide: "
        + ", ".join(
            f"{piece.name} ({piece.length_mm} mm long"
            + (f", tapered from {piece.width_left_mm} to {piece.width_right_mm} mm" if piece.tapered else "")
            + ")"
            for piece in strip.pieces
        )
        for strip in cuts.strips
    )
    kept = [f"{rest.length_mm} x {rest.width_mm} mm" for rest in cuts.remainders if rest.keep]
    rest = f" Kept: {', '.join(kept)}." if kept else " Nothing is kept."
    stays = "; ".join(f"{part.name}, {part.size} mm, for level {part.waits_for}" for part in cuts.stays)
    rest += f" Stays on the rack: {stays}." if stays else ""
    ready = "" if cuts.ready else " Its gaps are nominal: it is not ready to cut."
    what = "remainder" if cuts.remainder else "board"
    return (
        f"A {what} {cuts.length_mm} mm long and {cuts.width_mm} mm wide, fibres across its width. From the datum"
        f" edge: {strips}.{rest}{ready}"
    )


def run_in_words(index: PlanIndex, view: RunView) -> str:
    """What a run's drawing shows, for those who cannot see it."""
    pieces = sum(stretch.piece is not None for stretch in view.stretches)
    missing = len(view.stretches) - pieces
    gaps = [gap.gap_mm for gap in view.gaps]
    words = (
        f"The slab edge below and the facade above, {view.run.length_mm} mm long, the gap {min(gaps)} to"
        f" {max(gaps)} mm by {counted(len(gaps), 'reading')}, with {counted(pieces, 'piece')},"
        f" {counted(len(view.joints), 'joint')} and {counted(len(view.run.mullions_mm), 'mullion')}."
    )
    if view.begins_at is not None:
        words += f" Run {index.text(view.begins_at.run)} ends where it begins, at a taped joint."
    if view.ends_at is not None:
        words += f" Run {index.text(view.ends_at.joins)} begins where it ends, at a taped joint."
    if missing:
        words += f" {counted(missing, 'stretch', 'stretches')} {'is' if missing == 1 else 'are'} not planned."
    nominal = view.run.level in index.forecast_levels
    return words + (" Its level has nominal gaps: it is not ready to cut." if nominal else "")


def svg_of(drawing: Drawing, name: str) -> str:
    """A drawing as a complete SVG document; `name` keeps its ids apart from others on the same page."""
    body = "\n".join(_element(shape, drawing.height) for shape in drawing.shapes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}"'
        f' width="{_n(drawing.width)}" height="{_n(drawing.height)}" role="img"'
        f' aria-labelledby="{name}-title {name}-desc" font-family={quoteattr(FONTS)}>\n'
        f'<title id="{name}-title">{escape(drawing.title)}</title>\n'
        f'<desc id="{name}-desc">{escape(drawing.description)}</desc>\n'
        f"{body}\n</svg>\n"
    )


def _n(value: float) -> str:
    """A coordinate with two places at most."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _grey(value: float | None) -> str:
    return "none" if value is None else "#" + 3 * f"{round(value * 255):02x}"


def _dress(style: str) -> str:
    look = STYLES[style]
    dash = f' stroke-dasharray="{" ".join(_n(part) for part in look.dash)}"' if look.dash else ""
    stroke = (
        f' stroke="{_grey(look.stroke)}" stroke-width="{_n(look.width)}"' if look.stroke is not None else ""
    )
    return f'class="{style}" fill="{_grey(look.fill)}"{stroke}{dash}'


def _element(shape: Shape, height: float) -> str:
    """One shape as SVG, whose y runs downwards."""
    if isinstance(shape, Polygon):
        points = " ".join(f"{_n(x)},{_n(height - y)}" for x, y in shape.points)
        return f'<polygon points="{points}" {_dress(shape.style)}/>'
    if isinstance(shape, Line):
        ends = f'x1="{_n(shape.x1)}" y1="{_n(height - shape.y1)}" x2="{_n(shape.x2)}" y2="{_n(height - shape.y2)}"'
        return f"<line {ends} {_dress(shape.style)}/>"
    if isinstance(shape, Disc):
        centre = f'cx="{_n(shape.x)}" cy="{_n(height - shape.y)}" r="{_n(shape.radius)}"'
        return f"<circle {centre} {_dress(shape.style)}/>"
    if isinstance(shape, Label):
        return _text(shape, height)
    if isinstance(shape, Group):
        inside = "".join(_element(part, height) for part in shape.shapes)
        return f'<g transform="translate({_n(shape.x)} {_n(-shape.y)})">{inside}</g>'
    return _modules(shape, height)


def _text(label: Label, height: float) -> str:
    x, y = _n(label.x), _n(height - label.y)
    turn = f' transform="rotate(-90 {x} {y})"' if label.turned else ""
    weight = ' font-weight="bold"' if label.bold else ""
    anchor = f' text-anchor="{label.anchor}"' if label.anchor != "start" else ""
    return (
        f'<text x="{x}" y="{y}" font-size="{_n(label.size)}"{weight}{anchor}{turn} fill="{_grey(label.grey)}">'
        f"{escape(label.text)}</text>"
    )


def _modules(code: Modules, height: float) -> str:
    module = code.side / len(code.rows)
    parts = []
    for row, bits in enumerate(code.rows):
        y = height - code.y - code.side + row * module
        parts += [
            f"M{_n(code.x + column * module)} {_n(y)}h{_n(module)}v{_n(module)}h-{_n(module)}z"
            for column, bit in enumerate(bits)
            if bit
        ]
    return f'<path class="code" fill="#000000" d="{"".join(parts)}"/>'
