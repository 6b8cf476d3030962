"""`order.pdf`: the order as it is sent to a supplier, to be signed.

Delivery by delivery what arrives when, in packs, with prices, loads and weights; the sums, with what loads and storage
cost; what the limits of the deliveries make impossible; the proof that no plan needs fewer boards. Terms are the
buyer's: they are left to be written in.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from optimiser.model.money import total_of
from optimiser.model.plan import OrderLine, Plan
from optimiser.tables import deliveries as of_delivery
from optimiser.tables.columns import Column as TableColumn
from optimiser.tables.order_lines import ORDER_LINES
from optimiser.tables.text import cell_text
from optimiser.writing.drawing.pdf_pages import Column, Pages, pdf_of
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import Drawing, Label, Line, rectangle, wrapped
from optimiser.writing.drawing.sheet_frame import frame_of
from optimiser.writing.supplier.ubl import item_in_words, orders_anything
from optimiser.writing.words import (
    amount_text,
    delivery_costs_in_words,
    forecast_in_words,
    grouped_money,
    limits_not_kept,
    on_site_in_words,
    parts_in_words,
    proofs_in_words,
)

_SIZE = 7.8
_DECIDES = "The tested detail, local code and a licensed practitioner decide what may be built; this order only counts."


def order_pdf(
    plan: Plan,
    paper: str = "A4",
    *,
    revision: str = "",
    issued_on: date | None = None,
    record: Sequence[str] = (),
) -> bytes:
    """The order for the supplier.

    `paper` is A4 or Letter; `revision` and `issued_on` are printed when given (the date is else left to be
    written in), and `record`: lines that say what an issued order is known by. Raises ValueError for an unknown paper.
    """
    index = PlanIndex(plan, printable)
    pages = Pages(paper)
    pages.new_page("Purchase order")
    _opening(pages, index, revision, issued_on)
    _summary(pages, index)
    _loads(pages, index)
    _deliveries(pages, index)
    _explanations(pages, index)
    if record:
        pages.heading("Order of record", 10.5, keep_with=14 + 11 * len(record))
        for words in record:
            pages.words(index.text(words), 8, after=1)
    _signatures(pages)
    frame = frame_of(index, "Purchase order", revision)
    return pdf_of(frame._replace(caution=_DECIDES, subject=_DECIDES), [pages])


def _opening(pages: Pages, index: PlanIndex, revision: str, issued_on: date | None) -> None:
    """Who orders what from whom, and where it goes."""
    heading, text = index.plan.project.project, index.text
    order_by = [line.order_by for line in index.plan.order.lines if line.packs and line.order_by]
    pages.words(f"Order {text(heading.order_reference) or '(no reference)'}", 18, bold=True, after=2)
    facts = [f"Project: {text(heading.name) or 'not named'}"]
    if revision:
        facts.append(f"revision {text(revision)}")
    facts.append(f"date: {issued_on}" if issued_on else "date: ____________________")
    pages.words("; ".join(facts), 9.5, after=6)
    boxes = (("Buyer", heading.buyer), ("Supplier", heading.supplier), ("Deliver to", heading.deliver_to))
    gap = 8.0
    width = (pages.content_width - 2 * gap) / 3
    words = [wrapped(text(value) or "not stated", width - 12, 9) for _, value in boxes]
    height = 22 + max(len(lines) for lines in words) * 11.5
    block = Drawing(pages.content_width, height)
    for place, ((name, _), lines) in enumerate(zip(boxes, words, strict=True)):
        x = place * (width + gap)
        block.add(rectangle(x, 0, width, height, "box"), Label(x + 6, height - 12, name, 8.0, "start", True))
        for number, line in enumerate(lines):
            block.add(Label(x + 6, height - 25 - number * 11.5, line, 9.0))
    pages.place(block, after=10)
    total = grouped_money(index.plan.order.total, index.plan.order.currency)
    pages.words(f"Total {total}, before taxes", 14, bold=True, after=2)
    if parts := parts_in_words(index.plan):
        pages.words(f"Of it {parts}.", 11, bold=True, after=2)
    if not orders_anything(index.plan):
        pages.words("Nothing is to be ordered: what is on site covers all that is planned.", 9.5, bold=True)
    if order_by:
        pages.words(f"To be ordered by {min(order_by)} for the first delivery to arrive in time.", 9.5)


def _summary(pages: Pages, index: PlanIndex) -> None:
    """Each product once, with what all deliveries together bring; firm and forecast apart."""
    lines = index.plan.order.lines
    apart = [[line for line in lines if line.status == status] for status in ("firm", "forecast")]
    if not apart[1]:
        _order_summary(pages, index, "Order summary", lines, "total")
        return
    if apart[0]:
        _order_summary(pages, index, "Firm: levels that are measured", apart[0], "firm")
    _order_summary(pages, index, "Forecast: levels that are not measured yet", apart[1], "forecast")
    for words in forecast_in_words(index.plan):
        pages.words(f"•  {index.text(words)}", 9, after=1.5)


def _order_summary(
    pages: Pages, index: PlanIndex, heading: str, lines: Sequence[OrderLine], total_label: str
) -> None:
    """A table of products, with what these lines together bring."""
    currency = index.plan.order.currency
    codes = list(dict.fromkeys(line.code for line in lines))
    pages.heading(heading, keep_with=60)
    columns = _widths(
        pages, ("code", 62), ("what", 0), ("needed", 46), ("allowance", 54), ("packs", 42), ("price", 62),
        ("amount", 74),
    )  # fmt: skip
    rows = []
    for code in codes:
        here = [line for line in lines if line.code == code]
        rows.append(
            (
                index.text(code),
                _what(index, here[0]),
                f"{sum(line.needed for line in here):,}",
                f"{sum(line.allowance for line in here):,}",
                f"{sum(line.packs for line in here):,}",
                _price(here[0], currency),
                amount_text(total_of(line.amount for line in here), currency),
            )
        )
    rows.append(
        (
            total_label,
            f"in {currency}, before taxes",
            "",
            "",
            "",
            "",
            amount_text(total_of(line.amount for line in lines), currency),
        )
    )
    pages.table(columns, rows, _SIZE, bold_rows=lambda row: row == len(rows) - 1)


def _loads(pages: Pages, index: PlanIndex) -> None:
    """Each delivery in a row, with the loads, pallets and weight that are known; what loads and storage cost, what
    stands on site, and which limits are not kept."""
    plan = index.plan
    if plan.deliveries:
        pages.heading("Deliveries", keep_with=60)
        columns = of_delivery.known(
            (
                of_delivery.LEVELS,
                *of_delivery.firmness_columns(plan.levels),
                of_delivery.DELIVER_ON,
                of_delivery.ORDER_BY,
                *of_delivery.CARRIED_BY,
                of_delivery.AMOUNT,
            ),
            plan.deliveries,
        )
        room = pages.content_width - sum(_WIDE[column.name] for column in columns)
        widths = [
            Column(
                column.heading_with_unit[:1].lower() + column.heading_with_unit[1:],
                _WIDE[column.name] + (room if column is columns[0] else 0),
                "end" if column.to_the_right else "start",
            )
            for column in columns
        ]
        rows = [
            tuple(index.text(cell_text(column, delivery, plan.order.currency)) for column in columns)
            for delivery in plan.deliveries
        ]
        pages.table(widths, rows, _SIZE)
    for heading, sentences in (
        ("Deliveries and storage", (*delivery_costs_in_words(plan), *on_site_in_words(plan))),
        ("Limits that are not kept", limits_not_kept(plan)),
    ):
        if sentences:
            pages.heading(heading, 10.5, keep_with=40)
        for words in sentences:
            pages.words(f"•  {index.text(words)}", 9, after=1.5)


def _deliveries(pages: Pages, index: PlanIndex) -> None:
    """What arrives for each level, in delivery order."""
    order = index.plan.order
    columns = _widths(
        pages, ("code", 60), ("what", 0), ("order_by", 58), ("needed", 42), ("allowance", 51), ("per_pack", 34),
        ("packs", 33), ("price", 52), ("amount", 62),
    )  # fmt: skip
    rank = index.plan.project.building.place_of_level
    together = sorted(  # a level's lines may come on several days
        order.lines, key=lambda line: (rank.get(line.level, 0), line.deliver_on or date.min)
    )
    for (level, _), group in groupby(together, key=lambda line: (line.level, line.deliver_on)):
        lines = list(group)
        when = f"deliver on {lines[0].deliver_on}" if lines[0].deliver_on else "date to be agreed"
        amount = grouped_money(total_of(line.amount for line in lines), order.currency)
        status = _status(lines[0]) if lines[0].status == "forecast" else ""
        pages.heading(
            f"{index.text(level)} · {when} · {amount}{status}", 10.5, keep_with=34 + 13 * min(len(lines), 12)
        )
        pages.bookmark(f"{index.text(level)}: {when}")
        rows = [
            (
                index.text(line.code),
                _what(index, line).rpartition(", ")[0],
                f"{line.order_by or ''}" if line.packs else "",
                f"{line.needed:,}",
                f"{line.allowance:,}",
                f"{line.per_pack:,}",
                f"{line.packs:,}" if line.packs else "none",
                _price(line, order.currency) if line.packs else "",
                amount_text(line.amount, order.currency) if line.packs else "covered",
            )
            for line in lines
        ]
        pages.table(columns, rows, _SIZE)


def _explanations(pages: Pages, index: PlanIndex) -> None:
    """What the columns mean, and how good the plan behind the order is."""
    pages.heading("How the quantities were found")
    for words in (
        *proofs_in_words(index.plan),
        "Needed: what the cutting plan uses for the level, its waste from cutting included.",
        "Allowance: for breakage and loss on top of the plan, rounded up once over the whole project. It is not a"
        " second allowance for cutting waste. On a forecast level it stands for the tolerances of its gaps instead.",
        "Packs: rounded up once over the whole project. What a delivery leaves over serves the next one, so a line"
        " may need no pack: earlier deliveries have covered it.",
        "Order by: counted back from the delivery over the product's lead time in working days.",
    ):
        pages.words(f"•  {index.text(words)}", 9, after=1.5)
    if any(not line.price for line in index.plan.order.lines):
        pages.words(
            "•  A product without a price is to be priced by the supplier; the total leaves it out.", 9
        )


def _signatures(pages: Pages) -> None:
    """Room for the buyer's terms, and for both to sign."""
    block = Drawing(pages.content_width, 150)
    half = (pages.content_width - 16) / 2
    block.add(
        Label(
            0,
            138,
            "Terms (payment, freight, acceptance, returns): written in by the buyer",
            9.0,
            "start",
            True,
        )
    )
    block.add(*(Line(0, 138 - 18 * line, pages.content_width, 138 - 18 * line, "rule") for line in (1, 2, 3)))
    for x, who in ((0.0, "For the buyer"), (half + 16, "Accepted for the supplier")):
        block.add(Label(x, 62, who, 9.0, "start", True))
        for y, name in ((38.0, "Name"), (20.0, "Date"), (2.0, "Signature")):
            block.add(Label(x, y + 3, name, 8.0), Line(x + 48, y, x + half, y, "rule"))
    pages.y -= 8
    pages.place(block)


def _status(line: OrderLine) -> str:
    """What stands behind a forecast delivery's heading."""
    return (
        f" · forecast, measure by {line.measure_by}" if line.measure_by else " · forecast, not measured yet"
    )


_WIDE = {
    "levels": 60, "status": 84, "measure_by": 60, "deliver_on": 60, "order_by": 60, "trucks": 34, "pallets": 38,
    "weight_kg": 54, "amount": 66,
}  # fmt: skip
_WHAT = TableColumn("what", "What", what="the product in words")
_BY_NAME = {column.name: column for column in (*ORDER_LINES, _WHAT)}


def _widths(pages: Pages, *columns: tuple[str, float]) -> Sequence[Column]:
    """The order lines' columns of these names, of the given widths; the one of width 0 takes what is left."""
    left = pages.content_width - sum(width for _, width in columns)
    return [
        Column(_BY_NAME[name].within_a_line, width or left, "end" if _BY_NAME[name].to_the_right else "start")
        for name, width in columns
    ]


def _what(index: PlanIndex, line: OrderLine) -> str:
    return index.text(item_in_words(line, index.products.get(line.code)))


def _price(line: OrderLine, currency: str) -> str:
    return amount_text(line.price, currency) if line.price else "to confirm"
