"""The office workbook's sheets from pieces to boards to packs to money: products, boards, cutting, waste, the order's
lines, the order as it is sent, the crew's hours."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from optimiser.model.order import OrderLine
from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.tables.amounts import amount_text
from optimiser.tables.columns import Column, Columns
from optimiser.tables.deliveries import known
from optimiser.tables.order_lines import ORDER_LINES
from optimiser.tables.patterns import PATTERNS_ON_THE_SHEET, strips_of
from optimiser.tables.purchase_lines import PURCHASE_LINES, rows_of
from optimiser.tables.remainders import RACK, REMAINDERS, STOCK
from optimiser.tables.truckloads import TRUCKLOADS
from optimiser.tables.waste import LEFT_OVER, SERVES, WASTE, areas_of, lots_of
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.office.account import board_accounts, product_accounts
from optimiser.writing.office.crew_account import Work, crew_work
from optimiser.writing.office.rack_account import racks
from optimiser.writing.office.workbook_table import explain_headings, table_sheet
from optimiser.writing.spreadsheet import Book
from optimiser.writing.supplier.words import tax_in_words

PACKS_ARE_CARRIED = (
    "Packs are rounded up once for the whole project and carried: a line with 0 packs is served by what earlier"
    " deliveries leave over."
)


def _square_metres(name: str) -> Any:
    return lambda row: getattr(row, name) / 1e6


PRODUCTS: Columns = (
    Column("code", "Product", width=14),
    Column("size", "Size", width=24),
    Column(
        "needed", "Needed", "count", 11, what="single boards, brackets, anchors and rolls that the plan uses"
    ),
    Column("allowance", "Allowance", "count", 12, what="on top, for breakage, loss or tolerance"),
    Column("quantity", "Quantity", "count", 11, what="needed + allowance"),
    Column("per_pack", "Per pack", "count", 9, what="singles in a pack"),
    Column("packs", "Packs", "count", 8, what="quantity / per pack, rounded up once over the project"),
    Column("ordered", "Ordered", "count", 11, what="packs x per pack"),
    Column("over", "Over", "count", 8, what="ordered - quantity"),
    Column("price", "Price per pack", "money", 15),
    Column("list_amount", "Packs x price", "money", 18, what="packs x price per pack, before price breaks"),
    Column(
        "price_breaks", "Price breaks", "money", 15, what="what the price breaks of each delivery take off"
    ),
    Column(
        "amount", "Amount", "money", 16, what="packs x price + price breaks: what the order lines come to"
    ),
    Column(
        "weight_kg",
        "Weight",
        "area",
        12,
        "kg",
        what="of all that is ordered; empty where the product states none",
    ),
    Column(
        "carbon_kg",
        "Carbon",
        "area",
        12,
        "kg",
        what="CO2 equivalent of all that is ordered",
    ),
)
BOARDS: Columns = (
    Column("code", "Board", width=14),
    Column("size", "Size", width=24),
    Column("pieces", "Pieces", "count", 9, what="cut from it"),
    Column("strips", "Strips", "count", 9, what="ripped, as long as the board"),
    Column("opened", "Boards needed", "count", 10, what="bought and cut"),
    Column("on_site", "From stock", "count", 10, what="boards and offcuts of the stock table that are cut"),
    Column("lower_bound", "Proved minimum", "count", 10, what="no cutting of these pieces can need fewer boards"),
    Column("packs", "Packs", "count", 8, what="paid for, allowance included"),
    Column("lower_bound_packs", "Proved minimum of packs", "count", 12),
    Column("bought_m2", "Bought", "area", 11, "m2", value=_square_metres("bought_mm2")),
    Column("stock_m2", "From stock", "area", 11, "m2", value=_square_metres("stock_mm2")),
    Column("fitted_m2", "Fitted", "area", 11, "m2", what="pieces as cut", value=_square_metres("fitted_mm2")),
    Column(
        "left_over_m2", "Left over", "area", 11, "m2", what="kept in sizes that can serve again",
        value=_square_metres("left_over_mm2"),
    ),
    Column(
        "scrap_m2", "Scrap", "area", 11, "m2", what="bought + from stock - fitted - left over",
        value=_square_metres("scrap_mm2"),
    ),
    Column("price_m2", "Price a m2", "money", 14, what="price per pack / boards in it / area of one"),
    Column("left_over_money", "Left over", "money", 14, what="left over x price a m2"),
    Column("scrap_money", "Scrap", "money", 14, what="scrap x price a m2"),
)  # fmt: skip


def products(book: Book, plan: Plan) -> None:
    """Every product: what is needed, the allowance, the packs, and what they cost."""
    rows = product_accounts(plan)
    table_sheet(book, "Products", known(PRODUCTS, rows), rows, ("list_amount", "price_breaks", "amount"))


def boards(book: Book, plan: Plan) -> None:
    """Every board: what is cut from it, its proved minimum, and where its area went."""
    areas = ("bought_m2", "stock_m2", "fitted_m2", "left_over_m2", "scrap_m2")
    counts = ("pieces", "strips", "left_over_money", "scrap_money")
    table_sheet(book, "Boards", BOARDS, board_accounts(plan), (*counts, *areas))


def cutting(book: Book, plan: Plan) -> None:
    """How each board is ripped and cross-cut, a row a strip; a pattern with a nominal gap is not ready to cut."""
    table_sheet(book, "Cutting", PATTERNS_ON_THE_SHEET, list(strips_of(plan.numbered_layouts)))


def waste(book: Book, plan: Plan) -> None:
    """Where the board area went, and the left-overs with the levels that have a piece for them."""
    sheet = book.sheet("Waste")
    end = book.table(sheet, 0, WASTE, areas_of(plan.waste), freeze=False)
    book.text(sheet, end + 1, 0, "Left over in sizes that can serve again", "section")
    columns = LEFT_OVER if plan.usable_left_over is None else (*LEFT_OVER, SERVES)
    lots = lots_of(plan.left_over, plan.usable_left_over or ())
    end = book.table(sheet, end + 2, columns, lots, freeze=False)
    sheet.repeat_rows(end - 1 - len(lots))
    explain_headings(book, sheet, end, (*WASTE, *columns))


def remainders(book: Book, plan: Plan) -> None:
    """What waits on the rack, by name and delivery by delivery, and the stock that was on site before."""
    index = PlanIndex(plan)
    racked = index.sequence.remainders
    stock = [row.model_copy(update={"name": name}) for name, row in plan.project.building.stock.items()]
    if not racked and not stock:
        return
    sheet = book.sheet("Remainders")
    end = book.table(sheet, 0, REMAINDERS, racked)
    book.text(sheet, end + 1, 0, "On the rack after each delivery", "section")
    end = book.table(sheet, end + 2, RACK, racks(index), freeze=False)
    columns = (*REMAINDERS, *RACK)
    if stock:
        book.text(sheet, end + 1, 0, "On site before", "section")
        end = book.table(sheet, end + 2, STOCK, stock, freeze=False)
        columns = (*columns, *STOCK)
    explain_headings(book, sheet, end, columns)


def lines(book: Book, plan: Plan) -> None:
    """The plan's order lines, what is needed beside what is bought; the total is a formula over them."""
    weights = {product.code: product.weight_kg for product in plan.project.products}

    def weight(line: OrderLine) -> Decimal | None:
        each = weights.get(line.code)
        return None if each is None else each * line.per_pack * line.packs

    weighed = Column("weight_kg", "Weight", "area", 11, "kg", what="of the packs", value=weight)
    columns = (*ORDER_LINES, *known((weighed,), plan.order.lines))
    sheet = book.sheet("Order lines")
    end = book.table(sheet, 0, columns, plan.order.lines)
    total, style = float(plan.order.total), book.formats["total"]
    book.text(sheet, end, 0, "Total", "total_text")
    for place, column in enumerate(columns):
        if column.name == "amount" and plan.order.lines:
            letter = chr(ord("A") + place)
            sheet.write_formula(end, place, f"=SUM({letter}2:{letter}{end})", style, total)
        elif column.name == "amount":
            sheet.write_number(end, place, total, style)
        elif place:
            sheet.write_blank(end, place, None, book.formats["total_text"])
    book.text(sheet, end + 2, 0, "Packs", "section")
    book.text(sheet, end + 3, 0, PACKS_ARE_CARRIED, "text")
    explain_headings(book, sheet, end + 4, columns)


