"""Two tapered pieces lie head to tail in one strip: a + b wide instead of twice the wider end."""

from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.parts import pair_width
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.solve import solve


def tapered(name: str, start: int, end: int, length: int = 1200, quantity: int = 1) -> Piece:
    return Piece(
        id=name,
        length_mm=length,
        width_min_mm=max(start, end),
        width_max_mm=1000,
        width_start_mm=start,
        width_end_mm=end,
        quantity=quantity,
    )


def problem(*pieces: Piece, width: int = 1000, kerf: int = 0, trim: bool = False) -> CuttingProblem:
    board = Board(length_mm=1200, width_mm=width, kerf_mm=kerf)
    return CuttingProblem(boards=(board,), pieces=pieces, trim=trim, objective=Objective.FEWEST_BOARDS)


def test_a_pair_takes_the_sum_of_its_facing_ends() -> None:
    assert pair_width((100, 300), (100, 300), kerf=0) == 400
    assert pair_width((100, 300), (300, 100), kerf=0) == 600, "turned end for end, the wide ends face"
    assert pair_width((100, 300), (110, 320), kerf=3) == 423


def test_pairs_save_boards_that_single_tapers_need() -> None:
    """Ten tapers of 100 to 300. Singly, a board takes three and four boards are needed; a pair takes 400, so a board
    takes two pairs and three boards do."""
    pieces = problem(tapered("T", 100, 300, quantity=10))
    result = solve(pieces)
    assert broken_rules_of_result(result, pieces) == []
    assert (result.boards, result.lower_bound, result.optimal) == (3, 3, True)
    assert sum(cut.head_to_tail for layout in result.layouts for s in layout.strips for cut in s.pieces) > 0


def test_without_pairs_the_same_tapers_need_one_board_more() -> None:
    pieces = problem(Piece(id="T", length_mm=1200, width_min_mm=300, width_max_mm=1000, quantity=10))
    assert solve(pieces).boards == 4


def test_a_kerf_runs_along_the_slant() -> None:
    """Two tapers of 200 to 300 fill a strip of 500; with a kerf of 4 the pair no longer fits one of 500."""
    exact = problem(tapered("A", 200, 300), tapered("B", 200, 300), width=500)
    sawn = problem(tapered("A", 200, 300), tapered("B", 200, 300), width=500, kerf=4)
    assert solve(exact).boards == 1
    assert solve(sawn).boards == 2
    for case in (exact, sawn):
        assert broken_rules_of_result(solve(case), case) == []


ends = st.integers(40, 400)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(ends, ends, st.sampled_from([600, 900, 1200]), st.integers(1, 4)), min_size=1, max_size=5
    ),
    st.integers(0, 4),
    st.booleans(),
)
def test_every_plan_with_tapers_keeps_the_rules(
    pieces: list[tuple[int, int, int, int]], kerf: int, trim: bool
) -> None:
    case = problem(
        *(
            tapered(f"T{n}", start, end, length, count)
            for n, (start, end, length, count) in enumerate(pieces)
        ),
        kerf=kerf,
        trim=trim,
    )
    result = solve(case)
    assert broken_rules_of_result(result, case) == []
    single = solve(
        case.model_copy(
            update={
                "pieces": tuple(
                    piece.model_copy(update={"width_start_mm": None, "width_end_mm": None})
                    for piece in case.pieces
                )
            }
        )
    )
    assert result.boards <= single.boards, "pairs never cost a board"


def test_of_a_pair_of_which_one_piece_is_more_than_needed_the_other_stays() -> None:
    """Patterns may hold more than is needed: these four kinds share strips, and a pair of them must be parted."""
    pieces = problem(
        tapered("P0", 197, 151, length=400, quantity=2),
        tapered("P1", 158, 163, quantity=7),
        tapered("P2", 122, 164, length=400, quantity=4),
        tapered("P3", 235, 275, length=400, quantity=5),
    )
    result = solve(pieces)
    assert broken_rules_of_result(result, pieces) == []
    assert (result.boards, result.lower_bound) == (2, 2)
