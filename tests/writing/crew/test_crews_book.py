"""The crew's book: short enough to carry, large enough to read at arm's length, and each level in the order of work."""

from __future__ import annotations

import io
from collections import Counter
from fractions import Fraction
from math import ceil, floor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from optimiser.model.detail import Detail
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedPattern, ThinRip
from optimiser.model.planned_pieces import Notch
from optimiser.model.project import Gap
from optimiser.survey.gap_line import GapAlongRun
from optimiser.writing.crew.board_patterns import cuts_by_delivery
from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
from optimiser.writing.crew.kitting_list import kits_of
from optimiser.writing.crew.labels import labels_by_run, labels_in_cutting_order, labels_pdf
from optimiser.writing.crew.measure_first import served_gaps, surveyed_gap
from optimiser.writing.drawing.bench_boards import bench_drawing
from optimiser.writing.drawing.board_cuts import board_cuts
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.shapes import FIGURES, SMALLEST_TEXT, label_box, labels_of, overlapping_labels
from optimiser.writing.drawing.step_cuts import step_cuts
from tests.builders.plans_by_hand import measured, small_plan, strip, tower
from tests.builders.sample_plans import sample_plan

PAPERS = ("A4", "Letter")


def letters(content: bytes) -> list[tuple[float, str, int]]:
    """(size, text, page) of everything that is printed."""
    found: list[tuple[float, str, int]] = []
    for number, page in enumerate(PdfReader(io.BytesIO(content)).pages):

        def visit(
            text: str, _cm: object, tm: list[float], _font: object, size: float, at: int = number
        ) -> None:
            if text.strip():
                found.append((round(size * abs(tm[3] or tm[1]), 2), text.strip(), at))

        page.extract_text(visitor_text=visit)
    return found


def legible(drawing: object, width: float) -> None:
    """No words cover others, are smaller than can be read, or stand outside the drawing."""
    shapes = drawing.shapes  # type: ignore[attr-defined]
    assert overlapping_labels(shapes) == []
    for label in labels_of(shapes):
        left, bottom, right, top = label_box(label)
        assert label.size >= SMALLEST_TEXT
        assert left >= -1
        assert right <= width + 1
        assert bottom >= -3
        assert top <= drawing.height + 8  # type: ignore[attr-defined]


class TestLength:
    @pytest.mark.slow
    def test_the_sample_tower_is_a_book_of_at_most_120_pages(self) -> None:
        assert len(PdfReader(io.BytesIO(cutting_sheets_pdf(sample_plan("tower")))).pages) <= 120


class TestType:
    @pytest.mark.parametrize("paper", PAPERS)
    @pytest.mark.parametrize("made", [measured(small_plan()), tower(2, 3, 7300)], ids=["small", "tower"])
    def test_nothing_is_printed_smaller_than_nine_points(self, made: Plan, paper: str) -> None:
        for content in (cutting_sheets_pdf(made, paper), labels_pdf(made, paper, revision="2")):
            small = [(size, text) for size, text, _ in letters(content) if size < SMALLEST_TEXT]
            assert small == []

    def test_what_is_set_out_along_the_edge_is_read_at_arms_length(self) -> None:
        made = measured(small_plan())
        printed = {(text, size) for size, text, _ in letters(cutting_sheets_pdf(made))}
        for piece in made.pieces:
            at = " · ".join(str(piece.from_mm + bracket) for bracket in piece.brackets_at_mm)
            assert (at, FIGURES) in printed, piece.id
            assert (f"{piece.from_mm}", FIGURES) in printed

    def test_the_marks_of_the_rips_are_read_at_arms_length(self) -> None:
        index = PlanIndex(measured(small_plan()))
        for step in index.sequence.steps:
            cuts = step_cuts(index, step)
            marks = {label.text: label.size for label in labels_of(bench_drawing(cuts, 254).drawing.shapes)}
            assert all(marks[f"{cut.at_mm}"] == FIGURES for cut in cuts.cuts if cut.kind == "rip")


