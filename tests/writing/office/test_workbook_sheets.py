"""office.xlsx: sheets that print well, real dates and numbers, and text that is never a formula."""

from datetime import datetime

import pytest
from openpyxl.workbook import Workbook

from optimiser.model.planned_pieces import NotPlanned
from optimiser.planning.plan import plan
from optimiser.writing.office.workbook import office_xlsx
from optimiser.writing.spreadsheet import Book
from tests.builders import plans_by_hand
from tests.builders.closed_level import closed_level
from tests.builders.levels import weekly
from tests.builders.sheets import opened, table_of
from tests.builders.small_plan import small_plan, small_project
from tests.builders.supplier_job import supplier_job

NOT_PLANNED = NotPlanned(
    run="L02-N",
    level="L02",
    from_mm=0,
    to_mm=500,
    what="bracket",
    reason="no bracket reaches into a gap of 410 mm",
    mend="add one of 308 mm",
)


def workbook(name: str = "Example House (invented)", reference: str = "PO-17") -> Workbook:
    made = small_plan(small_project(name, reference), (NOT_PLANNED,))
    return opened(office_xlsx(made))


def test_the_sheets_in_reading_order() -> None:
    assert workbook().sheetnames == [
        "Order summary",
        "Products",
        "Boards",
        "Cutting",
        "Waste",
        "Remainders",
        "Order lines",
        "Deliveries",
        "Levels",
        "Brackets",
        "Runs",
        "Pieces",
        "Crew hours",
        "Said of the plan",
        "Purchase order",
    ]


def test_the_order_lines_are_typed() -> None:
    order = workbook()["Order lines"]
    assert [cell.value for cell in order[1]] == [
        "Level",
        "Deliver on",
        "Order by",
        "Kind",
        "Code",
        "Needed",
        "Allowance",
        "Quantity",
        "Per pack",
        "Packs",
        "Pack",
        "Price per pack",
        "Amount",
        "Status",
        "Measure by",
    ]
    assert [cell.value for cell in order[2]] == [
        "L01",
        datetime(2027, 2, 22),
        datetime(2027, 2, 1),
        "board",
        "B-120",
        1,
        1,
        2,
        4,
        1,
        None,
        212,
        212,
        "firm",
        None,
    ]
    assert order["B2"].number_format == "yyyy-mm-dd"
    assert "AUD" in order["M2"].number_format


def test_forecast_lines_and_what_they_come_to_stand_apart() -> None:
    book = opened(office_xlsx(plans_by_hand.small_plan()))
    *lines, total = table_of(book["Order lines"])[1:]
    rows = {(row[0], row[13], row[14]) for row in lines}
    assert (len(lines), total[0]) == (8, "Total")
    assert rows == {("L01", "firm", None), ("L02", "forecast", datetime(2027, 2, 22))}
    words = " ".join(str(cell.value) for row in book["Order summary"] for cell in row if cell.value)
    assert "Of the total: firm AUD 528.40, forecast AUD 212.00" in words
    assert "Measure to keep the deliveries: L02 by 2027-02-22." in words


def test_each_delivery_says_what_its_loads_cost_where_a_load_has_a_price() -> None:
    made = plan(weekly(truck_pallets=1, pallet_packs=1, delivery_cost="40.00"), staging="level")
    heading, *rows = table_of(opened(office_xlsx(made))["Deliveries"])
    column = heading.index("Cost of loads")
    *each, total = (row[column] for row in rows[: len(made.deliveries) + 1])
    assert each == [40 * delivery.trucks for delivery in made.deliveries if delivery.trucks]
    assert total == sum(each) == made.delivery_costs.delivery  # type: ignore[union-attr]
    free = opened(office_xlsx(plan(weekly(), staging="level")))
    assert "Cost of loads" not in table_of(free["Deliveries"])[0]


def test_the_total_adds_up_its_lines_and_nothing_else_is_a_formula() -> None:
    cells = [
        (sheet.title, cell.coordinate, cell.value)
        for sheet in workbook("=1+1", "@SUM(A1)")
        for row in sheet
        for cell in row
        if cell.data_type == "f"
    ]
    assert cells == [("Order lines", "M8", "=SUM(M2:M7)")]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "http://example.invalid", "12"])
def test_text_stays_text(text: str) -> None:
    cell = workbook(name=text)["Order summary"]["B2"]
    assert (cell.value, cell.data_type, cell.hyperlink) == (text, "s", None)


def test_every_sheet_is_set_up_for_print() -> None:
    for sheet in workbook():
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
        assert "PO-17" in sheet.oddHeader.left.text
        assert "&P" in sheet.oddFooter.right.text or "Page" in sheet.oddFooter.right.text


def test_long_sheets_keep_their_heading_in_view_and_on_every_page() -> None:
    book = workbook()
    for name, heading_row in (
        ("Order lines", 1),
        ("Deliveries", 1),
        ("Cutting", 1),
        ("Pieces", 1),
        ("Brackets", 1),
    ):
        assert book[name].freeze_panes == f"B{heading_row + 1}"
        assert book[name].print_title_rows == f"${heading_row}:${heading_row}"


