"""A small invented building with its plan, worked out by hand, and ways to change one figure of it.

L01 has a run of 3000 mm with a 150 mm gap, L02 one of 2400 mm with a 100 mm gap; all is cut from one board,
so L02's pieces travel one delivery.
"""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

from optimiser.model.plan import Plan
from optimiser.model.project import Project

DETAIL = {
    "oversize_min": 0.10,
    "oversize_max": 0.15,
    "gap_min_mm": 50,
    "gap_max_mm": 300,
    "piece_length_min_mm": 300,
    "joint_to_mullion_min_mm": 100,
    "trim": False,
    "kerf_mm": 2,
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
    "taper_max_mm": 1000,
}

PROJECT = {
    "project": {"name": "Invented building", "currency": "AUD", "country": "AU"},
    "detail": DETAIL,
    "products": [
        {
            "code": "B-120",
            "kind": "board",
            "length_mm": 1200,
            "width_mm": 1000,
            "thickness_mm": 120,
            "per_pack": 4,
            "price": "212.00",
            "lead_days": 15,
            "pack_name": "pack",
        },
        {"code": "K-75", "kind": "bracket", "length_mm": 75, "per_pack": 4, "price": "9.50"},
        {"code": "K-110", "kind": "bracket", "length_mm": 110, "per_pack": 4, "price": "10.00"},
        {"code": "K-120", "kind": "bracket", "length_mm": 120, "per_pack": 4, "price": "10.50"},
        {"code": "A-8", "kind": "anchor", "per_pack": 10, "price": "6.10", "lead_days": 2},
        {"code": "T-75", "kind": "tape", "length_mm": 600, "price": "4.25"},
    ],
    "levels": [
        {"level": "L01", "sequence": 10, "needed_on": "2027-01-26"},
        {"level": "L02", "sequence": 20, "needed_on": "2027-02-22"},
    ],
    "runs": [
        {"run": "L01-N", "level": "L01", "length_mm": 3000, "board": ["B-120"], "mullions_mm": [500, 1800]},
        {"run": "L02-N", "level": "L02", "length_mm": 2400, "board": ["B-120"]},
    ],
    "gaps": [
        {"run": "L01-N", "at_mm": 0, "gap_mm": 150},
        {"run": "L02-N", "at_mm": 0, "gap_mm": 100},
    ],
    "allowance": [{"kind": "anchor", "fraction": 0.1}, {"kind": "bracket", "fraction": 0.05}],
}


def _piece(name: str, start: int, end: int, **values: Any) -> dict[str, Any]:
    run, _, _ = name.rpartition("-")
    gap, width, most, bracket = (150, 165, 172, "K-110") if run == "L01-N" else (100, 110, 115, "K-75")
    return {
        "id": name,
        "level": run[:3],
        "run": run,
        "from_mm": start,
        "to_mm": end,
        "gap_min_mm": gap,
        "gap_max_mm": gap,
        "width_min_mm": width,
        "width_max_mm": most,
        "cut_width_start_mm": width,
        "cut_width_end_mm": width,
        "boards": ["B-120"],
        "bracket": bracket,
        "brackets_at_mm": [300] if end - start <= 600 else [300, 900],
        "notches_at_mm": [],
        "mullions_at_mm": [],
    } | values


def _strip(width: int, *pieces: tuple[str, int]) -> dict[str, Any]:
    return {
        "width_mm": width,
        "pieces": [{"id": name, "length_mm": length, "width_mm": width} for name, length in pieces],
    }


def _line(code: str, level: str, packs: int, **values: Any) -> dict[str, Any]:
    product = next(product for product in PROJECT["products"] if product["code"] == code)  # type: ignore[index]
    return {
        "code": code,
        "kind": product["kind"],
        "level": level,
        "deliver_on": "2027-01-25" if level == "L01" else "2027-02-22",
        "order_by": "2027-01-25" if level == "L01" else "2027-02-22",
        "allowance": 0,
        "per_pack": product.get("per_pack", 1),
        "packs": packs,
        "pack_name": product.get("pack_name", ""),
        "price": product["price"],
    } | values


