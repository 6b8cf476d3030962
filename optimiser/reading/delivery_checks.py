"""What the `deliveries` table asks of itself and of the products: sizes and weights that its limits need."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from optimiser.reading.read_row import ReadRow


def check_deliveries(read: Mapping[str, list[ReadRow]], fault: Any) -> None:
    """One row of limits, columns that agree, and boards with the thickness and weight that the limits count."""
    for row in read["deliveries"][1:]:
        column = next(iter(row.raw))
        fault("deliveries", row, column, "the limits stand in one row", "put all of them in the first row")
    boards = [row for row in read["products"] if row.values.get("kind") == "board"]
    for row in read["deliveries"][:1]:
        _columns_agree(row, fault)
        _boards_are_known(row, boards, fault)


def _columns_agree(row: ReadRow, fault: Any) -> None:
    given = row.values
    if "trucks_a_delivery" in given and not {"truck_pallets", "truck_payload_kg"} & set(row.raw):
        fault(
            "deliveries", row, "trucks_a_delivery", "needs a truck's size",
            "write truck_pallets or truck_payload_kg as well",
        )  # fmt: skip
    if given.get("crane_days"):
        for column in ("delivery_weekday", "every_days"):
            if column in given:
                fault("deliveries", row, column, "crane_days already say the days", "keep one of the two")
    if "delivery_weekday" in given and given.get("every_days", 7) % 7:
        weeks = -(-given["every_days"] // 7)
        fault(
            "deliveries", row, "every_days", f"on {given['delivery_weekday']}s only, it must be whole weeks",
            f"write {7 * weeks}, or take delivery_weekday out",
        )  # fmt: skip


def _boards_are_known(row: ReadRow, boards: Iterable[ReadRow], fault: Any) -> None:
    height = row.values.get("stack_height_mm")
    in_kg = [name for name in ("truck_payload_kg", "floor_load_kg_m2") if name in row.values]
    for board in boards:
        code = board.values.get("code", "")
        if height is not None:
            if "thickness_mm" not in board.raw:
                message = "is missing for this board, and stack_height_mm is given in deliveries"
                fault("products", board, "thickness_mm", message, "write its thickness in mm")
            elif board.values.get("thickness_mm", 0) > height:
                message = f"is less than the thickness of {code}, {board.values['thickness_mm']}"
                fault("deliveries", row, "stack_height_mm", message, "correct one of the two")
        if in_kg and "weight_kg" not in board.raw:
            limits = f"{' and '.join(in_kg)} {'is' if len(in_kg) == 1 else 'are'}"
            message = f"is missing for this board, and {limits} given in deliveries"
            fault("products", board, "weight_kg", message, "write the weight of one board in kg")
        weight, payload = board.values.get("weight_kg"), row.values.get("truck_payload_kg")
        if weight is not None and payload is not None and weight * board.values.get("per_pack", 1) > payload:
            message = f"is less than a pack of {code}, {weight * board.values.get('per_pack', 1)} kg"
            fault("deliveries", row, "truck_payload_kg", message, "correct one of the two")
