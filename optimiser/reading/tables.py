"""The contract's tables: which columns each has, how a cell of each is read, and which may be left out."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.model.parties import ROLES
from optimiser.model.project import KINDS, LONGEST_MM
from optimiser.reading.as_written import gap, surveyed_millimetres, surveyed_positions, tolerance
from optimiser.reading.cells import (
    Parser,
    choice,
    country,
    country_code,
    currency,
    name,
    several,
    text,
    truth,
)
from optimiser.reading.columns import Column, TableSpec
from optimiser.reading.dates import day, time_of_day, weekday
from optimiser.reading.numbers import (
    count,
    fraction_or_simulated,
    kilograms,
    millimetres,
    minutes,
    money,
    multiple,
    rate,
)

SMALLEST_RUN_MM = 50  # a run of 36 is one of 36 metres
WIDEST_GAP_MM = (
    1000  # no perimeter joint: a digit too many (details in use end at 300 to 400 mm, common practice)
)
WIDEST_MULLION_MM = 1000  # beyond any profile, so a larger number is a slip

_position = surveyed_millimetres(0, LONGEST_MM)
_gap = gap(1, WIDEST_GAP_MM)
_one_gap = surveyed_millimetres(1, WIDEST_GAP_MM, "gap")
_part = millimetres(1, LONGEST_MM, "length", "down")  # nothing is longer than it is
_combine = choice("none", "fewest_loads")
_weight = kilograms("a weight", "write the weight of one piece in kilograms")
_carbon = kilograms(
    "the CO2 equivalent", "write that of one piece, or leave it blank where it is not declared"
)
_codes = several(name, "codes")
_positions = surveyed_positions(_position)


def _codes_or_one_with_spaces(value: object) -> object:
    """Kept as written until the products are known: a code may itself have a space in it."""
    return name(value) if isinstance(value, str) and len(value) <= 60 else _codes(value)


PROJECT: Mapping[str, Parser] = {
    "name": text,
    "currency": currency,
    "country": country,
    "order_reference": text,
    "buyer": text,
    "supplier": text,
    "deliver_to": text,
    "max_carry_stages": count(0, 100_000, "a whole number of deliveries"),
    "carry_cost": money,
    "relabel_cost": money,
    "service_level": rate(above_zero=True, such_as="0.95"),
    "payment_terms": text,
    "contract_reference": text,
    "supplier_reference": text,
    "delivery_from": time_of_day,
    "delivery_until": time_of_day,
    "unloading": text,
    "tax_name": text,
    "tax_rate": rate(),
}

DETAIL: Mapping[str, Parser] = {
    "oversize_min": rate(),
    "oversize_max": rate(),
    "gap_min_mm": millimetres(1, WIDEST_GAP_MM, "gap"),
    "gap_max_mm": millimetres(1, LONGEST_MM, "gap", "down"),
    "piece_length_min_mm": millimetres(1, LONGEST_MM, "length", "up"),
    "taper_max_mm": millimetres(0, LONGEST_MM, "small", "down"),
    "curve_offset_max_mm": millimetres(1, LONGEST_MM, "small", "down"),
    "joint_to_mullion_min_mm": millimetres(0, LONGEST_MM, "small", "up"),
    "trim": truth,
    "kerf_mm": millimetres(0, 50, "small", "up"),
    "strip_min_mm": millimetres(0, LONGEST_MM, "small", "up"),
    "bracket_insertion": rate(above_zero=True),
    "bracket_insertion_min": rate(above_zero=True),
    "bracket_insertion_max": rate(above_zero=True),
    "bracket_end_distance_mm": millimetres(1, LONGEST_MM),
    "bracket_spacing_max_mm": millimetres(1, LONGEST_MM, "length", "down"),
    "bracket_to_mullion_min_mm": millimetres(0, LONGEST_MM, "small", "up"),
    "bracket_choice": choice("nearest", "cheapest", "fewest_sizes"),
    "anchors_per_bracket": count(0, 100),
    "tape_faces": count(0, 2),
    "tape_lap_mm": millimetres(0, LONGEST_MM, "small", "up"),
    "correlation_length_mm": millimetres(1, LONGEST_MM),
    "reading_age_max_days": count(0, 3650, "a whole number of days"),
}

SURVEY_LIMITS: Mapping[str, Parser] = {
    "reading_spacing_max_mm": millimetres(1, LONGEST_MM),
    "reading_to_end_max_mm": millimetres(1, LONGEST_MM),
    "outlier_scales": multiple,
    "outlier_least_mm": millimetres(0, LONGEST_MM, "small"),
    "level_scales": multiple,
    "level_least_mm": millimetres(0, LONGEST_MM, "small"),
    "step_scales": multiple,
    "step_least_mm": millimetres(0, LONGEST_MM, "small"),
    "mullion_tolerance_mm": millimetres(0, LONGEST_MM, "small"),
    "run_length_tolerance_mm": millimetres(0, LONGEST_MM, "small"),
    "nominal_tolerance_mm": millimetres(0, LONGEST_MM, "small"),
}

CREW_RATES: Mapping[str, Parser] = {
    "measure_minutes": minutes,
    "board_minutes": minutes,
    "rip_minutes": minutes,
    "cross_cut_minutes": minutes,
    "notch_minutes": minutes,
    "bracket_minutes": minutes,
    "piece_minutes": minutes,
    "joint_minutes": minutes,
    "hour_cost": money,
}

FIELDS: Mapping[str, Mapping[str, Parser]] = {
    "project": PROJECT,
    "detail": DETAIL,
    "survey_limits": SURVEY_LIMITS,
    "crew_rates": CREW_RATES,
}
"""The tables of one value a row."""

TABLES: Mapping[str, TableSpec] = {
    spec.name: spec
    for spec in (
        TableSpec(
            "products",
            "a product of the supplier",
            (
                Column("code", name, True, "write the supplier's code", ("product", "product_code")),
                Column("kind", choice(*KINDS), True, f"write {', '.join(KINDS)}"),
                Column("length_mm", _part),
                Column("width_mm", _part),
                Column("thickness_mm", millimetres(1, 10_000, "small")),
                Column("per_pack", count(1, 10**6)),
                Column("price", money, False, "", ("price_per_pack", "pack_price")),
                Column("lead_days", count(0, 1000, "a whole number of days"), False, "", ("lead_time_days",)),
                Column("pack_name", text, False, "", ("pack",)),
                Column("weight_kg", _weight, False, "", ("weight",)),
                Column("carbon_kg", _carbon, False, "", ("carbon", "co2e_kg")),
                Column("material", text),
                Column("supplier", text),
                Column("tax_rate", rate(), False, "", ("tax",)),
            ),
            required=True,
        ),
        TableSpec(
            "levels",
            "a level in its order of delivery",
            (
                Column("level", name, True, "write the level's name"),
                Column("sequence", count(0, 100_000), True, "write 1 for the first delivery"),
                Column("needed_on", day, False, "", ("needed", "date")),
            ),
            required=True,
        ),
        TableSpec(
            "runs",
            "one slab edge",
            (
                Column("run", name, True, "write the run's name"),
                Column("level", name, True, "write the level that it lies on"),
                Column(
                    "length_mm",
                    surveyed_millimetres(SMALLEST_RUN_MM, LONGEST_MM),
                    True,
                    "write its length in mm",
                ),
                Column(
                    "board",
                    _codes_or_one_with_spaces,
                    True,
                    "write the code of its board",
                    ("boards", "board_code"),
                ),
                Column("mullions_mm", _positions, False, "", ("mullion",)),
                Column("detail", name, False, "", ("details",)),
                Column("joins", name),
                Column("mullion_width_mm", millimetres(1, WIDEST_MULLION_MM, "small", "up")),
                Column("mullion_depth_mm", millimetres(1, WIDEST_MULLION_MM, "small", "up")),
                Column("radius_mm", millimetres(1, LONGEST_MM)),
            ),
            required=True,
        ),
        TableSpec(
            "gaps",
            "one measured gap",
            (
                Column("run", name, True, "write the run's name"),
                Column("at_mm", _position, True, "write its position from the run's start", ("position",)),
                Column("gap_mm", _gap, True, "write the gap in mm", instead=("gap_top_mm", "gap_bottom_mm")),
                Column("basis", choice("measured", "nominal")),
                Column("tolerance_mm", tolerance(WIDEST_GAP_MM)),
                Column("gap_top_mm", _one_gap, False, "", ("top",)),
                Column("gap_bottom_mm", _one_gap, False, "", ("bottom",)),
                Column("taken_on", day, False, "", ("read_on", "measured_on")),
            ),
            required=True,
        ),
        TableSpec(
            "stock",
            "boards or offcuts already on site",
            (
                Column("code", name, True, "write the board's code", ("product", "product_code", "board")),
                Column("length_mm", _part, True, "write its length in mm"),
                Column("width_mm", _part, True, "write its width in mm"),
                Column("quantity", count(1, 10**6)),
                Column("level", name),
            ),
        ),
        TableSpec(
            "allowance",
            "the allowance for a kind of product",
            (
                Column("kind", choice(*KINDS), True, f"write {', '.join(KINDS)}"),
                Column("fraction", fraction_or_simulated, True, "write a rate such as 0.03"),
            ),
        ),
        TableSpec(
            "deliveries",
            "what a delivery may bring and the site can take",
            (
                Column("truck_pallets", count(1, 10**6)),
                Column("pallet_packs", count(1, 10**6)),
                Column("truck_payload_kg", count(1, 10**6, "a whole number of kilograms")),
                Column("trucks_a_delivery", count(1, 10**4), False, "", ("trucks_per_delivery",)),
                Column("combine", _combine),
                Column("minimum_order", money),
                Column("delivery_cost", money, False, "", ("cost_per_load",)),
                Column("storage_cost", money, False, "", ("cost_per_m2_and_week",)),
                Column("site_storage_m2", count(0, 10**7, "a whole number of square metres")),
                Column("stack_height_mm", millimetres(1, 100_000)),
                Column("stack_layers", count(1, 1000)),
                Column("floor_load_kg_m2", count(1, 10**6, "a whole number of kilograms a square metre")),
                Column("delivery_weekday", weekday, False, "", ("weekday",)),
                Column("every_days", count(1, 364, "a whole number of days")),
                Column("crane_days", several(day, "days"), False, "", ("crane_day",)),
            ),
        ),
        TableSpec(
            "price_breaks",
            "the price of a product from a number of packs on",
            (
                Column("code", name, True, "write the supplier's code", ("product", "product_code")),
                Column("from_packs", count(2, 10**6), True, "write from how many packs on it holds"),
                Column("price", money, True, "write the price of one pack", ("price_per_pack", "pack_price")),
            ),
        ),
        TableSpec(
            "parties",
            "a party of the order",
            (
                Column("party", choice(*ROLES), True, f"write {', '.join(ROLES)}", ("role",)),
                Column("name", text),
                Column("address", text, False, "", ("street",)),
                Column("postcode", text, False, "", ("postal_code", "zip")),
                Column("city", text, False, "", ("town",)),
                Column("country", country_code),
                Column("contact", text),
                Column("telephone", text, False, "", ("phone",)),
                Column("email", text, False, "", ("e_mail",)),
                Column("tax_number", text, False, "", ("vat_number", "abn")),
            ),
        ),
    )
}

ORDER = (*FIELDS, *TABLES)
"""All tables, in the order in which their problems are told."""

NOTES = "reading_notes"
"""The sheet of what an earlier reading had to assume, under the heading `note`: kept as it is."""
