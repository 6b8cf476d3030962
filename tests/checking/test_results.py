"""The judge of a cutting result: a right one passes, and each single wrong figure is found and named."""

from __future__ import annotations

from collections import Counter
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_result
from optimiser.checking.remainders import claims_not_matched
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from tests.builders.checking_examples import REMOVED, changed

PROBLEM: dict[str, Any] = {
    "board": {"length_mm": 1200, "width_mm": 1000, "kerf_mm": 3},
    "pieces": [
        {"id": "A", "length_mm": 1200, "width_min_mm": 165, "width_max_mm": 172, "quantity": 3},
        {"id": "B", "length_mm": 500, "width_min_mm": 160, "width_max_mm": 170, "quantity": 2},
        {"id": "C", "length_mm": 600, "width_min_mm": 200, "width_max_mm": 215, "stage": 2},
        {"id": "D", "length_mm": 700, "width_min_mm": 300, "width_max_mm": 310, "stage": 3},
    ],
    "offcuts": [{"id": "F7", "length_mm": 800, "width_mm": 305, "quantity": 1, "stage": 2}],
    "max_carry_stages": 1,
}


def _cut(name: str, length: int, width: int, **more: Any) -> dict[str, Any]:
    return {"id": name, "length_mm": length, "width_mm": width, **more}


# Widths: 3 x 165 + 168 + 215 and four kerfs of 3 make 890; lengths of the fourth strip: 500 + 3 + 500.
RESULT: dict[str, Any] = {
    "boards": 1,
    "lower_bound": 1,
    "optimal": True,
    "solve_seconds": 0.01,
    "boards_by_stage": {"1": 1},
    "layouts": [
        {
            "stock": "board",
            "stage": 1,
            "strips": [
                {"width_mm": 165, "pieces": [_cut("A", 1200, 165)]},
                {"width_mm": 165, "pieces": [_cut("A", 1200, 165)]},
                {"width_mm": 165, "pieces": [_cut("A", 1200, 165)]},
                {"width_mm": 168, "pieces": [_cut("B", 500, 168), _cut("B", 500, 168)]},
                {"width_mm": 215, "pieces": [_cut("C", 600, 215)]},
            ],
        },
        {"stock": "F7", "stage": 2, "strips": [{"width_mm": 300, "pieces": [_cut("D", 700, 300)]}]},
    ],
    "left_over": [{"length_mm": 597, "width_mm": 215, "stage": 1}],
}


def judged(changes: dict[str, Any], problem: dict[str, Any] | None = None) -> list[str]:
    """The judge's lines on the result with changes, against the problem with changes."""
    return broken_rules_of_result(
        CuttingResult.model_validate(changed(RESULT, changes)),
        CuttingProblem.model_validate(changed(PROBLEM, problem or {})),
    )


def test_a_right_result_breaks_no_rule() -> None:
    assert judged({}) == []
    assert broken_rules_of_result(CuttingResult.model_validate(RESULT)) == []


def test_strips_and_pieces_are_cut_in_the_order_of_their_stages() -> None:
    """D of stage 3 in a strip of its own before a strip of stage 1, and C of stage 2 before B of stage 1 in one."""
    early = {"width_mm": 160, "pieces": [_cut("B", 500, 160)]}
    late = {"width_mm": 300, "pieces": [_cut("D", 700, 300)]}
    problem = {"pieces.1.quantity": 1, "pieces.1.width_max_mm": 210, "max_carry_stages": None, "offcuts": []}
    layouts = [{"stock": "board", "stage": 1, "strips": [late, early]}]
    assert judged({"layouts": layouts, "left_over": []}, problem)[:1] == [
        "layout 1, strip 2: it is ripped for piece B of stage 1, after strip 1 for stage 3; along a board stages"
        " must not go back"
    ]
    mixed = {"width_mm": 205, "pieces": [_cut("C", 600, 205), _cut("B", 500, 205)]}
    layouts = [{"stock": "board", "stage": 1, "strips": [mixed]}]
    assert judged({"layouts": layouts, "left_over": []}, problem)[:1] == [
        "layout 1, strip 1: piece B of stage 1 is cut after C of stage 2; along a strip stages must not go back"
    ]


RIGHT_WAITING = {"pieces": 2, "piece_stages": 2, "remainders": 1, "remainder_stages": 1}


def test_what_waits_is_counted_anew() -> None:
    """Of the board of stage 1 the strip with C waits for stage 2, a remainder; of the offcut taken at 2, D for 3."""
    assert judged({"waiting": {**RIGHT_WAITING, "lower_bound_piece_stages": 1}}) == []


