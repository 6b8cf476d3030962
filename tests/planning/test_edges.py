"""Edges as they are built: junctions, curves, two details, sized notches and moved brackets, counted by hand."""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path
from types import ModuleType

import pytest
from pypdf import PdfReader

from optimiser import check, compare, plan, refit, simulate
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import LevelCounts, Plan
from optimiser.model.planned_pieces import Notch
from optimiser.model.project import Board, Detail, Gap, Project
from optimiser.reading import read_plan, read_project
from optimiser.writing.all_files import write
from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
from optimiser.writing.moved_brackets import moved_brackets_in_words
from optimiser.writing.terminal.summary import show_plan
from tests.builders.closed_level import GIVEN, closed_level, run_of

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"


@pytest.fixture(scope="module")
def made() -> Plan:
    return plan(closed_level())


def test_a_level_counted_closed_level(made: Plan) -> None:
    """A in three pieces (2 joints of 150 + 2 x 50 = 250 mm), B in two (1 joint of (120 + 2 x 30) on two faces = 360
    mm), C in two, since 2 sqrt(2 x 4000 x 5 - 25) = 399.9 mm (1 joint of 140 + 100 = 240 mm). Junctions: A to B at the
    wider gap, 150 + 100 = 250; B to C at 140 by the thin detail, 2 x 200 = 400; C to A at 150, 250. Brackets: two a
    1200 mm length of A, the last piece of 600 mm one; on B two and one; on C one each."""
    spans = {name: [p.length_mm for p in made.pieces if p.run == name] for name in "ABC"}
    assert (sorted(spans["A"]), sorted(spans["B"])) == ([600, 1200, 1200], [600, 1200])
    assert len(spans["C"]) == 2
    assert max(spans["C"]) <= 399
    assert [(one.run, one.joins, one.gap_mm, one.tape_mm) for one in made.junctions] == [
        ("A", "B", 150, 250),
        ("B", "C", 140, 400),
        ("C", "A", 150, 250),
    ]
    assert made.counts["L1"] == LevelCounts(
        joints=2 + 1 + 1 + 3,
        brackets={"K-90": 3, "K-100": 2, "K-110": 5},
        anchors=5 + 2 + 2 * 3,
        tape_mm=2 * 250 + 360 + 240 + 250 + 400 + 250,
    )


def test_notches_have_the_width_and_depth_of_their_mullion(made: Plan) -> None:
    notches = {
        piece.from_mm + notch.at_mm: notch
        for piece in made.pieces
        if piece.run == "A"
        for notch in piece.notches
    }
    assert sorted(notches) == [300, 1500]
    for piece in made.pieces:
        assert tuple(notch.at_mm for notch in piece.notches) == piece.notches_at_mm
        assert all((notch.width_mm, notch.depth_mm) == (60, 45) for notch in piece.notches)
    assert Notch(at_mm=610, width_mm=60, depth_mm=45).words == "610 (60 x 45)"


def test_a_bracket_that_a_mullion_moves_beyond_the_end_distance_is_listed_with_what_mends_it(
    made: Plan,
) -> None:
    """The mullion at 300 stands where the first bracket would: it goes 75 mm further, to 375 mm from the end."""
    first = next(piece for piece in made.pieces if (piece.run, piece.from_mm) == ("A", 0))
    assert first.brackets_at_mm[0] in (225, 375)
    listed = [(one.piece, one.beyond, one.at_mm, one.distance_mm, one.by_mm) for one in made.brackets_moved]
    expected = []
    for piece in made.pieces:
        at, end = piece.brackets_at_mm, piece.length_mm
        expected += [(piece.id, "end distance", piece.from_mm + at[0], at[0], at[0] - 300)] * (at[0] > 300)
        last = end - at[-1]
        expected += [(piece.id, "end distance", piece.from_mm + at[-1], last, last - 300)] * (last > 300)
    assert listed == expected
    assert listed
    assert all("bracket_to_mullion_min_mm" in one.mend for one in made.brackets_moved)
    pages = PdfReader(io.BytesIO(cutting_sheets_pdf(made))).pages
    told, sheets = moved_brackets_in_words(made), " ".join(" ".join(p.extract_text().split()) for p in pages)
    for words_of_it, (piece, _, at, distance, _) in zip(told, listed, strict=True):
        begins = next(one.from_mm for one in made.pieces if one.id == piece)
        end = "start" if at - begins == distance else "end"
        assert f"{distance} mm from the {end} of its piece" in words_of_it
        assert f"{at} {distance} from its {end}" in sheets, "the crew measures from that end"
    assert "with a bracket in line with a mullion, 0 mm from it" in made.brackets_moved[0].mend