class TestBoards:
    @pytest.mark.parametrize("made", [small_plan(), tower(4, 3, 9100)], ids=["small", "tower"])
    def test_every_step_is_legible(self, made: Plan) -> None:
        index = PlanIndex(made)
        for step in index.sequence.steps:
            for ids in (True, False):
                legible(bench_drawing(step_cuts(index, step), 254.0, ids).drawing, 254.0)

    @settings(max_examples=60, deadline=None)
    @given(
        st.lists(
            st.tuples(st.integers(28, 400), st.lists(st.integers(150, 1200), min_size=1, max_size=6)),
            min_size=1,
            max_size=14,
        ),
        st.text("AL01-N", min_size=1, max_size=30),
    )
    def test_of_any_board_each_piece_is_on_the_drawing_or_said_beside_it(
        self, wanted: list[tuple[int, list[int]]], name: str
    ) -> None:
        strips, across = [], 0
        for width, lengths in wanted:
            fitting, along = [], 0
            for length in lengths:
                if along + length <= 1200:
                    fitting.append((f"{name}{len(strips)}-{len(fitting)}", length, width))
                    along += length
            if fitting and across + width <= 1000:
                strips.append(strip(width, *fitting))
                across += width
        if not strips:
            return
        layout = PlannedPattern(stock="B-120", code="B-120", stage=10, strips=tuple(strips))
        cuts = board_cuts(PlanIndex(small_plan()), layout)
        drawn = bench_drawing(cuts, 254.0)
        legible(drawn.drawing, 254.0)
        said = {label.text for label in labels_of(drawn.drawing.shapes)}
        beside = {piece.place for piece in drawn.unnamed}
        for piece in cuts.pieces:
            assert f"{piece.place}  {piece.name}" in said or piece.place in beside

    def test_boards_cut_alike_are_drawn_once_over_a_table_of_their_pieces(self) -> None:
        made = measured(small_plan())
        (pattern,) = (
            pattern for pattern in cuts_by_delivery(PlanIndex(made))[20].patterns if pattern.count > 1
        )
        text = " ".join(
            " ".join(page.extract_text().split())
            for page in PdfReader(io.BytesIO(cutting_sheets_pdf(made, levels=["L02"]))).pages
        )
        assert text.count(f"{pattern.count} alike") == 1
        assert "OPEN 2" in text
        for board in pattern.boards:
            assert board.name in text
            assert all(piece.name in text for piece in board.pieces)

    def test_a_notch_is_said_with_its_width_and_depth(self) -> None:
        made = measured(small_plan())
        pieces = tuple(
            piece.model_copy(
                update={
                    "notches": tuple(Notch(at_mm=at, width_mm=60, depth_mm=45) for at in piece.notches_at_mm)
                }
            )
            for piece in made.pieces
        )
        notched = [piece for piece in pieces if piece.notches]
        text = " ".join(
            " ".join(page.extract_text().split())
            for page in PdfReader(
                io.BytesIO(cutting_sheets_pdf(made.model_copy(update={"pieces": pieces})))
            ).pages
        )
        assert notched
        for piece in notched:
            assert f"{piece.notches_at_mm[0]} (60 x 45)" in text


class TestKits:
    @pytest.mark.parametrize("name", ["small", pytest.param("tower", marks=pytest.mark.slow)])
    def test_the_kits_of_a_level_add_up_to_what_the_plan_counts(self, name: str) -> None:
        made = sample_plan(name)
        index = PlanIndex(made)
        for level in made.counts:
            counts = made.counts[level]
            kits = kits_of(index, level)
            brackets: Counter[str] = Counter()
            for kit in kits:
                brackets.update(dict(kit.brackets))
            assert dict(brackets) == {code: number for code, number in counts.brackets.items() if number}
            assert sum(kit.anchors for kit in kits) == counts.anchors
            assert sum(kit.joints for kit in kits) == counts.joints
            assert sum(kit.tape_mm for kit in kits) == counts.tape_mm
            assert sum(kit.pieces for kit in kits) == sum(piece.level == level for piece in made.pieces)

    @pytest.mark.slow
    def test_runs_come_in_the_order_of_their_table(self) -> None:
        index = PlanIndex(sample_plan("tower"))
        assert [kit.run for kit in kits_of(index, "L01")] == ["L01-N", "L01-E", "L01-S", "L01-W"]