# 26 January 2027, Australia Day (a public holiday), is a Tuesday: L01's delivery comes on the Monday before.
# Fifteen working days before Monday 25 January is Monday 4 January; before 22 February it is 1 February.
PLAN = {
    "project": PROJECT,
    "staging": "carry",
    "max_carry_stages": 1,
    "boards": {"B-120": {"count": 1, "lower_bound": 1, "optimal": True, "packs": 1, "lower_bound_packs": 1}},
    "proofs": [
        {
            "codes": ["B-120"],
            "boards": 1,
            "lower_bound": 1,
            "cost_cents": 5300,
            "lower_bound_cents": 5300,
            "optimal": True,
            "solve_seconds": 0.01,
        }
    ],
    "waste": {
        "bought_mm2": 1_200_000,
        "stock_mm2": 0,
        "fitted_mm2": 3000 * 165 + 2400 * 110,
        "reusable_offcut_mm2": 1200 * 275 + 598 * 165,
        "scrap_mm2": 1_200_000 - 759_000 - 330_000 - 98_670,
        "scrap_fraction": 0.0103,
    },
    "pieces": [
        _piece("L01-N-001", 0, 1200, mullions_at_mm=[500], notches_at_mm=[500]),
        _piece("L01-N-002", 1200, 2400, mullions_at_mm=[1800], notches_at_mm=[600]),
        _piece("L01-N-003", 2400, 3000),
        _piece("L02-N-001", 0, 1200),
        _piece("L02-N-002", 1200, 2400),
    ],
    "not_planned": [],
    "layouts": [
        {
            "stock": "B-120",
            "code": "B-120",
            "stage": 10,
            "strips": [
                _strip(165, ("L01-N-001", 1200)),
                _strip(165, ("L01-N-002", 1200)),
                _strip(165, ("L01-N-003", 600)),
                _strip(110, ("L02-N-001", 1200)),
                _strip(110, ("L02-N-002", 1200)),
            ],
        }
    ],
    "left_over": [
        {"length_mm": 1200, "width_mm": 275, "stage": 10, "code": "B-120"},
        {"length_mm": 598, "width_mm": 165, "stage": 10, "code": "B-120"},
    ],
    # Three strips of 165 mm and their kerfs are ripped for L01; the rest of the 1000 mm waits for L02.
    "waiting": {
        "pieces": 2,
        "piece_stages": 2,
        "remainders": 1,
        "lower_bound_piece_stages": 1,
        "remainder_stages": 1,
    },
    "remainders": [
        {
            "name": "B001-R1",
            "board": "B001",
            "layout": 1,
            "code": "B-120",
            "kind": "board",
            "length_mm": 1200,
            "width_mm": 499,
            "cut_from": "B001",
            "stage": 10,
            "level": "L01",
            "cut_stage": 20,
            "waits_for": "L02",
            "pieces": 2,
        }
    ],
    "counts": {
        "L01": {"joints": 2, "brackets": {"K-110": 5}, "anchors": 5, "tape_mm": 500},
        "L02": {"joints": 1, "brackets": {"K-75": 4}, "anchors": 4, "tape_mm": 200},
    },
    "levels": [
        {
            "level": "L01",
            "sequence": 10,
            "status": "firm",
            "deliver_on": "2027-01-25",
            "measure_by": None,
        },
        {
            "level": "L02",
            "sequence": 20,
            "status": "firm",
            "deliver_on": "2027-02-22",
            "measure_by": None,
        },
    ],
    "order": {
        "lines": [
            _line("B-120", "L01", 1, needed=1, quantity=1, amount="212.00", order_by="2027-01-04"),
            _line("K-110", "L01", 2, needed=5, allowance=1, quantity=6, amount="20.00"),
            _line("A-8", "L01", 1, needed=5, allowance=1, quantity=6, amount="6.10", order_by="2027-01-21"),
            _line("T-75", "L01", 1, needed=1, quantity=1, amount="4.25"),
            _line("K-75", "L02", 2, needed=4, allowance=1, quantity=5, amount="19.00"),
            # Ten anchors in all, one pack of ten, which came with L01.
            _line("A-8", "L02", 0, needed=4, quantity=4, amount="0.00", order_by="2027-02-18"),
            _line("T-75", "L02", 1, needed=1, quantity=1, amount="4.25"),
        ],
        "total": "265.60",
        "currency": "AUD",
    },
    "deliveries": [
        {
            "level": "L01",
            "sequence": 10,
            "deliver_on": "2027-01-25",
            "order_by": "2027-01-04",
            "packs": {"B-120": 1, "K-110": 2, "A-8": 1, "T-75": 1},
            "amount": "242.35",
        },
        {
            "level": "L02",
            "sequence": 20,
            "deliver_on": "2027-02-22",
            "order_by": "2027-02-22",
            "packs": {"K-75": 2, "T-75": 1},
            "amount": "23.25",
        },
    ],
    "warnings": [],
    "cautions": ["Work at an open slab edge needs fall protection."],
}


