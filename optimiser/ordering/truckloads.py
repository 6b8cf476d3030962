"""What each truck of a delivery brings: its packs dealt out to loads within a truck's pallets and payload.

First fit, the heaviest first (common practice for packing). Where no such dealing finds room on as many trucks as the
delivery's pallets and weight take together, none is made: the supplier loads the trucks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from optimiser.model.project import DeliveryLimits, Project
from optimiser.ordering.delivery_days import pack_grams


def dealt_out(
    project: Project, limits: DeliveryLimits, packs: Mapping[str, int], trucks: int
) -> tuple[dict[str, int], ...] | None:
    """The packs of each product on each of so many trucks; None where they do not fit so."""
    grams, holds = pack_grams(project), limits.pallet_packs or 1
    boards = project.building.boards
    parts: list[tuple[str, int, int]] = []  # product, packs that stay together, pallets
    for code, number in packs.items():
        if code in boards:
            full, rest = divmod(number, holds)
            parts += [(code, holds, 1)] * full + ([(code, rest, 1)] if rest else [])
        else:
            parts += [(code, 1, 0)] * number
    room = [
        [limits.truck_pallets or len(parts), (limits.truck_payload_kg or 0) * 1000 or None]
        for _ in range(trucks)
    ]
    loads: list[Counter[str]] = [Counter() for _ in range(trucks)]
    for code, number, pallets in sorted(
        parts, key=lambda part: (-part[2], -grams.get(part[0], 0) * part[1], part[0])
    ):
        weight = grams.get(code, 0) * number
        for load, left in zip(loads, room, strict=True):
            free, payload = left
            if (free or 0) >= pallets and (payload is None or payload >= weight):
                load[code] += number
                left[0] = (free or 0) - pallets
                left[1] = None if payload is None else payload - weight
                break
        else:
            return None
    if not all(loads):
        return None
    in_trade_order = [product.code for product in project.building.in_trade_order]
    return tuple({code: load[code] for code in in_trade_order if load[code]} for load in loads)
