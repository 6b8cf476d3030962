"""Kinds of broken refit, each a sound one with one thing wrong, and what the judge must say of it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple

import pytest

from optimiser.checking.refits import broken_rules_of_refit
from optimiser.model.plan import Plan
from optimiser.model.project import Allowance, Detail, Project
from optimiser.model.refit import Refit
from optimiser.planning.plan import plan
from optimiser.replanning.refit import refit
from tests.builders.broken_plans import Tables, more, to
from tests.builders.checking_examples import REMOVED, changed
from tests.builders.levels import building
from tests.replanning.test_refit import seven_pieces, surveyed, tower


class Refitted(NamedTuple):
    """A plan, a newer survey, and the plan's refit to it."""

    plan: Plan
    survey: Project
    refit: Refit


def with_lengths(project: Project, **mm: int) -> Project:
    """The project with other lengths of the runs of these levels."""
    runs = tuple(
        run.model_copy(update={"length_mm": mm.get(run.level, run.length_mm)}) for run in project.runs
    )
    return project.model_copy(update={"runs": runs})


@cache
def cut_again() -> Refitted:
    """Both pieces of L2 are too narrow by now: kept as they are, and cut again from the rest of a board."""
    made = plan(seven_pieces(), advise=False)
    newer = surveyed(made.project, "L2", 175)
    return Refitted(made, newer, refit(made, newer))


@cache
def with_a_reserve() -> Refitted:
    """Two pieces are cut again from the spare board, and another is ordered: half a board of allowance, rounded up."""
    made = plan(building(allowance=(Allowance(kind="board", fraction=Decimal("0.5")),)), advise=False)
    newer = surveyed(made.project, "L1", 200)
    return Refitted(made, newer, refit(made, newer))


@cache
def shortened() -> Refitted:
    """L1 is 600 mm shorter than drawn and L2 500 mm longer: the end cut off the one serves the other. L3 is fitted."""
    made = plan(with_lengths(building(), L3=1700), advise=False)
    newer = with_lengths(made.project, L1=1800, L2=2900)
    return Refitted(made, newer, refit(made, newer, fitted_levels=["L3"]))


@cache
def untrimmed() -> Refitted:
    """Nothing has changed, and the detail allows no trimming."""
    made = plan(building(detail=Detail(trim=False)), advise=False)
    return Refitted(made, made.project, refit(made, made.project))


@cache
def brought_forward() -> Refitted:
    """A board a level, only L1 is cut and must be cut again: the board of L2 comes with L1, another is ordered."""
    base = tower(length_mm=7200)
    even = tuple(gap.model_copy(update={"gap_mm": 150}) for gap in base.gaps)
    made = plan(base.model_copy(update={"gaps": even}), staging="level", advise=False)
    newer = surveyed(made.project, "L1", 160)
    return Refitted(made, newer, refit(made, newer, cut_levels=["L1"]))


def judged(case: Refitted, change: Callable[[Tables], Tables] = lambda _: {}) -> list[str]:
    """What the judge says of a refit with something changed in its JSON tables."""
    tables = case.refit.model_dump(mode="json")
    other = Refit.model_validate(changed(tables, change(tables)))
    return broken_rules_of_refit(other, case.plan, case.survey)


def twice(*path: object) -> Callable[[Tables], Tables]:
    """The first row of a table once more."""

    def change(tables: Tables) -> Tables:
        at: Any = tables
        for step in path:
            at = at[step]
        return {".".join(map(str, (*path, len(at)))): at[0]}

    return change


def row(table: str, name: str, field: str, value: object) -> Callable[[Tables], Tables]:
    """A field of the row of a name."""
    return lambda tables: {
        f"{table}.{next(n for n, one in enumerate(tables[table]) if one['id'] == name)}.{field}": value
    }