@pytest.mark.parametrize(
    ("field", "value", "expected"),
    [
        ("pieces", 0, "waiting.pieces: by the layouts it is 2, but it says 0"),
        ("piece_stages", 1, "waiting.piece_stages: by the layouts it is 2, but it says 1"),
        ("remainders", 0, "waiting.remainders: by the layouts it is 1, but it says 0"),
        ("remainder_stages", 2, "waiting.remainder_stages: by the layouts it is 1, but it says 2"),
        (
            "lower_bound_piece_stages",
            3,
            "waiting.lower_bound_piece_stages: it must be 0 to piece_stages (2), but is 3",
        ),
    ],
)
def test_a_wrong_figure_of_waiting_is_found(field: str, value: int, expected: str) -> None:
    assert judged({"waiting": {**RIGHT_WAITING, field: value}}) == [expected]


S = "layouts.0.strips"
FAULTS: dict[str, tuple[dict[str, Any], str]] = {
    "a piece is dropped": ({f"{S}.2": REMOVED}, "piece A: it is needed 3 times, but cut 2 times"),
    "a piece is cut once more": (
        {f"{S}.4.pieces.1": _cut("B", 500, 215)},
        "piece B: it is needed 2 times, but cut 3 times",
    ),
    "an unknown piece": (
        {f"{S}.4.pieces.0.id": "X"},
        "piece X: it is cut 1 times, but the problem has no such",
    ),
    "a width is 1 mm too small": (
        {f"{S}.0.width_mm": 164, f"{S}.0.pieces.0.width_mm": 164},
        "layout 1, strip 1, piece A: its width must be 165 to 172 mm, but is 164 mm",
    ),
    "a width is 1 mm too large": (
        {f"{S}.4.width_mm": 216, f"{S}.4.pieces.0.width_mm": 216},
        "layout 1, strip 5, piece C: its width must be 200 to 215 mm, but is 216 mm",
    ),
    "not as wide as the strip": (
        {f"{S}.3.pieces.1.width_mm": 167},
        "without trimming a piece is as wide as its strip, 168 mm, but stands at 167 mm",
    ),
    "a length is off": (
        {f"{S}.3.pieces.0.length_mm": 501},
        "piece B: it must be 500 mm long, but is cut 501 mm",
    ),
    "a piece is turned": (
        {f"{S}.4.width_mm": 600, f"{S}.4.pieces.0": _cut("C", 215, 600)},
        "layout 1, strip 5, piece C: it must be 600 mm long, but is cut 215 mm",
    ),
    "a repeat counts everything twice": ({"layouts.0.repeat": 2}, "piece A: it is needed 3 times, but cut 6"),
    "no repeat at all": ({"layouts.0.repeat": 0}, "layout 1: repeat must be at least 1, but is 0"),
    "an offcut is used twice": ({"layouts.1.repeat": 2}, "offcut F7: there are 1, but 2 are cut"),
    "an offcut is used before it is there": (
        {"layouts.1.stage": 1},
        "layout 2: F7 is there from stage 2, but is cut in stage 1",
    ),
    "a stock that is not there": (
        {"layouts.1.stock": "F8"},
        "layout 2: the stock 'F8' is neither a board nor",
    ),
    "an offcut under a board's name": (
        {"layouts.1.stock": "board"},
        "boards: the layouts buy 2, but boards is 1",
    ),
    "a board comes too late": (
        {"layouts.0.stage": 2},
        "layout 1, piece A: it is needed in stage 1, but its board comes in stage 2",
    ),
    "a board comes too early": (
        {"layouts.0.stage": 0},
        "layout 1, piece C: it is needed in stage 2, more than max_carry_stages 1 after stage 0",
    ),
    "boards": ({"boards": 2}, "boards: the layouts buy 1, but boards is 2"),
    "boards of a stage": (
        {"boards_by_stage": {"2": 1}},
        "boards_by_stage: the layouts buy 1 in stage 1, but it says 0",
    ),
    "a bound above the boards": ({"lower_bound": 2}, "lower_bound: it must be 0 to boards (1), but is 2"),
    "a bound below nothing": ({"lower_bound": -1}, "lower_bound: it must be 0 to boards (1), but is -1"),
    "optimal without proof": ({"lower_bound": 0}, "optimal: it says so, but lower_bound is 0 and boards 1"),
    "time running backwards": (
        {"solve_seconds": -1.0},
        "solve_seconds: it must not be negative, but is -1.0",
    ),
    "a board without pieces": (
        {"layouts.2": {"stock": "board", "stage": 1, "strips": []}},
        "layout 3: no piece is cut from this board",
    ),
    "a left-over that is not there": (
        {"left_over.0.width_mm": 216},
        "left-over 597 x 216 mm, stage 1: 1 of 1 do not remain of any board",
    ),
    "a left-over without its kerf": (
        {"left_over.0.length_mm": 598},
        "left-over 598 x 215 mm, stage 1: 1 of 1 do not remain of any board",
    ),
    "a left-over turned": (
        {"left_over.0": {"length_mm": 215, "width_mm": 597, "stage": 1}},
        "left-over 215 x 597 mm, stage 1: 1 of 1 do not remain of any board",
    ),
    "a left-over twice": (
        {"left_over.0.quantity": 3},
        "left-over 597 x 215 mm, stage 1: 2 of 3 do not remain",
    ),
    "a left-over of another stage": (
        {"left_over.0.stage": 2},
        "left-over 597 x 215 mm, stage 2: 1 of 1 do not",
    ),
    "a left-over of no size": ({"left_over.0.width_mm": 0}, "its sizes and quantity (1) must be above 0"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_one_changed_figure_is_found_and_named(fault: str) -> None:
    changes, expected = FAULTS[fault]
    broken = judged(changes)
    assert any(expected in line for line in broken), broken


def test_the_kerf_counts_once_between_neighbours() -> None:
    """The strips are 878 mm wide in all, with four kerfs 890; two pieces of 500 with one kerf are 1003 long."""
    assert judged({}, {"board.width_mm": 890}) == []
    assert judged({}, {"board.width_mm": 889}) == [
        "layout 1: the strips must fit across the board, 889 mm wide, but take 890 mm with 3 mm kerf between"
        " neighbours"
    ]
    long = {"pieces.1.length_mm": 599}
    longer = {f"{S}.3.pieces.0.length_mm": 599, f"{S}.3.pieces.1.length_mm": 599}
    assert judged(longer, long) == [
        "layout 1, strip 4: its pieces must fit along the board, 1200 mm long, but take 1201 mm with 3 mm kerf"
        " between neighbours"
    ]
    assert judged(longer, long | {"board.kerf_mm": 2}) == []


def test_with_trim_a_piece_may_be_narrower_than_its_strip_but_not_than_its_window() -> None:
    narrowed = {f"{S}.3.width_mm": 180}
    assert any("without trimming" in line for line in judged(narrowed))
    assert judged(narrowed, {"trim": True}) == []
    assert judged(narrowed | {f"{S}.3.pieces.0.width_mm": 171}, {"trim": True}) == [
        "layout 1, strip 4, piece B: its width must be 160 to 170 mm, but is 171 mm"
    ]
    assert "layout 1, strip 1, piece A: it is 165 mm wide, but its strip only 160 mm" in judged(
        {f"{S}.0.width_mm": 160}, {"trim": True}
    )


def test_carrying_counts_from_when_the_offcut_stands_there() -> None:
    since_stage_1 = {"offcuts.0.stage": 1}
    assert judged({}, since_stage_1) == [
        "layout 2, piece D: it is needed in stage 3, more than max_carry_stages 1 after stage 1 of its F7"
    ]
    assert judged({}, since_stage_1 | {"max_carry_stages": 2}) == []
    assert judged({}, since_stage_1 | {"max_carry_stages": None}) == []


SEVERAL_PROBLEM = {
    "boards": [
        {"code": "L", "length_mm": 1200, "width_mm": 400, "price_cents": 900},
        {"code": "S", "length_mm": 600, "width_mm": 400, "price_cents": 500},
    ],
    "pieces": [
        {"id": "A", "length_mm": 1200, "width_min_mm": 400, "width_max_mm": 400},
        {"id": "B", "length_mm": 600, "width_min_mm": 400, "width_max_mm": 400, "boards": ["S"]},
    ],
}
SEVERAL_RESULT = {
    "boards": 2,
    "lower_bound": 2,
    "optimal": True,
    "solve_seconds": 0,
    "boards_by_stage": {"1": 2},
    "layouts": [
        {"stock": "L", "stage": 1, "strips": [{"width_mm": 400, "pieces": [_cut("A", 1200, 400)]}]},
        {"stock": "S", "stage": 1, "strips": [{"width_mm": 400, "pieces": [_cut("B", 600, 400)]}]},
    ],
    "left_over": [],
    "cost_cents": 1400,
    "lower_bound_cents": 1400,
    "boards_by_code": {"L": 1, "S": 1},
}


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"cost_cents": 1401}, "cost_cents: the layouts' boards cost 1400, but it says 1401"),
        ({"lower_bound_cents": 1401}, "lower_bound_cents: it must be 0 to cost_cents (1400), but is 1401"),
        (
            {"lower_bound_cents": 1399},
            "optimal: it says so, but lower_bound_cents is 1399 and cost_cents 1400",
        ),
        ({"boards_by_code": {"L": 2}}, "boards_by_code: the layouts buy 1 of L, but it says 2"),
        ({"boards_by_code": None}, "boards_by_code: a problem of several boards needs it, but it is missing"),
        ({"layouts.1.stock": "L"}, "layout 2, piece B: it may be cut from S, but lies in L of L"),
        ({"layouts.1.code": "L"}, "layout 2: its code must be S, that of S, but is L"),
    ],
)
def test_several_boards_are_judged_by_cost_and_code(changes: dict[str, Any], expected: str) -> None:
    problem = CuttingProblem.model_validate(SEVERAL_PROBLEM)
    assert broken_rules_of_result(CuttingResult.model_validate(SEVERAL_RESULT), problem) == []
    broken = broken_rules_of_result(CuttingResult.model_validate(changed(SEVERAL_RESULT, changes)), problem)
    assert any(expected in line for line in broken), broken


