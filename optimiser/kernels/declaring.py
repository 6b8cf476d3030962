"""How a C function is declared once, with its arguments, and called with every argument checked.

A wrong dtype, a view with gaps or an array too short would be read as it lies: wrong numbers, or memory that is not
ours. So each argument is compared with its declaration before the call; what is wrong is said by name.
"""

from __future__ import annotations

import ctypes
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import isfinite, prod
from typing import Any, Literal

import numpy as np

CType = Literal["int", "int32_t", "int64_t", "uint64_t"]
_DTYPES = {
    "int32_t": np.dtype(np.int32),
    "int64_t": np.dtype(np.int64),
    "uint64_t": np.dtype(np.uint64),
}
_LIMITS = {"int": 2**31, "int32_t": 2**31, "int64_t": 2**63}
_NUMBERS = {
    "int": ctypes.c_int,
    "int32_t": ctypes.c_int32,
    "int64_t": ctypes.c_int64,
    "double": ctypes.c_double,
}


@dataclass(frozen=True)
class Number:
    """A whole number passed by value; one that is not `passed` only says how long arrays are."""

    name: str
    type: CType
    least: int | None = None
    passed: bool = True

    def checked(self, value: object, where: str) -> int:
        """The number. Raises TypeError or ValueError, named."""
        if isinstance(value, bool) or not isinstance(value, (int, np.integer)):
            raise TypeError(f"{where} must be a whole number, not {type(value).__name__}")
        limit = _LIMITS[self.type]
        least = -limit if self.least is None else self.least
        if not least <= value < limit:
            raise ValueError(f"{where} is {value}: it may be from {least} to {limit - 1}")
        return int(value)


@dataclass(frozen=True)
class Real:
    """A finite number passed by value as a double."""

    name: str
    type: Literal["double"] = "double"

    def checked(self, value: object, where: str) -> float:
        """The number. Raises TypeError or ValueError, named."""
        if isinstance(value, bool) or not isinstance(value, (int, float, np.floating)):
            raise TypeError(f"{where} must be a number, not {type(value).__name__}")
        if not isfinite(value):
            raise ValueError(f"{where} is {value}: it must be finite")
        return float(value)


@dataclass(frozen=True)
class Array:
    """An array passed by its address: `length` is a sum of products of the numbers' names, like 'runs + 1'.

    One that is `written` may be longer. `optional`: None stands for the null pointer. With `least_part` its entries
    say where each part of other arrays begins: from 0, ascending, each part at least so long; the length of those
    arrays is then its last entry, 'name[-1]'.
    """

    name: str
    type: CType
    length: str
    written: bool = False
    optional: bool = False
    least_part: int | None = None

    @cached_property
    def _terms(self) -> tuple[tuple[int, tuple[str, ...]], ...]:
        """The products of the sum: their plain number, and the names of the others."""
        products = [term.split(" * ") for term in self.length.split(" + ")]
        return tuple(
            (
                prod(int(factor) for factor in factors if factor.isdigit()),
                tuple(factor for factor in factors if not factor.isdigit()),
            )
            for factors in products
        )

    def size(self, numbers: Mapping[str, int]) -> int:
        """The number of entries, given the numbers of the call."""
        size = 0
        for product, names in self._terms:
            for name in names:
                product *= numbers[name]
            size += product
        return size

    def checked(self, value: object, where: str, numbers: dict[str, int]) -> int | None:
        """The array's address; adds 'name[-1]' to the numbers. Raises TypeError or ValueError, named."""
        if value is None and self.optional:
            return None
        dtype = _DTYPES[self.type]
        if not isinstance(value, np.ndarray):
            raise TypeError(f"{where} must be an array of {dtype}, not {type(value).__name__}")
        if value.dtype != dtype:
            raise TypeError(f"{where} must hold {dtype}, not {value.dtype}")
        if not value.flags.c_contiguous:
            raise ValueError(f"{where} must lie in one piece, row by row: pass np.ascontiguousarray of it")
        if self.written and not value.flags.writeable:
            raise ValueError(f"{where} is written to, but is read-only")
        size = self.size(numbers)
        if value.size < size or (value.size > size and not self.written):
            raise ValueError(
                f"{where} does not fit together: {value.size} entries where {self.length} = {size}"
            )
        if self.least_part is not None:
            if value[0] != 0 or (np.diff(value) < self.least_part).any():
                raise ValueError(
                    f"{where} does not fit together: parts of at least {self.least_part}, from 0"
                )
            numbers[f"{self.name}[-1]"] = int(value[-1])
        return value.ctypes.data


@dataclass(frozen=True)
class Kernel:
    """A C function: the library that it is in, its name, what it returns and its arguments in order."""

    library: str
    name: str
    result: CType
    arguments: tuple[Number | Real | Array, ...]

    @cached_property
    def _names(self) -> frozenset[str]:
        return frozenset(argument.name for argument in self.arguments)

    @cached_property
    def _places(self) -> dict[str, str]:
        """How a message names each argument."""
        return {name: f"{self.name}: {name}" for name in self._names}

    @cached_property
    def passed(self) -> tuple[Number | Real | Array, ...]:
        """The arguments of the C function."""
        return tuple(a for a in self.arguments if not isinstance(a, Number) or a.passed)

    def function(self, library: ctypes.CDLL) -> Any:
        """The function of a loaded library, its types set."""
        function = getattr(library, self.name)
        if function.argtypes is None:
            function.restype = _NUMBERS[self.result]
            function.argtypes = [
                ctypes.c_void_p if isinstance(argument, Array) else _NUMBERS[argument.type]
                for argument in self.passed
            ]
        return function

    def checked(self, given: Mapping[str, object]) -> list[int | float | None]:
        """The arguments in order, as ctypes takes them: by name in `given`, all of them and no others.

        Raises TypeError for a wrong kind, dtype or set of names, ValueError for a number out of range and for an
        array that is too short, not contiguous or read-only.
        """
        if self._names != given.keys():
            wrong = self._names ^ given.keys()
            raise TypeError(f"{self.name}: these arguments do not match: {', '.join(sorted(wrong))}")
        places = self._places
        numbers: dict[str, int] = {}
        for argument in self.arguments:
            if isinstance(argument, Number):
                numbers[argument.name] = argument.checked(given[argument.name], places[argument.name])
        found: list[int | float | None] = []
        for argument in self.passed:
            value, where = given[argument.name], places[argument.name]
            if isinstance(argument, Number):
                found.append(numbers[argument.name])
            elif isinstance(argument, Real):
                found.append(argument.checked(value, where))
            else:
                found.append(argument.checked(value, where, numbers))
        return found

    def call(self, library: ctypes.CDLL, given: Mapping[str, object]) -> int:
        """Calls the function of a loaded library with checked arguments (see `checked`)."""
        return int(self.function(library)(*self.checked(given)))
