"""Drawings say what the plan says: to scale, legible, nothing lost, nothing covered."""

from __future__ import annotations

from itertools import accumulate, pairwise
from math import ceil
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.project import Detail, Gap
from optimiser.survey.gap_line import GapAlongRun
from optimiser.writing.crew.board_patterns import CutAt, cuts_by_delivery, places_of_pieces
from optimiser.writing.drawing.board_cuts import board_cuts
from optimiser.writing.drawing.boards import board_drawing
from optimiser.writing.drawing.elevation import elevation_by_rows, elevation_drawing
from optimiser.writing.drawing.laid_strips import strip_letter
from optimiser.writing.drawing.not_ready import NOT_READY
from optimiser.writing.drawing.placed_board import BoardCuts, PlacedPiece, StripCuts
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import run_view
from optimiser.writing.drawing.shapes import (
    Label,
    Polygon,
    hatching,
    labels_of,
    shortened,
    spread_apart,
    text_width,
    without_control_characters,
    wrapped,
)
from optimiser.writing.drawing.step_cuts import step_cuts
from optimiser.writing.drawing.svg import layout_svg, run_elevation_svg
from tests.builders.drawn import doubled_area, legible
from tests.builders.plans_by_hand import small_plan, strip, tower

SVG = "{http://www.w3.org/2000/svg}"
PLANS = {"small": small_plan(), "tower": tower(3, 4, 9100)}


@pytest.mark.parametrize("length_mm", [200, 350, 532, 600, 900, 1200])
def test_the_words_at_the_datum_corner_keep_clear_of_the_length(length_mm: int) -> None:
    """A remainder of 532 x 941 once had 'measure from this corner' printed over its 532."""
    cuts = BoardCuts("", "B-120", False, "L01", length_mm, 941, 0, (), (), ())
    drawing = board_drawing(cuts, 345, 272)
    legible(drawing)
    words = {shape.text for shape in drawing.shapes if isinstance(shape, Label)}
    assert {"0", f"{length_mm}"} <= words
    assert any("corner" in text for text in words) == (length_mm >= 600)


def test_pieces_narrower_than_print_are_left_to_the_list_of_cuts() -> None:
    """Pieces of 26 and 22 mm side by side once had their places printed over one another."""
    lengths = (178, 26, 22, 300)
    ends = (*accumulate(lengths, initial=0),)
    pieces = tuple(
        PlacedPiece(
            f"A{number}", f"R-{number}", f"R-{number}", ((x0, 0), (x1, 0), (x1, 187), (x0, 187)),
            x1 - x0, 187, 187, False, (), (), "L01",
        )
        for number, (x0, x1) in enumerate(pairwise(ends), 1)
    )  # fmt: skip
    strips = (StripCuts("A", 0, 187, pieces),)
    drawing = board_drawing(BoardCuts("", "B-120", False, "L01", 900, 600, 0, strips, (), ()), 345, 272)
    legible(drawing)
    assert "A1" in {shape.text for shape in drawing.shapes if isinstance(shape, Label)}


def all_cuts(plan: Plan) -> list[BoardCuts]:
    """Every layout of a plan in millimetres."""
    index = PlanIndex(plan)
    return [board_cuts(index, layout) for layout in plan.layouts]