def test_an_offcut_of_a_code_serves_only_pieces_of_that_code() -> None:
    changes: dict[str, Any] = {
        "layouts.1": SEVERAL_RESULT["layouts"][1] | {"stock": "F"},  # type: ignore[index]
        "boards": 1,
        "lower_bound": 1,
        "boards_by_stage": {"1": 1},
        "boards_by_code": {"L": 1},
        "cost_cents": 900,
        "lower_bound_cents": 900,
    }
    result = CuttingResult.model_validate(changed(SEVERAL_RESULT, changes))
    for code, expected in (
        ("S", []),
        ("", []),
        ("L", ["layout 2, piece B: it may be cut from S, but lies in F of L"]),
    ):
        offcut = {"id": "F", "length_mm": 600, "width_mm": 400, "code": code}
        problem = CuttingProblem.model_validate(SEVERAL_PROBLEM | {"offcuts": [offcut]})
        assert broken_rules_of_result(result, problem) == expected


# Two tapers, 100 to 140 mm and 110 to 150 mm: the second turned end for end, both ends add up to 250 mm.
TAPERS = {
    "board": {"length_mm": 1200, "width_mm": 252, "kerf_mm": 2},
    "pieces": [
        {
            "id": name,
            "length_mm": 1200,
            "width_min_mm": end,
            "width_max_mm": end,
            "width_start_mm": start,
            "width_end_mm": end,
        }
        for name, start, end in (("T", 100, 140), ("U", 110, 150))
    ],
}
PAIR = {
    "boards": 1,
    "lower_bound": 1,
    "optimal": True,
    "solve_seconds": 0,
    "boards_by_stage": {"1": 1},
    "layouts": [
        {
            "stock": "board",
            "stage": 1,
            "strips": [
                {"width_mm": 252, "pieces": [_cut("T", 1200, 140), _cut("U", 1200, 150, head_to_tail=True)]}
            ],
        }
    ],
    "left_over": [],
}