def test_the_judge_rejects_a_plan_that_leaves_out_a_junction(made: Plan) -> None:
    left_out = made.model_copy(update={"junctions": made.junctions[1:]})
    assert any("where run A ends and B begins is a taped joint" in line for line in check(left_out))
    counted = made.counts["L1"].model_copy(update={"joints": 6, "tape_mm": made.counts["L1"].tape_mm - 250})
    uncounted = made.model_copy(update={"counts": {"L1": counted}})
    assert any("joints must be 7, but is 6" in line for line in check(uncounted))
    assert any(f"tape_mm must be {made.counts['L1'].tape_mm}" in line for line in check(uncounted))


def test_the_judge_rejects_a_plan_that_mixes_thicknesses() -> None:
    wide = Board(code="B-120W", length_mm=1200, width_mm=600, thickness_mm=120, price="6.00")
    sizes = closed_level()
    sizes = sizes.model_copy(
        update={
            "products": (*sizes.products, wide),
            "runs": (sizes.runs[0].model_copy(update={"board": ("B-120", "B-120W")}), *sizes.runs[1:]),
        }
    )
    made = plan(sizes)  # sizes of one board mix
    assert check(made, sizes) == ()
    thinner = tuple(
        item.model_copy(update={"thickness_mm": 90}) if item.code == "B-120W" else item
        for item in sizes.products
    )
    mixed = made.model_copy(update={"project": sizes.model_copy(update={"products": thinner})})
    assert any("of one thickness and material" in line and "B-120W 90 mm" in line for line in check(mixed))
    with pytest.raises(CannotBeDone, match="differ in thickness or material"):
        plan(mixed.project)


def test_the_judge_checks_curves_moved_brackets_and_notches(made: Plan) -> None:
    straight = made.model_copy(
        update={
            "project": made.project.model_copy(
                update={
                    "runs": (
                        *made.project.runs[:2],
                        made.project.runs[2].model_copy(update={"radius_mm": 900}),
                    )
                }
            )
        }
    )
    assert any("its chord leaves the curve of radius 900 mm" in line for line in check(straight))
    assert any(
        "but is not listed so" in line for line in check(made.model_copy(update={"brackets_moved": ()}))
    )
    first = made.pieces[0].model_copy(update={"notches": ()})
    unsized = made.model_copy(update={"pieces": (first, *made.pieces[1:])})
    assert any("must be 60 mm wide and 45 mm deep" in line for line in check(unsized))


def test_boards_that_serve_two_details_have_one_kerf() -> None:
    saw = GIVEN.model_copy(update={"kerf_mm": 3})
    shared = closed_level(details={"thin": saw})
    runs = tuple(one.model_copy(update={"board": ("B-120",)}) for one in shared.runs)
    with pytest.raises(CannotBeDone, match="differ in kerf_mm or trim"):
        plan(shared.model_copy(update={"runs": runs}))
    apart = plan(shared)  # a board and a saw of its own
    assert check(apart, shared) == ()


def test_a_curve_that_closes_on_itself_is_one_taped_joint_more() -> None:
    ring = closed_level(
        runs=(run_of("R", 12_566, "R", radius_mm=2000),),
        gaps=(Gap(run="R", at_mm=0, gap_mm=150),),
        details={},
    )
    made = plan(ring)
    assert made.counts["L1"].joints == len(made.pieces)
    assert [(one.run, one.joins) for one in made.junctions] == [("R", "R")]
    assert check(made, ring) == ()


def test_runs_of_unlike_boards_that_meet_are_warned_of(made: Plan) -> None:
    assert any("A and B, B and C" in warning for warning in made.warnings)


