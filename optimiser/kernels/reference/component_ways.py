"""All ways to deal components out to two strips (`rearranging.c`)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from optimiser.kernels.reference.arrangement import (
    EMPTY_STRIP,
    Arrangement,
    Component,
    Contents,
    Strip,
)
from optimiser.kernels.reference.strip_ways import Ways

MOST_SPLIT = 10  # components dealt out between two strips at once, beyond which they stay as they are


class ComponentDeal(NamedTuple):
    """Components that a strip on board `a` and a strip on board `b` share out between them.

    `rest` is what lies on either board beside the two strips, `most_used` the width that may be taken of it.
    `dearest`: what both boards and strips may cost.
    """

    a: int
    b: int
    components: Sequence[Component]
    rest: tuple[Contents, Contents]
    kerf: int
    most_used: tuple[int, int]
    dearest: int


def component_ways(arrangement: Arrangement, deal: ComponentDeal) -> Ways:
    """The ways that fit and cost no more than `dearest`, in the order of which components lie on the first strip, read
    as bits."""
    a, b, components, (rest_a, rest_b), kerf, most_used, dearest = deal
    first_strips = _strips_on(arrangement, a, components)
    second_strips = first_strips if arrangement.alike(a, b) else _strips_on(arrangement, b, components)
    found: list[tuple[int, int]] = []
    for way, (first, second) in enumerate(zip(first_strips, reversed(second_strips), strict=True)):
        if first is None or second is None:
            continue
        on_a = rest_a.with_(first, kerf)
        changed = ((a, on_a.with_(second, kerf)),) if a == b else ((a, on_a), (b, rest_b.with_(second, kerf)))
        cost = arrangement.strip_cost(first) + arrangement.strip_cost(second)
        for (board, contents), most in zip(changed, most_used, strict=False):
            if contents.used > most or arrangement.carried_too_far(board, contents):
                break
            cost += arrangement.board_cost(board, contents)
        else:
            if cost <= dearest:
                found.append((way, cost))
    return Ways.of(found)


def _strips_on(arrangement: Arrangement, b: int, components: Sequence[Component]) -> list[Strip | None]:
    """By its bits the strip of every set of components, None where there is none that board `b` may hold: nor is there
    with more components then."""
    made: list[Strip | None] = [EMPTY_STRIP]
    for component in components:
        for strip in made.copy():
            more = None if strip is None else strip.with_(component)
            fits = more is not None and more.width <= more.narrowest and arrangement.may_hold(b, more)
            made.append(more if fits else None)
    return made
