"""What the empty workbook says: for each column its unit, its example, its note and its drop-down.

One module although long: it is one table of texts, which is read and corrected column by column.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

Values = Literal[
    "text", "mm", "position", "count", "money", "date", "kind", "basis", "rate",
    "level", "run", "board", "boards", "product", "simulated rate", "kilograms", "weekday", "combine", "joined run",
    "gap", "party",
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
        TemplateColumn(
            "weight_kg", "kilograms", 14.4, "Weight of one board, bracket, anchor or roll. Needed for limits in kg."
        ),
        TemplateColumn(
            "carbon_kg", "kilograms", None, "CO2 equivalent of one, in kg, as its declaration states it."
        ),
        TemplateColumn(
            "material", "text", "stone wool",
            "Board: what it is made of. The boards of one run are of one thickness and material.",
        ),
        TemplateColumn("supplier", "text", None, "Who sells it, where that is not the project's supplier."),
        TemplateColumn("tax_rate", "rate", None, "The rate of tax on its price. Blank: the project's tax_rate."),
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
        TemplateColumn("run", "text", "L01-N", "One slab edge between two corners. Each run has its own name.", True),
        TemplateColumn("level", "level", "L01", "A level of the sheet levels.", True),
        TemplateColumn("length_mm", "mm", 41850, "Its whole length, measured from its start.", True),
        TemplateColumn(
            "board", "boards", "B-120",
            "The board's code; several sizes of one board that may serve are separated by spaces.", True, 18,
        ),
        TemplateColumn(
            "mullions_mm", "text", "750 2250 3750",
            "Where the middles of mullions stand, measured from the run's start, separated by spaces.", False, 44,
        ),
        TemplateColumn(
            "detail", "text", None,
            "The tested detail of this run, by the heading of its column in the sheet detail. Blank: its column value.",
        ),
        TemplateColumn(
            "joins", "joined run", "L01-E",
            "The run that begins where this one ends, at a corner too: their meeting is a taped joint. Blank: an open"
            " end.",
        ),
        TemplateColumn("mullion_width_mm", "mm", 60, "How wide a mullion is along the edge: its notch.", False, 18),
        TemplateColumn("mullion_depth_mm", "mm", 45, "How far a mullion stands into the gap.", False, 18),
        TemplateColumn("radius_mm", "mm", None, "Of a curved edge only: its radius. The length is measured along it."),
    ),
    "gaps": (
        TemplateColumn("run", "run", "L01-N", "A run of the sheet runs.", True),
        TemplateColumn("at_mm", "position", 1500, "Where the gap was measured, from the run's start.", True),
        TemplateColumn(
            "gap_mm", "gap", 148,
            "The gap between slab and facade there, to the millimetre; 160/166 where it was read at the top and at the"
            " bottom of the slab (the wider counts); ~159 where it is only nominal.", True,
        ),
        TemplateColumn("basis", "basis", "measured", "measured on site, or nominal (drawn). Blank: measured."),
        TemplateColumn("tolerance_mm", "position", None, "Nominal gaps only: how far the real gap may lie from it."),
        TemplateColumn(
            "gap_top_mm", "mm", None, "At the top of the slab. With the one at the bottom it takes gap_mm's place."
        ),
        TemplateColumn("gap_bottom_mm", "mm", None, "At the bottom of the slab. The wider of the two counts."),
        TemplateColumn("taken_on", "date", date(2027, 2, 8), "The day of the reading; old ones are asked about."),
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
        TemplateColumn(
            "truck_payload_kg", "count", 9000,
            "The most that a truck carries, by the products' weight_kg. Blank: no limit.", False, 18,
        ),
        TemplateColumn(
            "trucks_a_delivery", "count", 1, "The most truckloads that may come on one day. Blank: no limit.", False, 18
        ),
        TemplateColumn(
            "combine", "combine", "none",
            "none: a delivery brings what its levels cut next. fewest_loads: packs come earlier where that saves a"
            " load. Blank: none.",
        ),
        TemplateColumn("minimum_order", "money", 1500, "The least that one delivery must be worth. Blank: no limit."),
        TemplateColumn(
            "delivery_cost", "money", 180,
            "What one load costs to bring: with it, few large or many small loads is a matter of money.",
        ),
        TemplateColumn("storage_cost", "money", 1.5, "What a m2 of storage costs for a week, until it is free again."),
        TemplateColumn(
            "site_storage_m2", "count", 180,
            "The most that may stand on site at a time: face area of the boards, or floor area where stack_height_mm"
            " or stack_layers is given. Blank: no limit.", False, 18,
        ),
        TemplateColumn(
            "stack_height_mm", "mm", 1200,
            "How high boards may be stacked. With it, storage is counted in m2 of floor. Needs thickness_mm.",
            False, 18,
        ),
        TemplateColumn("stack_layers", "count", 10, "The most boards in a stack. Blank: what the height allows."),
        TemplateColumn(
            "floor_load_kg_m2", "count", 250,
            "What the floor carries: stacks are no higher than it allows. Needs weight_kg. Ask the structural"
            " engineer.", False, 18,
        ),
        TemplateColumn(
            "delivery_weekday", "weekday", "Monday", "The one day of the week on which deliveries come.", False, 18
        ),
        TemplateColumn("every_days", "count", 7, "How many days lie between two possible deliveries: 7 is weekly."),
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
    "parties": (
        TemplateColumn("party", "party", "buyer", "buyer, supplier or deliver_to: a row each.", True),
        TemplateColumn("name", "text", None, "Blank: what the sheet project calls it.", False, 24),
        TemplateColumn("address", "text", "Harbour Lane 9", "Street and number.", False, 28),
        TemplateColumn("postcode", "text", "2000", "The postcode."),
        TemplateColumn("city", "text", "Newport", "The town."),
        TemplateColumn("country", "text", "AU", "Two letters (ISO 3166), such as AU."),
        TemplateColumn("contact", "text", None, "The person to ask for.", False, 20),
        TemplateColumn("telephone", "text", None, "With the country's code.", False, 18),
        TemplateColumn("email", "text", None, "Where to write to.", False, 24),
        TemplateColumn("tax_number", "text", None, "What the tax office knows it by.", False, 18),
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
    (
        "carry_cost",
        "What keeping one remainder from one delivery to the next costs, such as 2.50: boards and waiting then are one"
        " sum of money. Blank: the least is paid for boards first.",
    ),
    (
        "relabel_cost",
        "What changing the label of one piece costs when a job that has begun is planned again, such as 1.50: boards"
        " that stay as they are labelled are worth so much. Blank: nothing, a placeholder.",
    ),
    (
        "service_level",
        "The share of the possible surveys, drawn within the tolerances, that the quantities of levels not measured"
        " yet must cover, in every product at once. Blank: 0.95.",
    ),
    ("payment_terms", "What is agreed on payment, such as 30 days from the end of the month."),
    ("contract_reference", "The contract that the order is made under."),
    ("supplier_reference", "The number of the supplier's quotation."),
    ("delivery_from", "The earliest that a truck may come, such as 07:00."),
    ("delivery_until", "The latest that a truck may come, such as 11:00."),
    ("unloading", "How a truck is unloaded: by crane or forklift, by whom, at which gate."),
    ("tax_name", "What the tax on the order is called, such as GST."),
    ("tax_rate", "Its rate, such as 0.10; products may have their own. Blank: no tax is stated."),
)

RULES: Mapping[str, tuple[str, str]] = {
    "oversize_min": ("rate", "Least compression: cut width / gap - 1."),
    "oversize_max": ("rate", "Most compression: cut width / gap - 1."),
    "gap_min_mm": ("mm", "The narrowest gap that was tested."),
    "gap_max_mm": ("mm", "The widest gap that was tested."),
    "piece_length_min_mm": ("mm", "The shortest piece along the slab edge."),
    "taper_max_mm": (
        "mm",
        "The most that the two ends of a tapered piece may differ; 0: no piece is tapered.",
    ),
    "curve_offset_max_mm": (
        "mm",
        "The most that a piece on a curved edge may leave the curve at its middle.",
    ),
    "joint_to_mullion_min_mm": ("mm", "How far a butt joint stays from a mullion."),
    "trim": ("true or false", "Whether a piece may be narrowed after it is cut to length."),
    "kerf_mm": ("mm", "What the saw takes; 0 for a blade."),
    "strip_min_mm": (
        "mm",
        "The thinnest that may be ripped or trimmed off; thinner is absorbed by wider strips where their windows allow"
        " it, else listed. 0: not asked; 20 is a placeholder (common practice, no source).",
    ),
    "bracket_insertion": ("rate", "How much of the gap a bracket should reach over."),
    "bracket_insertion_min": ("rate", "The least that it may reach."),
    "bracket_insertion_max": ("rate", "The most that it may reach."),
    "bracket_end_distance_mm": ("mm", "From either end of a piece to its bracket."),
    "bracket_spacing_max_mm": ("mm", "The most between two brackets."),
    "bracket_to_mullion_min_mm": ("mm", "How far a bracket stays from a mullion's notch."),
    "bracket_choice": (
        "nearest, cheapest or fewest_sizes",
        "Which of the bracket sizes that fit is taken.",
    ),
    "anchors_per_bracket": ("number", "Anchors into the slab for each bracket."),
    "tape_faces": ("number", "Faces that are taped at a butt joint: 0, 1 or 2."),
    "tape_lap_mm": ("mm", "How far the tape laps over at each end."),
    "correlation_length_mm": (
        "mm",
        "Over what length the slab's error stays alike, for the tolerance simulation.",
    ),
    "reading_age_max_days": (
        "number",
        "The oldest that a reading may be on the day its level is needed, in days.",
    ),
}

LIMITS: Mapping[str, tuple[str, str]] = {
    "reading_spacing_max_mm": ("mm", "Readings further apart are asked about."),
    "reading_to_end_max_mm": (
        "mm",
        "The first and the last reading no further than this from the run's ends.",
    ),
    "outlier_scales": ("multiple", "A gap that differs from both neighbours by this many usual differences."),
    "outlier_least_mm": ("mm", "What a gap may always differ from its neighbours."),
    "level_scales": ("multiple", "The same against the runs above and below."),
    "level_least_mm": ("mm", "What a gap may always differ from the runs above and below."),
    "step_scales": ("multiple", "A step where two runs meet, in usual differences of such steps."),
    "step_least_mm": ("mm", "What the gap may always step where two runs meet."),
    "mullion_tolerance_mm": (
        "mm",
        "How far a mullion may stand from its pitch, or from those above and below.",
    ),
    "run_length_tolerance_mm": (
        "mm",
        "How far lengths of corresponding runs, and of opposite sides, may differ.",
    ),
    "nominal_tolerance_mm": ("mm", "How far a gap may lie from a nominal one that has no tolerance."),
}

CREW: Mapping[str, tuple[str, str]] = {
    "measure_minutes": ("minutes", "Minutes to measure the gap again at a piece before it is cut."),
    "board_minutes": ("minutes", "Minutes to open a board, or take a remainder, and lay it on the bench."),
    "rip_minutes": ("minutes", "Minutes for a rip, a trim or a slant, marked and cut."),
    "cross_cut_minutes": ("minutes", "Minutes for a cross-cut, marked and cut."),
    "notch_minutes": ("minutes", "Minutes for a notch."),
    "bracket_minutes": ("minutes", "Minutes to set out and fix a bracket with its anchors."),
    "piece_minutes": ("minutes", "Minutes to fit a piece."),
    "joint_minutes": ("minutes", "Minutes to tape a joint."),
    "hour_cost": ("money", "What an hour of one person costs. Blank: hours are counted without money."),
}

START = (
    ("What this is", "One building's perimeter cavity barriers: what was measured, what may be bought, and the rules"
     " of the tested detail. barrier-orders plans, cuts and orders from it."),
    ("Fill in", "products, levels, runs and gaps are needed. The other sheets may stay empty; a"
     " rule of the detail that is left blank stands at a placeholder, and the plan says so."),
    ("Lengths", "Whole millimetres everywhere: 150, not 0.15 and not 15 cm."),
    ("Dates", "2027-03-01, or a date cell."),
    ("Headings", "Dark headings must be filled in on every row, pale ones may stay blank. Each has a note: rest the"
     " pointer on it. Columns of your own to the right are left alone."),
    ("Examples", "A row that begins with 'example:' is skipped. Overwrite it or leave it."),
    ("Details", "Each thickness of board has its own tested detail. For a second one, head a column of the sheet detail"
     " with its name, to the right of note, and fill in its rules; write that name under detail in runs."),
    ("Survey", "Print the sheet survey, take it to the slab edge, and copy its figures into gaps."),
    ("Who decides", "The tested detail that you hold, local code and a licensed practitioner decide what may be built."
     " This workbook only carries their figures."),
)  # fmt: skip

SURVEY_STEPS = (
    "Measure from the run's start; the gap square to the slab edge, to the millimetre, at every 1.5 m, at both ends"
    " and wherever it changes.",
    "Note every mullion's position. If the gap differs between top and bottom of the slab, write both, as 160/166: the"
    " wider counts (common practice, no source).",
)