class TestMeasuringFirst:
    @given(st.integers(25, 400), st.integers(0, 30), st.integers(0, 30))
    def test_a_width_serves_just_the_gaps_whose_window_holds_it(
        self, width: int, low: int, more: int
    ) -> None:
        detail = Detail(oversize_min=f"0.{low:02d}", oversize_max=f"0.{low + more:02d}")  # type: ignore[arg-type]
        made = small_plan()
        index = PlanIndex(
            made.model_copy(update={"project": made.project.model_copy(update={"detail": detail})})
        )
        piece = made.pieces[0].model_copy(update={"cut_width_start_mm": width, "cut_width_end_mm": width})
        served = served_gaps(index, piece)
        assert served is not None
        fits = [
            gap
            for gap in range(1, 500)
            if ceil(gap * (1 + Fraction(detail.oversize_min)))
            <= width
            <= floor(gap * (1 + Fraction(detail.oversize_max)))
        ]
        assert fits == list(range(ceil(served.least), floor(served.most) + 1))

    @pytest.mark.parametrize("name", ["small", pytest.param("tower", marks=pytest.mark.slow)])
    def test_every_piece_of_a_plan_serves_its_own_surveyed_gap(self, name: str) -> None:
        made = sample_plan(name)
        index = PlanIndex(made)
        for piece in made.pieces:
            served = served_gaps(index, piece)
            if served is not None:
                gap = surveyed_gap(GapAlongRun.of(index.gaps_of_run[piece.run]), piece)
                assert served.spare_mm(gap) >= 0, piece.id

    def test_the_gap_along_a_piece_turns_at_its_readings(self) -> None:
        along = GapAlongRun.of(
            (Gap(run="L01-N", at_mm=0, gap_mm=150), Gap(run="L01-N", at_mm=600, gap_mm=153),
             Gap(run="L01-N", at_mm=1600, gap_mm=148))
        )  # fmt: skip
        gap = surveyed_gap(along, small_plan().pieces[0].model_copy(update={"from_mm": 0, "to_mm": 1200}))
        assert gap == (150, 153)
        assert gap.words == "150 to 153"
        assert surveyed_gap(
            along, small_plan().pieces[0].model_copy(update={"from_mm": 0, "to_mm": 100})
        ).words == ("150 to 150.5")


class TestLabels:
    def test_a_label_says_all_that_the_piece_is(self) -> None:
        made = measured(small_plan())
        text = " ".join(PdfReader(io.BytesIO(labels_pdf(made, revision="2"))).pages[0].extract_text().split())
        piece = made.pieces[0]
        for said in (
            piece.id,
            f"{piece.level}, run {piece.run}",
            f"at {piece.from_mm} to {piece.to_mm}",
            f"{piece.length_mm} x {piece.cut_width_start_mm}",
            "B-120",
            f"bracket {piece.bracket}",
            "HL9-0042 rev. 2",
        ):
            assert said in text, said

    @pytest.mark.slow
    def test_run_by_run_they_are_the_same_labels_in_fitting_order(self) -> None:
        made = sample_plan("tower")
        index = PlanIndex(made)
        deliveries = cuts_by_delivery(index)
        cutting = labels_in_cutting_order(index, deliveries, tuple(deliveries), True)
        by_run = labels_by_run(index, cutting)
        assert sorted(map(repr, by_run)) == sorted(map(repr, cutting))
        pieces = [item for item in by_run if hasattr(item, "run")]
        runs = [run.run for run in made.project.runs]
        places = [(runs.index(piece.run), piece.from_mm) for piece in pieces]
        assert places == sorted(places)

    def test_an_unknown_order_is_refused(self) -> None:
        with pytest.raises(ValueError, match="choose cutting or run"):
            labels_pdf(small_plan(), order="size")  # type: ignore[arg-type]


class TestThinRips:
    def test_what_could_not_be_absorbed_stands_over_its_boards(self) -> None:
        made = measured(small_plan())
        told = made.model_copy(update={"thin_rips": (ThinRip(layout=1, kind="edge", width_mm=7),)})
        pages = PdfReader(io.BytesIO(cutting_sheets_pdf(told, levels=["L01"]))).pages
        text = " ".join(" ".join(page.extract_text().split()) for page in pages)
        assert "Thinner than strip_min_mm, with care: pattern 1: 7 mm off the edge." in text
