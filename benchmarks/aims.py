"""What the solver is to reach on real projects, in the order in which the results list it."""

from __future__ import annotations

from enum import StrEnum


class Aim(StrEnum):
    """A part of it; every target of one is a row of the results beside what was reached."""

    SEVERAL_SIZES = "1 several sizes"
    FULL_RACK = "2 a full rack"
    LOOSER = "3 looser is never worse"
    LIMITED_CARRYING = "4 limited carrying"
    OPEN_BOARD = "5 the open board"
    JOINTS = "6 the proof covers the joints"
    UNEVEN_SURVEYS = "7 uneven surveys"
    ANYTIME = "8 anytime"
    STRENGTH_OF_TESTS = "9 strength of tests"