class TestCuts:
    @pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
    def test_pieces_and_remainders_make_up_the_whole_board(self, plan: Plan) -> None:
        for cuts in all_cuts(plan):
            parts = [piece.corners for piece in cuts.pieces] + [rest.corners for rest in cuts.remainders]
            assert sum(doubled_area(corners) for corners in parts) == 2 * cuts.length_mm * cuts.width_mm

    def test_the_saws_kerf_is_lost_between_strips_and_pieces(self) -> None:
        plan = small_plan()
        sawn = plan.model_copy(
            update={
                "project": plan.project.model_copy(
                    update={"detail": plan.project.detail.model_copy(update={"kerf_mm": 4})}
                )
            }
        )
        layout = PlannedPattern(
            stock="B-120", code="B-120", stage=10,
            strips=(strip(166, ("L01-N-006", 750, 166), ("L02-N-005", 350, 166)), strip(167, ("L01-N-001", 1200, 167))),
        )  # fmt: skip
        cuts = board_cuts(PlanIndex(sawn), layout)
        assert [piece.corners[0] for piece in cuts.pieces] == [(0, 0), (754, 0), (0, 170)]
        assert [(rest.length_mm, rest.width_mm) for rest in cuts.remainders] == [
            (92, 166),
            (1200, 1000 - 341),
        ]

    def test_cuts_come_by_delivery_rips_then_cross_cuts_then_slants_then_trims_all_from_the_datum(
        self,
    ) -> None:
        cuts = all_cuts(small_plan())[0]
        assert [(cut.number, cut.kind, cut.strip, cut.at_mm) for cut in cuts.cuts] == [
            (1, "rip", "A", 168),
            (2, "rip", "B", 336),
            (3, "rip", "C", 502),
            (4, "rip", "D", 834),
            (5, "cross-cut", "C", 750),
            (6, "slant", "D", 150),
            (7, "slant", "D", 151),
            (8, "trim", "A", 167),
            (9, "cross-cut", "C", 1100),  # C2 is for L02
        ]
        assert [piece.place for piece in all_cuts(small_plan())[0].pieces if piece.waits] == ["C2"]

    def test_a_board_used_to_its_edge_needs_no_rip_and_no_cross_cut_there(self) -> None:
        layout = PlannedPattern(
            stock="stock-1", code="B-120", stage=10, strips=(strip(380, ("L01-N-001", 1200, 380)),)
        )
        assert board_cuts(PlanIndex(small_plan()), layout).cuts == ()

    def test_a_pair_lies_head_to_tail(self) -> None:
        first, second = all_cuts(small_plan())[0].strips[3].pieces
        assert first.corners == ((0, 502), (1200, 502), (1200, 502 + 166), (0, 502 + 150))
        assert second.turned
        # its end (181 wide) lies at the datum end, its straight edge along the strip's top
        assert second.corners == ((0, 834 - 181), (1200, 834 - 166), (1200, 834), (0, 834))

    def test_a_pair_parted_by_one_blade_needs_one_slant(self) -> None:
        layout = PlannedPattern(
            stock="B-120", code="B-120", stage=10,
            strips=(strip(316, ("L01-E-001", 1200, 166), ("L01-E-001", 1200, 166, True)),),
        )  # fmt: skip
        slants = [cut for cut in board_cuts(PlanIndex(small_plan()), layout).cuts if cut.kind == "slant"]
        assert [(cut.at_mm, cut.to_mm) for cut in slants] == [(150, 166)]

    def test_what_the_plan_keeps_is_marked_and_the_rest_is_scrap(self) -> None:
        plan = small_plan()
        kept = [
            (rest.length_mm, rest.width_mm)
            for cuts in all_cuts(plan)
            for rest in cuts.remainders
            if rest.keep
        ]
        claimed = [(rest.length_mm, rest.width_mm) for rest in plan.left_over for _ in range(rest.quantity)]
        assert sorted(kept) == sorted(claimed)
        assert any(not rest.keep for rest in all_cuts(plan)[0].remainders)

    def test_an_unknown_stock_is_named(self) -> None:
        layout = PlannedPattern(
            stock="stock-9", code="B-120", stage=10, strips=(strip(165, ("L01-N-001", 1200, 165)),)
        )
        with pytest.raises(ValueError, match="stock-9"):
            board_cuts(PlanIndex(small_plan()), layout)

    def test_strips_are_lettered_without_end(self) -> None:
        assert [strip_letter(number) for number in (0, 25, 26, 27, 701, 702)] == [
            "A",
            "Z",
            "AA",
            "AB",
            "ZZ",
            "AAA",
        ]


