"""Nothing of a nominal level leaves the tool unmarked: whatever shows one of its pieces with a width to cut says that
it is not ready to cut, and what the crew cuts from withholds it unless it is asked for."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
from optimiser.writing.crew.labels import labels_pdf
from optimiser.writing.drawing.not_ready import NOT_READY
from optimiser.writing.drawing.sheet_frame import NOT_FOR_CUTTING
from optimiser.writing.drawing.svg import layout_svg, run_elevation_svg
from optimiser.writing.office.workbook import office_xlsx
from tests.builders.forecast import FORECAST, MEASURED, forecast_plan
from tests.builders.sheets import opened, table_of

PLAN = forecast_plan()
LEVEL_OF = {piece.id: piece.level for piece in PLAN.pieces}
RUNS = [(run.run, run.level) for run in PLAN.project.runs]


def pages(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages]


def named(text: str) -> set[str]:
    """The pieces of nominal levels that a text names."""
    return {piece for piece, level in LEVEL_OF.items() if level in FORECAST and piece in text}


def test_the_plan_has_what_this_is_about() -> None:
    measured_too = {piece.level for piece in PLAN.pieces if piece.basis == "measured"}
    assert set(FORECAST) & measured_too == {"L03"}, "a measured piece of a level that is a forecast"
    assert {layout.cut_ready for layout in PLAN.layouts} == {True, False}


@pytest.mark.parametrize("levels", [None, FORECAST, ("L03",)])
def test_sheets_and_labels_withhold_nominal_levels_and_say_so(levels: tuple[str, ...] | None) -> None:
    for printed in (cutting_sheets_pdf(PLAN, levels=levels), labels_pdf(PLAN, levels=levels)):
        assert not named(" ".join(pages(printed)))
    asked = ", ".join(levels or FORECAST)
    assert f"measure them and plan again. Levels: {asked}." in " ".join(
        pages(cutting_sheets_pdf(PLAN, levels=levels))
    )


def test_asked_for_every_page_with_a_nominal_piece_is_marked() -> None:
    sheets = pages(cutting_sheets_pdf(PLAN, with_nominal=True))
    cutting = [page for page in sheets if "NOMINAL GAP DO NOT CUT" not in page]
    assert set().union(*map(named, cutting)) == {piece for piece in LEVEL_OF if LEVEL_OF[piece] in FORECAST}
    for page in cutting:
        assert NOT_FOR_CUTTING in page or not named(page)


def test_asked_for_every_label_of_a_nominal_piece_is_marked_and_has_no_width() -> None:
    text = " ".join(pages(labels_pdf(PLAN, with_nominal=True)))
    nominal = named(text)
    assert nominal == {piece for piece in LEVEL_OF if LEVEL_OF[piece] in FORECAST}
    assert text.count("NOMINAL GAP DO NOT CUT") == len(nominal)
    assert len(re.findall(r" at \d+ to \d+ \d+ x \d+ ", text)) == len(LEVEL_OF) - len(nominal)


@pytest.mark.parametrize("number", range(len(PLAN.layouts)))
def test_a_board_with_a_nominal_piece_is_drawn_marked(number: int) -> None:
    drawn = layout_svg(PLAN, number)
    levels = {LEVEL_OF[p.id] for strip in PLAN.layouts[number].strips for p in strip.pieces}
    marked = bool(levels & set(FORECAST))
    assert (NOT_READY in drawn) == ("it is not ready to cut" in drawn) == marked


@pytest.mark.parametrize(("run", "level"), RUNS)
def test_a_run_of_a_nominal_level_is_drawn_marked(run: str, level: str) -> None:
    drawn = run_elevation_svg(PLAN, run)
    assert (NOT_READY in drawn) == ("not ready to cut" in drawn) == (level in FORECAST)
    assert bool(re.search(r">cut \d", drawn)) == (level in MEASURED), (
        "no width to cut stands on a nominal run"
    )


def test_the_workbook_says_which_patterns_and_pieces_are_not_ready_to_cut() -> None:
    book = opened(office_xlsx(PLAN))
    strips = sum(len(layout.strips) for layout in PLAN.layouts)
    for sheet, named_in, count in (
        ("Cutting", "Pieces from the datum end (length mm)", strips),
        ("Pieces", "Piece", len(PLAN.pieces)),
    ):
        head, *rows = table_of(book[sheet])
        assert len(rows) == count
        ready, pieces = head.index("Ready to cut"), head.index(named_in)
        assert {row[ready] for row in rows} == {"yes", "no"}
        for row in rows:
            assert (row[ready] == "no") == bool(named(str(row[pieces])))
