"""The offcuts of a rack that may serve the same pieces, together, as arrays: they are priced at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimiser.cutting.kernels import Ints
from optimiser.cutting.parts import Component, Family, Source, TypesOfComponents


@dataclass(frozen=True)
class RackGroup:
    """Offcuts of one code, kerf and time: the same pieces fit them but for their size."""

    sources: tuple[int, ...]
    kerf: int
    components: tuple[Component, ...]
    lengths: Ints  # of the components, kerf added
    width_min: Ints
    width_max: Ints
    widths: Ints
    width_of: Ints  # the index in `widths` of each component's least width
    offcut_length: Ints  # kerf added
    offcut_width: Ints
    bounds: Ints  # of the components: at most so many are of use
    types: TypesOfComponents

    def only(self, places: list[int]) -> RackGroup:
        """The group of the offcuts in these places."""
        return replace(
            self,
            sources=tuple(self.sources[k] for k in places),
            offcut_length=self.offcut_length[places],
            offcut_width=self.offcut_width[places],
        )


def rack_groups(
    sources: Sequence[Source], families: Sequence[Family], rack: frozenset[int]
) -> tuple[RackGroup, ...]:
    """The offcuts of the rack, which are the sources of those families, those that may serve the same pieces
    together."""
    alike: dict[tuple[int, int, int, str], list[int]] = {}
    for s, source in enumerate(sources):
        if source.family in rack:
            key = (source.first_stage, source.last_stage, source.kerf, source.code)
            alike.setdefault(key, []).append(s)
    return tuple(_group(sources, families, chosen) for chosen in alike.values())


def _group(sources: Sequence[Source], families: Sequence[Family], chosen: list[int]) -> RackGroup:
    found: dict[tuple[int, ...], Component] = {}
    for family in dict.fromkeys(sources[s].family for s in chosen):
        for component in families[family].components:
            found.setdefault(component.types, component)
    components = tuple(found[types] for types in sorted(found))
    kerf = sources[chosen[0]].kerf
    width_min = _ints(c.width_min for c in components)
    widths = np.unique(width_min)
    return RackGroup(
        tuple(chosen),
        kerf,
        components,
        _ints(c.length + kerf for c in components),
        width_min,
        _ints(c.width_max for c in components),
        widths.astype(np.int32),
        np.searchsorted(widths, width_min).astype(np.int32),
        _ints(sources[s].length + kerf for s in chosen),
        _ints(sources[s].width + kerf for s in chosen),
        _ints(c.bound for c in components),
        TypesOfComponents.of(components),
    )


def _ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.int32)