def test_placeholders_are_told_by_detail() -> None:
    made = plan(closed_level(details={"thin": Detail(tape_lap_mm=30)}))
    (told,) = (warning for warning in made.warnings if warning.startswith("Placeholders"))
    assert "of detail thin" in told
    assert "curve_offset_max_mm" not in told  # no run of it is curved
    silent = made.model_copy(update={"warnings": ()})
    assert any("of detail thin stands at a placeholder" in line for line in check(silent))


# -- what stands on the plan's rules


def test_gap_options_count_junctions_by_each_detail() -> None:
    option = compare(closed_level(), gaps=[120]).options[0]
    made = plan(closed_level(gaps=tuple(Gap(run=name, at_mm=0, gap_mm=120) for name in "ABC")))
    counts = made.counts["L1"]
    assert (option.joints, option.tape_mm, option.anchors) == (counts.joints, counts.tape_mm, counts.anchors)


def test_a_simulation_without_tolerance_draws_the_plan_itself() -> None:
    nominal = tuple(
        gap.model_copy(update={"basis": "nominal", "tolerance_mm": 1}) for gap in closed_level().gaps
    )
    level = closed_level(gaps=nominal)
    counts = plan(level).counts["L1"]
    found = simulate(level, draws=20, seed=1, workers=1)
    assert found.tape_mm[0] == pytest.approx(counts.tape_mm, abs=20)
    (anchors,) = (one for one in found.quantities if one.code == "A-8")
    assert anchors.median >= 2 * counts.brackets["K-90"]  # two an anchor on the thin detail's run
    assert check(plan(level), level) == ()


def test_a_newer_survey_keeps_each_runs_detail_and_its_curve(made: Plan) -> None:
    wider = tuple(
        gap.model_copy(update={"gap_mm": gap.gap_mm + (5 if gap.run == "B" else 0)})
        for gap in made.project.gaps
    )
    survey = made.project.model_copy(update={"gaps": wider})
    found = refit(made, survey, cut_levels=("L1",))
    assert check(found, survey, plan=made) == ()
    assert found.reused_pieces >= 5
    assert max(place.to_mm - place.from_mm for place in found.pieces if place.run == "C") <= 399


# -- the invented L-shaped block, from a filled-in template


def _script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_samples", SAMPLES / "make_samples.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def l_shaped(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Read from a template that the script fills in."""
    script, path = _script(), tmp_path_factory.mktemp("filled") / "l_shaped.xlsx"
    script.fill_template(script.l_shaped(), {"": script.DETAIL, "thin board": script.THIN}, path)
    return read_project(path)


def test_the_l_shaped_block_is_what_it_claims_to_be(l_shaped: Project) -> None:
    assert read_project(SAMPLES / "l_shaped" / "l_shaped.xlsx") == l_shaped
    assert "not a real building" in l_shaped.project.name
    assert len(l_shaped.levels) == 9
    assert {one.detail for one in l_shaped.runs} == {"", "thin board"}
    assert l_shaped.details["thin board"].taper_max_mm == 20
    assert sum(one.radius_mm is not None for one in l_shaped.runs) == 9
    assert {gap.basis for gap in l_shaped.gaps} == {"measured", "nominal"}
    edges = l_shaped.building.edges
    assert [(edge.closed, len(edge.runs)) for edge in edges] == [(False, 6), *[(True, 7)] * 8]
    assert edges[0].runs[0] == "L01-I"


def test_the_l_shaped_block_goes_from_a_filled_in_template_to_a_checked_plan(
    l_shaped: Project, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = plan(l_shaped, advise=False)
    assert check(made, l_shaped) == ()
    assert made.not_planned == ()
    assert len(made.junctions) == 5 + 8 * 7
    boards = {"B-120": 120, "B-90": 90}
    for layout in made.layouts:
        for piece in (piece for strip in layout.strips for piece in strip.pieces):
            thin = piece.id.split("-")[1] in ("I", "J")
            assert boards[layout.code] == (90 if thin else 120)
    write(made, tmp_path)
    assert read_plan(tmp_path / "plan.json") == made
    show_plan(made, None)
    printed = " ".join(capsys.readouterr().out.split())
    assert "8 closed loops and 1 open edge; 61 taped joints where runs meet" in printed
    assert f"BRACKETS FARTHER THAN THE DETAIL SAYS: {len(made.brackets_moved)}" in printed
