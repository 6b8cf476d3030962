"""Remakes the sample orders: python sample_orders/make_samples.py

Everything here is invented: the buildings, the names, the prices, the products. The survey comes from a seeded
generator, so that the same figures come out each time. The faulty workbook needs openpyxl, a test tool, because
it holds formulas that were never computed.
"""

from __future__ import annotations

import csv
import json
import math
import random
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import xlsxwriter

from optimiser.writing.office.template import write_template

HERE = Path(__file__).parent
SEED = 20270301
SURVEY_EVERY_MM = 1500

Tables = dict[str, list[dict[str, Any]]]

COLUMNS = {
    "project": (
        "name", "currency", "country", "order_reference", "buyer", "supplier", "deliver_to", "payment_terms",
        "contract_reference", "supplier_reference", "delivery_from", "delivery_until", "unloading", "tax_name",
        "tax_rate",
    ),
    "detail": ("rule", "value"),
    "products": (
        "code", "kind", "length_mm", "width_mm", "thickness_mm", "per_pack", "price", "lead_days", "pack_name",
        "weight_kg",
    ),
    "levels": ("level", "sequence", "needed_on"),
    "runs": ("run", "level", "length_mm", "board", "mullions_mm"),
    "gaps": ("run", "at_mm", "gap_mm", "basis", "tolerance_mm"),
    "stock": ("code", "length_mm", "width_mm", "quantity", "level"),
    "allowance": ("kind", "fraction"),
    "parties": ("party", "address", "postcode", "city", "country", "contact", "telephone", "email", "tax_number"),
}  # fmt: skip

TERMS = {
    "payment_terms": "30 days from the end of the month",
    "contract_reference": "INV-C-14",
    "supplier_reference": "INV-Q-311",
    "delivery_from": "07:00",
    "delivery_until": "11:00",
    "unloading": "By the site's crane, one truck at a time; call the foreman 30 minutes ahead",
    "tax_name": "GST",
    "tax_rate": 0.10,
}

PARTIES = [
    {"party": "buyer", "address": "3 Example Road", "postcode": "0001", "city": "Exampleville", "country": "AU",
     "contact": "Invented Buyer", "telephone": "+00 0 5550 0100", "email": "orders@buyer.invalid",
     "tax_number": "00 000 000 001"},
    {"party": "supplier", "address": "7 Example Mill", "postcode": "0002", "city": "Exampleford", "country": "AU",
     "contact": "Invented Seller", "telephone": "+00 0 5550 0200", "email": "sales@supplier.invalid",
     "tax_number": "00 000 000 002"},
    {"party": "deliver_to", "address": "1 Example Street, gate 2", "postcode": "0001", "city": "Exampleville",
     "country": "AU", "contact": "Invented Foreman", "telephone": "+00 0 5550 0300", "email": None,
     "tax_number": None},
]  # fmt: skip

DETAIL = {
    "oversize_min": 0.10,
    "oversize_max": 0.15,
    "gap_min_mm": 40,
    "gap_max_mm": 350,
    "piece_length_min_mm": 300,
    "joint_to_mullion_min_mm": 100,
    "trim": True,
    "kerf_mm": 0,
    "bracket_insertion": 0.75,
    "bracket_insertion_min": 0.70,
    "bracket_insertion_max": 0.85,
    "bracket_end_distance_mm": 300,
    "bracket_spacing_max_mm": 600,
    "bracket_to_mullion_min_mm": 75,
    "anchors_per_bracket": 1,
    "tape_faces": 1,
    "tape_lap_mm": 50,
    "correlation_length_mm": 3000,
    "reading_age_max_days": 42,
    "taper_max_mm": 30,
    "curve_offset_max_mm": 5,
}

THIN = DETAIL | {"gap_max_mm": 200, "oversize_max": 0.18, "bracket_to_mullion_min_mm": 60, "taper_max_mm": 20}
"""What differs in the detail of the thinner board."""


