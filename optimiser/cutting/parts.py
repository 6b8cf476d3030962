"""What a cutting problem is made of in the solver's terms: types of pieces, sources of material, families of strips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimiser.cutting.kernels import Ints, Values

WIDEST = 1 << 30  # the upper end of a window that has none


@dataclass(frozen=True)
class PieceType:
    """Pieces that any pattern may exchange. A *solo* type cannot share its strip with anything; its pieces may
    differ in length, so its `length` is that of the shortest family that takes them all."""

    length: int
    width_min: int
    width_max: int
    low_stage: int
    codes: frozenset[str]
    ends: tuple[int, int] | None
    solo: bool
    demand: int
    members: tuple[int, ...]  # indices into problem.pieces


@dataclass(frozen=True)
class Source:
    """A board size (available: None, without limit) or an offcut, serving pieces of stages first to last."""

    name: str
    code: str
    length: int
    width: int
    kerf: int
    price: int
    available: int | None
    first_stage: int
    last_stage: int
    family: int


@dataclass(frozen=True)
class Component:
    """What lies in one length of a strip: one piece, or a tapered pair head to tail."""

    length: int
    width_min: int
    width_max: int
    types: tuple[int, ...]  # one type, or the two of a pair
    bound: int


@dataclass(frozen=True)
class TypesOfComponents:
    """The one or two types of each of some components: `second` is -1 where a component is one piece."""

    first: Ints
    second: Ints

    @classmethod
    def of(cls, components: Sequence[Component]) -> TypesOfComponents:
        """Those of these components, in their order."""
        return cls(
            np.array([c.types[0] for c in components], dtype=np.int32),
            np.array([c.types[1] if len(c.types) > 1 else -1 for c in components], dtype=np.int32),
        )

    def worth(self, types: Values) -> Values:
        """What each component is worth, where the types are worth so much."""
        return types[self.first] + np.where(self.second >= 0, types[self.second], 0)

    def scarcest(self, types: Values) -> Values:
        """Of each component the less of what its types have."""
        return np.minimum(types[self.first], types[np.where(self.second >= 0, self.second, self.first)])


@dataclass(frozen=True)
class Family:
    """Interchangeable strips: which components they may hold and which widths are worth ripping."""

    length: int
    kerf: int
    widest: int
    components: tuple[Component, ...]
    widths: Ints  # ascending
    width_bounds: Ints  # at most so many strips of a width are of use
    lengths: Ints  # of the components, kerf added
    width_min: Ints
    width_max: Ints
    bounds: Ints

    @cached_property
    def types_of_components(self) -> TypesOfComponents:
        """The types of its components as arrays."""
        return TypesOfComponents.of(self.components)

    @cached_property
    def index_of_width(self) -> dict[int, int]:
        """Position of each width in `widths`."""
        return {int(width): k for k, width in enumerate(self.widths)}

    @cached_property
    def single_component(self) -> dict[int, int]:
        """The component that is one piece of a type, by type."""
        return {c.types[0]: k for k, c in enumerate(self.components) if len(c.types) == 1}

    @cached_property
    def component_of(self) -> dict[tuple[int, ...], int]:
        """The component by its types: one, or the two of a tapered pair."""
        return {c.types: k for k, c in enumerate(self.components)}

    @cached_property
    def pair_width(self) -> dict[tuple[int, ...], int]:
        """The strip width of every tapered pair, by its types."""
        return {c.types: c.width_min for c in self.components if len(c.types) > 1}

    @property
    def capacity(self) -> int:
        """Strip length plus one kerf: each piece takes its length and a kerf of it."""
        return self.length + self.kerf


def pair_width(first: tuple[int, int], second: tuple[int, int], kerf: int) -> int:
    """Strip width that two tapers of equal length take, the second turned end for end, a kerf between them."""
    return max(first[0] + second[1], first[1] + second[0]) + kerf