SOUND = (cut_again, with_a_reserve, shortened, untrimmed, brought_forward)
STAYS, MOVES, KEPT = ("stays", 0), ("moves", 0), ("kept_pieces", 0)
LAYOUT, LINE, FORWARD = ("layouts", 0), ("order", "lines", 0), ("brought_forward", 0)
BROKEN: dict[str, tuple[Callable[[], Refitted], Callable[[Tables], Tables], str]] = {
    # every cut piece and every place once
    "a piece is forgotten": (cut_again, to(REMOVED, *STAYS), "must be re-used or kept once, but is never"),
    "a piece serves twice": (cut_again, twice("stays"), "must be re-used or kept once, but is 2 times"),
    "a place is not served": (cut_again, to(REMOVED, "recut", 0), "it must be served once, but is never"),
    "a place that there is not": (cut_again, to(REMOVED, "pieces", 0), "it must be served never, but is once"),
    "a piece stays elsewhere": (cut_again, more(1, *STAYS, "to_mm"), "is said to stay, but goes to L1-N-001"),
    "a kept piece is of another size": (cut_again, more(1, *KEPT, "length_mm"), "its sizes differ from the"),
    "re-used pieces are miscounted": (cut_again, to(4, "reused_pieces"), "reused_pieces must be 5, but is 4"),
    "more re-used than can be": (cut_again, to(4, "most_reusable"), "most_reusable is 4, but 5 are re-used"),
    "cut pieces are miscounted": (cut_again, more(1, "cut_pieces"), "cut_pieces must be 7, but is 8"),
    "a fitted piece is changed": (
        shortened,
        row("pieces", "L3-N-002", "cut_width_end_mm", 166),
        "piece L3-N-002: its level is fitted, so it must stay as it is in the plan",
    ),
    "fitted pieces are miscounted": (shortened, more(1, "closed_pieces"), "closed_pieces must be 2, but is 3"),
    # what a cut piece can be made into
    "a piece is widened": (cut_again, to(400, *STAYS, "width_start_mm"), "cannot be widened to (400, 165)"),
    "a piece of other widths than its place": (
        cut_again, to(164, *STAYS, "width_end_mm"), "its widths (165, 164) are not those of the place's piece",
    ),
    "trimmed where that is not allowed": (
        untrimmed, to(164, *STAYS, "width_start_mm"), "the detail allows no trimming, but its widths go from",
    ),
    "not cut to the length of its place": (
        shortened, to(None, *MOVES, "cut_to_mm"), "cut_to_mm must be 600, but is None",
    ),
    "shortened without need": (cut_again, to(1200, *STAYS, "cut_to_mm"), "cut_to_mm must be None, but is 1200"),
    "longer than it was cut": (
        cut_again, more(1, "pieces", 0, "to_mm"), "it is 1200 mm long, too short for 1201 mm",
    ),
    "of a board that does not serve the place": (
        cut_again, to(["B-99"], "pieces", 0, "boards"), "it is of B-120, but the place takes B-99",
    ),
    # what is cut again
    "not cut again": (cut_again, to(REMOVED, *LAYOUT), "it must be re-cut once, but is cut 0 times"),
    "cut again twice": (cut_again, twice("layouts"), "it must be re-cut once, but is cut 2 times"),
    "more of a rest than there is": (cut_again, twice("layouts"), "left-over-2: there are 1, but 2 are cut"),
    "cut from nothing": (
        cut_again, to([], "materials"), "is neither a board of the products nor material on hand",
    ),
    "cut from another code": (cut_again, to("B-99", *LAYOUT, "code"), "its code must be B-120, but is B-99"),
    "cut too late": (
        cut_again, more(10, *LAYOUT, "stage"), "piece L2-N-001: it is needed with 20, but cut with 30",
    ),
    "a stranger is cut": (
        cut_again, to("X", *LAYOUT, "strips", 0, "pieces", 0, "id"), "X: it is not among the places that are",
    ),
    "a rest that is larger": (
        cut_again, row("materials", "left-over-2", "width_mm", 667), "1200 x 667 mm of B-120: 1 of it do not remain",
    ),
    "a shortened piece's end is there twice": (
        shortened,
        row("materials", "end-of-L1-N-002", "quantity", 2),
        "material 600 x 165 mm of B-120: 1 of it do not remain of any board",
    ),
    "a shortened piece's end is longer": (
        shortened, row("materials", "end-of-L1-N-002", "length_mm", 601), "601 x 165 mm of B-120: 1 of it do not",
    ),
    "re-cut boards are miscounted": (
        with_a_reserve, to(2, "recut_boards", "B-120"), "recut boards of B-120 must be 1, but are 2",
    ),
    "a bound above the boards": (
        with_a_reserve, to(2, "recut_lower_bound"), "recut_lower_bound is 2, but fewer boards are taken",
    ),
    # what is ordered, and what comes when
    "no board is left for breakage": (
        with_a_reserve,
        to(REMOVED, *LINE),
        "boards B-120: 0 are left, fewer than the allowance of 1 on those re-cut",
    ),
    "uncut boards are miscounted": (
        with_a_reserve, to(2, "uncut_boards", "B-120"), "uncut boards of B-120 must be 1, but are 2",
    ),
    "packs that do not hold the quantity": (
        with_a_reserve, more(1, *LINE, "quantity"), "order, B-120 for L1: 1 packs do not hold 2",
    ),
    "a line of no pack": (
        with_a_reserve, to(0, *LINE, "packs"), "order, B-120 for L1: 0 packs do not hold 1",
    ),
    "an amount": (with_a_reserve, to("1.00", *LINE, "amount"), "its amount or pack is not the survey's"),
    "a pack of another number": (
        with_a_reserve, to(2, *LINE, "per_pack"), "its amount or pack is not the survey's",
    ),
    "a product that there is not": (
        with_a_reserve, to("X", *LINE, "code"), "order, X for L1: the survey has no such product or level",
    ),
    "a total": (with_a_reserve, to("1.00", "order", "total"), "order: its lines add up to 53.00, but it says 1.00"),
    "no pack is brought forward": (
        brought_forward, to(0, *FORWARD, "packs"), "brought forward: 0 packs of B-120 from L2 to L1",
    ),
    "brought forward from nowhere": (
        brought_forward, to("L9", *FORWARD, "from_level"),
        "brought forward: 1 pack of B-120 from L9 to L1: it must be at least 1",
    ),
    "brought forward to nowhere": (
        brought_forward, to("L9", *FORWARD, "to_level"),
        "brought forward: 1 pack of B-120 from L2 to L9: it must be at least 1",
    ),
    "brought forward to its own level": (
        brought_forward, to("L2", *FORWARD, "to_level"), "B-120 from L2 to L2 is not earlier",
    ),
    "brought forward to a later level": (
        brought_forward, to("L3", *FORWARD, "to_level"), "B-120 from L2 to L3 is not earlier",
    ),
    "more brought forward than is there": (
        brought_forward, to(2, *FORWARD, "packs"), "brought forward: more packs of B-120 than L2 has",
    ),
    "boards that come too late": (
        brought_forward,
        to([], "brought_forward"),
        "boards B-120: 3 are taken up to L1, but only 2 have come",
    ),
    # the account and the words
    "an account that does not balance": (cut_again, more(1, "account", "scrap_mm2"), "mm2 came in, but"),
    "less scrap than nothing": (cut_again, to(-1, "account", "scrap_mm2"), "scrap must not be negative"),
    "less reworked than nothing": (cut_again, to(-1, "account", "reworked_mm2"), "scrap must not be negative"),
    "no caution": (cut_again, to([" "], "cautions"), "cautions: a refit must show the usual cautions"),
}  # fmt: skip