class TestSteps:
    @pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
    def test_pieces_and_what_remains_make_up_all_that_is_taken(self, plan: Plan) -> None:
        index = PlanIndex(plan)
        for step in index.sequence.steps:
            cuts = step_cuts(index, step)
            parts = [piece.corners for piece in cuts.pieces] + [rest.corners for rest in cuts.remainders]
            assert sum(doubled_area(corners) for corners in parts) == 2 * cuts.length_mm * cuts.width_mm

    def test_what_stays_is_named_and_keeps_its_letters(self) -> None:
        index = PlanIndex(small_plan())
        opened, rack = index.sequence.with_delivery(10)[0], index.sequence.with_delivery(20)[-1]
        first, second = step_cuts(index, opened), step_cuts(index, rack)
        assert [(rest.name, rest.size, rest.waits_for) for rest in first.stays] == [
            ("B001-R1", "450 x 166", "L02")
        ]
        assert (second.name, second.length_mm, second.width_mm) == ("B001-R1", 450, 166)
        assert [piece.place for piece in second.pieces] == ["C2"]
        assert [(cut.kind, cut.at_mm) for cut in second.cuts] == [("cross-cut", 350)]

    @pytest.mark.parametrize("size", [(345.0, 165.0), (345.0, 272.0), (523.0, 430.0)])
    @pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
    def test_steps_are_legible(self, plan: Plan, size: tuple[float, float]) -> None:
        index = PlanIndex(plan)
        for step in index.sequence.steps:
            legible(board_drawing(step_cuts(index, step), *size))
            legible(board_drawing(step_cuts(index, step), *size, ids=False))

    def test_what_is_not_measured_says_so(self) -> None:
        index = PlanIndex(small_plan())
        words = [
            [label.text for label in labels_of(board_drawing(step_cuts(index, step), 523, 430).shapes)]
            for step in index.sequence.steps
        ]
        assert [NOT_READY in said for said in words] == [step.stage == 20 for step in index.sequence.steps]


class TestPatterns:
    def test_boards_cut_alike_are_one_pattern_with_their_count(self) -> None:
        deliveries = cuts_by_delivery(PlanIndex(small_plan()))
        assert [[board.name for board in pattern.boards] for pattern in deliveries[20].patterns] == [
            ["B005", "B006"],
            ["B004"],
        ]
        assert [pattern.cuts.offcut for pattern in deliveries[10].patterns] == [False, False, True]
        assert [cuts.name for cuts in deliveries[20].narrow] == ["B001-R1"]

    @pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
    def test_every_piece_is_cut_at_exactly_one_place(self, plan: Plan) -> None:
        places = places_of_pieces(cuts_by_delivery(PlanIndex(plan)))
        assert set(places) == {piece.id for piece in plan.pieces}
        assert len(set(places.values())) == len(plan.pieces)

    def test_a_piece_is_cut_with_its_own_delivery_from_what_waited_for_it(self) -> None:
        places = places_of_pieces(cuts_by_delivery(PlanIndex(small_plan())))
        assert places["L01-N-006"] == CutAt(10, "B001", "C1")
        assert places["L02-N-005"] == CutAt(20, "B001-R1", "C2")


