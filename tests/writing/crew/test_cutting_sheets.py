"""The crew's sheets: everything is on them, on the paper asked for, and the file is whole or not there."""

from __future__ import annotations

import io
from fractions import Fraction

import pytest
from pypdf import PdfReader

from optimiser.model.progress import AtHand
from optimiser.model.project import Board, Bracket, Gap, Level, Project, Run
from optimiser.model.remainder import Remainder
from optimiser.planning import plan as planning
from optimiser.writing.crew.board_patterns import cuts_by_delivery
from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
from optimiser.writing.crew.labels import (
    add_labels,
    labels_in_cutting_order,
    labels_pdf,
    qr_rows,
    qr_text,
)
from optimiser.writing.crew.measure_first import ServedGaps
from optimiser.writing.crew.pattern_sheets import side_by_side
from optimiser.writing.drawing import sheet_frame
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import Group, Modules, label_box, labels_of, overlapping_labels
from tests.builders.plans_by_hand import measured, small_plan, tower


def read(content: bytes) -> PdfReader:
    """The PDF as another library reads it."""
    return PdfReader(io.BytesIO(content))


def words(content: bytes) -> str:
    """All text of a PDF, each run of spaces as one."""
    return " ".join(" ".join(page.extract_text() for page in read(content).pages).split())


LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def read_code(rows: tuple[bytes, ...]) -> str:
    """Reads a version 1 QR code of capital letters and figures, by ISO/IEC 18004:2015, clauses 6.4 to 7.9.

    Its errors are not corrected: a printed code that needed that would be wrong already.
    """
    assert len(rows) == 21
    form = [rows[8][column] for column in (0, 1, 2, 3, 4)]
    mask = int("".join(map(str, form)), 2) ^ 0b10101  # format bits 14 to 10, under their own mask
    assert mask >> 3 == 0b00, "error correction M"
    conditions = {
        0: lambda r, c: (r + c) % 2, 1: lambda r, c: r % 2, 2: lambda r, c: c % 3, 3: lambda r, c: (r + c) % 3,
        4: lambda r, c: (r // 2 + c // 3) % 2, 5: lambda r, c: r * c % 2 + r * c % 3,
        6: lambda r, c: (r * c % 2 + r * c % 3) % 2, 7: lambda r, c: ((r + c) % 2 + r * c % 3) % 2,
    }  # fmt: skip
    flipped = conditions[mask & 0b111]
    bits = ""
    upwards = True
    for right in (20, 18, 16, 14, 12, 10, 8, 5, 3, 1):
        for row in range(20, -1, -1) if upwards else range(21):
            for column in (right, right - 1):
                corner = (row < 9 and (column < 9 or column > 12)) or (row > 12 and column < 9)
                if not corner and row != 6:
                    bits += str(rows[row][column] ^ (flipped(row, column) == 0))
        upwards = not upwards
    assert bits[:4] == "0010", "alphanumeric mode"
    count, bits = int(bits[4:13], 2), bits[13:]
    text = ""
    while count - len(text) >= 2:
        high, low = divmod(int(bits[:11], 2), 45)
        text, bits = text + LETTERS[high] + LETTERS[low], bits[11:]
    return text + (LETTERS[int(bits[:6], 2)] if len(text) < count else "")


class TestCuttingSheets:
    def test_every_piece_stands_on_a_cutting_sheet_a_fitting_sheet_and_a_label(self) -> None:
        plan = tower(2, 3, 7300)
        pages = [" ".join(page.extract_text().split()) for page in read(cutting_sheets_pdf(plan)).pages]
        cutting = " ".join(page for page in pages if "· cutting" in page)
        fitting = " ".join(page for page in pages if "· fitting" in page)
        labels = words(labels_pdf(plan))
        for piece in plan.pieces:
            assert piece.id in cutting, piece.id
            assert piece.id in labels, piece.id
            brackets = " · ".join(str(piece.from_mm + at) for at in piece.brackets_at_mm)
            assert f"{piece.id.removeprefix(piece.run + '-')} {piece.from_mm} {brackets} " in fitting, (
                piece.id
            )

    def test_the_cover_holds_the_cautions_in_full_and_who_decides(self) -> None:
        plan = small_plan()
        cover = " ".join(read(cutting_sheets_pdf(plan)).pages[0].extract_text().split())
        for caution in plan.cautions:
            assert caution in cover
        assert "a licensed practitioner decide" in cover
        assert "HL9-0042" in cover
        assert "Harbour Lane 9" in cover
        assert "2 x B-120" in cover, "boards of L01"
        assert "3 x B-120" in cover, "boards of L02"
        assert plan.warnings[0] in cover
        assert "the gap reaches 410 mm" in cover

    def test_every_sheet_has_its_number_the_order_and_a_caution(self) -> None:
        reader = read(cutting_sheets_pdf(small_plan(), revision="3"))
        for number, page in enumerate(reader.pages, start=1):
            text = " ".join(page.extract_text().split())
            assert f"page {number} of {len(reader.pages)}" in text
            assert "Order HL9-0042 · rev. 3" in text
            assert "The tested detail decides." in text

    def test_the_cover_says_on_which_page_each_level_begins(self) -> None:
        reader = read(cutting_sheets_pdf(measured(small_plan())))
        pages = [" ".join(page.extract_text().split()) for page in reader.pages]
        cutting = next(number for number, text in enumerate(pages, start=1) if "L02 · cutting" in text)
        fitting = next(number for number, text in enumerate(pages, start=1) if "L02 · fitting" in text)
        assert f"L02 2027-03-15 3 x B-120 0 1 0 5 {cutting} {fitting}" in pages[0]

    def test_levels_come_in_delivery_order(self) -> None:
        titles = [entry.title for entry in read(cutting_sheets_pdf(measured(small_plan()))).outline]
        assert titles == ["Cover", "L01: cutting", "L01: fitting", "L02: cutting", "L02: fitting"]

    def test_it_has_a_title_a_language_and_embedded_faces(self) -> None:
        reader = read(cutting_sheets_pdf(small_plan()))
        assert reader.metadata is not None
        assert reader.metadata.title == "Cutting sheets: Harbour Lane 9 (invented), order HL9-0042"
        assert reader.trailer["/Root"]["/Lang"] == "en"
        for page in reader.pages:
            for font in page["/Resources"]["/Font"].values():
                described = font.get_object().get("/FontDescriptor")
                assert described is not None
                assert "/FontFile2" in described.get_object()

    @pytest.mark.parametrize(
        ("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792)), ("letter", (612, 792))]
    )
    def test_paper(self, paper: str, size: tuple[int, int]) -> None:
        for page in read(cutting_sheets_pdf(small_plan(), paper)).pages:
            assert (round(page.mediabox.width), round(page.mediabox.height)) == size

    def test_an_unknown_paper_is_refused(self) -> None:
        with pytest.raises(ValueError, match="choose A4 or Letter"):
            cutting_sheets_pdf(small_plan(), "A3")

    def test_one_of_anything_is_said_as_one(self) -> None:
        run = Run(run="A", level="L1", length_mm=400, board=("B",))
        project = Project(
            products=(Board(code="B", length_mm=1200, width_mm=1000),
                      Bracket(code="K", length_mm=110)),
            levels=(Level(level="L1", sequence=1),), runs=(run,), gaps=(Gap(run="A", at_mm=0, gap_mm=150),),
        )  # fmt: skip
        assert "1 piece; 1 bracket K." in words(cutting_sheets_pdf(planning.plan(project)))

    def test_short_runs_stand_side_by_side_over_one_table(self) -> None:
        facets = tuple(Run(run=f"F{n:02d}", level="L1", length_mm=300, board=("B",)) for n in range(1, 11))
        project = Project(
            products=(Board(code="B", length_mm=1200, width_mm=1000),
                      Bracket(code="K", length_mm=110)),
            levels=(Level(level="L1", sequence=1),), runs=facets,
            gaps=tuple(Gap(run=run.run, at_mm=0, gap_mm=150) for run in facets),
        )  # fmt: skip
        content = cutting_sheets_pdf(planning.plan(project))
        fitting = [
            page.extract_text() for page in read(content).pages if "fitting" in page.extract_text()[:200]
        ]
        (together,) = [page for page in fitting if "Runs F01 to F09, seen from above" in page]
        assert all(f"F{n:02d}-001" in together for n in range(1, 10))  # each in the table of the same page
        assert "Run F10 · 300 mm" in words(content)

    def test_boards_cut_alike_stand_side_by_side_in_a_narrow_table(self) -> None:
        columns, rows = side_by_side(
            [Column("board", 42), Column("A", 58)], [[f"{n}", "x"] for n in range(20)], 400
        )
        assert [column.heading for column in columns] == ["board", "A", "", "board", "A", "", "board", "A"]
        assert [row[0] for row in rows] == [f"{n}" for n in range(7)]
        assert [row[6] for row in rows] == [*(f"{n}" for n in range(14, 20)), ""]
        assert side_by_side(columns, rows, 400) == (columns, rows)  # too wide for two
        assert len(side_by_side(columns[:2], [row[:2] for row in rows[:5]], 400)[0]) == 2  # too short

    def test_equal_plans_give_equal_files(self) -> None:
        assert cutting_sheets_pdf(small_plan()) == cutting_sheets_pdf(small_plan())

    def test_a_level_can_be_printed_alone(self) -> None:
        text = words(cutting_sheets_pdf(measured(small_plan()), levels=["L02"]))
        assert "L02-N-003" in text
        assert "L01-N-001" not in text
        assert "B001-R1 C2" in text, "a piece is said to come from the remainder that waited for it"

    def test_an_unknown_level_is_refused_with_those_there_are(self) -> None:
        with pytest.raises(ValueError, match="no level L09; it has L01, L02"):
            cutting_sheets_pdf(small_plan(), levels=["L09"])

    def test_levels_beyond_what_a_file_holds_are_left_out_and_named(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(sheet_frame, "PIECES_AT_ONCE", 9)
        reader = read(cutting_sheets_pdf(measured(small_plan())))
        assert "Not in this file, which would be too long: L02." in " ".join(
            reader.pages[0].extract_text().split()
        )
        assert "L02 · cutting" not in words(cutting_sheets_pdf(small_plan()))

    def test_a_levels_sheets_say_what_to_open_what_to_take_and_what_to_keep(self) -> None:
        plan = measured(small_plan())
        first = words(cutting_sheets_pdf(plan, levels=["L01"]))
        assert (
            "Open these boards 2 x B-120: B001, B002; 1 x B-120 ON SITE 1200 x 380 (stock-1): S003" in first
        )
        assert "Take no remainders from the rack." in first
        assert "B001-R1 450 x 166 strip B-120 L02" in first, "kept, with the level that it waits for"
        assert "L02-N-005" not in first, "a later level's piece is not cut"
        second = words(cutting_sheets_pdf(plan, levels=["L02"]))
        assert "Open these boards 3 x B-120: B004 to B006" in second
        assert "B001-R1 450 x 166 strip B-120 L01" in second, "taken, with the level that it was kept with"
        assert "B001-R1 B-120 450 x 166 TAKE" in second
        assert "C: cross-cut at 350 C2 L02-N-005" in second
        assert "Keep no remainders: nothing of what is opened waits for a later level." in second

    def test_what_an_earlier_plan_left_is_opened_from_the_rack(self) -> None:
        plan = measured(small_plan())
        left = AtHand(name="stock-1", kind="remainder", code="B-120", length_mm=1200, width_mm=380)
        racked = plan.model_copy(update={"job": plan.job.model_copy(update={"at_hand": (left,)})})
        first = words(cutting_sheets_pdf(racked, levels=["L01"]))
        assert "2 x B-120: B001, B002; 1 x B-120 FROM THE RACK 1200 x 380 (stock-1): S003" in first

    def test_what_a_width_serves_is_as_fine_as_the_gap_beside_it(self) -> None:
        """A gap between two readings of 170.9 mm is not beyond what 188 mm serve at 10 %: 170.909 mm."""
        served = ServedGaps(188 / Fraction("1.15"), 188 / Fraction("1.10"))
        assert (served.words, served.to_a_tenth) == ("164-170", "163.5-170.9")
        assert ServedGaps(Fraction(145), Fraction(150)).to_a_tenth == "145-150"

    def test_nominal_levels_are_withheld_and_the_cover_says_so(self) -> None:
        text = words(cutting_sheets_pdf(small_plan()))
        assert (
            "Withheld, because their gaps are still nominal: measure them and plan again. Levels: L02."
            in text
        )
        assert not any(piece.id in text for piece in small_plan().pieces if piece.level == "L02")
        assert all(piece.id in text for piece in small_plan().pieces if piece.level == "L01")

    def test_nominal_levels_are_marked_on_every_page_when_they_are_asked_for(self) -> None:
        pages = read(cutting_sheets_pdf(small_plan(), with_nominal=True)).pages
        texts = [" ".join(page.extract_text().split()) for page in pages]
        marked = [text for text in texts if "NOMINAL GAPS: NOT READY TO CUT. MEASURE FIRST." in text]
        about_it = [text for text in texts if "L02 ·" in text]
        assert about_it
        assert marked == about_it
        labels = words(labels_pdf(small_plan(), with_nominal=True))
        assert labels.count("NOMINAL GAP DO NOT CUT") == 5, "each of its labels"

    def test_a_delivery_of_several_levels_is_cut_together(self) -> None:
        plan = measured(small_plan())
        levels = tuple(level.model_copy(update={"sequence": 10}) for level in plan.project.levels)
        layouts = tuple(layout.model_copy(update={"stage": 10}) for layout in plan.layouts)
        project = plan.project.model_copy(update={"levels": levels})
        together = plan.model_copy(update={"project": project, "layouts": layouts})
        reader = read(cutting_sheets_pdf(together))
        titles = [entry.title for entry in reader.outline]
        assert titles == ["Cover", "L01, L02: cutting", "L01: fitting", "L02: fitting"]

    def test_a_plan_without_pieces_still_gives_a_cover(self) -> None:
        plan = small_plan().model_copy(update={"pieces": (), "layouts": (), "left_over": ()})
        assert "The tested detail" in words(cutting_sheets_pdf(plan))

    def test_letters_that_the_faces_lack_are_replaced_visibly(self) -> None:
        assert printable("Łódź Größe") == "Łódz Größe"
        assert printable("北京") == "<5317><4EAC>"
        assert "Tower <5317><4EAC>" in words(cutting_sheets_pdf(small_plan(name="Tower 北京")))


class TestPages:
    def test_long_names_stay_within_the_paper_and_cover_nothing(self) -> None:
        pages = Pages("A4")
        pages.new_page("x" * 300)
        pages.words("word " * 400, 9)
        pages.table([Column("a", 60), Column("b", 100, "end")], [("y" * 80, "z" * 200)] * 30)
        assert len(pages.sheets) > 1
        for _, shapes in pages.sheets:
            assert overlapping_labels(shapes) == []
            for label in labels_of(shapes):
                left, bottom, right, top = label_box(label)
                assert left >= pages.left - 1
                assert right <= pages.right + 1
                assert bottom > 0
                assert top < pages.height

    def test_a_tables_heading_is_repeated_on_each_page(self) -> None:
        pages = Pages("Letter")
        pages.new_page("")
        pages.table([Column("the heading", 200)], [(f"{row}",) for row in range(200)])
        for _, shapes in pages.sheets:
            assert sum(label.text == "the heading" for label in labels_of(shapes)) == 1


class TestLabels:
    def test_one_for_each_piece_in_the_order_of_cutting(self) -> None:
        plan = measured(small_plan())
        text = words(labels_pdf(plan))
        order = ("L01-N-003", "L01-N-005", "L01-N-007", "L02-N-002", "L02-N-005")
        where = [text.index(name) for name in order]
        assert where == sorted(where)
        assert all(piece.id in text for piece in plan.pieces)
        assert "1200 x 150 > 166" in text

    def test_a_remainder_has_its_name_its_size_and_the_level_it_waits_for(self) -> None:
        text = words(labels_pdf(measured(small_plan()), levels=["L01"]))
        assert "B001-R1 REMAINDER 450 x 166 waits for L02 B-120" in text
        assert "1 piece, from B001 kept with L01 HL9-0042" in text
        assert "L02-N-005" not in text

    def test_labels_of_nominal_levels_are_withheld_unless_asked_for(self) -> None:
        assert "L02-N" not in words(labels_pdf(small_plan()))
        assert words(labels_pdf(small_plan(), with_nominal=True)).count("NOMINAL GAP DO NOT CUT") == 5
        assert "Levels: L02." in words(labels_pdf(small_plan(), levels=["L02"]))

    def test_the_code_holds_the_pieces_id(self) -> None:
        for name in ("L01-N-001", "L14-E-127", "A"):
            assert read_code(qr_rows(name)) == name

    def test_where_a_service_has_an_address_the_code_opens_the_page_of_what_it_is_on(self) -> None:
        address = "https://orders.example/site/7/labels/"
        assert qr_text("L01-N 3/4", address) == f"{address}L01-N%203%2F4"
        assert qr_text("L01-N 3/4", "") == "L01-N 3/4"
        plan = measured(small_plan())
        index, deliveries = PlanIndex(plan), cuts_by_delivery(PlanIndex(plan))
        labelled = labels_in_cutting_order(index, deliveries, tuple(deliveries), False)
        for given in ("", address):
            pages = Pages("A4")
            add_labels(pages, index, "A4", labelled, {}, given)
            groups = [shape for _, shapes in pages.sheets for shape in shapes if isinstance(shape, Group)]
            codes = [part.rows for group in groups for part in group.shapes if isinstance(part, Modules)]
            names = [item.name if isinstance(item, Remainder) else item.id for item in labelled]
            assert codes == [qr_rows(qr_text(name, given)) for name in names]