@pytest.mark.parametrize("sound", SOUND, ids=lambda sound: sound.__name__)
def test_a_sound_refit_breaks_no_rule(sound: Callable[[], Refitted]) -> None:
    assert judged(sound()) == []


@pytest.mark.parametrize("fault", BROKEN)
def test_one_thing_broken_is_found_and_named(fault: str) -> None:
    sound, change, told = BROKEN[fault]
    broken = judged(sound(), change)
    assert any(told in line for line in broken), broken


@pytest.mark.parametrize("sound", [cut_again, shortened], ids=lambda sound: sound.__name__)
@pytest.mark.parametrize(
    "field",
    ["bought_mm2", "stock_mm2", "ordered_mm2", "fitted_mm2", "reused_mm2", "recut_mm2", "kept_pieces_mm2",
     "left_over_mm2", "uncut_boards_mm2"],
)  # fmt: skip
def test_every_row_of_the_account_is_counted_anew(sound: Callable[[], Refitted], field: str) -> None:
    """Even where the sum still balances, since as much is said to be scrap."""
    into = -1 if field in ("bought_mm2", "stock_mm2", "ordered_mm2") else 1

    def change(tables: Tables) -> Tables:
        account = tables["account"]
        return {f"account.{field}": account[field] + 1, "account.scrap_mm2": account["scrap_mm2"] - into}

    broken = judged(sound(), change)
    assert any(line.startswith(f"account: {field} must be ") for line in broken), broken
