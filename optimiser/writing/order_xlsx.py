"""`order.xlsx`: the order and what stands behind it, for people.

Sheets: Order, Deliveries, Cutting, Pieces, Brackets, Waste. Ready to print in landscape; text is always text,
whatever it begins with.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import groupby
from typing import Any

import xlsxwriter

from optimiser.plan import LevelCounts, Plan
from optimiser.project import KINDS
from optimiser.writing.shapes import without_control_characters
from optimiser.writing.words import place_in_words, proofs_in_words

_LONGEST_CELL = 32_000  # a cell holds at most 32 767 characters (ECMA-376)
_TO_THE_LEFT = ("cell", "wrapped_cell", "date")


@dataclass(frozen=True)
class Column:
    """A column of a sheet: its heading, how its values are shown, and its width in characters."""

    heading: str
    shown_as: str = "cell"
    width: float = 12


def order_xlsx(plan: Plan) -> bytes:
    """The workbook as bytes. Dates are real dates, money has the order's currency; equal plans give equal
    sheets."""
    return _Book(plan).write()


class _Book:
    """One workbook while it is written."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.file = io.BytesIO()
        self.workbook = xlsxwriter.Workbook(
            self.file,
            {
                "in_memory": True,
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
            },
        )
        heading = plan.project.project
        self.title = " - ".join(part for part in (heading.order_reference, heading.name) if part) or "Order"
        # A fixed time of creation: equal plans give equal bytes, and the core reads no clock.
        self.workbook.set_properties({"title": _clean(self.title), "created": datetime(2000, 1, 1)})
        money = f"[${plan.order.currency}] #,##0.00"
        base: dict[str, Any] = {"font_name": "Arial", "font_size": 10, "valign": "top"}
        styles: dict[str, dict[str, Any]] = {
            "text": {},
            "wrapped": {"text_wrap": True},
            "cell": {"align": "left", "indent": 1},
            "wrapped_cell": {"text_wrap": True, "align": "left", "indent": 1},
            "whole": {"num_format": "#,##0"},
            "mm": {"num_format": "0"},
            "area": {"num_format": "#,##0.00"},
            "percent": {"num_format": "0.0%"},
            "money": {"num_format": money},
            "date": {"num_format": "yyyy-mm-dd", "align": "left", "indent": 1},
            "title": {"bold": True, "font_size": 14},
            "label": {"bold": True},
            "section": {"bold": True, "font_size": 11, "bottom": 1},
            "heading": {
                "bold": True,
                "align": "left",
                "indent": 1,
                "text_wrap": True,
                "valign": "vcenter",
                "bg_color": "#DDE3E8",
                "bottom": 1,
            },
            "number_heading": {
                "bold": True,
                "text_wrap": True,
                "align": "right",
                "valign": "vcenter",
                "bg_color": "#DDE3E8",
                "bottom": 1,
            },
            "total": {"bold": True, "top": 1, "num_format": money},
            "total_text": {"bold": True, "top": 1},
            "total_whole": {"bold": True, "top": 1, "num_format": "#,##0"},
        }
        self.formats = {name: self.workbook.add_format({**base, **style}) for name, style in styles.items()}

    def write(self) -> bytes:
        self._order()
        self._deliveries()
        self._cutting()
        self._pieces()
        self._brackets()
        self._waste()
        self.workbook.close()
        return self.file.getvalue()

    # -- sheets, in the order in which they are read

    def _order(self) -> None:
        plan, heading = self.plan, self.plan.project.project
        columns = (
            Column("Level", width=11),
            Column("Deliver on", "date", 12),
            Column("Order by", "date", 12),
            Column("Kind", width=9),
            Column("Code", width=16),
            Column("Needed", "whole", 9),
            Column("Allowance", "whole", 10),
            Column("Quantity", "whole", 9),
            Column("Per pack", "whole", 9),
            Column("Packs to deliver", "whole", 11),
            Column("Pack", width=18),
            Column("Price a pack", "money", 15),
            Column("Amount", "money", 17),
        )
        sheet = self._sheet("Order")
        self._text(sheet, 0, 0, f"Order {heading.order_reference}".strip(), "title")
        facts = (
            ("Project", heading.name),
            ("Buyer", heading.buyer),
            ("Supplier", heading.supplier),
            ("Deliver to", heading.deliver_to),
        )
        for row, (label, value) in enumerate(facts, start=1):
            self._text(sheet, row, 0, label, "label")
            self._text(sheet, row, 1, value, "text")
        rows = [
            (
                line.level,
                line.deliver_on,
                line.order_by,
                line.kind,
                line.code,
                line.needed,
                line.allowance,
                line.quantity,
                line.per_pack,
                line.packs,
                line.pack_name,
                line.price,
                line.amount,
            )
            for line in plan.order.lines
        ]
        end = self._table(sheet, 6, columns, rows)
        self._text(sheet, end, 0, "Total", "total_text")
        for column in range(1, 12):
            sheet.write_blank(end, column, None, self.formats["total_text"])
        total = plan.order.total / 100
        if rows:
            sheet.write_formula(end, 12, f"=SUM(M8:M{end})", self.formats["total"], total)
        else:
            sheet.write_number(end, 12, total, self.formats["total"])
        row = end + 2
        row = self._paragraphs(
            sheet,
            row,
            "Packs",
            (
                "Packs are rounded up once for the whole project and carried: a line with 0 packs is served"
                " by what earlier deliveries leave over.",
            ),
        )
        row = self._paragraphs(sheet, row, "Proof", proofs_in_words(plan))
        row = self._paragraphs(
            sheet,
            row,
            "Not planned",
            [place_in_words(place) for place in plan.not_planned],
        )
        row = self._paragraphs(sheet, row, "Warnings", plan.warnings)
        self._paragraphs(sheet, row, "Cautions", plan.cautions)

    def _deliveries(self) -> None:
        used = {code for delivery in self.plan.deliveries for code in delivery.packs}
        products = sorted(self.plan.project.products, key=lambda product: KINDS.index(product.kind))
        codes = [product.code for product in products if product.code in used]
        trucks = any(delivery.trucks is not None for delivery in self.plan.deliveries)
        fixed = 5 if trucks else 4  # columns before the packs
        columns = (
            Column("Level", width=11),
            Column("Delivery", "whole", 9),
            Column("Deliver on", "date", 12),
            Column("Order by", "date", 12),
            *((Column("Trucks", "whole", 8),) if trucks else ()),
            *(Column(f"{code} packs", "whole", max(9, min(16, len(code) + 2))) for code in codes),
            Column("Amount", "money", 17),
        )
        rows = [
            (
                " ".join(delivery.levels) or delivery.level,
                delivery.sequence,
                delivery.deliver_on,
                delivery.order_by,
                *((delivery.trucks,) if trucks else ()),
                *(delivery.packs.get(code) for code in codes),
                delivery.amount,
            )
            for delivery in self.plan.deliveries
        ]
        sheet = self._sheet("Deliveries")
        end = self._table(sheet, 0, columns, rows)
        self._text(sheet, end, 0, "Total", "total_text")
        for column in range(1, fixed):
            sheet.write_blank(end, column, None, self.formats["total_text"])
        for column, code in enumerate(codes, start=fixed):
            packs = sum(delivery.packs.get(code, 0) for delivery in self.plan.deliveries)
            sheet.write_number(end, column, packs, self.formats["total_whole"])
        sheet.write_number(end, fixed + len(codes), self.plan.order.total / 100, self.formats["total"])

    def _cutting(self) -> None:
        columns = (
            Column("Layout", "whole", 8),
            Column("Board", width=14),
            Column("Cut from", width=14),
            Column("Delivery", "whole", 9),
            Column("Times", "whole", 7),
            Column("Strip", "whole", 7),
            Column("Strip width mm", "mm", 11),
            Column("Pieces", "whole", 8),
            Column("Pieces from the datum end (length mm)", "wrapped_cell", 60),
        )
        rows = [
            (
                number,
                layout.code,
                "board" if layout.stock == layout.code else layout.stock,
                layout.stage,
                layout.repeat,
                place,
                strip.width_mm,
                len(strip.pieces),
                ", ".join(
                    f"{piece.id} ({piece.length_mm})" + (" head to tail" if piece.head_to_tail else "")
                    for piece in strip.pieces
                ),
            )
            for number, layout in enumerate(self.plan.layouts, start=1)
            for place, strip in enumerate(layout.strips, start=1)
        ]
        self._table(self._sheet("Cutting"), 0, columns, rows)

    def _pieces(self) -> None:
        columns = (
            Column("Piece", width=16),
            Column("Level", width=11),
            Column("Run", width=14),
            Column("From mm", "mm", 9),
            Column("To mm", "mm", 9),
            Column("Length mm", "mm", 9),
            Column("Gap from mm", "mm", 9),
            Column("Gap to mm", "mm", 9),
            Column("Cut width start mm", "mm", 10),
            Column("Cut width end mm", "mm", 10),
            Column("Gaps", width=10),
            Column("Bracket", width=13),
            Column("Brackets at mm (from the piece's start)", "wrapped_cell", 22),
            Column("Notches at mm (from the piece's start)", "wrapped_cell", 22),
        )
        rows = [
            (
                piece.id,
                piece.level,
                piece.run,
                piece.from_mm,
                piece.to_mm,
                piece.length_mm,
                piece.gap_min_mm,
                piece.gap_max_mm,
                piece.cut_width_start_mm,
                piece.cut_width_end_mm,
                piece.basis,
                piece.bracket or "",
                _listed(piece.brackets_at_mm),
                _listed(piece.notches_at_mm),
            )
            for piece in self.plan.pieces
        ]
        self._table(self._sheet("Pieces"), 0, columns, rows)

    def _brackets(self) -> None:
        lengths = {product.code: product.length_mm or 0 for product in self.plan.project.products}
        codes = sorted(
            {code for count in self.plan.counts.values() for code in count.brackets},
            key=lambda code: (lengths.get(code, 0), code),
        )
        columns = (
            Column("Level", width=11),
            *(Column(code, "whole", max(9, min(16, len(code) + 2))) for code in codes),
            Column("Brackets", "whole", 10),
            Column("Anchors", "whole", 10),
            Column("Joints", "whole", 10),
            Column("Joint tape m", "area", 12),
        )

        def row_of(name: str, count: LevelCounts) -> tuple[Any, ...]:
            numbers = [count.brackets.get(code, 0) for code in codes]
            return (name, *numbers, sum(numbers), count.anchors, count.joints, count.tape_mm / 1000)

        counts = self.plan.counts
        rows = [
            row_of(level.level, counts[level.level])
            for level in self.plan.project.levels_in_order()
            if level.level in counts
        ]
        rows.append(
            row_of(
                "All levels",
                LevelCounts(
                    joints=sum(count.joints for count in counts.values()),
                    brackets={
                        code: sum(count.brackets.get(code, 0) for count in counts.values()) for code in codes
                    },
                    anchors=sum(count.anchors for count in counts.values()),
                    tape_mm=sum(count.tape_mm for count in counts.values()),
                ),
            )
        )
        self._table(self._sheet("Brackets"), 0, columns, rows)

    def _waste(self) -> None:
        waste = self.plan.waste
        sheet = self._sheet("Waste")
        whole = waste.bought_mm2 + waste.stock_mm2
        rows = [
            (name, area / 1e6, area / whole if whole else 0.0)
            for name, area in (
                ("Bought", waste.bought_mm2),
                ("From stock", waste.stock_mm2),
                ("Fitted", waste.fitted_mm2),
                ("Left over, reusable", waste.reusable_offcut_mm2),
                ("Scrap", waste.scrap_mm2),
            )
        ]
        columns = (Column("Board area", width=24), Column("m2", "area", 12), Column("Share", "percent", 10))
        end = self._table(sheet, 0, columns, rows, freeze=False)
        self._text(sheet, end + 1, 0, "Left over in sizes that can serve again", "section")
        told = self.plan.usable_left_over is not None
        sizes = (
            Column("Board", width=24),
            Column("From delivery", "whole", 12),
            Column("Length mm", "mm", 10),
            Column("Width mm", "mm", 10),
            Column("Pieces", "whole", 9),
            *((Column("Of use to level", width=40),) if told else ()),
        )
        serves = {
            (item.code, item.stage, item.length_mm, item.width_mm): " ".join(item.serves)
            for item in self.plan.usable_left_over or ()
        }
        ordered = sorted(
            (item.code, item.stage, -item.length_mm, -item.width_mm, item.quantity)
            for item in self.plan.left_over
        )
        lots = [
            (
                *key[:2],
                -key[2],
                -key[3],
                sum(item[4] for item in same),
                *((serves.get((key[0], key[1], -key[2], -key[3]), "none"),) if told else ()),
            )
            for key, same in groupby(ordered, key=lambda item: item[:4])
        ]
        self._table(sheet, end + 2, sizes, lots, freeze=False)
        sheet.repeat_rows(end + 2)

    # -- the parts that every sheet shares

    def _sheet(self, name: str) -> Any:
        """A sheet set up for print: landscape, one page wide, the order's name and page numbers."""
        sheet = self.workbook.add_worksheet(name)
        sheet.set_landscape()
        sheet.set_paper(9)  # A4
        sheet.fit_to_pages(1, 0)
        sheet.set_margins(left=0.5, right=0.5, top=0.8, bottom=0.7)
        shown = _clean(self.title).replace("&", "&&")[:120]
        sheet.set_header(f"&L{shown}&R{name}")
        sheet.set_footer("&LThe tested detail, local code and a licensed practitioner decide.&RPage &P of &N")
        sheet.hide_gridlines(2)
        return sheet

    def _table(
        self,
        sheet: Any,
        top: int,
        columns: Sequence[Column],
        rows: Sequence[Sequence[Any]],
        freeze: bool = True,
    ) -> int:
        """Writes a heading and its rows from row `top` down; returns the row below the last."""
        for number, column in enumerate(columns):
            sheet.set_column(number, number, column.width)
            style = "heading" if column.shown_as in _TO_THE_LEFT else "number_heading"
            self._text(sheet, top, number, column.heading, style)
        sheet.set_row(top, 30)
        if freeze:
            sheet.freeze_panes(top + 1, 1)
            sheet.repeat_rows(top)
        formats = [self.formats[column.shown_as] for column in columns]
        kinds = [column.shown_as for column in columns]
        for row, values in enumerate(rows, start=top + 1):
            for number, value in enumerate(values):
                if value is None or value == "":
                    continue
                if kinds[number] == "money":
                    sheet.write_number(row, number, value / 100, formats[number])
                elif isinstance(value, date):
                    sheet.write_datetime(row, number, datetime.combine(value, time()), formats[number])
                elif isinstance(value, (int, float)):
                    sheet.write_number(row, number, value, formats[number])
                else:
                    sheet.write_string(row, number, _clean(value), formats[number])
        return top + 1 + len(rows)

    def _paragraphs(self, sheet: Any, row: int, title: str, paragraphs: Sequence[str]) -> int:
        """A titled list of sentences across the sheet, each high enough to be read; returns the next row."""
        if not paragraphs:
            return row
        self._text(sheet, row, 0, title, "section")
        for column in range(1, 13):
            sheet.write_blank(row, column, None, self.formats["section"])
        for paragraph in paragraphs:
            row += 1
            text = _clean(paragraph)
            sheet.merge_range(row, 0, row, 12, "", self.formats["wrapped"])
            sheet.write_string(row, 0, text, self.formats["wrapped"])
            sheet.set_row(row, 13.5 * min(25, 1 + len(text) // 145))
        return row + 2

    def _text(self, sheet: Any, row: int, column: int, text: str, shown_as: str) -> None:
        sheet.write_string(row, column, _clean(text), self.formats[shown_as])


def _clean(text: str) -> str:
    return without_control_characters(text)[:_LONGEST_CELL]


def _listed(positions: Sequence[int]) -> str:
    return ", ".join(str(position) for position in positions)