def sent(book: Book, order: PurchaseOrder) -> None:
    """The order as it is sent: its lines by truckload, its sums with tax, and what each truckload comes to."""
    rows = rows_of(order)
    columns = known(PURCHASE_LINES, rows) if rows else PURCHASE_LINES
    sheet = book.sheet("Purchase order")
    end = book.table(sheet, 0, columns, rows) + 1
    column = next(place for place, known in enumerate(columns) if known.name == "amount")
    sums = [("Subtotal", order.subtotal, "money")]
    sums += [(tax_in_words(order, tax), tax.tax, "money") for tax in order.taxes]
    sums += [("Tax", order.tax, "money"), ("Total, tax included", order.total, "total")]
    for name, amount, style in sums:
        book.text(sheet, end, 0, name, "label")
        sheet.write_number(end, column, float(amount), book.formats[style])
        end += 1
    loads = known(TRUCKLOADS, order.truckloads)
    if order.truckloads:
        book.text(sheet, end + 1, 0, "Truckloads", "section")
        end = book.table(sheet, end + 2, loads, order.truckloads, freeze=False)
    explain_headings(book, sheet, end, (*columns, *loads))


def crew(book: Book, plan: Plan) -> None:
    """The crew's work and its hours, at the project's rates or at placeholders."""
    rates = plan.project.crew_rates
    columns: Columns = (
        Column("name", "Work", width=34),
        Column("number", "Number", "count", 10, what="how often, by the crew's sheets"),
        Column("minutes_each", "Minutes each", "area", 12, what="of one person, by crew_rates"),
        Column("rate", "Rate", width=20, what="its row in crew_rates"),
        Column(
            "placeholder", "Placeholder", "text", 14, what="common practice, no source; give the rate in crew_rates",
            value=lambda work: "placeholder" if work.placeholder else "given",
        ),
        Column("hours", "Hours", "area", 10, what="number x minutes each / 60"),
    )  # fmt: skip
    if rates.hour_cost:
        said = f"hours x {amount_text(rates.hour_cost, plan.order.currency)} (hour_cost)"

        def cost(work: Work) -> Decimal:
            return work.cost(rates.hour_cost)

        columns = (*columns, Column("cost", "Cost", "money", 16, what=said, value=cost))
    table_sheet(book, "Crew hours", columns, crew_work(plan), ("hours", "cost"))
