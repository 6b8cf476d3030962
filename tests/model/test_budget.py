"""A time budget is shared out without ever giving away more than there is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.budget import Budget


def test_a_budget_without_a_limit_has_none_in_any_share() -> None:
    assert Budget().share(0.4).after(1000.0) == Budget()
    assert not Budget().used_up


def test_shares_are_by_part() -> None:
    assert Budget(10.0).share(0.6) == Budget(6.0)
    assert Budget(10.0).share(3, of=12) == Budget(2.5)


def test_what_is_overspent_leaves_no_share() -> None:
    left = Budget(10.0).after(12.0)
    assert left.used_up
    assert left.share(1) == Budget(0.0)


@pytest.mark.parametrize(("part", "of"), [(2, 1), (-1, 1), (1, 0)])
def test_what_is_no_share_is_refused(part: float, of: float) -> None:
    with pytest.raises(ValueError, match="is no share"):
        Budget(10.0).share(part, of)


@given(st.floats(0, 1e6), st.lists(st.integers(1, 100), min_size=1, max_size=8))
def test_shares_of_what_is_left_use_up_the_whole(seconds: float, parts: list[int]) -> None:
    """As families of boards are cut: each gets its part of what those before it left."""
    budget, waiting, given_out = Budget(seconds), sum(parts), 0.0
    for part in parts:
        share = budget.share(part, of=waiting).seconds
        assert share is not None
        given_out += share
        budget, waiting = budget.after(share), waiting - part
    assert given_out == pytest.approx(seconds)