def products() -> list[dict[str, Any]]:
    """An invented supplier's list: two boards, brackets every 10 mm, an anchor, a tape."""

    def product(code: str, kind: str, **more: Any) -> dict[str, Any]:
        return dict.fromkeys(COLUMNS["products"]) | {"code": code, "kind": kind} | more

    boards = [
        product("B-120", "board", length_mm=1200, width_mm=1000, thickness_mm=120, per_pack=4, price="212.00",
                lead_days=15, pack_name="pallet layer of 4", weight_kg=14.4),
        product("B-100", "board", length_mm=1200, width_mm=1000, thickness_mm=100, per_pack=5, price="221.50",
                lead_days=15, pack_name="pallet layer of 5", weight_kg=12.0),
    ]  # fmt: skip
    brackets = [
        product(f"K-{reach}", "bracket", length_mm=reach, per_pack=50, price=f"{52 + reach // 10 * 2}.00",
                lead_days=10, pack_name="box of 50", weight_kg=round(0.1 + reach / 1000, 2))
        for reach in range(30, 291, 10)
    ]  # fmt: skip
    return [
        *boards,
        *brackets,
        product(
            "A-8", "anchor", per_pack=100, price="41.50", lead_days=5, pack_name="box of 100", weight_kg=0.04
        ),
        product(
            "T-75",
            "tape",
            length_mm=45_000,
            per_pack=1,
            price="23.10",
            lead_days=5,
            pack_name="roll",
            weight_kg=0.6,
        ),
    ]


def surveyed(
    draws: random.Random, length_mm: int, nominal_mm: int, step_at_mm: int | None
) -> list[dict[str, int]]:
    """Gaps every 1.5 m and at the end: the slab wanders slowly (an autoregressive error over a long wave), and
    at `step_at_mm`, where a formwork panel moved, the edge steps within one survey interval."""
    wave, phase = draws.uniform(3, 6), draws.uniform(0, 2 * math.pi)
    offset, error, step = draws.uniform(-6, 6), draws.gauss(0, 2), draws.choice((-1, 1)) * nominal_mm * 0.09
    found = []
    for at_mm in [*range(0, length_mm, SURVEY_EVERY_MM), length_mm]:
        error = 0.93 * error + draws.gauss(0, 0.7)
        gap = nominal_mm + offset + wave * math.sin(phase + at_mm / 11_000 * 2 * math.pi / 2) + error
        if step_at_mm is not None and at_mm >= step_at_mm:
            gap += step
        found.append({"at_mm": at_mm, "gap_mm": round(gap)})
    return found


