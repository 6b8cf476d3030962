"""What the empty workbook says: for each column its unit, its example, its note and its drop-down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

Values = Literal[
    "text", "mm", "position", "count", "money", "date", "kind", "basis", "rate",
    "level", "run", "board", "boards", "product", "simulated rate",
]  # fmt: skip


@dataclass(frozen=True)
class TemplateColumn:
    """A column of a sheet to fill in: what it takes, an example, and a note in plain words."""

    heading: str
    takes: Values
    example: Any
    note: str
    required: bool = False
    width: float = 14


SHEETS: Mapping[str, tuple[TemplateColumn, ...]] = {
    "products": (
        TemplateColumn("code", "text", "B-120", "The supplier's code. Each product has its own.", True),
        TemplateColumn("kind", "kind", "board", "board, bracket, anchor or tape.", True),
        TemplateColumn(
            "length_mm", "mm", 1200,
            "Board: its length along the slab edge. Bracket: its reach into the gap. Tape: the length of a roll.",
        ),
        TemplateColumn(
            "width_mm", "mm", 1000,
            "Board: the width that is ripped into strips. The fibres lie along it, so that they cross the gap.",
        ),
        TemplateColumn("thickness_mm", "mm", 120, "Board: its thickness."),
        TemplateColumn("per_pack", "count", 4, "How many are in the pack that is sold. Blank: 1."),
        TemplateColumn("price", "money", 212, "Price of one pack, in the project's currency."),
        TemplateColumn("lead_days", "count", 15, "Working days from order to delivery."),
        TemplateColumn("pack_name", "text", "pallet layer of 4", "What the supplier calls the pack.", False, 20),
    ),
    "levels": (
        TemplateColumn("level", "text", "L01", "The level's name, as it stands on the drawings.", True),
        TemplateColumn(
            "sequence", "count", 1,
            "Order of delivery: 1 comes first. Levels with the same number come together.", True,
        ),
        TemplateColumn(
            "needed_on", "date", date(2027, 3, 1), "The day on which the crew needs the material.", False, 16
        ),
    ),
    "runs": (
        TemplateColumn("run", "text", "L01-N", "One straight slab edge. Each run has its own name.", True),
        TemplateColumn("level", "level", "L01", "A level of the sheet levels.", True),
        TemplateColumn("length_mm", "mm", 41850, "Its whole length, measured from its start.", True),
        TemplateColumn(
            "board", "boards", "B-120", "The board's code; several that may serve are separated by spaces.", True, 18
        ),
        TemplateColumn(
            "mullions_mm", "text", "750 2250 3750",
            "Where mullions stand, measured from the run's start, separated by spaces.", False, 44,
        ),
    ),
    "gaps": (
        TemplateColumn("run", "run", "L01-N", "A run of the sheet runs.", True),
        TemplateColumn("at_mm", "position", 1500, "Where the gap was measured, from the run's start.", True),
        TemplateColumn("gap_mm", "mm", 148, "The gap between slab and facade there, to the millimetre.", True),
        TemplateColumn("basis", "basis", "measured", "measured on site, or nominal (drawn). Blank: measured."),
        TemplateColumn("tolerance_mm", "position", None, "Nominal gaps only: how far the real gap may lie from it."),
    ),
    "stock": (
        TemplateColumn("code", "board", "B-120", "The board that it is, or is a part of.", True),
        TemplateColumn("length_mm", "mm", 1200, "Its length along the slab edge, as for a board.", True),
        TemplateColumn("width_mm", "mm", 380, "What is left of its width.", True),
        TemplateColumn("quantity", "count", 6, "How many of this size. Blank: 1."),
        TemplateColumn("level", "level", "L01", "From which level's delivery on it is there. Blank: from the start."),
    ),
    "allowance": (
        TemplateColumn("kind", "kind", "board", "board, bracket, anchor or tape.", True),
        TemplateColumn(
            "fraction", "simulated rate", 0.03,
            "Breakage and loss on top of the cutting plan: 0.03 or 3 %. The word 'simulated' takes it from the"
            " tolerance simulation.", True,
        ),
    ),
    "deliveries": (
        TemplateColumn("truck_pallets", "count", 12, "How many pallets a truck takes. Blank: no limit."),
        TemplateColumn("pallet_packs", "count", 6, "How many packs of boards a pallet takes. Blank: 1."),
        TemplateColumn("minimum_order", "money", 1500, "The least that one delivery must be worth. Blank: no limit."),
        TemplateColumn(
            "site_storage_m2", "count", 180,
            "The most board that may stand on site at a time, by the boards' face area. Blank: no limit.", False, 18,
        ),
        TemplateColumn(
            "crane_days", "text", "2027-02-22 2027-03-01",
            "The days on which deliveries can be lifted, separated by spaces. Blank: any working day.", False, 44,
        ),
    ),
    "price_breaks": (
        TemplateColumn("code", "product", "B-120", "A product of the sheet products.", True),
        TemplateColumn(
            "from_packs", "count", 20, "From how many packs in one delivery on this price holds.", True
        ),
        TemplateColumn("price", "money", 198, "Price of one pack from that number on.", True),
    ),
}  # fmt: skip

PROJECT: tuple[tuple[str, str], ...] = (
    ("name", "The building or job."),
    ("currency", "Three letters (ISO 4217), such as AUD."),
    ("country", "Two letters (ISO 3166), such as AU, or with its part, AU-NSW: for the working days."),
    ("order_reference", "What stands on the order."),
    ("buyer", "Who orders."),
    ("supplier", "Who delivers."),
    ("deliver_to", "The place of delivery."),
    ("max_carry_stages", "How many deliveries an offcut may be kept for. Blank: as many as you like."),
)

RULES: Mapping[str, tuple[str, str]] = {
    "oversize_min": ("rate", "Least compression: cut width / gap - 1."),
    "oversize_max": ("rate", "Most compression: cut width / gap - 1."),
    "gap_min_mm": ("mm", "The narrowest gap that was tested."),
    "gap_max_mm": ("mm", "The widest gap that was tested."),
    "piece_length_min_mm": ("mm", "The shortest piece along the slab edge."),
    "joint_to_mullion_min_mm": ("mm", "How far a butt joint stays from a mullion."),
    "trim": ("true or false", "Whether a piece may be narrowed after it is cut to length."),
    "kerf_mm": ("mm", "What the saw takes; 0 for a blade."),
    "bracket_insertion": ("rate", "How much of the gap a bracket should reach over."),
    "bracket_insertion_min": ("rate", "The least that it may reach."),
    "bracket_insertion_max": ("rate", "The most that it may reach."),
    "bracket_end_distance_mm": ("mm", "From either end of a piece to its bracket."),
    "bracket_spacing_max_mm": ("mm", "The most between two brackets."),
    "bracket_to_mullion_min_mm": ("mm", "How far a bracket stays from a mullion's notch."),
    "anchors_per_bracket": ("number", "Anchors into the slab for each bracket."),
    "tape_faces": ("number", "Faces that are taped at a butt joint: 0, 1 or 2."),
    "tape_lap_mm": ("mm", "How far the tape laps over at each end."),
    "correlation_length_mm": (
        "mm",
        "Over what length the slab's error stays alike, for the tolerance simulation.",
    ),
}

START = (
    ("What this is", "One building's perimeter cavity barriers: what was measured, what may be bought, and the rules"
     " of the tested detail. barrier-orders plans, cuts and orders from it."),
    ("Fill in", "products, levels, runs and gaps are needed. the other sheets may stay empty; a"
     " rule of the detail that is left blank stands at a placeholder, and the plan says so."),
    ("Lengths", "Whole millimetres everywhere: 150, not 0.15 and not 15 cm."),
    ("Dates", "2027-03-01, or a date cell."),
    ("Headings", "Dark headings must be filled in on every row, pale ones may stay blank. Each has a note: rest the"
     " pointer on it. Columns of your own to the right are left alone."),
    ("Examples", "A row that begins with 'example:' is skipped. Overwrite it or leave it."),
    ("Survey", "Print the sheet survey, take it to the slab edge, and copy its figures into gaps."),
    ("Who decides", "The tested detail that you hold, local code and a licensed practitioner decide what may be built."
     " This workbook only carries their figures."),
)  # fmt: skip

SURVEY_STEPS = (
    "Measure from the run's start; the gap square to the slab edge, to the millimetre, at every 1.5 m, at both ends"
    " and wherever it changes.",
    "Note every mullion's position. If the gap differs between top and bottom of the slab, write the wider"
    " (common practice, no source).",
)
