"""Joints, brackets, anchors and tape of every level, recounted from the pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.edges import meetings_of


def broken_rules_of_counts(building: Building) -> Iterator[str]:
    """The plan's counts against its pieces. A level without any may be left out.

    Where a run ends that joins another one is a joint of its level. A joint's tape is the gap there, rounded up to the
    millimetre, with a lap at each end, on each taped face.
    """
    joints: Counter[str] = Counter()
    tape: Counter[str] = Counter()
    brackets: dict[str, Counter[str]] = {}
    for left, _ in building.joints():
        joints[left.level] += 1
        if left.run in building.gap_lines:
            detail = building.detail_of(left.run)
            gap = ceil(building.gap_lines[left.run].at(left.to_mm))
            tape[left.level] += detail.tape_faces * (gap + 2 * detail.tape_lap_mm)
    for meeting in meetings_of(building):
        joints[meeting.level] += 1
        tape[meeting.level] += meeting.tape_mm
    anchored: Counter[str] = Counter()
    for piece in building.plan.pieces:
        if piece.bracket is not None:
            brackets.setdefault(piece.level, Counter())[piece.bracket] += len(piece.brackets_at_mm)
            each = building.detail_of(piece.run).anchors_per_bracket
            anchored[piece.level] += len(piece.brackets_at_mm) * each
    for name in building.plan.counts:
        if name not in building.levels:
            yield f"counts of {name}: the project has no such level"
    for name in building.levels:
        stated = building.plan.counts.get(name)
        found = brackets.get(name, Counter())
        anchors = anchored[name]
        if stated is None:
            if joints[name] or anchors or found.total() or tape[name]:
                yield f"counts of {name}: the level has pieces, but no counts"
            continue
        for what, due, said in (
            ("joints", joints[name], stated.joints),
            ("anchors", anchors, stated.anchors),
            ("tape_mm", tape[name], stated.tape_mm),
        ):
            if due != said:
                yield f"counts of {name}: {what} must be {due}, but is {said}"
        for code in sorted({*found, *stated.brackets}):
            if found[code] != stated.brackets.get(code, 0):
                yield (
                    f"counts of {name}: brackets {code} must be {found[code]}, but are"
                    f" {stated.brackets.get(code, 0)}"
                )
