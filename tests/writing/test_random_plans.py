"""Whatever is planned can be drawn, printed and sent: legible, complete, valid."""

from __future__ import annotations

from hypothesis import HealthCheck, Phase, given, settings

from optimiser.errors.broken_rules import BreaksRules
from optimiser.errors.problems import CannotBeDone
from optimiser.model.project import Project
from optimiser.ordering.purchase_order import purchase_order
from optimiser.writing.crew.board_patterns import cuts_by_delivery, places_of_pieces
from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
from optimiser.writing.drawing.board_cuts import board_cuts
from optimiser.writing.drawing.boards import board_drawing
from optimiser.writing.drawing.elevation import elevation_drawing
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import run_view
from optimiser.writing.drawing.step_cuts import step_cuts
from optimiser.writing.supplier.pdf import order_pdf
from optimiser.writing.supplier.ubl import order_ubl
from tests.builders.drawn import doubled_area, legible
from tests.builders.order_document import read
from tests.builders.quick_plans import plan_sought_briefly
from tests.builders.random_projects import projects


# A plan takes long to shrink: a failing project is shown as it was drawn.
@settings(
    max_examples=20,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)
@given(projects())
def test_any_plan_is_drawn_printed_and_sent(project: Project) -> None:
    try:
        planned = plan_sought_briefly(project)
    except (CannotBeDone, BreaksRules):
        return  # nothing to print
    index = PlanIndex(planned)
    kept = []
    for layout in planned.layouts:
        cuts = board_cuts(index, layout)
        legible(board_drawing(cuts, 720, 620))
        kept += [(rest.length_mm, rest.width_mm) for rest in cuts.remainders if rest.keep] * layout.repeat
        for part in (*(piece.corners for piece in cuts.pieces), *(rest.corners for rest in cuts.remainders)):
            assert all(0 <= x <= cuts.length_mm and 0 <= y <= cuts.width_mm for x, y in part)
        areas = sum(doubled_area(piece.corners) for piece in cuts.pieces)
        areas += sum(doubled_area(rest.corners) for rest in cuts.remainders)
        whole = 2 * cuts.length_mm * cuts.width_mm
        assert areas <= whole
        if not cuts.kerf_mm:
            assert areas == whole, "without a kerf nothing of a board is unaccounted for"
    claimed = [(rest.length_mm, rest.width_mm) for rest in planned.left_over for _ in range(rest.quantity)]
    assert sorted(kept) == sorted(claimed)
    for run in project.runs:
        legible(elevation_drawing(index, run_view(index, run.run), 520))
    places = places_of_pieces(cuts_by_delivery(index))
    assert set(places) == {piece.id for piece in planned.pieces}
    for step in index.sequence.steps:
        legible(board_drawing(step_cuts(index, step), 345, 272))
    for with_nominal in (False, True):
        assert cutting_sheets_pdf(planned, "Letter", with_nominal=with_nominal).startswith(b"%PDF")
    sent = purchase_order(planned)
    assert sent.subtotal == planned.order.total
    assert order_pdf(sent).startswith(b"%PDF")
    if any(line.packs for line in planned.order.lines):
        read(order_ubl(sent))
