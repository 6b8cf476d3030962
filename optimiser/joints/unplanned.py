"""Why a stretch of a run cannot be laid out, in the words of the trade, and what would fix it."""

from __future__ import annotations

from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.project import Board, Detail, Run
from optimiser.survey.compression import WidthRates, compression_window
from optimiser.survey.curves import longest_piece_mm
from optimiser.survey.gap_line import GapAlongRun
from optimiser.survey.shown_lengths import shown_mm


def gap_out_of_range(run: Run, detail: Detail, gap: GapAlongRun, from_mm: int, to_mm: int) -> NotPlanned:
    """The gap over [from_mm, to_mm] leaves the range that the detail was tested for."""
    least, greatest = gap.extremes(from_mm, to_mm)
    tested = f"{detail.gap_min_mm} to {detail.gap_max_mm} mm"
    wrong = [f"up to {shown_mm(greatest)}"] if greatest > detail.gap_max_mm else []
    wrong += [f"down to {shown_mm(least)}"] if least < detail.gap_min_mm else []
    return NotPlanned(
        run=run.run,
        level=run.level,
        from_mm=from_mm,
        to_mm=to_mm,
        what="piece",
        reason=f"run {run.run}, {from_mm} to {to_mm} mm: the gap goes {' and '.join(wrong)}, outside the tested"
        f" range of {tested}",
        mend="measure the gap there again; if it is right, close this stretch with a detail that is tested for it"
        " (and enter its gap_min_mm and gap_max_mm)",
    )


def no_layout(
    run: Run, detail: Detail, boards: tuple[Board, ...], gap: GapAlongRun, from_mm: int, to_mm: int
) -> NotPlanned:
    """No piece can be placed over [from_mm, to_mm], though its gap is within the tested range."""
    reason, mend = _cause(run, detail, boards, gap, from_mm, to_mm)
    return NotPlanned(
        run=run.run,
        level=run.level,
        from_mm=from_mm,
        to_mm=to_mm,
        what="piece",
        reason=f"run {run.run}, {from_mm} to {to_mm} mm: {reason}",
        mend=mend,
    )


def _cause(
    run: Run, detail: Detail, boards: tuple[Board, ...], gap: GapAlongRun, from_mm: int, to_mm: int
) -> tuple[str, str]:
    """The first cause that explains it alone: board width, whole widths, mullions, slope of the gap."""
    rates = WidthRates.of(detail)
    ends_and_knots = (from_mm, *gap.knots_inside(from_mm, to_mm), to_mm)
    least_width = max(rates.width_min(*gap.ratio_at(position)) for position in ends_and_knots)
    widest = max(board.width_mm for board in boards)
    longest = max(board.length_mm for board in boards)
    on_curve = longest_piece_mm(run, detail)
    curved = on_curve is not None and on_curve < longest
    if on_curve is not None and curved:
        longest = on_curve
    if least_width > widest:
        return (
            f"the cut width must be {least_width} mm and the widest board is {widest} mm",
            f"offer run {run.run} a board at least {least_width} mm wide",
        )
    for position in ends_and_knots:
        width_min, width_max = compression_window(rates, gap, position, position)
        if width_min > width_max:
            return (
                f"a gap of {shown_mm(gap.at(position))} has no whole cut width between"
                f" {detail.oversize_min:%} and {detail.oversize_max:%} oversize",
                "measure the gap again, or check oversize_min and oversize_max against the tested detail",
            )
    clearance = detail.joint_to_mullion_min_mm
    near = [m for m in run.mullions_mm if from_mm - clearance < m < to_mm + clearance]
    crowded = [
        position
        for position in (from_mm + 1, to_mm - 1, (from_mm + to_mm) // 2)
        if any(abs(position - mullion) < clearance for mullion in near)
    ]
    width_min, width_max = compression_window(rates, gap, from_mm, to_mm)
    if near and len(crowded) == 3 and curved:
        return (
            f"the mullions at {_listed(near)} mm leave no place for a joint {clearance} mm clear of them and the curve"
            f" of radius {run.radius_mm} mm takes pieces of at most {longest} mm",
            "check the mullions, radius_mm, and curve_offset_max_mm and joint_to_mullion_min_mm of the detail",
        )
    if near and len(crowded) == 3 and (to_mm - from_mm > longest or width_min <= width_max):
        return (
            f"the mullions at {_listed(near)} mm leave no place for a joint {clearance} mm clear of them and"
            f" the longest board is {longest} mm",
            f"offer run {run.run} a board at least {to_mm - from_mm} mm long, or check the mullions and"
            " joint_to_mullion_min_mm",
        )
    least, greatest = gap.extremes(from_mm, to_mm)
    mullions = f" with joints {clearance} mm clear of the mullions at {_listed(near)} mm" if near else ""
    tapers = (
        f"nor a straight taper of at most {detail.taper_max_mm} mm (taper_max_mm)"
        if detail.taper_max_mm
        else "and this detail allows no taper (taper_max_mm 0)"
    )
    return (
        f"the gap changes from {shown_mm(least)} to {shown_mm(greatest)} more than a piece can follow"
        f"{mullions}: neither one cut width {tapers} stays within {detail.oversize_min:%} to"
        f" {detail.oversize_max:%} oversize",
        "measure the gap more closely there; if it is a step in the slab, enter it as two runs that meet at it",
    )


def _listed(positions: list[int]) -> str:
    shown = [str(position) for position in sorted(positions)]
    return " ".join(shown) if len(shown) <= 6 else " ".join([*shown[:3], "...", shown[-1]])
