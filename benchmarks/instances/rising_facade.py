"""Buildings that are measured as they rise: what is known of a level beforehand, and what is found there.

Facades of the size M of the frozen generator (`facade`), drawn bay by bay with the nominal gap kept; and the sample
tower with its own survey as what is found. All numbers are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from random import Random
from statistics import median

from benchmarks.instances.facade import (
    BOARD,
    CLOSING_PIECE_MIN_MM,
    NOMINAL_GAPS_MM,
    SIZES,
    SMALLEST_GAP_MM,
    SURVEY_DEVIATION_MM,
    window_of_gap,
)
from optimiser.cutting.problem import CuttingProblem, Objective, Piece

TOWER = Path(__file__).resolve().parents[2] / "sample_orders" / "tower" / "tower.json"
TOWER_TOLERANCE_MM = 8
FORECAST_SEED = 1


@dataclass(frozen=True)
class RisingBuilding:
    """`problem` has every piece as it is found, each with the stage of its level; `forecast` are the pieces of all
    levels as a sampled survey has them, under other ids."""

    problem: CuttingProblem
    forecast: tuple[Piece, ...]


def rising_facade(seed: int) -> RisingBuilding:
    """12 levels of 75 pieces: nominal gaps are known, deviations of 8 mm are found."""
    levels, pieces_a_level = SIZES["M"]
    random = Random(f"rising facade {seed}")
    found: list[Piece] = []
    forecast: list[Piece] = []
    for level in range(1, levels + 1):
        number = 0
        while number < pieces_a_level:
            in_bay = min(random.randint(5, 9), pieces_a_level - number)
            nominal = random.choice(NOMINAL_GAPS_MM)
            gaps = [max(SMALLEST_GAP_MM, round(random.gauss(nominal, SURVEY_DEVIATION_MM))) for _ in range(2)]
            length = BOARD.length_mm if random.random() < 0.5 else random.randint(900, 1150)
            for piece_length in [
                *[length] * (in_bay - 1),
                random.randint(CLOSING_PIECE_MIN_MM, length),
            ]:
                number += 1
                for into, gap, name in zip((found, forecast), gaps, ("", "sampled "), strict=True):
                    width_min, width_max = window_of_gap(gap)
                    into.append(
                        Piece(
                            id=f"{name}L{level:03d}-{number:03d}",
                            length_mm=piece_length,
                            width_min_mm=width_min,
                            width_max_mm=width_max,
                            stage=level,
                        )
                    )
    problem = CuttingProblem(boards=(BOARD,), objective=Objective.FEWEST_BOARDS, pieces=tuple(found))
    return RisingBuilding(problem, tuple(forecast))


def rising_tower() -> tuple[RisingBuilding, ...]:
    """The boards of the sample tower, without its stock: found is its own survey, known beforehand the middle gap of
    each run with a tolerance of 8 mm."""
    from optimiser.boards.problems import board_families
    from optimiser.joints.layout import lay_out
    from optimiser.model.project import Gap
    from optimiser.reading import read_project
    from optimiser.simulation.sampled_survey import sampled_survey

    tower = read_project(TOWER).model_copy(update={"stock": ()})
    middle = {
        run.run: round(median(gap.gap_mm for gap in tower.building.gaps[run.run])) for run in tower.runs
    }
    nominal = tower.model_copy(
        update={
            "gaps": tuple(
                Gap(run=run, at_mm=0, gap_mm=gap, basis="nominal", tolerance_mm=TOWER_TOLERANCE_MM)
                for run, gap in middle.items()
            )
        }
    )
    levels = {level.level for level in tower.levels}
    sampled = sampled_survey(nominal, levels, FORECAST_SEED)
    forecast = {
        family.codes: family.problem.pieces
        for family in board_families(sampled, lay_out(sampled).pieces, "whole")
    }
    return tuple(
        RisingBuilding(
            family.problem,
            tuple(
                piece.model_copy(update={"id": f"sampled {piece.id}"})
                for piece in forecast.get(family.codes, ())
            ),
        )
        for family in board_families(tower, lay_out(tower).pieces, "whole")
    )
