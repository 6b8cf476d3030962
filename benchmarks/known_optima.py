"""Optima of open two-stage instances, as figures, each with where it comes from.

The published figures are those of the level-packing model of A. Lodi, S. Martello and D. Vigo, 'Models and
bounds for two-dimensional level packing problems', Journal of Combinatorial Optimization 8 (2004) 363-379.
The others were computed here with the same model (`benchmarks.rivals.cp_sat`), each proved optimal by
CP-SAT of OR-Tools 9.15.
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

COMPUTED: dict[str, tuple[int, ...]] = {
    "cl02_020": (1, 1, 1, 1, 1, 1, 1, 1, 1, 1),
    "cl04_020": (1, 1, 1, 1, 1, 1, 1, 1, 1, 1),
    "cl06_020": (1, 1, 1, 1, 1, 1, 1, 1, 1, 1),
    "cl07_020": (6, 5, 5, 7, 6, 6, 4, 7, 6, 5),
    "cl08_020": (6, 7, 6, 7, 6, 6, 5, 6, 7, 5),
    "cl09_020": (19, 13, 14, 16, 16, 14, 9, 14, 15, 13),
    "cl10_020": (7, 3, 5, 5, 4, 4, 5, 3, 6, 3),
}


def known_two_stage_optimum(name: str) -> tuple[int | None, str]:
    """Optimum and source of an instance such as 'cl01_020_07' or 'beng02'; (None, '') if none is known."""
    if name in CONFIRMED_BENG:
        return CONFIRMED_BENG[name], MODEL
    kind, _, number = name.rpartition("_")
    for optima, source in ((CONFIRMED, MODEL), (COMPUTED, COMPUTED_HERE)):
        if kind in optima and int(number) <= len(optima[kind]):
            return optima[kind][int(number) - 1], source
    return None, ""
