"""Optima of open two-stage instances, as figures, each with where it comes from.

The published figures are those of the level-packing model of A. Lodi, S. Martello and D. Vigo, 'Models and
bounds for two-dimensional level packing problems', Journal of Combinatorial Optimization 8 (2004) 363-379.
The others were computed here with the same model (`benchmarks.rivals.cp_sat`), each proved optimal by
CP-SAT of OR-Tools 9.15; None stands where it proved none in 8 s.
"""

from __future__ import annotations

MODEL = "level-packing model of Lodi, Martello and Vigo (2004), confirmed with CP-SAT"
COMPUTED_HERE = "computed here: level-packing model of Lodi, Martello and Vigo (2004) proved by CP-SAT"

CONFIRMED: dict[str, tuple[int, ...]] = {
    "cl01_020": (8, 5, 9, 6, 7, 9, 6, 7, 8, 8),
    "cl03_020": (6, 4, 6, 4, 5, 7, 5, 4, 6, 7),
    "cl05_020": (8, 5, 7, 5, 6, 9, 6, 6, 7, 8),
    "cl01_040": (10, 12, 17, 15, 15),
}
CONFIRMED_BENG = {"beng01": 4, "beng02": 7, "beng03": 9}

COMPUTED: dict[str, tuple[int | None, ...]] = {
    "cl02_020": (1, 1, 1, 1, 1, 1, 1, 1, 1, 1),
    "cl04_020": (1, 1, 1, 1, 1, 1, 1, 1, 1, 1),
    "cl06_020": (1, 1, 1, 1, 1, 1, 1, 1, 1, 1),
    "cl07_020": (6, 5, 5, 7, 6, 6, 4, 7, 6, 5),
    "cl08_020": (6, 7, 6, 7, 6, 6, 5, 6, 7, 5),
    "cl09_020": (19, 13, 14, 16, 16, 14, 9, 14, 15, 13),
    "cl10_020": (7, 3, 5, 5, 4, 4, 5, 3, 6, 3),
    "cl01_040": (10, 12, 17, 15, 15, 14, 12, 19, None, 12),
    "cl02_040": (2, 2, 2, 2, 2, 2, 2, 2, 2, 2),
    "cl03_040": (7, 9, 12, 10, 12, 10, 9, 13, 8, 8),
    "cl04_040": (2, 2, 2, 2, 2, 2, 2, 2, 2, 2),
    "cl05_040": (9, 11, 15, 13, 14, 12, 11, 17, 10, 11),
    "cl06_040": (1, 2, 2, 2, 2, 2, 2, 2, 2, 2),
    "cl07_040": (None, None, 10, None, None, None, None, None, None, None),
    "cl08_040": (None, None, 11, None, 9, None, 12, 11, 9, 13),
    "cl09_040": (25, 32, 29, 31, 27, 29, 24, 26, 21, 34),
    "cl10_040": (8, 8, 10, 7, 6, 6, None, 7, 8, 9),
}
COMPUTED_BENG = {"beng06": 2}


def known_two_stage_optimum(name: str) -> tuple[int | None, str]:
    """Optimum and source of an instance such as 'cl01_020_07' or 'beng02'; (None, '') if none is known."""
    if name in CONFIRMED_BENG:
        return CONFIRMED_BENG[name], MODEL
    if name in COMPUTED_BENG:
        return COMPUTED_BENG[name], COMPUTED_HERE
    kind, _, number = name.rpartition("_")
    position = int(number) - 1 if number.isdigit() else 0
    if position < len(CONFIRMED.get(kind, ())):
        return CONFIRMED[kind][position], MODEL
    if kind in COMPUTED and COMPUTED[kind][position] is not None:
        return COMPUTED[kind][position], COMPUTED_HERE
    return None, ""
