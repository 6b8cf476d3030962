"""What is open after what happened: places that wait for a piece, pieces that are done, pieces that serve no more."""

from __future__ import annotations

from functools import cache

from optimiser.model.plan import Plan
from optimiser.model.progress import CutBoard
from optimiser.model.project import Project
from optimiser.planning.plan import plan
from optimiser.replanning.job_state import Happened
from optimiser.replanning.open_places import OpenPlaces, open_places
from tests.builders.levels import building

FIRST, SECOND = "L1-N-001", "L1-N-002"


@cache
def made() -> Plan:
    """Two levels of two pieces each."""
    return plan(building(storeys=2), advise=False)


def opened(state: Happened, survey: Project | None = None) -> OpenPlaces:
    return open_places(made(), survey or made().project, state, dict.fromkeys(state.cut, "B-120"))


def without_run(name: str) -> Project:
    """The survey without a run."""
    project = made().project
    return project.with_runs(run for run in project.runs if run.run != name)


def names(found: OpenPlaces) -> list[str]:
    return [place.id for place in found.places]


def test_before_anything_is_cut_every_place_is_open_under_its_name() -> None:
    found = opened(Happened())
    assert names(found) == [FIRST, SECOND, "L2-N-001", "L2-N-002"]
    assert (found.done, found.free, found.not_planned, found.runs_with_new_joints) == ((), (), (), ())


def test_what_is_cut_or_fitted_and_still_serves_is_done() -> None:
    found = opened(Happened(cut={FIRST, SECOND}, fitted={SECOND}))
    assert [(piece.id, piece.status) for piece in found.done] == [(FIRST, "cut"), (SECOND, "fitted")]
    assert names(found) == ["L2-N-001", "L2-N-002"]


def test_of_a_run_that_is_gone_only_what_is_cut_and_not_lost_is_free_for_another_place() -> None:
    survey = without_run("L1-N")
    assert [piece.id for piece in opened(Happened(cut={SECOND}), survey).free] == [SECOND]
    assert opened(Happened(cut={FIRST, SECOND}, spoilt={FIRST, SECOND}), survey).free == ()
    assert opened(Happened(), survey).free == ()


def test_a_place_whose_piece_is_lost_gets_a_number_that_its_run_never_had() -> None:
    """The run's boards had a ninth piece once, and another run's a fiftieth."""
    board = CutBoard(
        number=1,
        name="B001",
        source="B-120",
        code="B-120",
        bought=True,
        length_mm=1200,
        width_mm=1000,
        pieces=("L1-N-009", "L2-N-050"),
        twice_pieces_mm2=0,
        scrap_mm2=0,
    )
    found = opened(Happened(cut={FIRST}, spoilt={FIRST}, boards=[board]))
    assert names(found)[:2] == ["L1-N-010", SECOND]
    assert names(opened(Happened(cut={FIRST}, spoilt={FIRST})))[:2] == ["L1-N-003", SECOND]
