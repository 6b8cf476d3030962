"""Places that cannot be built as they stand, those with one cause together: a missing bracket size is one line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimiser.model.planned_pieces import NotPlanned

_REACH = re.compile(r"reaches (\d+)(?: to (\d+))? mm")
_PLACE = re.compile(r"^run .+?, piece from \d+ to \d+ mm: ")


@dataclass(frozen=True)
class PlaceGroup:
    """Places that one thing mends: why (of the first), what would mend all of them, and where each is."""

    reason: str
    mend: str
    places: tuple[str, ...]
    runs: tuple[str, ...]


def grouped_places(found: Sequence[NotPlanned]) -> tuple[PlaceGroup, ...]:
    """Places with equal mends together, and those for which one bracket size would do: where nothing can be built
    before where a bracket is missing, of these the most places first.

    Which sizes of bracket mend which places is an interval each, and the fewest sizes that mend all are found by
    taking, again and again, the place whose interval ends first (the greedy stabbing of intervals: Kleinberg and
    Tardos, Algorithm Design, 2006, chapter 4; from memory).
    """
    brackets = [(place, reach) for place in found if (reach := _reach(place))]
    in_order = {id(place): number for number, place in enumerate(found)}
    lacking = [
        _by_one_size(sorted(group, key=lambda one: in_order[id(one[0])])) for group in _stabbed(brackets)
    ]
    others: dict[tuple[str, str], list[NotPlanned]] = {}
    for place in found:
        if not _reach(place):
            others.setdefault((_why(place), place.mend), []).append(place)
    others_first = [[_group(places, places[0].mend) for places in others.values()], lacking]
    return tuple(
        group for groups in others_first for group in sorted(groups, key=lambda group: -len(group.places))
    )


def _reach(place: NotPlanned) -> tuple[int, int] | None:
    """The least and the greatest reach of a bracket that would serve a place, in mm; None where it lacks none."""
    match = _REACH.search(place.mend) if place.what == "bracket" else None
    return (int(match[1]), int(match[2] or match[1])) if match else None


def _stabbed(
    brackets: Iterable[tuple[NotPlanned, tuple[int, int]]],
) -> list[list[tuple[NotPlanned, tuple[int, int]]]]:
    groups: list[list[tuple[NotPlanned, tuple[int, int]]]] = []
    end = -1
    for place, reach in sorted(brackets, key=lambda item: item[1][1]):
        if not groups or reach[0] > end:
            groups.append([])
            end = reach[1]
        groups[-1].append((place, reach))
    return groups


def _by_one_size(group: list[tuple[NotPlanned, tuple[int, int]]]) -> PlaceGroup:
    least = max(reach[0] for _, reach in group)
    greatest = min(reach[1] for _, reach in group)
    where = f"reaches {least} to {greatest} mm" if least < greatest else f"reaches {least} mm"
    offered = _why(group[0][0]).rpartition("; ")[2]
    why = _why(group[0][0]) if len(group) == 1 else f"no bracket fits; {offered}"
    return _group([place for place, _ in group], f"add a bracket that {where} to the products", why)


def _group(places: Sequence[NotPlanned], mend: str, why: str = "") -> PlaceGroup:
    return PlaceGroup(
        why or _why(places[0]),
        mend,
        tuple(
            f"level {place.level}, run {place.run}, {place.from_mm} to {place.to_mm} mm" for place in places
        ),
        tuple(dict.fromkeys(place.run for place in places)),
    )


def _why(place: NotPlanned) -> str:
    return _PLACE.sub("", place.reason.strip().rstrip("."))
