"""At equal boards: cost, pieces carried between levels, distinct cut widths a level, the largest left-over."""

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import solve


def solved(problem: dict[str, object]) -> CuttingResult:
    case = CuttingProblem.model_validate(problem)
    result = solve(case)
    assert broken_rules_of_result(result, case) == []
    return result


def piece(name: str, width: int, **more: int) -> dict[str, object]:
    return {"id": name, "length_mm": 1200, "width_min_mm": width, "width_max_mm": width, **more}


def carried(result: CuttingResult, problem: dict[str, object]) -> int:
    stages = {p["id"]: p.get("stage", 1) for p in problem["pieces"]}  # type: ignore[attr-defined]
    return sum(
        layout.repeat
        for layout in result.layouts
        for strip in layout.strips
        for cut in strip.pieces
        if stages[cut.id] > layout.stage
    )


def widths_by_stage(result: CuttingResult) -> dict[int, set[int]]:
    found: dict[int, set[int]] = {}
    for layout in result.layouts:
        found.setdefault(layout.stage, set()).update(strip.width_mm for strip in layout.strips)
    return found


def test_of_two_ways_with_the_same_boards_the_cheaper_is_bought() -> None:
    """Two pieces of 600 need two boards either way: two narrow ones at 7 cost less than two wide ones at 10."""
    result = solved(
        {
            "boards": [
                {"code": "wide", "length_mm": 1200, "width_mm": 1000, "price_cents": 10},
                {"code": "narrow", "length_mm": 1200, "width_mm": 700, "price_cents": 7},
            ],
            "pieces": [piece("A", 600, quantity=2)],
        }
    )
    assert (result.boards, result.cost_cents, result.boards_by_code) == (2, 14, {"narrow": 2})


def test_nothing_is_carried_where_each_level_fills_its_own_boards() -> None:
    """Each level's halves fill its own boards; mixing levels would give the same number and carry pieces."""
    problem: dict[str, object] = {
        "board": {"length_mm": 1200, "width_mm": 1000},
        "pieces": [piece(f"L{level}", 500, quantity=4, stage=level) for level in range(1, 6)],
    }
    result = solved(problem)
    assert result.boards == 10
    assert carried(result, problem) == 0
    assert result.boards_by_stage == {str(level): 2 for level in range(1, 6)}


def test_pieces_are_carried_only_where_that_saves_a_board() -> None:
    """Three thirds a level: level by level a board each, and so together; of two levels with one and a half boards
    each, one board is shared and as few pieces as possible cross."""
    problem: dict[str, object] = {
        "board": {"length_mm": 1200, "width_mm": 1000},
        "pieces": [piece("A", 250, quantity=6, stage=1), piece("B", 250, quantity=6, stage=2)],
    }
    result = solved(problem)
    assert result.boards == 3
    assert carried(result, problem) == 2


def test_windows_bring_the_fence_to_fewer_settings() -> None:
    """Widths of 165, 166 and 168 within 172 are all ripped at one setting where the board has room."""
    window = {"length_mm": 1200, "width_max_mm": 172}
    result = solved(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [
                {"id": "A", "width_min_mm": 165, **window},
                {"id": "B", "width_min_mm": 166, **window},
                {"id": "C", "width_min_mm": 168, **window},
            ],
        }
    )
    assert widths_by_stage(result) == {1: {168}}


def test_no_width_leaves_its_window_for_the_fence() -> None:
    result = solved(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [piece("A", 165), piece("B", 166)],
        }
    )
    assert widths_by_stage(result) == {1: {165, 166}}


def test_what_is_left_over_is_one_large_piece() -> None:
    """Five of 300 and one of 100 in two boards: the 100 closes the full board's gap and the other keeps its 400."""
    result = solved(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [piece("A", 300, quantity=5), piece("B", 100)],
        }
    )
    assert result.boards == 2
    assert max(left.width_mm for left in result.left_over) == 400