def judged_pair(changes: dict[str, Any], problem: dict[str, Any] | None = None) -> list[str]:
    """The judge's lines on the tapered pair with changes."""
    return broken_rules_of_result(
        CuttingResult.model_validate(changed(PAIR, changes)),
        CuttingProblem.model_validate(changed(TAPERS, problem or {})),
    )


def test_a_tapered_pair_lies_head_to_tail_in_one_length_of_its_strip() -> None:
    """100 + 150 and 140 + 110 are both 250 mm, and the cut between them takes the kerf: 252, not 140 + 150."""
    assert judged_pair({}) == []
    assert judged_pair({"layouts.0.strips.0.width_mm": 251}) == [
        "layout 1, strip 1, piece U: head to tail with T it takes 252 mm with the kerf, but the strip is 251 mm"
        " wide"
    ]


PAIRED = "layouts.0.strips.0.pieces"


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({f"{PAIRED}.1.head_to_tail": False}, "but take 2402 mm with 2 mm kerf between neighbours"),
        ({f"{PAIRED}.0.head_to_tail": True}, "piece T: head to tail needs a single piece just before it"),
        ({f"{PAIRED}.0": REMOVED}, "piece U: head to tail needs a single piece just before it in the strip"),
        ({f"{PAIRED}.1.length_mm": 1100}, "needs equal lengths, but they are 1200 and 1100 mm"),
        (
            {f"{PAIRED}.0.width_mm": 139},
            "a tapered piece is listed with its wider end, 140 mm, but stands at 139",
        ),
        ({"layouts.0.strips.0.width_mm": 149}, "its wider end is 150 mm, but its strip is only 149 mm wide"),
    ],
)
def test_a_wrong_pair_is_found_and_named(changes: dict[str, Any], expected: str) -> None:
    assert any(expected in line for line in judged_pair(changes)), judged_pair(changes)