def said_on(book: Workbook, sheet: str) -> str:
    return " ".join(str(cell.value) for row in book[sheet] for cell in row if cell.value)


@pytest.mark.slow
def test_a_tax_is_said_as_on_the_order_and_few_pieces_wait_in_plain_words() -> None:
    book = opened(office_xlsx(plan(supplier_job())))
    sent = said_on(book, "Purchase order")
    assert "GST 10 % of " in sent
    assert "GST 5.5 % of " in sent
    assert "%" not in sent.replace(" % of ", "")
    made = small_plan()
    one = made.waiting.model_copy(update={"pieces": 1, "remainders": 1, "piece_stages": 1})
    said = said_on(opened(office_xlsx(made.model_copy(update={"waiting": one}))), "Said of the plan")
    assert "Pieces that wait: 1, in 1 remainder; pieces times deliveries: 1, proved minimum" in said


def test_the_summary_says_whose_order_it_is_and_what_it_rests_on() -> None:
    summary = said_on(workbook(), "Order summary")
    assert "1 board of B-120; no cutting of these pieces can use fewer: proved." in summary
    sheet = workbook()["Order summary"]
    facts = {sheet.cell(row, 1).value: sheet.cell(row, 2).value for row in range(2, 7)}
    assert facts == {
        "Project": "Example House (invented)",
        "Buyer": "Buyer (invented)",
        "Supplier": "Supplier (invented)",
        "Deliver to": "",
        "Order as it is sent": "PO-17: Draft, not issued",
    }


def test_lines_of_no_packs_are_explained_below_the_order_lines() -> None:
    said = said_on(workbook(), "Order lines")
    assert "a line with 0 packs is served by what earlier deliveries leave over." in said


def test_everything_that_is_not_planned_or_to_be_cautious_of_is_said() -> None:
    text = said_on(workbook(), "Said of the plan")
    assert "no bracket reaches into a gap of 410 mm" in text
    assert "Placeholders, not values of a tested detail" in text
    assert "fall protection" in text
    book = workbook()
    assert not any("compliant" in said_on(book, sheet).lower() for sheet in book.sheetnames)


def test_pieces_cutting_and_counts_are_all_there() -> None:
    book = workbook()
    assert [row[0] for row in table_of(book["Pieces"])[1:]] == [
        "L01-N-001",
        "L01-N-002",
        "L02-N-001",
        "L02-N-002",
    ]
    assert [cell.value for cell in book["Cutting"][2]] == [
        1,
        "B-120",
        "board",
        1,
        1,
        1,
        165,
        "yes",
        1,
        "L01-N-001 (1200)",
    ]
    assert [cell.value for cell in book["Brackets"][4]] == ["Total", 8, 8, 8, 2, 0.5]
    assert [cell.value for cell in book["Deliveries"][2]][4:] == [1, 1, 1, 1, 313.6]
    assert [cell.value for cell in book["Waste"][10]] == ["B-120", 1, 1200, 340, 1]


def test_the_pieces_say_where_they_are_notched_and_how_wide_and_deep() -> None:
    """The closed level's mullions of 60 x 45 mm at 300 and 1500 of run A; the other runs have none."""
    made = plan(closed_level())
    headings, *pieces = table_of(opened(office_xlsx(made))["Pieces"])
    columns = [
        headings.index(name)
        for name in ("Notches at mm (from the piece's start)", "Notch width mm", "Notch depth mm")
    ]
    rows = {row[0]: [row[column] for column in columns] for row in pieces}
    assert len(rows) == len(made.pieces)
    for piece in made.pieces:
        where = ", ".join(str(at) for at in piece.notches_at_mm) or None
        sized = [60, 45] if piece.notches_at_mm else [None, None]
        assert rows[piece.id] == [where, *sized], piece.id
    assert sum(row[1] == 60 for row in rows.values()) == 2


def test_money_has_the_places_of_its_currency_and_print_its_paper() -> None:
    plan = small_plan()
    yen = plan.model_copy(update={"order": plan.order.model_copy(update={"currency": "JPY"})})
    book = opened(office_xlsx(yen, "Letter"))
    assert book["Order lines"]["M2"].number_format == "[$JPY] #,##0"
    assert workbook()["Order lines"]["M2"].number_format == "[$AUD] #,##0.00"
    assert {sheet.page_setup.paperSize for sheet in book} == {1}
    assert {sheet.page_setup.paperSize for sheet in workbook()} == {9}


def test_equal_plans_give_equal_bytes() -> None:
    assert office_xlsx(small_plan()) == office_xlsx(small_plan())


def test_a_long_title_leaves_the_sheets_name_in_the_printed_head() -> None:
    """An & is written twice there; half of a pair would take the next sign for its own."""
    book = Book("A" * 119 + "&" + "C" * 100, "AUD")
    book.sheet("Cutting")
    head = opened(book.content())["Cutting"].oddHeader
    assert (head.left.text, head.right.text) == ("A" * 110, "Cutting")