def changed(data: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """A copy of nested tables with values at paths such as 'pieces.0.to_mm' replaced.

    The value `REMOVED` takes the entry out.
    """
    data = copy.deepcopy(data)
    for path, value in changes.items():
        *way, last = path.split(".")
        place: Any = data
        for step in way:
            place = place[int(step)] if isinstance(place, list) else place[step]
        key: Any = int(last) if isinstance(place, list) else last
        if value is REMOVED:
            del place[key]
        elif isinstance(place, list) and key == len(place):
            place.append(copy.deepcopy(value))
        else:
            place[key] = copy.deepcopy(value)
    return data


REMOVED = object()


def plan_with(changes: dict[str, Any] | None = None) -> Plan:
    """The plan above, or with some of its figures changed."""
    return Plan.model_validate(changed(PLAN, changes or {}))


@cache
def right_project() -> Project:
    """The project above."""
    return Project.model_validate(PROJECT)


def bare_plan(
    gaps: list[tuple[int, int]],
    pieces: list[dict[str, Any]],
    *,
    length_mm: int,
    mullions_mm: list[int] | None = None,
    detail: dict[str, Any] | None = None,
    not_planned: list[dict[str, Any]] | None = None,
    brackets: list[int] | None = None,
) -> Plan:
    """One run R on level L01 with its gaps (position, gap), and pieces: only where and how wide they are.

    For the rules of pieces alone: nothing is cut, counted or ordered. Pieces need `from_mm`, `to_mm` and
    `widths` (start, end); everything else has a value that fits or may be given.
    """
    project = PROJECT | {
        "detail": DETAIL | (detail or {}),
        "levels": [{"level": "L01", "sequence": 1}],
        "runs": [
            {
                "run": "R",
                "level": "L01",
                "length_mm": length_mm,
                "board": ["B-120"],
                "mullions_mm": mullions_mm or [],
            }
        ],
        "gaps": [{"run": "R", "at_mm": at, "gap_mm": gap} for at, gap in gaps],
    }
    if brackets is not None:
        project["products"] = [
            PROJECT["products"][0],  # type: ignore[index]
            *({"code": f"K-{reach}", "kind": "bracket", "length_mm": reach} for reach in brackets),
        ]
    full = []
    for number, given in enumerate(pieces, start=1):
        start, end = given.pop("widths", (0, 0))
        inside = [at for at in mullions_mm or [] if given["from_mm"] < at < given["to_mm"]]
        full.append(
            {
                "id": f"R-{number:03d}",
                "level": "L01",
                "run": "R",
                "gap_min_mm": 0,
                "gap_max_mm": 0,
                "width_min_mm": max(start, end),
                "width_max_mm": max(start, end),
                "cut_width_start_mm": start,
                "cut_width_end_mm": end,
                "boards": ["B-120"],
                "bracket": None,
                "brackets_at_mm": [],
                "mullions_at_mm": inside,
                "notches_at_mm": [at - given["from_mm"] for at in inside],
            }
            | given
        )
    left_out = [{"run": "R", "level": "L01", "reason": "why", "mend": "how"} | n for n in not_planned or []]
    return Plan.model_validate(PLAN | {"project": project, "pieces": full, "not_planned": left_out})