def mullions(length_mm: int, pitch_mm: int) -> list[int]:
    """Positions at a pitch, the first half a pitch from the corner."""
    return list(range(pitch_mm // 2, length_mm - 150, pitch_mm))


def building(
    name: str,
    reference: str,
    levels: list[dict[str, Any]],
    edges: Any,
    stock: list[dict[str, Any]],
    seed: int,
) -> Tables:
    """The tables of a building; `edges(number)` gives a level's elevations as (letter, length, nominal gap,
    mullion pitch, boards)."""
    draws = random.Random(seed)
    runs, gaps = [], []
    for number, level in enumerate(levels, 1):
        for letter, length_mm, nominal_mm, pitch_mm, board in edges(number):
            run = f"{level['level']}-{letter}"
            runs.append(
                {"run": run, "level": level["level"], "length_mm": length_mm, "board": list(board),
                 "mullions_mm": mullions(length_mm, pitch_mm)}
            )  # fmt: skip
            step_at = draws.randrange(6_000, length_mm - 3_000) if draws.random() < 0.2 else None
            gaps += [
                {"run": run, **gap, "basis": "measured", "tolerance_mm": None}
                for gap in surveyed(draws, length_mm, nominal_mm, step_at)
            ]
    return {
        "project": [
            {"name": name, "currency": "AUD", "country": "AU", "order_reference": reference,
             "buyer": "Invented Facade Contractor", "supplier": "Invented Insulation Supplier",
             "deliver_to": "Invented site", **TERMS}
        ],
        "detail": [{"rule": rule, "value": value} for rule, value in DETAIL.items()],
        "products": products(),
        "levels": levels,
        "runs": runs,
        "gaps": gaps,
        "stock": stock,
        "allowance": [
            {"kind": kind, "fraction": fraction}
            for kind, fraction in (("board", 0.03), ("bracket", 0.02), ("anchor", 0.05), ("tape", 0.05))
        ],
        "parties": PARTIES,
    }  # fmt: skip


def tower() -> Tables:
    """Fourteen levels, stepped back at the tenth, four elevations each, a delivery a week."""
    levels = [
        {
            "level": f"L{number:02d}",
            "sequence": number,
            "needed_on": date(2027, 3, 1) + timedelta(weeks=number - 1),
        }
        for number in range(1, 15)
    ]

    def edges(number: int) -> list[tuple[str, int, int, int, tuple[str, ...]]]:
        long_mm, short_mm = (41_850, 27_450) if number < 10 else (35_900, 24_150)
        return [
            ("N", long_mm, 150, 1500, ("B-120",)),
            ("E", short_mm, 120, 1350, ("B-100",)),
            ("S", long_mm, 150 if number < 10 else 120, 1500, ("B-120",)),
            ("W", short_mm, 90, 1200, ("B-100",)),
        ]

    stock = [
        {"code": "B-120", "length_mm": 1200, "width_mm": 380, "quantity": 6, "level": "L01"},
        {"code": "B-120", "length_mm": 1200, "width_mm": 1000, "quantity": 3, "level": "L01"},
        {"code": "B-100", "length_mm": 900, "width_mm": 420, "quantity": 4, "level": "L03"},
    ]
    return building("Invented Tower (not a real building)", "SAMPLE-TOWER", levels, edges, stock, SEED)


def small() -> Tables:
    """Two levels of two elevations; the upper one is not surveyed yet, so its gaps are nominal, and the
    detail's rules are only partly known, so the plan warns of placeholders."""
    levels = [
        {"level": "L1", "sequence": 1, "needed_on": date(2027, 5, 3)},
        {"level": "L2", "sequence": 2, "needed_on": date(2027, 5, 10)},
    ]

    def edges(number: int) -> list[tuple[str, int, int, int, tuple[str, ...]]]:
        return [("N", 22_850, 150, 1500, ("B-120",)), ("E", 16_800, 120, 1200, ("B-120",))]

    stock = [{"code": "B-120", "length_mm": 1200, "width_mm": 380, "quantity": 1, "level": "L1"}]
    tables = building(
        "Invented Pavilion (not a real building)", "SAMPLE-SMALL", levels, edges, stock, SEED + 1
    )
    nominal = [
        {"run": run, "at_mm": 0, "gap_mm": gap_mm, "basis": "nominal", "tolerance_mm": 12}
        for run, gap_mm in (("L2-N", 150), ("L2-E", 120))
    ]
    tables["gaps"] = [gap for gap in tables["gaps"] if gap["run"].startswith("L1")] + nominal
    tables["detail"] = tables["detail"][:9]
    tables["products"][0] |= {"per_pack": 2, "price": "108.00", "pack_name": "pair"}
    tables["products"] = [
        product
        for product in tables["products"]
        if product["kind"] != "bracket" or product["length_mm"] <= 140
    ]
    return tables


# An L with a rounded corner, in the order in which one runs around it: name, length (along the curve, of the arc),
# nominal gap, mullion pitch, board, detail, radius. Its inner corner is at the meeting of I and J.
L_EDGE = (
    ("N", 12_000, 150, 1500, "B-120", "", None),
    ("C", 4_712, 150, 0, "B-120", "", 3000),
    ("E", 9_000, 150, 1500, "B-120", "", None),
    ("S", 8_000, 130, 1350, "B-120", "", None),
    ("I", 5_000, 110, 1200, "B-90", "thin board", None),
    ("J", 7_000, 110, 1200, "B-90", "thin board", None),
    ("W", 7_000, 140, 1500, "B-120", "", None),
)


def l_shaped() -> Tables:
    """Nine levels of an L with a curved corner: two details, mullions of a known size, every level a closed loop but
    the first, whose south side is left out for the entrance; the eighth is measured in part, the ninth not yet."""
    draws = random.Random(SEED + 2)
    levels = [
        {"level": f"L{n:02d}", "sequence": n, "needed_on": date(2027, 6, 7) + timedelta(weeks=n - 1)}
        for n in range(1, 10)
    ]
    runs, gaps = [], []
    for number, level in enumerate(levels, 1):
        sides = [side for side in L_EDGE if number > 1 or side[0] != "S"]
        for place, (letter, length_mm, nominal_mm, pitch_mm, board, detail, radius_mm) in enumerate(sides):
            run = f"{level['level']}-{letter}"
            open_end = number == 1 and letter == "E"
            runs.append(
                {"run": run, "level": level["level"], "length_mm": length_mm, "board": [board],
                 "mullions_mm": mullions(length_mm, pitch_mm) if pitch_mm else [], "detail": detail or None,
                 "joins": None if open_end else f"{level['level']}-{sides[(place + 1) % len(sides)][0]}",
                 "mullion_width_mm": 60 if pitch_mm else None, "mullion_depth_mm": 45 if pitch_mm else None,
                 "radius_mm": radius_mm}
            )  # fmt: skip
            if number == 9 or (number == 8 and letter in "IJ"):
                gaps.append(
                    {"run": run, "at_mm": 0, "gap_mm": nominal_mm, "basis": "nominal", "tolerance_mm": 10}
                )
                continue
            gaps += [
                {"run": run, **gap, "basis": "measured", "tolerance_mm": None}
                for gap in surveyed(draws, length_mm, nominal_mm, None)
            ]
    boards = [
        {"code": f"B-{thickness}", "kind": "board", "length_mm": 1200, "width_mm": 1000, "thickness_mm": thickness,
         "per_pack": 4, "price": price, "lead_days": 15, "pack_name": "pallet layer of 4",
         "material": "invented stone wool", "weight_kg": round(thickness * 0.12, 1)}
        for thickness, price in ((120, "212.00"), (90, "164.00"))
    ]  # fmt: skip
    return {
        "project": [
            {"name": "Invented L-shaped Block (not a real building)", "currency": "AUD", "country": "AU",
             "order_reference": "SAMPLE-L", "buyer": "Invented Facade Contractor",
             "supplier": "Invented Insulation Supplier", "deliver_to": "Invented site, 2 Example Street", **TERMS}
        ],
        "products": boards + [product for product in products() if product["kind"] != "board"],
        "levels": levels,
        "runs": runs,
        "gaps": gaps,
        "allowance": [{"kind": "board", "fraction": 0.03}],
    }  # fmt: skip


def fill_template(tables: Tables, details: dict[str, dict[str, Any]], path: Path) -> None:
    """Fills in the empty workbook that the tool writes, as a user does: below the examples, and a column of the sheet
    detail for each detail ('' is its column value)."""
    from openpyxl import load_workbook

    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    write_template(path)
    workbook = load_workbook(path)
    for key in workbook["project"]["A"][1:]:
        workbook["project"].cell(key.row, 2).value = tables["project"][0].get(key.value)
    sheet = workbook["detail"]
    for number, (name, rules) in enumerate(details.items()):
        column = 2 if not name else sheet.max_column + 1 if number == 1 else sheet.max_column
        if name:
            sheet.cell(1, column).value = name
        for key in sheet["A"][1:]:
            sheet.cell(key.row, column).value = rules.get(key.value)
    for table in ("products", "levels", "runs", "gaps", "allowance"):
        sheet = workbook[table]
        at = {heading.value: heading.column for heading in sheet[1]}
        for number, row in enumerate(tables[table], 3):
            for name, value in row.items():
                filled = float(value) if name == "price" and value is not None else cell(value)
                sheet.cell(number, at[name]).value = filled
    workbook.save(path)


def cell(value: Any) -> Any:
    """A value as it stands in a cell: several are separated by spaces."""
    return " ".join(map(str, value)) if isinstance(value, list) else value


def write_xlsx(tables: Tables, path: Path) -> None:
    """A sheet a table, with a bold heading row that stays in sight."""
    with xlsxwriter.Workbook(str(path)) as workbook:
        bold = workbook.add_format({"bold": True, "bottom": 1})
        day = workbook.add_format({"num_format": "yyyy-mm-dd"})
        money = workbook.add_format({"num_format": "0.00"})
        for table, columns in COLUMNS.items():
            sheet = workbook.add_worksheet(table)
            sheet.freeze_panes(1, 0)
            sheet.write_row(0, 0, columns, bold)
            for index, column in enumerate(columns):
                sheet.set_column(index, index, 40 if column in ("mullions_mm", "name", "deliver_to") else 16)
            for number, row in enumerate(tables[table], 1):
                for index, column in enumerate(columns):
                    value = cell(row[column])
                    if isinstance(value, date):
                        sheet.write_datetime(number, index, value, day)
                    elif column == "price":
                        sheet.write_number(number, index, float(value), money)
                    elif value is not None:
                        sheet.write(number, index, value)


def write_csv(tables: Tables, folder: Path) -> None:
    """A csv file a table."""
    folder.mkdir(parents=True, exist_ok=True)
    for table, columns in COLUMNS.items():
        with (folder / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(columns)
            for row in tables[table]:
                values = [cell(row[column]) for column in columns]
                writer.writerow(
                    [str(value).lower() if isinstance(value, bool) else value for value in values]
                )


def write_json(tables: Tables, path: Path) -> None:
    """The same tables; what stands in one row only is an object, several values are a list."""
    document: dict[str, Any] = {
        table: [{key: value for key, value in row.items() if value is not None} for row in rows]
        for table, rows in tables.items()
    }
    document["project"] = document["project"][0]
    document["detail"] = {row["rule"]: row["value"] for row in tables["detail"]}
    lines = []
    for table, value in document.items():
        if isinstance(value, list):
            rows = ",\n  ".join(json.dumps(row, default=str) for row in value)
            lines.append(f"{json.dumps(table)}: [\n  {rows}\n]")
        else:
            lines.append(f"{json.dumps(table)}: {json.dumps(value, default=str)}")
    path.write_text("{" + ",\n".join(lines) + "}\n", encoding="utf-8")


def write_all(tables: Tables, name: str, into: Path) -> None:
    """A sample as workbook, csv folder and JSON."""
    (into / name).mkdir(parents=True, exist_ok=True)
    write_xlsx(tables, into / name / f"{name}.xlsx")
    write_csv(tables, into / name / "csv")
    write_json(tables, into / name / f"{name}.json")


def write_faulty(path: Path) -> None:
    """The small job with one of each fault that a survey comes back with; expected_messages.txt beside it says
    what the tool answers (it is written by hand, not by this script)."""
    from openpyxl import Workbook

    tables = small()
    path.parent.mkdir(parents=True, exist_ok=True)
    workbook = Workbook()
    workbook.remove(workbook.active)
    for table, columns in COLUMNS.items():
        sheet = workbook.create_sheet(table)
        sheet.append(columns)
        for row in tables[table]:
            sheet.append([float(row[c]) if c == "price" else cell(row[c]) for c in columns])
    workbook["detail"]["B2"] = 10  # per cent, not a rate
    workbook["detail"]["A6"] = "piece_lenght_min_mm"
    workbook["products"]["E1"] = "thickness (cm)"
    workbook["products"]["A4"] = "B-120"  # the second time
    workbook["products"]["G5"] = 56.125
    workbook["products"]["C2"] = None
    workbook["levels"]["C2"] = "03/05/2027"
    workbook["levels"]["C3"] = "31/02/2027"
    runs = workbook["runs"]
    runs["B3"] = "L7"
    runs["C2"] = 22.85
    runs["D4"] = "B-12O"
    runs["E5"] = "600 1800 30000"
    runs.append(["L2-S", "L2", 9600, "B-120", None])  # nothing is measured on it
    gaps = workbook["gaps"]
    gaps["C3"] = 0.15
    gaps["C4"] = "15 cm"
    gaps["C5"] = '6"'
    gaps["C6"] = "see sketch"
    gaps["C7"] = -150
    gaps["A8"] = "L1-M"
    gaps["C9"] = "=149+1"  # never computed
    gaps["B12"] = 0  # the position of row 2 again
    gaps["B21"] = 99_000
    gaps["D13"] = "measurd"
    gaps["C14"] = None
    gaps.merge_cells("C15:C16")
    workbook["stock"]["D2"] = "1.5"
    workbook["allowance"]["A3"] = "board"
    workbook.save(path)


def main(into: Path = HERE) -> None:
    """Write all samples."""
    write_all(tower(), "tower", into)
    write_all(small(), "small", into)
    fill_template(l_shaped(), {"": DETAIL, "thin board": THIN}, into / "l_shaped" / "l_shaped.xlsx")
    write_faulty(into / "faulty" / "faulty.xlsx")


if __name__ == "__main__":
    main()
