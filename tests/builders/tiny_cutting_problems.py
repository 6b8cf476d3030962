"""Hypothesis strategies for cutting problems that are small enough to try everything."""

from __future__ import annotations

from hypothesis import strategies as st

from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece


@st.composite
def tiny_cutting_problems(draw: st.DrawFn, most_pieces: int = 6) -> CuttingProblem:
    """At most `most_pieces` pieces on boards of some twenty millimetres, with any mixture of fields:
    windows, trim, kerf, stages, a carry limit, offcuts and several priced boards. No tapered pieces."""
    kerf = draw(st.sampled_from([0, 0, 1, 2]))
    several = draw(st.booleans())
    boards = [
        Board(
            code=f"B{number}",
            length_mm=draw(st.integers(8, 24)),
            width_mm=draw(st.integers(8, 24)),
            kerf_mm=kerf,
            price_cents=draw(st.integers(0, 12)) if several else 1,
        )
        for number in range(draw(st.integers(1, 3)) if several else 1)
    ]
    stages = draw(st.sampled_from([1, 1, 2, 3]))
    pieces = []
    for number in range(draw(st.integers(1, most_pieces))):
        host = draw(st.sampled_from(boards))
        width_min = draw(_sizes(host.width_mm))
        pieces.append(
            Piece(
                id=f"P{number}",
                length_mm=draw(_sizes(host.length_mm)),
                width_min_mm=width_min,
                width_max_mm=width_min + draw(st.integers(0, 5)),
                stage=draw(st.integers(1, stages)),
                boards=draw(st.sampled_from([(), (), (host.code,)])),
                quantity=draw(st.sampled_from([1, 1, 1, 2])) if number < most_pieces - 1 else 1,
            )
        )
    pieces = _at_most(most_pieces, pieces)
    offcuts = [
        Offcut(
            id=f"F{number}",
            length_mm=draw(st.integers(2, 24)),
            width_mm=draw(st.integers(2, 24)),
            stage=draw(st.integers(1, stages)),
            quantity=draw(st.sampled_from([1, 1, 2])),
            code=draw(st.sampled_from(["", *(board.code for board in boards)])),
        )
        for number in range(draw(st.sampled_from([0, 0, 1, 2])))
    ]
    return CuttingProblem(
        boards=tuple(boards),
        pieces=tuple(pieces),
        offcuts=tuple(offcuts),
        trim=draw(st.booleans()),
        max_carry_stages=draw(st.sampled_from([None, 0, 1])),
        objective=Objective.LEAST_COST if several else Objective.FEWEST_BOARDS,
    )


def _sizes(whole: int) -> st.SearchStrategy[int]:
    """Sizes up to the whole board, with those that fill it exactly drawn more often than chance would."""
    return st.one_of(
        st.integers(1, whole), st.sampled_from([whole, whole // 2, whole // 3, whole - whole // 3])
    )


def _at_most(count: int, pieces: list[Piece]) -> list[Piece]:
    kept: list[Piece] = []
    for piece in pieces:
        if sum(other.quantity for other in kept) + piece.quantity <= count:
            kept.append(piece)
    return kept or [pieces[0].model_copy(update={"quantity": 1})]
