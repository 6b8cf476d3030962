"""Line numbers that stay from revision to revision, and what a revision does to each line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from optimiser.model.money import NOTHING
from optimiser.model.purchase_order import LineBefore, OrderedLine, PurchaseOrder, Truckload


def numbered_lines(
    truckloads: Sequence[Truckload], before: PurchaseOrder | None
) -> tuple[tuple[Truckload, ...], tuple[OrderedLine, ...], int]:
    """The truckloads with their lines' own numbers, the lines that are cancelled, and the highest number ever given.

    A line keeps the number of the one that it stands for in the replaced order: of the same product, status, day and
    load; else of the same product and day; else of the same product and status; else of the same product.
    """
    places = [(load, line) for load in truckloads for line in load.lines]
    if before is None:
        numbered: list[OrderedLine] = [
            line.model_copy(update={"number": number}) for number, (_, line) in enumerate(places, start=1)
        ]
        return _with_lines(truckloads, numbered), (), len(numbered)
    old = [(load, line) for load in before.truckloads for line in load.lines]
    keys = (
        lambda load, line: (line.code, line.status, load.deliver_on, load.load),
        lambda load, line: (line.code, load.deliver_on),
        lambda load, line: (line.code, line.status),
        lambda load, line: (line.code,),
    )
    stands_for: dict[int, int] = {}
    for key in keys:
        free, taken = defaultdict(list), set(stands_for.values())
        for place, (load, line) in enumerate(old):
            if place not in taken:
                free[key(load, line)].append(place)
        for place, (load, line) in enumerate(places):
            if place not in stands_for and free[key(load, line)]:
                stands_for[place] = free[key(load, line)].pop(0)
    highest = before.highest_line
    numbered = []
    for place, (load, line) in enumerate(places):
        if place not in stands_for:
            highest += 1
            numbered.append(line.model_copy(update={"number": highest, "change": "added"}))
            continue
        old_load, was = old[stands_for[place]]
        told = _before(old_load, was)
        now = _before(load, line)
        same = told == now.model_copy(update={"packs_for": told.packs_for})
        numbered.append(
            line.model_copy(
                update={
                    "number": was.number,
                    "change": "unchanged" if same else "revised",
                    "before": told,
                }
            )
        )
    still = set(stands_for.values())
    cancelled = tuple(
        was.model_copy(
            update={
                "packs": 0,
                "packs_for": {},
                "amount": NOTHING,
                "weight_kg": None,
                "change": "cancelled",
                "before": _before(load, was),
            }
        )
        for place, (load, was) in enumerate(old)
        if place not in still
    )
    return _with_lines(truckloads, numbered), cancelled, highest


def _before(load: Truckload, line: OrderedLine) -> LineBefore:
    """What a revision says of a line, as the next one tells it."""
    return LineBefore(
        packs=line.packs,
        packs_for=line.packs_for,
        price=line.price,
        deliver_on=load.deliver_on,
        status=line.status,
    )


def _with_lines(truckloads: Sequence[Truckload], lines: Sequence[OrderedLine]) -> tuple[Truckload, ...]:
    """The truckloads with these lines in the place of theirs, one for one."""
    rest = iter(lines)
    return tuple(
        load.model_copy(update={"lines": tuple(next(rest) for _ in load.lines)}) for load in truckloads
    )
