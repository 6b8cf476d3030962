"""What stands on site is the same summed change by change as counted on each day by itself."""

from __future__ import annotations

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from optimiser.ordering.running_sum import RunningSum
from optimiser.ordering.site_storage import CutOnSite, UseDays

SEQUENCES, AREAS = st.integers(1, 5), st.integers(1, 999)
DAYS = st.integers(738_000, 738_012)
MOVED = st.dictionaries(st.tuples(SEQUENCES, SEQUENCES), AREAS, max_size=6).map(Counter)


@given(
    MOVED,
    MOVED,
    st.dictionaries(st.none() | SEQUENCES, AREAS, max_size=4).map(Counter),
    st.dictionaries(SEQUENCES, AREAS, max_size=4).map(Counter),
    st.dictionaries(SEQUENCES, DAYS, max_size=5),
)
def test_what_waits_summed_by_its_changes_is_what_waits_each_day(
    remainders: Counter[tuple[int, int]],
    kept: Counter[tuple[int, int]],
    stock: Counter[int | None],
    stock_cut: Counter[int],
    used_on: dict[int, int],
) -> None:
    cut, use = CutOnSite(Counter(), remainders, kept, stock, stock_cut), UseDays(True, used_on, {})
    over_time = RunningSum.of(cut.changes_mm2(use))
    for day in range(737_999, 738_015):
        assert over_time.by(day) == cut.waiting_mm2(use.before(day), use.until(day))


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(-5, 5))))
def test_a_running_sum_is_that_of_the_changes_until_a_day(changes: list[tuple[int, int]]) -> None:
    summed = RunningSum.of(changes)
    for day in range(-1, 11):
        assert summed.by(day) == sum(change for at, change in changes if at <= day)