class TestLegibility:
    @pytest.mark.parametrize("size", [(330.0, 272.0), (523.0, 430.0), (720.0, 620.0)])
    @pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
    def test_layouts(self, plan: Plan, size: tuple[float, float]) -> None:
        for cuts in all_cuts(plan):
            legible(board_drawing(cuts, *size))
            legible(board_drawing(cuts, *size, ids=False))

    @pytest.mark.parametrize("width", [256.0, 520.0, 960.0])
    @pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
    def test_runs(self, plan: Plan, width: float) -> None:
        index = PlanIndex(plan)
        for run in plan.project.runs:
            view = run_view(index, run.run)
            legible(elevation_drawing(index, view, width))
            rows = elevation_by_rows(index, view, width)
            for row in rows:
                legible(row)
            drawn = [label.text for row in rows for label in labels_of(row.shapes)]
            marked = drawn.count(NOT_READY)
            assert marked == (len(rows) if run.level in index.forecast_levels else 0)

    @settings(max_examples=60, deadline=None)
    @given(
        st.lists(
            st.tuples(st.integers(28, 400), st.lists(st.integers(150, 1200), min_size=1, max_size=6)),
            min_size=1,
            max_size=14,
        ),
        st.text("AL01-N", min_size=1, max_size=30),
    )
    def test_any_layout(self, wanted: list[tuple[int, list[int]]], name: str) -> None:
        strips, across = [], 0
        for width, lengths in wanted:
            fitting, along = [], 0
            for length in lengths:
                if along + length <= 1200:
                    fitting.append((f"{name}{len(fitting)}", length, width))
                    along += length
            if fitting and across + width <= 1000:
                strips.append(strip(width, *fitting))
                across += width
        if strips:
            layout = PlannedPattern(stock="B-120", code="B-120", stage=10, strips=tuple(strips))
            cuts = board_cuts(PlanIndex(small_plan()), layout)
            legible(board_drawing(cuts, 720, 620))
            legible(board_drawing(cuts, 330, 272))

    @pytest.mark.parametrize("size", [(330.0, 272.0), (523.0, 430.0)])
    @pytest.mark.parametrize("pieces", [1, 2, 10])
    def test_many_narrow_strips(self, size: tuple[float, float], pieces: int) -> None:
        length = 1200 // pieces
        strips = [
            strip(30, *((f"{number}-{place}", length, 30) for place in range(pieces))) for number in range(33)
        ]
        layout = PlannedPattern(stock="B-120", code="B-120", stage=10, strips=tuple(strips))
        legible(board_drawing(board_cuts(PlanIndex(small_plan()), layout), *size))

    def test_layouts_are_drawn_to_scale(self) -> None:
        cuts = all_cuts(small_plan())[1]
        drawing = board_drawing(cuts, 720, 620)
        stock = next(
            shape for shape in drawing.shapes if isinstance(shape, Polygon) and shape.style == "stock"
        )
        (left, bottom), _, (right, top), _ = stock.points
        scale = (right - left) / 1200
        assert (top - bottom) / 1000 == pytest.approx(scale)
        pieces = [
            shape.points for shape in drawing.shapes if isinstance(shape, Polygon) and shape.style == "piece"
        ]
        for points, piece in zip(pieces, cuts.pieces, strict=True):
            assert points == tuple(
                (pytest.approx(left + x * scale), pytest.approx(bottom + y * scale)) for x, y in piece.corners
            )


class TestRuns:
    def test_a_joints_tape_is_what_the_plan_counts_also_over_two_faces(self) -> None:
        made = small_plan()
        gaps = (Gap(run="L01-N", at_mm=0, gap_mm=150), Gap(run="L01-N", at_mm=7000, gap_mm=153))
        project = made.project.model_copy(
            update={
                "detail": Detail(tape_faces=2),
                "gaps": (*gaps, *(g for g in made.project.gaps if g.run != "L01-N")),
            }
        )
        plan = made.model_copy(update={"project": project})
        view = run_view(PlanIndex(plan), "L01-N")
        along = GapAlongRun.of(gaps)
        assert all(along.at(joint.at_mm).denominator > 1 for joint in view.joints)
        assert [joint.tape_mm for joint in view.joints] == [
            (ceil(along.at(joint.at_mm)) + 100) * 2 for joint in view.joints
        ]

    def test_a_joints_tape_is_its_gap_and_a_lap_at_each_end(self) -> None:
        # joint at 3600: halfway from 152 at 2400 to 149 at 4800 is 150.5, with 2 x 50 lap: 250.5 -> 251
        view = run_view(PlanIndex(small_plan()), "L01-N")
        assert {joint.at_mm: joint.tape_mm for joint in view.joints}[3600] == 251
        assert [joint.at_mm for joint in view.joints] == [1200, 2400, 3600, 4800, 6000, 6750]

    def test_what_cannot_be_built_is_drawn_as_such(self) -> None:
        index = PlanIndex(small_plan())
        view = run_view(index, "L01-E")
        assert [(stretch.from_mm, stretch.piece is None) for stretch in view.stretches] == [
            (0, False), (1200, False), (2400, True),
        ]  # fmt: skip
        drawing = elevation_drawing(index, view, 960)
        assert any(label.text == "not planned" for label in labels_of(drawing.shapes))
        assert "1 stretch is not planned." in run_elevation_svg(small_plan(), "L01-E")

    def test_readings_cut_widths_and_joints_stand_on_the_drawing(self) -> None:
        index = PlanIndex(small_plan())
        words = {
            label.text for label in labels_of(elevation_drawing(index, run_view(index, "L01-N"), 960).shapes)
        }
        assert {"150", "152", "149", "1200", "6750", "cut 168 · K-110"} <= words
        nominal = {
            label.text for label in labels_of(elevation_drawing(index, run_view(index, "L02-N"), 960).shapes)
        }
        assert "(150)" in nominal, "a gap that is only nominal stands in brackets"

    def test_every_run_can_be_drawn_even_without_pieces(self) -> None:
        plan = small_plan().model_copy(update={"pieces": (), "layouts": (), "not_planned": ()})
        ElementTree.fromstring(run_elevation_svg(plan, "L01-N"))


