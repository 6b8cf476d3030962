"""What runs ask of each other and of their details: junctions, one board a run, one kerf a board, notches that fit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from math import pi
from typing import Any

from optimiser.errors.problems import ProblemList, shown
from optimiser.model.detail import Detail
from optimiser.model.edges import faults_of_joins
from optimiser.reading.cells import closest
from optimiser.reading.documents import Document
from optimiser.reading.read_row import ReadRow


@dataclass(frozen=True)
class _Joining:
    """A run as far as it was read, for its junctions."""

    run: str
    level: str
    joins: str
    radius_mm: int | None


def check_edges(
    document: Document,
    read: Mapping[str, list[ReadRow]],
    details: Mapping[str, Detail],
    problems: ProblemList,
) -> None:
    """Faults of the runs' columns `joins`, `detail`, `board` and those of their mullions. `details` by name, '' the one
    that runs without a name take."""

    def fault(row: ReadRow, column: str, message: str, mend: str) -> None:
        row.whole = False
        places = document.tables["runs"].places
        problems.add(places.problem(row.number, column, row.raw.get(column), message, mend))

    named = [row for row in read["runs"] if "run" in row.values]
    _check_joins(named, fault, problems)
    for row in read["runs"]:
        detail = row.values.get("detail", "")
        if detail not in details:
            known = [name for name in details if name]
            meant = closest(detail, known)
            add = f"add a column {detail} to detail" if not document.is_json else f"add details.{detail}"
            write = f"write {meant}, or {add}" if meant else add
            fault(row, "detail", f"there is no detail {shown(detail)}", write)
    _check_boards(read, details, fault)
    _check_radii(read["runs"], fault)
    _check_mullions(read, details, fault)


def _check_joins(rows: list[ReadRow], fault: Any, problems: ProblemList) -> None:
    first: dict[str, ReadRow] = {}
    for row in rows:
        first.setdefault(row.values["run"], row)
    runs = [
        _Joining(name, row.values.get("level", ""), row.values.get("joins", ""), row.values.get("radius_mm"))
        for name, row in first.items()
    ]
    for found in faults_of_joins(runs):
        row = first[found.run]
        mend = found.mend
        if row.values["joins"] not in first and not problems.plenty:
            meant = closest(row.values["joins"], sorted(first)[:2000])
            mend = f"write {meant}, or {mend.removeprefix('write ')}" if meant else mend
        fault(row, "joins", found.message, mend)


def _check_boards(read: Mapping[str, list[ReadRow]], details: Mapping[str, Detail], fault: Any) -> None:
    """A tested detail is for one board: sizes of one board may serve a run together, boards of two kinds may not. And
    a board is cut with one kerf, whatever run it serves."""
    products = {row.values["code"]: row.values for row in read["products"] if "code" in row.values}
    cut_by: dict[str, tuple[tuple[int, bool], str]] = {}
    told: set[str] = set()
    for row in read["runs"]:
        codes = [code for code in row.values.get("board", ()) if code in products]
        for what in ("thickness_mm", "material"):
            of = {code: products[code].get(what) for code in codes}
            if len(set(of.values())) > 1:
                listed = ", ".join(
                    f"{code} {'none given' if own is None else own}" for code, own in of.items()
                )
                fault(
                    row,
                    "board",
                    f"its boards differ in {what}: {listed}; a tested detail is for one board, and boards of two never"
                    " butt together in a run",
                    "write boards of one alone; if they are the same, correct the products",
                )
        detail = details.get(row.values.get("detail", ""))
        if detail is None:
            continue
        rules = detail.kerf_mm, detail.trim
        run = row.values.get("run", "")
        for code in codes:
            before, other = cut_by.setdefault(code, (rules, run))
            if before != rules and code not in told:
                told.add(code)
                fault(
                    row,
                    "detail",
                    f"the board {code} serves {other} too, whose detail has another kerf_mm or trim: a board is cut"
                    " with one saw",
                    "give both details the same kerf_mm and trim, or one of the runs a board of its own",
                )
    _check_families(read["runs"], products, cut_by, told, fault)


def _check_families(
    runs: list[ReadRow],
    products: Mapping[str, Any],
    cut_by: Mapping[str, tuple[tuple[int, bool], str]],
    told: set[str],
    fault: Any,
) -> None:
    """Boards that serve one run together are cut together, with one kerf."""
    for row in runs:
        codes = [code for code in row.values.get("board", ()) if code in cut_by]
        rules = {cut_by[code][0] for code in codes}
        if len(rules) > 1 and not told.intersection(codes):
            told.update(codes)
            fault(
                row,
                "board",
                f"its boards {', '.join(codes)} serve runs whose details have another kerf_mm or trim: boards of one"
                " run are cut together",
                "give those details the same kerf_mm and trim, or the runs boards of their own",
            )


def _check_radii(rows: list[ReadRow], fault: Any) -> None:
    """No run goes more than once round its circle: a radius in metres is found so, before it leaves no piece long
    enough. A hundredth is allowed for rounding."""
    for row in rows:
        radius, length = row.values.get("radius_mm"), row.values.get("length_mm")
        if radius is not None and length is not None and length > 2.02 * pi * radius + 1:
            meant = f": if it is in metres, write {radius * 1000}" if length <= 2020 * pi * radius else ""
            fault(
                row,
                "radius_mm",
                f"the whole circle is {round(2 * pi * radius)} mm long, and the run {length} mm",
                f"write the radius in millimetres{meant}, or correct the run's length",
            )


def _check_mullions(read: Mapping[str, list[ReadRow]], details: Mapping[str, Detail], fault: Any) -> None:
    """No joint and no bracket in a notch, and no notch through the whole piece."""
    least: defaultdict[str, int] = defaultdict(lambda: 10**9)
    for gap in read["gaps"]:
        if "run" in gap.values and "gap_mm" in gap.values:
            least[gap.values["run"]] = min(least[gap.values["run"]], gap.values["gap_mm"])
    for row in read["runs"]:
        width, depth = row.values.get("mullion_width_mm"), row.values.get("mullion_depth_mm")
        detail = details.get(row.values.get("detail", ""))
        if width is not None and detail is not None:
            half = -(-width // 2)
            for rule in ("joint_to_mullion_min_mm", "bracket_to_mullion_min_mm"):
                if getattr(detail, rule) < half:
                    what = "joint" if rule.startswith("joint") else "bracket"
                    fault(
                        row,
                        "mullion_width_mm",
                        f"a mullion {width} mm wide reaches {half} mm to either side of its middle, and {rule}"
                        f" ({getattr(detail, rule)}) would let a {what} stand in its notch",
                        f"check the width; if it is right, the detail's {rule} must be at least {half}",
                    )
        if depth is not None and depth >= least[row.values.get("run", "")]:
            fault(
                row,
                "mullion_depth_mm",
                f"a mullion {depth} mm deep would reach across the gap of {least[row.values['run']]} mm to the slab",
                "measure how far it stands into the gap",
            )