def test_only_tapered_pieces_lie_head_to_tail() -> None:
    """Two plain pieces of 100 and 150 mm would fit side by side, but then they need a strip each."""
    plain = {"pieces.1.width_start_mm": None, "pieces.1.width_end_mm": None}
    assert any(
        "piece U: only two tapered pieces lie head to tail, but T or U is not tapered" in line
        for line in judged_pair({}, plain)
    )


def test_a_third_piece_is_no_part_of_the_pair() -> None:
    third = {"pieces.2": TAPERS["pieces"][0] | {"id": "V"}}  # type: ignore[index]
    broken = judged_pair({f"{PAIRED}.2": _cut("V", 1200, 140, head_to_tail=True)}, third)
    assert any("piece V: head to tail needs a single piece just before it" in line for line in broken)


def test_many_left_overs_each_need_a_remainder_of_their_own() -> None:
    """Remainders 300 x 1000 and 700 x 400: a 250 x 900 and a 700 x 100 fit, and no second 250 x 900."""
    problem = CuttingProblem.model_validate(
        {
            "board": {"length_mm": 1000, "width_mm": 1000},
            "pieces": [
                {"id": "A", "length_mm": 700, "width_min_mm": 1000, "width_max_mm": 1000},
                {"id": "B", "length_mm": 1000, "width_min_mm": 600, "width_max_mm": 600},
            ],
        }
    )
    both: dict[str, Any] = {
        "boards": 2,
        "lower_bound": 2,
        "optimal": True,
        "solve_seconds": 0,
        "boards_by_stage": {"1": 2},
        "layouts": [
            {"stock": "board", "stage": 1, "strips": [{"width_mm": w, "pieces": [_cut(name, length, w)]}]}
            for name, length, w in (("A", 700, 1000), ("B", 1000, 600))
        ],
    }

    def lines(*sizes: tuple[int, int]) -> list[str]:
        left = [{"length_mm": length, "width_mm": width, "stage": 1} for length, width in sizes]
        return broken_rules_of_result(CuttingResult.model_validate(both | {"left_over": left}), problem)

    assert lines((250, 900), (700, 100)) == []
    assert lines((250, 400), (250, 900)) == []  # the narrow one must leave the wide remainder free
    assert len(lines((250, 900), (250, 900))) == 1
    assert len(lines((700, 100), (700, 100))) == 1


SIZES = st.tuples(st.integers(1, 6), st.integers(1, 6))


@settings(max_examples=60, deadline=None)
@given(st.lists(SIZES, max_size=4), st.lists(SIZES, max_size=4))
def test_the_matching_of_left_overs_is_as_good_as_trying_every_order(
    claims: list[tuple[int, int]], remainders: list[tuple[int, int]]
) -> None:
    most = max(
        sum(a <= c and b <= d for (a, b), (c, d) in zip(claims, order, strict=False))
        for order in permutations(remainders + [(0, 0)] * len(claims), len(claims))
    )
    missing = sum(count for _, count in claims_not_matched(Counter(claims), Counter(remainders)))
    assert missing == len(claims) - most


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"lower_bound": 2}, "lower_bound: it must be 0 to boards (1), but is 2"),
        ({"lower_bound": 0}, "optimal: it says so"),
        ({"boards_by_stage": {"1": 2}}, "boards_by_stage: it adds up to 2, but boards is 1"),
        ({f"{S}.0.pieces.0.width_mm": 166}, "it is 166 mm wide, but its strip only 165 mm"),
        ({f"{S}.0.width_mm": 0}, "layout 1, strip 1: its width must be above 0, but is 0 mm"),
        ({"boards": 3, "boards_by_stage": {"1": 3}}, "3 are bought, but the layouts cut only 2"),
        ({"left_over.0.length_mm": -1}, "its sizes and quantity (1) must be above 0"),
    ],
)
def test_a_result_alone_is_checked_for_what_it_says_of_itself(changes: dict[str, Any], expected: str) -> None:
    broken = broken_rules_of_result(CuttingResult.model_validate(changed(RESULT, changes)))
    assert any(expected in line for line in broken), broken
