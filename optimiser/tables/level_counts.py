"""What a level takes beside its boards: brackets, anchors, joints, tape."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from optimiser.tables.columns import Column, Columns


class CountedLevel(NamedTuple):
    """A level's name and its `LevelCounts`."""

    level: str
    counts: Any


_LEVEL = Column("level", "Level", width=11)
_BRACKETS = Column(
    "brackets",
    "Brackets",
    "count",
    10,
    what="of all sizes",
    value=lambda row: sum(row.counts.brackets.values()),
)
_ANCHORS = Column("anchors", "Anchors", "count", 10, value=lambda row: row.counts.anchors)
_JOINTS = Column("joints", "Joints", "count", 10, what="taped", value=lambda row: row.counts.joints)
_TAPE = Column("tape_mm", "Joint tape", "mm", 12, "mm", value=lambda row: row.counts.tape_mm)
_TAPE_M = Column("tape_m", "Joint tape", "metres", 12, "m", value=lambda row: row.counts.tape_mm / 1000)


def brackets_of(code: str) -> Column:
    """The brackets of one size."""
    return Column(
        f"brackets {code}", code, "count", max(9, min(16, len(code) + 2)), what=f"brackets {code}",
        value=lambda row: row.counts.brackets.get(code, 0),
    )  # fmt: skip


def level_count_columns(codes: Sequence[str]) -> Columns:
    """All columns, with one for each of these bracket sizes (`brackets K-110`)."""
    return (_LEVEL, *(brackets_of(code) for code in codes), _BRACKETS, _ANCHORS, _JOINTS, _TAPE)


def level_counts_on_the_sheet(codes: Sequence[str]) -> Columns:
    """The same for the workbook, tape in metres."""
    return (_LEVEL, *(brackets_of(code) for code in codes), _BRACKETS, _ANCHORS, _JOINTS, _TAPE_M)
