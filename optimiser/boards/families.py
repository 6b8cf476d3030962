"""Which boards are cut together: those that may serve one run, and what keeps boards from it."""

from __future__ import annotations

from collections.abc import Iterable

from optimiser.model.project import Project, Run


def unequal_families(project: Project) -> tuple[str, ...]:
    """What keeps boards from being cut together, in plain words; none where all of it can be.

    The boards of one run are sizes of one board, of equal thickness and material: a tested detail is for one board.
    Boards that are cut together, since they may serve the same runs, have one kerf and one rule of trimming.
    """
    building = project.building
    wrong = []
    for run in project.runs:
        boards = [building.boards[code] for code in run.board]
        if len({(board.thickness_mm, board.material) for board in boards}) > 1:
            wrong.append(
                f"run {run.run}: its boards {', '.join(run.board)} differ in thickness or material, and no detail is"
                " tested for both; name sizes of one board alone"
            )
    for codes in families_of(project.runs):
        rules = {
            (detail.kerf_mm, detail.trim): run.run
            for run in project.runs
            for detail in (building.detail_of(run.run),)
            if run.board[0] in codes
        }
        if len(rules) > 1:
            wrong.append(
                f"the boards {', '.join(codes)} serve runs {' and '.join(rules.values())}, whose details differ in"
                " kerf_mm or trim: give both details the same, or these runs boards of their own"
            )
    return tuple(wrong)


def families_of(runs: Iterable[Run]) -> tuple[tuple[str, ...], ...]:
    """Board codes in groups, those that may serve one run together; in order of first mention."""
    family: dict[str, list[str]] = {}
    for run in runs:
        first = family.setdefault(run.board[0], [run.board[0]])
        for code in run.board[1:]:
            other = family.setdefault(code, [code])
            if other is not first:
                first.extend(other)
                family.update(dict.fromkeys(other, first))
    return tuple(dict.fromkeys(tuple(codes) for codes in family.values()))