def test_two_short_strips_that_fit_into_one_are_one() -> None:
    """Five strips of 200 would fill the board just as well; four leave 200 mm of it whole."""
    result = solved(
        {
            "board": {"length_mm": 1200, "width_mm": 1000, "kerf_mm": 0},
            "pieces": [
                piece("A", 200, quantity=3),
                piece("B", 200) | {"length_mm": 550},
                piece("C", 200) | {"length_mm": 300},
            ],
        }
    )
    assert (result.boards, sum(len(layout.strips) for layout in result.layouts)) == (1, 4)
    assert (1200, 200) in {(left.length_mm, left.width_mm) for left in result.left_over}


def test_an_offcut_that_saves_no_board_stays_on_the_shelf() -> None:
    result = solved(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [piece("A", 300, quantity=2)],
            "offcuts": [{"id": "F1", "length_mm": 1200, "width_mm": 300}],
        }
    )
    assert result.boards == 1
    assert [layout.stock for layout in result.layouts] == ["board"]


def test_an_offcut_that_saves_a_board_is_used() -> None:
    result = solved(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [piece("A", 500, quantity=3)],
            "offcuts": [{"id": "F1", "length_mm": 1200, "width_mm": 520}],
        }
    )
    assert result.boards == 1
    assert {layout.stock for layout in result.layouts} == {"board", "F1"}


def test_the_boards_that_a_level_fills_are_kept_apart_before_the_rest_is_completed() -> None:
    """Level 1 fills a board with 4 x 250 and one with 400 + 2 x 250; the 2 x 400 of level 2 take a board of their
    own. The four boards that the widths need can be mixed otherwise, but then two pieces are carried."""
    problem = {
        "board": {"length_mm": 1200, "width_mm": 1000},
        "pieces": [
            piece("A", 250, quantity=6),
            piece("B", 400, quantity=2),
            piece("C", 400, stage=2, quantity=2),
        ],
    }
    result = solved(problem)
    assert (result.boards, result.lower_bound) == (4, 4)
    assert carried(result, problem) == 0


def test_the_narrower_board_is_bought_only_where_the_strips_fit_with_their_kerfs() -> None:
    """Three strips of 130 mm with two kerfs of 10 mm take 410 mm: too much for 400, so the wider board is bought,
    which is the cheaper by the square metre."""
    problem = {
        "boards": [
            {"code": "wide", "length_mm": 1200, "width_mm": 500, "price_cents": 7, "kerf_mm": 10},
            {"code": "narrow", "length_mm": 1200, "width_mm": 400, "price_cents": 6, "kerf_mm": 10},
        ],
        "pieces": [piece("A", 130, quantity=3)],
    }
    assert solved(problem).boards_by_code == {"wide": 1}
    assert solved({**problem, "pieces": [piece("A", 126, quantity=3)]}).boards_by_code == {"narrow": 1}


def test_no_more_offcuts_are_taken_from_the_shelf_than_are_needed() -> None:
    """Three strips of 200 mm: two offcuts of 400 hold them, or one of 400 and one of 200, and two are the fewest."""
    result = solved(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [piece("A", 200, quantity=3)],
            "offcuts": [
                {"id": "F1", "length_mm": 1200, "width_mm": 200, "quantity": 2},
                {"id": "F2", "length_mm": 1200, "width_mm": 400, "quantity": 2},
            ],
        }
    )
    assert result.boards == 0
    assert sum(layout.repeat for layout in result.layouts) == 2


def test_one_piece_is_carried_where_one_is_enough() -> None:
    """Three boards; the two of level 2 hold all but 450 mm of it: carried are one piece of 450 or three of 150."""
    problem = {
        "board": {"length_mm": 1200, "width_mm": 1000},
        "pieces": [
            piece("A", 250),
            piece("B", 450, stage=2, quantity=4),
            piece("C", 150, stage=2, quantity=3),
        ],
    }
    result = solved(problem)
    assert (result.boards, result.lower_bound) == (3, 3)
    assert carried(result, problem) == 1
