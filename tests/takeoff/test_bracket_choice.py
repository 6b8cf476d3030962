"""Which of the bracket sizes that fit is taken: within the band always, at a cost that nothing beats."""

from __future__ import annotations

from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_plan
from optimiser.errors.problems import CannotBeDone
from optimiser.model.project import Allowance, Bracket, Project
from optimiser.planning.plan import plan
from optimiser.takeoff.bracket_choice import CHOICES, Choosable, Packs, choose, counted
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects
from tests.builders.small_plan import small_project

CODES = ("K-100", "K-110", "K-120")


def packs_of(per_pack: list[int], prices: list[str], allowance: str = "0") -> Packs:
    """Three sizes, packed and priced so."""
    project = small_project()
    sizes = [
        Bracket(code=code, length_mm=reach, per_pack=number, price=Decimal(price))
        for code, reach, number, price in zip(CODES, (100, 110, 120), per_pack, prices, strict=True)
    ]
    others = [one for one in project.products if one.kind != "bracket"]
    return Packs(
        project.model_copy(
            update={
                "products": (*others, *sizes),
                "allowance": (Allowance(kind="bracket", fraction=Decimal(allowance)),),
            }
        )
    )


def test_a_full_box_is_filled_rather_than_a_second_size_opened() -> None:
    """Six pieces would take K-110, two K-120, which fit in what is left of the box of K-110."""
    pieces = [Choosable(("K-110", "K-120"), 2)] * 6 + [Choosable(("K-120", "K-110"), 2)] * 2
    packs = packs_of([25, 25, 25], ["30.00", "30.00", "30.00"])
    assert choose(pieces, {}, packs, "nearest").cents == 6000
    cheapest = choose(pieces, {}, packs, "cheapest")
    assert (cheapest.cents, cheapest.least_cents) == (3000, 3000)
    assert cheapest.codes == ("K-110",) * 8  # of the two ways the one with fewer brackets off the nearest


def test_a_box_that_is_opened_anyway_costs_nothing_more() -> None:
    pieces = [Choosable(("K-110", "K-120"), 1)] * 4
    packs = packs_of([25, 4, 25], ["50.00", "10.00", "30.00"])
    assert choose(pieces, {"K-110": 4}, packs, "cheapest").cents == 2000
    assert choose(pieces, {"K-120": 20}, packs, "cheapest").codes == ("K-120",) * 4


def test_a_box_holds_as_many_as_it_says() -> None:
    """Twenty brackets go into one box of 25 at 30.00, which is less than the box of 50 at 50.00."""
    pieces = [Choosable(("K-110", "K-120"), 2)] * 10
    packs = packs_of([25, 25, 50], ["99.00", "30.00", "50.00"])
    assert choose(pieces, {}, packs, "cheapest").codes == ("K-110",) * 10
    more = choose([*pieces, *pieces[:3]], {}, packs, "cheapest")
    assert (more.codes, more.cents) == (("K-120",) * 13, 5000)


def test_of_choices_that_cost_alike_the_nearer_sizes_are_taken() -> None:
    """A box of each is opened anyway, and has room for all."""
    fitting = [
        ("K-110", "K-120"),
        ("K-120", "K-110"),
        ("K-100", "K-110"),
        ("K-110", "K-100"),
        ("K-120", "K-100"),
    ]
    pieces = [Choosable(codes, 2) for codes in fitting for _ in range(2)]
    besides = dict.fromkeys(CODES, 1)
    chosen = choose(pieces, besides, packs_of([50, 50, 50], ["30.00"] * 3), "cheapest")
    assert chosen.codes == tuple(piece.fitting[0] for piece in pieces)
    assert chosen.cents == 9000


def test_the_allowance_is_rounded_up_once_with_the_packs() -> None:
    """24 brackets fill a box of 25 with 4 % on top; 25 do not."""
    packs = packs_of([25, 25, 25], ["30.00", "30.00", "30.00"], allowance="0.04")
    assert packs.cents({"K-110": 24}) == 3000
    assert packs.cents({"K-110": 25}) == 6000


fitting = st.lists(st.sampled_from(CODES), min_size=1, max_size=3, unique=True).map(tuple)
few_pieces = st.lists(st.builds(Choosable, fitting, st.integers(1, 3)), min_size=1, max_size=6)


@settings(max_examples=150, deadline=None)
@given(
    few_pieces,
    st.lists(st.integers(1, 7), min_size=3, max_size=3),
    st.lists(st.sampled_from(["0.00", "1.00", "7.50", "20.00"]), min_size=3, max_size=3),
    st.sampled_from(["0", "0.05"]),
    st.dictionaries(st.sampled_from(CODES), st.integers(1, 5), max_size=2),
)
def test_trying_everything_finds_nothing_better(
    pieces: list[Choosable], per_pack: list[int], prices: list[str], allowance: str, besides: dict[str, int]
) -> None:
    packs = packs_of(per_pack, prices, allowance)

    def cents(codes: tuple[str, ...]) -> int:
        needed = counted(pieces, codes)
        return packs.cents({code: needed[code] + besides.get(code, 0) for code in CODES})

    def sizes(codes: tuple[str, ...]) -> int:
        return len({*codes, *besides})

    every = list(product(*(piece.fitting for piece in pieces)))
    cheapest = choose(pieces, besides, packs, "cheapest")
    assert cheapest.codes in every
    assert cheapest.cents == cheapest.least_cents == cents(cheapest.codes) == min(map(cents, every))
    fewest = choose(pieces, besides, packs, "fewest_sizes")
    assert fewest.codes in every
    assert (sizes(fewest.codes), cents(fewest.codes)) == min((sizes(c), cents(c)) for c in every)


def choosing(project: Project, choice: str) -> Project:
    """The project with this choice in its detail."""
    return project.model_copy(update={"detail": project.detail.model_copy(update={"bracket_choice": choice})})


@settings(max_examples=20, deadline=None)
@given(projects(), st.sampled_from(CHOICES))
def test_every_plan_with_a_choice_keeps_the_rules_and_says_what_the_others_cost(
    project: Project, choice: str
) -> None:
    chosen = choosing(project, choice)
    try:
        made = quick_plan(chosen, staging="level")  # judged before it is handed out
    except CannotBeDone:
        return
    if made.bracket_choices:
        assert made.bracket_lower_bound == made.bracket_choices["cheapest"]
        assert min(made.bracket_choices.values()) == made.bracket_choices["cheapest"]


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("bracket_lower_bound", Decimal("9999.00"), "less than bracket_lower_bound"),
        ("bracket_choices", {"nearest": Decimal(1)}, "it must name nearest, cheapest and fewest_sizes"),
    ],
)
def test_the_judge_finds_a_wrong_cost(field: str, value: object, told: str) -> None:
    made = plan(small_project())
    assert any(told in line for line in broken_rules_of_plan(made.model_copy(update={field: value})))


def test_the_judge_counts_the_plans_own_brackets() -> None:
    made = plan(small_project())
    raised = {choice: cost + 1 for choice, cost in made.bracket_choices.items()}
    wrong = made.model_copy(update={"bracket_choices": raised})
    assert any("what the plan's own brackets cost" in line for line in broken_rules_of_plan(wrong))
