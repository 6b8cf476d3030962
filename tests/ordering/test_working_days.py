"""Order-by dates are counted back over the country's working days."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from optimiser.ordering.working_days import working_days_of


def test_a_weekend_delivery_moves_to_the_friday_before() -> None:
    australia = working_days_of("AU")
    assert australia.on_or_before(date(2027, 2, 21)) == date(2027, 2, 19)  # a Sunday
    assert australia.on_or_before(date(2027, 2, 19)) == date(2027, 2, 19)


def test_public_holidays_are_no_working_days() -> None:
    # Australia Day 2027 is Tuesday 26 January (public holiday, National: australia.gov.au).
    assert working_days_of("AU").before(date(2027, 1, 27), 1) == date(2027, 1, 25)
    # Good Friday 26 March and Easter Monday 29 March 2027 (England and Wales: gov.uk/bank-holidays).
    assert working_days_of("GB-ENG").before(date(2027, 3, 30), 1) == date(2027, 3, 25)


def test_a_subdivision_has_its_own_holidays() -> None:
    # Labour Day is a holiday of New South Wales on the first Monday of October (nsw.gov.au).
    labour_day = date(2026, 10, 5)
    assert not working_days_of("AU-NSW").is_working_day(labour_day)
    assert working_days_of("AU-VIC").is_working_day(labour_day)


def test_no_days_back_is_the_day_itself() -> None:
    assert working_days_of("AU").before(date(2027, 2, 22), 0) == date(2027, 2, 22)


def test_fifteen_working_days_are_three_weeks_without_holidays() -> None:
    assert working_days_of("AU").before(date(2027, 2, 22), 15) == date(2027, 2, 1)


def test_an_unknown_country_leaves_out_weekends_only_and_says_so() -> None:
    nowhere = working_days_of("XX")
    assert not nowhere.known
    assert nowhere.before(date(2027, 12, 27), 1) == date(2027, 12, 24)
    assert working_days_of("AU").known


def test_an_unknown_subdivision_falls_back_to_the_country_and_says_so() -> None:
    nowhere = working_days_of("AU-ZZZ")
    assert not nowhere.known
    assert not nowhere.is_working_day(date(2027, 1, 26))


def test_the_first_day_of_the_calendar_is_an_end() -> None:
    assert working_days_of("XX").before(date(1, 1, 2), 5) == date.min


@given(st.dates(date(2026, 1, 1), date(2028, 12, 31)), st.integers(0, 40))
def test_what_is_ordered_on_a_working_day_comes_so_many_working_days_later(day: date, count: int) -> None:
    calendar = working_days_of("AU")
    ordered = calendar.on_or_before(day)
    assert calendar.before(calendar.after(ordered, count), count) == ordered


def test_what_is_ordered_on_a_sunday_counts_from_the_monday() -> None:
    assert working_days_of("AU").after(date(2027, 2, 21), 1) == date(2027, 2, 23)