class TestSvg:
    @pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
    def test_a_layout_tells_its_content_without_being_seen(self, plan: Plan) -> None:
        for place, layout in enumerate(plan.layouts):
            root = ElementTree.fromstring(layout_svg(plan, place))
            assert root.get("role") == "img"
            title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
            assert title is not None
            assert description is not None
            assert root.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
            told = description.text or ""
            assert all(piece.id in told for strip in layout.strips for piece in strip.pieces)

    def test_it_holds_shapes_and_words_only(self) -> None:
        for text in (layout_svg(small_plan(), 0), run_elevation_svg(small_plan(), "L01-N")):
            tags = {element.tag.removeprefix(SVG) for element in ElementTree.fromstring(text).iter()}
            assert tags <= {"svg", "title", "desc", "g", "polygon", "line", "circle", "text", "path"}

    def test_its_greys_are_greys(self) -> None:
        for element in ElementTree.fromstring(layout_svg(small_plan(), 0)).iter():
            for name in ("fill", "stroke"):
                value = element.get(name, "none")
                assert value == "none" or (len(value) == 7 and value[1:3] == value[3:5] == value[5:7])

    @pytest.mark.parametrize("place", [-1, 6, 1000])
    def test_a_layout_that_is_not_there(self, place: int) -> None:
        with pytest.raises(IndexError, match="6 layouts"):
            layout_svg(small_plan(), place)

    def test_a_run_that_is_not_there(self) -> None:
        with pytest.raises(KeyError, match="L09-Z"):
            run_elevation_svg(small_plan(), "L09-Z")

    @settings(max_examples=40, deadline=None)
    @given(st.text(min_size=1, max_size=20))
    def test_any_names_make_valid_xml(self, name: str) -> None:
        plan = small_plan()
        first = plan.pieces[0].model_copy(update={"id": name})
        layout = PlannedPattern(
            stock="B-120", code="B-120", stage=10, strips=(strip(167, (name, 1200, 167)),)
        )
        renamed = plan.model_copy(update={"pieces": (first, *plan.pieces[1:]), "layouts": (layout,)})
        ElementTree.fromstring(layout_svg(renamed, 0))
        ElementTree.fromstring(run_elevation_svg(renamed, "L01-N"))


class TestWords:
    @given(st.text(max_size=60), st.floats(20, 300))
    def test_shortened_and_wrapped_words_fit(self, text: str, room: float) -> None:
        assert text_width(shortened(text, room, 8), 8) <= room
        for line in wrapped(text, room, 8):
            assert text_width(line, 8) <= room or len(line) == 1

    @given(st.text(max_size=200), st.floats(20, 300))
    def test_wrapping_loses_nothing_but_spaces(self, text: str, room: float) -> None:
        assert "".join("".join(wrapped(text, room, 8)).split()) == "".join(text.split())

    def test_control_characters_become_spaces(self) -> None:
        assert without_control_characters("a\x00b\x1fc\ufffed\n") == "a b c d "

    def test_places_keep_their_distance(self) -> None:
        assert spread_apart([0, 1, 50], [10, 10, 10], 100) == [0, 10, 50]
        assert spread_apart([90, 95, 99], [10, 10, 10], 100) == [80, 90, 100]

    def test_hatching_stays_inside(self) -> None:
        for line in hatching(((10, 10), (50, 10), (50, 30), (10, 30))):
            assert min(line.x1, line.x2) >= 10
            assert max(line.x1, line.x2) <= 50
            assert min(line.y1, line.y2) >= 10
            assert max(line.y1, line.y2) <= 30
